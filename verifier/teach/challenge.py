"""A learner's answer to a challenge, judged; and hints from the learner's own failing case.

Rules are judged by hidden requirements; requirements by hidden rules, which they have to tell
apart: those that keep what was asked for, and those that do not. What surrounds the rules (points,
doors, rooms, site, assumptions, faults) has to stay as it was given: to assume that nobody ever
opens the door is no answer.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal, TypeVar

from verifier.diagnostics import Diagnostic, Severity
from verifier.explain.figures import listed
from verifier.model.job import Door, Job, Point, PointKind, Requirement, Room
from verifier.model.words import duration, requirement_words
from verifier.pipeline import Question, Result, checked, prove
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.run import Run
from verifier.source import SourceFile, Sources
from verifier.teach.lesson import Challenge, Lesson, Variant
from verifier.teach.reasons import rules_to_look_at

HIDDEN = "what was asked for"
"""The name of the file of hidden requirements, where a place in it has to be named."""

TIME_LIMIT_S = Fraction(20)
"""For one requirement."""

Came = Literal["kept", "broken", "open", "never in play", "too strict", "not noticed"]


@dataclass(frozen=True, slots=True)
class Part:
    """One thing that was asked for, and what came of it.

    ``run`` is the failing case, if there is one; ``job`` what it is a run of, ``sources`` where its
    lines stand. ``hidden`` is what the run breaks where that is not for the learner to read.
    """

    name: str
    title: str
    came: Came
    words: str
    requirement: Requirement | None
    run: Run | None
    job: Job | None
    sources: Sources
    hidden: Requirement | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """What came of an answer. ``wrong`` are diagnostics: then nothing was judged.

    ``moved`` says in words what was changed that had to stay.
    """

    parts: tuple[Part, ...]
    moved: tuple[str, ...]
    wrong: tuple[Diagnostic, ...]
    sources: Sources

    @property
    def passed(self) -> bool:
        """Whether all that was asked for is kept."""
        good = bool(self.parts) and all(part.came == "kept" for part in self.parts)
        return good and not self.moved and not self.wrong


@dataclass(frozen=True, slots=True)
class Hint:
    """A hint: 1 where to look, 2 when it goes wrong, 3 the run."""

    step: int
    words: str
    part: Part | None


def judge(
    lesson: Lesson, files: tuple[SourceFile, ...], limit_s: Fraction = TIME_LIMIT_S
) -> Judged:
    """What comes of a learner's files. Raises: ValueError if the lesson has no challenge."""
    challenge = lesson.challenge
    if challenge is None:
        raise ValueError("the lesson has no challenge")
    given = lesson.job(challenge.job).job
    if challenge.hidden.variants:
        return _requirements_judged(lesson, challenge, given, files, limit_s)
    return _rules_judged(challenge, given, files, limit_s)


def with_solution(lesson: Lesson) -> tuple[SourceFile, ...]:
    """The files that pass. Raises: ValueError if the lesson has no challenge."""
    if lesson.challenge is None:
        raise ValueError("the lesson has no challenge")
    return (SourceFile("job.dusk", lesson.challenge.hidden.solution),)


# ---------------------------------------------------------------- rules


def _rules_judged(
    challenge: Challenge, given: Job, files: tuple[SourceFile, ...], limit_s: Fraction
) -> Judged:
    own = checked(Sources(files), given.name)
    if own.job is None or own.rejected:
        return Judged((), (), _errors(own), own.sources)
    moved = what_moved(given, own.job)
    hidden = SourceFile(HIDDEN, _renamed(challenge.hidden.requirements, own.job))
    result = checked(Sources((*files, hidden)), given.name)
    if result.job is None or result.rejected:
        # The learner's own text was read, so what is amiss is a name that was asked for.
        missing = tuple(
            f"{error.message} (what was asked for speaks of it, so keep its name)"
            for error in _errors(result)
        )
        return Judged((), moved or missing, (), own.sources)
    only = tuple(r.name for r in result.job.requirements if r.span.file == HIDDEN)
    result = prove(result.sources, given.name, Question(only, (), limit_s), _unheard)
    if result.rejected or result.job is None:
        return Judged((), moved, _errors(result), own.sources)
    parts = tuple(
        _part(result, result.job, requirement, verdict)
        for requirement, verdict, _ in result.verdicts
    )
    return Judged(parts, moved, (), own.sources)


def _renamed(hidden: str, own: Job) -> str:
    """Hidden requirements under names that the learner has not given to requirements of their own.

    Nothing else speaks of a requirement by its name.
    """
    taken = {*own.requirement, *re.findall(r"(?m)^[ \t]*require[ \t]+(\w+)", hidden)}
    for name in own.requirement:
        free = f"{name}_asked"
        while free in taken:
            free += "_"
        hidden = re.sub(rf"(?m)^([ \t]*require[ \t]+){re.escape(name)}\b", rf"\g<1>{free}", hidden)
    return hidden


def _part(result: Result, job: Job, requirement: Requirement, verdict: Verdict) -> Part:
    title = requirement.label or requirement.name
    came, run = _came(verdict)
    return Part(requirement.name, title, came, _WORDS[came], requirement, run, job, result.sources)


_WORDS: dict[Came, str] = {
    "kept": "proved",
    "broken": "refuted: there is a run that breaks it",
    "open": "not decided in the time that a challenge has",
    "never in play": "it never comes into play: nothing that it speaks of ever happens",
    "too strict": "your requirement refuses rules that do what was asked for",
    "not noticed": "your requirement does not notice rules that break what was asked for",
}


def _came(verdict: Verdict) -> tuple[Came, Run | None]:
    match verdict:
        case Proved(vacuous=True):
            return "never in play", None
        case Proved():
            return "kept", None
        case Refuted(run):
            return "broken", run
        case Answered("unbounded", run):
            return "broken", run
        case Answered():
            return "kept", None
        case Undecided():
            return "open", None


# ---------------------------------------------------------------- requirements


def _requirements_judged(
    lesson: Lesson,
    challenge: Challenge,
    given: Job,
    files: tuple[SourceFile, ...],
    limit_s: Fraction,
) -> Judged:
    own = checked(Sources(files), given.name)
    if own.job is None or own.rejected:
        return Judged((), (), _errors(own), own.sources)
    moved = list(what_moved(given, own.job))
    if not own.job.requirements:
        moved.append("there is no requirement: write one")
    elif own.job.rules != given.rules:
        moved.append("the rules: the challenge asks for a requirement, so leave them as they are")
    if moved:
        return Judged((), tuple(moved), (), own.sources)
    parts = []
    for variant in challenge.hidden.variants:
        part = _variant_judged(lesson, variant, files, limit_s)
        if isinstance(part, Judged):
            return part
        parts.append(part)
    return Judged(tuple(parts), (), (), own.sources)


def _variant_judged(
    lesson: Lesson, variant: Variant, files: tuple[SourceFile, ...], limit_s: Fraction
) -> Part | Judged:
    """What the learner's requirements say of hidden rules."""
    rules = SourceFile(f"{variant.name}.dusk", variant.rules)
    question = Question((), (), limit_s)
    result = prove(Sources((*files, rules)), "variant", question, _unheard)
    if result.job is None or result.rejected:
        return Judged((), (), _errors(result), result.sources)
    came = [(r, *_came(v)) for r, v, _ in result.verdicts]
    broken = next((each for each in came if each[1] == "broken"), None)
    title = f"Rules that keep it: {variant.words}" if variant.keeps else (
        f"Rules that break it: {variant.words}"
    )  # fmt: skip
    unsure = any(each[1] == "open" for each in came)
    if broken is not None and variant.keeps:
        requirement, _, run = broken
        return Part(variant.name, title, "too strict", _WORDS["too strict"], requirement, run,
                    result.job, result.sources)  # fmt: skip
    if broken is None and not variant.keeps and not unsure:
        return _not_noticed(lesson, variant, title, limit_s)
    state: Came = "open" if unsure else "kept"
    words = "told apart" if state == "kept" else _WORDS["open"]
    return Part(variant.name, title, state, words, None, None, result.job, result.sources)


def _not_noticed(lesson: Lesson, variant: Variant, title: str, limit_s: Fraction) -> Part:
    """Of rules that got past: the run that ought to have broken the requirement."""
    rules = SourceFile(f"{variant.name}.dusk", variant.rules)
    sources = Sources((*with_solution(lesson), rules))
    result = prove(sources, "variant", Question((), (), limit_s), _unheard)
    broken = ((r, v.run) for r, v, _ in result.verdicts if isinstance(v, Refuted))
    hidden, run = next(broken, (None, None))
    return Part(variant.name, title, "not noticed", _WORDS["not noticed"], None, run, result.job,
                result.sources, hidden)  # fmt: skip


# ---------------------------------------------------------------- what had to stay


def what_moved(given: Job, own: Job) -> tuple[str, ...]:
    """What of the surroundings is not as it was given, in words; labels and flags do not count."""
    pairs: tuple[tuple[str, Counter[Any], Counter[Any]], ...] = (
        ("points", Counter(_inputs_and_outputs(given)), Counter(_inputs_and_outputs(own))),
        ("doors", Counter(_unlabelled(given.doors)), Counter(_unlabelled(own.doors))),
        ("rooms", Counter(_unlabelled(given.rooms)), Counter(_unlabelled(own.rooms))),
        ("assumptions", Counter(given.assumptions), Counter(own.assumptions)),
        ("faults", Counter(given.faults), Counter(own.faults)),
        ("site", Counter((given.site,)), Counter((own.site,))),
    )
    return tuple(
        f"the {name}: leave {'it' if name == 'site' else 'them'} as given"
        for name, was, now in pairs
        if was != now
    )


def _inputs_and_outputs(job: Job) -> tuple[Point, ...]:
    return _unlabelled(tuple(p for p in job.points if p.kind is not PointKind.FLAG))


_Named = TypeVar("_Named", Point, Door, Room)


def _unlabelled(things: tuple[_Named, ...]) -> tuple[_Named, ...]:
    return tuple(replace(thing, label="") for thing in things)


def _errors(result: Result) -> tuple[Diagnostic, ...]:
    return tuple(f for f in result.findings if f.severity is Severity.ERROR)


def _unheard(requirement: Requirement, verdict: Verdict, seconds: float) -> None:
    """Nobody listens."""


# ---------------------------------------------------------------- hints


def hint(judged: Judged, step: int) -> Hint:
    """A hint on the first thing that is not as it was asked for.

    Raises: ValueError if ``step`` is not 1, 2 or 3.
    """
    if step not in (1, 2, 3):
        raise ValueError("a hint is 1, 2 or 3")
    if judged.wrong:
        first = judged.wrong[0]
        place = judged.sources.place(first.labels[0].span)
        return Hint(step, f"It cannot be read yet ({place}): {first.message}. {first.hint}", None)
    if judged.moved:
        return Hint(step, f"Something was changed that had to stay: {judged.moved[0]}.", None)
    part = next((p for p in judged.parts if p.came != "kept"), None)
    if part is None:
        return Hint(step, "All that was asked for is kept; there is nothing to hint at.", None)
    if part.came == "broken" and part.run is None:
        return Hint(step, _never_reached(part)[step - 1], part)
    return Hint(step, (_where, _when, _how)[step - 1](part), part)


def _never_reached(part: Part) -> tuple[str, str, str]:
    """The hints where something ought to be possible and no run comes to it."""
    assert part.requirement is not None
    return (
        f"Look at “{part.title}”: it asks for something that can be, and under your rules it cannot.",
        "Which line ought to bring it about, and what ends it, or keeps it away, before?",
        f"There is no run to show. None comes to this: {requirement_words(part.requirement)}.",
    )


def _where(part: Part) -> str:
    if part.came == "too strict":
        return (
            "Your requirement asks for too much: it refuses rules that are good. Look at its form, "
            "and at its figures."
        )
    if part.came == "not noticed":
        return (
            "Your requirement asks for too little: there are bad rules that it lets pass. What does "
            "it not say?"
        )
    if part.came == "never in play":
        return f"Look at “{part.title}”: what it speaks of never happens under your rules."
    if part.run is None or part.came == "open":
        return f"Look at “{part.title}”: {part.words}."
    lines = _last_lines(part)
    if not lines:
        return (
            f"Look at “{part.title}”. In the case that breaks it no rule acts: which rule ought to, "
            "and what does it listen for?"
        )
    rules: tuple[str, ...] = ()
    if part.job is not None and part.requirement is not None:
        rules = rules_to_look_at(part.job, part.requirement, part.run)
    if not rules:
        return f"Look at “{part.title}”, and at {lines}: it acted last."
    changed = "one of them" if len(rules) > 1 else "it"
    return (
        f"Look at “{part.title}”, and at {listed(rules, 'and')}: with one thing changed in {changed} "
        f"the case that breaks it would go well. What acted last in it is {lines}."
    )


def _last_lines(part: Part) -> str:
    assert part.run is not None
    acted = [step for step in part.run.steps if step.because]
    if not acted:
        return ""
    last = acted[-1].because[-1]
    return _line(part, part.sources.place(last))


def _line(part: Part, place: str) -> str:
    file, _, rest = place.partition(":")
    return f"line {rest.split(':')[0]} of {file}" if rest else file


def _when(part: Part) -> str:
    if part.run is None:
        return _where(part)
    about = f"{part.title}. " if part.came in ("too strict", "not noticed") else ""
    fails_s, just_after = part.run.end_s
    when = (
        f"{'just after ' if just_after else 'at '}{duration(fails_s)}"
        if fails_s
        else "at the start"
    )
    steps = [step for step in part.run.steps if step.at_s <= fails_s]
    if not steps:
        return f"{about}It goes wrong {when}: look at how things stand before anything happens."
    return (
        f"{about}It goes wrong {when}. The last thing that happened before: {steps[-1].what}, at "
        f"{duration(steps[-1].at_s) if steps[-1].at_s else 'the start'}."
    )


def _how(part: Part) -> str:
    if part.run is None:
        return _where(part)
    if part.came == "not noticed":
        return (
            f"{part.title}: in this run they break what the client asked for, and each of your "
            "requirements is kept."
        )
    return f"{part.title}: this is the run."
