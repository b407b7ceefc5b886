"""The promises of a job as a paper to sign: each in plain words, with what keeps and breaks it.

It needs no rules: everything on it comes from the points and the requirements alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.diagram import Diagram
from verifier.explain.drawn import SUN
from verifier.explain.example import Example, examples_of
from verifier.explain.example_drawn import example_diagram
from verifier.explain.naming import named
from verifier.explain.plain import ReadBack, plain_condition, read_back
from verifier.explain.timeline import clock_times, subjects_of
from verifier.model.job import (
    AssumeAlways,
    AssumeStays,
    Assumption,
    Fault,
    FaultKind,
    Job,
    PointKind,
    Requirement,
)
from verifier.model.words import duration, number


@dataclass(frozen=True, slots=True)
class PromisedRun:
    """A run of a promise: the made-up timeline, judged, and its picture."""

    example: Example
    diagram: Diagram


@dataclass(frozen=True, slots=True)
class Promised:
    """One promise: read back, its runs, and why one is missing (empty: none is)."""

    requirement: Requirement
    said: ReadBack
    runs: tuple[PromisedRun, ...]
    missing: str


@dataclass(frozen=True, slots=True)
class Promise:
    """The whole paper. ``words`` are (term, what it means); ``assumed`` and ``faults`` sentences."""

    job: Job
    promised: tuple[Promised, ...]
    words: tuple[tuple[str, str], ...]
    assumed: tuple[str, ...]
    faults: tuple[str, ...]


def promise_of(job: Job, only: tuple[str, ...] = ()) -> Promise:
    """The paper of a job; ``only`` names requirements (none: all of them)."""
    chosen = [r for r in job.requirements if not only or r.name in only]
    return Promise(
        job,
        tuple(promised(job, requirement) for requirement in chosen),
        _words(job, chosen),
        tuple(plain_assumption(each, job) for each in job.assumptions),
        tuple(plain_fault(each, job) for each in job.faults),
    )


def promised(job: Job, requirement: Requirement) -> Promised:
    """One promise, read back, with its runs."""
    found = examples_of(job, requirement)
    runs = tuple(PromisedRun(each, example_diagram(job, requirement, each)) for each in found.shown)
    return Promised(requirement, read_back(requirement, job), runs, found.missing)


# ---------------------------------------------------------------- what it rests on


def plain_assumption(assumption: Assumption, job: Job) -> str:
    """An assumption as a sentence."""
    match assumption:
        case AssumeAlways(condition):
            said = plain_condition(condition, job)
            return f"It is always so that {said}."
        case AssumeStays(atom, bound, seconds):
            said = plain_condition(atom, job)
            if bound == "at least":
                return f"When it comes to be so that {said}, it stays so for at least {duration(seconds)}."
            return f"It is never so for longer than {duration(seconds)} at a stretch that {said}."


def plain_fault(fault: Fault, job: Job) -> str:
    """A fault that is considered, as a sentence."""
    name = "" if fault.subject is None else named(job, fault.subject).words
    match fault.kind:
        case FaultKind.POWER_CUTS:
            return "The power may fail and return at any time."
        case FaultKind.LOST_REPORTS:
            return f"Any report of {name} may be lost on its way."
        case FaultKind.BOUNCE:
            within = "" if fault.within_s is None else f" up to {duration(fault.within_s)} after it"
            return f"Each change of {name} may be reported several times{within}."
        case FaultKind.STUCK:
            return f"The reports of {name} may stop for good at any time."
        case FaultKind.BROKEN_WIRE:
            return f"The wire of {name} may break at any time."
        case FaultKind.BOTH_LIMITS:
            return f"Both limit switches of {name} may read reached at any time."


# ---------------------------------------------------------------- what its words mean


def _words(job: Job, chosen: list[Requirement]) -> tuple[tuple[str, str], ...]:
    """The terms that the promises use, in a fixed order."""
    subjects = {name for requirement in chosen for name in subjects_of(job, requirement)}
    kinds = {job.point[name].kind for name in subjects if name in job.point}
    found: list[tuple[str, str]] = []
    if SUN in subjects:
        found.append(("night, day", _night(job)))
    if any(clock_times(requirement) for requirement in chosen):
        found.append(
            (
                "from … to …",
                "A time between two clock times begins with the first of them, and the second is no "
                "longer part of it.",
            )
        )
    if subjects & set(job.room):
        found.append(
            (
                "somebody inside",
                "People themselves are meant, whether a detector sees them or not.",
            )
        )
    if PointKind.DETECTOR in kinds:
        found.append(
            ("sees somebody", "What the detector itself shows; it does not see who keeps still.")
        )
    if PointKind.DIMMER in kinds:
        found.append(
            ("… % or less", "Off is included; where it is not meant, “and on” is said, too.")
        )
    if subjects & set(job.door):
        found.append(
            (
                "fully up, fully down, part way",
                "Where the door really is, not what a switch reports.",
            )
        )
    if subjects & set(job.rule):
        found.append(("the rule …", "A part of the controller's program, by its title."))
    found.append(
        (
            "at the start",
            "When the system is first put into service. Whatever is so then has not just begun.",
        )
    )
    found.append(
        ("exactly", "Times are meant exactly; what can be measured on site is a little less sharp.")
    )
    return tuple(found)


def _night(job: Job) -> str:
    site = job.site
    if site is None or site.latitude_deg is None:
        return "As the controller tells night from day; no site is named here."
    sets = Fraction(-833, 1000)
    if site.night_below_deg == sets:
        return f"Night is from sunset to sunrise at {site.name}."
    return (
        f"It is night while the sun stands lower than {number(site.night_below_deg)}° at {site.name} "
        "(0° is the horizon)."
    )


def promise_title(promise: Promise) -> str:
    """The title of the paper."""
    site = promise.job.site
    return f"What the lighting of {promise.job.name if site is None else site.name} is to do"
