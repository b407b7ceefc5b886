"""A result as JSON, for programs. The contract fixes the keys; `grammar/README.md` lists them."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any, assert_never

from verifier import __version__
from verifier.diagnostics import Diagnostic
from verifier.explain.clock_words import ClockTold
from verifier.explain.handled import Handled, handled_in
from verifier.front.diagnostic_text import in_order, where
from verifier.front.each_fault import survives
from verifier.front.outcome import exit_code
from verifier.front.reason import bound_words, method, reason, verdict_word
from verifier.front.result_places import line_of
from verifier.model.job import Requirement
from verifier.model.words import fault_words, number, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Certificate, Proved, Refuted, Undecided, Verdict
from verifier.simulate.run import Run, Step
from verifier.source import Sources
from verifier.surroundings.calendar import reads_calendar

Object = dict[str, Any]


def results_json(results: tuple[Result, ...], strict: bool) -> str:
    """One object for one job; for several one object whose ``jobs`` are theirs."""
    objects = [result_object(result, strict) for result in results]
    if len(objects) == 1:
        return json.dumps(objects[0], indent=2)
    whole = {"tool": "duskproof", "version": __version__, "jobs": objects}
    return json.dumps(whole, indent=2)


def result_object(result: Result, strict: bool) -> Object:
    """A result as one object."""
    faults = [] if result.job is None else [fault_words(f) for f in result.job.faults]
    return {
        "tool": "duskproof",
        "version": __version__,
        "job": result.name,
        "exit": exit_code((result,), strict),
        "interrupted": result.interrupted,
        "years": _years(result),
        "requirements": [
            requirement_object(result, requirement, verdict, seconds, faults)
            for requirement, verdict, seconds in result.verdicts
        ],
        "each_fault": [
            {
                "faults": [fault_words(f) for f in one.faults],
                "requirements": [
                    requirement_object(
                        result, requirement, verdict, seconds, [fault_words(f) for f in one.faults]
                    )
                    for requirement, verdict, seconds in one.verdicts
                ],
            }
            for one in result.under
        ],
        "survives": {
            requirement.name: list(survives(result, requirement.name)[0])
            for requirement in (result.asked if result.under else ())
        },
        "findings": [
            finding_object(finding, result.sources)
            for finding in in_order(result.sources, result.findings)
        ],
    }


def _years(result: Result) -> list[int] | None:
    """First and last year, of a job whose site rules clock or sun."""
    job = result.job
    if job is None or job.site is None or job.site.latitude_deg is None:
        return None
    return list(job.years) if reads_calendar(job) else None


def requirement_object(
    result: Result, requirement: Requirement, verdict: Verdict, seconds: float, faults: list[str]
) -> Object:
    """One requirement and its verdict."""
    sources = result.sources
    common: Object = {
        "name": requirement.name,
        "title": requirement.label,
        "where": sources.place(requirement.span),
        "form": requirement_words(requirement),
        "standard": requirement.standard or None,
        "verdict": verdict_word(verdict),
        "vacuous": False,
        "faults": faults,
        "seconds": round(seconds, 3),
        "method": "",
        "reason": reason(requirement, verdict),
        "certificate": None,
        "bound_s": None,
        "counterexample": None,
        "witness": None,
    }
    match verdict:
        case Proved():
            return common | {
                "vacuous": verdict.vacuous,
                "method": verdict.method,
                "certificate": _certificate(verdict.certificate),
                "bound_s": bound_words(verdict.bound_s),
                "witness": _run(verdict.witness, result),
            }
        case Refuted():
            return common | {
                "method": verdict.method,
                "certificate": _certificate(verdict.certificate),
                "counterexample": _run(verdict.run, result),
            }
        case Answered():
            return common | {
                "vacuous": verdict.vacuous,
                "method": verdict.method,
                "certificate": _certificate(verdict.certificate),
                "bound_s": bound_words(verdict.bound_s),
                "witness": _run(verdict.run, result),
            }
        case Undecided():
            return common | {"method": method(verdict), "depth": verdict.depth}
        case _:
            assert_never(verdict)


def _certificate(certificate: Certificate | None) -> Object | None:
    return None if certificate is None else {"checked_by": list(certificate.checked_by)}


def _run(run: Run | None, result: Result) -> Object | None:
    if run is None:
        return None
    job, sources = result.job, result.sources
    handled = ((),) * len(run.steps) if job is None else handled_in(job, run.start, run.steps)
    told_by = None if run.clock is None else ClockTold(run.clock)
    return {
        "start": dict(run.start),
        "clock": None
        if run.clock is None or told_by is None
        else {"begins": told_by.iso(Fraction(0)), "timezone": run.clock.timezone},
        "steps": [
            _step(step, told, sources, told_by)
            for step, told in zip(run.steps, handled, strict=True)
        ],
        "fails_at_s": number(run.fails_s),
        "fails_just_after": run.fails_just_after,
        "cycle_from": run.cycle_from,
        "rests": run.rests,
    }


def _step(
    step: Step, handled: tuple[Handled, ...], sources: Sources, told_by: ClockTold | None
) -> Object:
    return {
        "at_s": number(step.earliest_s),
        **({} if told_by is None else {"at": told_by.iso(step.earliest_s)}),
        "just_after": step.just_after,
        "what": step.what,
        "changes": dict(step.changes),
        "handled": {each.rule: each.outcome for each in handled},
        "because": [line_of(span, sources) for span in step.because],
    }


def finding_object(finding: Diagnostic, sources: Sources) -> Object:
    """One finding."""
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "where": where(finding, sources),
        "message": finding.message,
        "hint": finding.hint,
        "related": [
            {"where": sources.place(label.span), "message": label.text}
            for label in finding.labels[1:]
        ],
    }
