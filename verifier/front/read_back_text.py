"""Rules and requirements read back in plain words: as text for the terminal, and as JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass
from textwrap import wrap

from verifier.explain.plain import ReadBack, read_back
from verifier.explain.plain_rules import PlainRule, plain_rule
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.handover.promise import plain_assumption, plain_fault
from verifier.model.job import Job, Requirement, Rule


@dataclass(frozen=True, slots=True)
class JobReadBack:
    """What is read back of a job, in declared order."""

    name: str
    requirements: tuple[tuple[Requirement, ReadBack], ...]
    rules: tuple[tuple[Rule, PlainRule], ...]
    assumed: tuple[str, ...]
    faults: tuple[str, ...]


def job_read_back(
    job: Job, only: tuple[str, ...] = (), left_out: tuple[str, ...] = ()
) -> JobReadBack:
    """A job in plain words; ``only`` names rules and requirements (none: all but the rules ``left_out``)."""
    return JobReadBack(
        job.name,
        tuple((r, read_back(r, job)) for r in job.requirements if not only or r.name in only),
        tuple(
            (r, plain_rule(r, job))
            for r in job.rules
            if r.name in only or (not only and r.name not in left_out)
        ),
        () if only else tuple(plain_assumption(each, job) for each in job.assumptions),
        () if only else tuple(plain_fault(each, job) for each in job.faults),
    )


def read_back_text(said: JobReadBack, paint: Paint, width: int) -> str:
    """All of it, for people."""
    lines: list[str] = []
    if said.requirements:
        lines += [paint("What must hold", "strong")]
    for requirement, words in said.requirements:
        lines += ["", *_title(requirement.label, requirement.name, paint, width)]
        lines += _wrapped(words.sentence, width, "  ")
        for sentence in words.exactly:
            lines += _wrapped(sentence, width, "  - ")
    if said.rules:
        lines += [*([""] if lines else []), paint("What the rules do", "strong")]
    for rule, plain in said.rules:
        lines += ["", *_title(rule.label, rule.name, paint, width)]
        for sentence in plain.begins:
            lines += _wrapped(sentence, width, "  ")
        for step in plain.steps:
            lines += _wrapped(step.words, width, f"  {'   ' * step.depth}{step.number}. ")
        for sentence in filter(None, (plain.again, *plain.exactly)):
            lines += _wrapped(sentence, width, "  - ")
    for title, sentences in (
        ("What is assumed", said.assumed),
        ("Faults that are considered", said.faults),
    ):
        if sentences:
            lines += ["", paint(title, "strong")]
            for sentence in sentences:
                lines += _wrapped(sentence, width, "  - ")
    return "\n".join(lines)


def read_back_json(said: JobReadBack) -> str:
    """All of it, for programs."""
    whole = {
        "job": said.name,
        "requirements": [
            {"name": r.name, "title": r.label, "sentence": w.sentence, "exactly": list(w.exactly)}
            for r, w in said.requirements
        ],
        "rules": [
            {
                "name": rule.name,
                "title": rule.label,
                "begins": list(plain.begins),
                "steps": [{"number": step.number, "words": step.words} for step in plain.steps],
                "again": plain.again,
                "exactly": list(plain.exactly),
            }
            for rule, plain in said.rules
        ],
        "assumed": list(said.assumed),
        "faults": list(said.faults),
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _title(label: str, name: str, paint: Paint, width: int) -> list[str]:
    title = f"{label}  ({name})" if label else name
    return [paint(line, "strong") for line in _wrapped(title, width)]


def _wrapped(text: str, width: int, head: str = "") -> list[str]:
    blank = " " * len(head)
    return wrap(shown(text), width, initial_indent=head, subsequent_indent=blank) or [head.rstrip()]
