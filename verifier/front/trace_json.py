"""A run as our own trace JSON: the layout is fixed by `shared/schema/trace.schema.json`."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from verifier import __version__
from verifier.explain.clock_words import ClockTold
from verifier.explain.handled import handled_in
from verifier.front.figures import moment
from verifier.front.reason import reason
from verifier.handover.fingerprint import fingerprint_of
from verifier.handover.traces import Subject, Trace
from verifier.model.job import Job
from verifier.model.words import fault_words, number, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Verdict
from verifier.simulate.run import Step
from verifier.source import Sources, Span

KIND = "duskproof trace, 1"
"""What such a file says it is, with the number of its layout."""


def trace_json(result: Result, job: Job, verdict: Verdict, trace: Trace) -> str:
    """One run as text, with a line end after it."""
    run, requirement, sources = trace.run, trace.requirement, result.sources
    told_by = None if run.clock is None else ClockTold(run.clock)
    end_s, just_after = run.end_s
    handled = handled_in(job, run.start, run.steps)
    whole: dict[str, Any] = {
        "kind": KIND,
        "tool": "duskproof",
        "version": __version__,
        "job": result.name,
        "rules_sha256": fingerprint_of(sources).whole,
        "requirement": {
            "name": requirement.name,
            "title": requirement.label,
            "form": requirement_words(requirement),
            "where": place_values(requirement.span, sources),
        },
        "role": trace.role,
        "reason": reason(requirement, verdict),
        "faults": [fault_words(fault) for fault in job.faults],
        "clock": None
        if run.clock is None or told_by is None
        else {"begins": told_by.iso(Fraction(0)), "timezone": run.clock.timezone},
        "subjects": [_subject(subject, sources) for subject in trace.subjects],
        "start": dict(run.start),
        "steps": [
            _step(step, sources, told_by)
            | {"handled": {each.rule: each.outcome for each in handled[k]}}
            for k, step in enumerate(run.steps)
        ],
        "end": {
            "at_s": number(end_s),
            "just_after": just_after,
            "words": moment(end_s, just_after),
            "earliest_s": number(run.fails_s),
            "earliest_just_after": run.fails_just_after,
        },
        "cycle_from": run.cycle_from,
        "rests": run.rests,
    }
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"


def _subject(subject: Subject, sources: Sources) -> dict[str, Any]:
    return {
        "name": subject.name,
        "kind": subject.kind,
        "label": subject.label,
        "values": list(subject.values),
        "where": None if subject.span is None else place_values(subject.span, sources),
    }


def _step(step: Step, sources: Sources, told_by: ClockTold | None) -> dict[str, Any]:
    return {
        "at_s": number(step.at_s),
        "earliest_s": number(step.earliest_s),
        "just_after": step.just_after,
        **({} if told_by is None else {"at": told_by.iso(step.at_s)}),
        "what": step.what,
        "changes": dict(step.changes),
        "because": [place_values(span, sources) for span in step.because],
    }


def place_values(span: Span, sources: Sources) -> dict[str, Any]:
    """A place for programs: file, 1-based line and column, and the text that stands there."""
    file = sources.by_name.get(span.file)
    if file is None:
        return {"file": span.file, "line": None, "column": None, "text": ""}
    line, column = file.line_and_column(span.start)
    text = file.text[span.start : span.end].split("\n")[0]
    return {"file": span.file, "line": line, "column": column, "text": text}
