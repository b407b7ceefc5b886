"""Failing cases that are kept, and what comes of them on the job as it is now.

A kept case is what a failing run has of the world: how it begins, what happens outside and when.
It is played by the interpreter alone: no solver, no search for other cases.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.explain.playback import (
    Case,
    Impossible,
    Occurs,
    Played,
    case_on,
    outside_of,
    play,
    starts_of,
    system_of,
)
from verifier.model import check_form
from verifier.model.job import Job, Requirement, statements_of
from verifier.model.words import requirement_words
from verifier.proof.verdict import Refuted, Verdict
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.system import System
from verifier.source import Sources, Span

LONGER_S = Fraction(86_400)
"""How much longer than before a case is watched at most, where nothing more happens outside."""


@dataclass(frozen=True, slots=True)
class ActedLine:
    """A line that acted: which of several orders was taken. It is found again by its text."""

    file: str
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class KeptCase:
    """A failing case as it is kept.

    ``form`` is the requirement in words; ``asked`` says that it stood in no file of the job.
    ``considered`` are faults that were considered besides those of the job. Moments are seconds
    from the start; ``begins_s`` is when it begins by the calendar (see ``simulate.run.RunClock``).
    """

    job: str
    requirement: str
    form: str
    asked: bool
    considered: tuple[str, ...]
    years: tuple[int, int] | None
    start: tuple[tuple[str, str], ...]
    occurs: tuple[Occurs, ...]
    sequence: tuple[str, ...]
    order: tuple[tuple[ActedLine, ...], ...]
    fails_s: Fraction
    fails_just_after: bool
    until_s: Fraction
    begins_s: Fraction | None
    timezone: str | None
    rules_sha256: str
    version: str


@dataclass(frozen=True, slots=True)
class StillFails:
    """It fails: when, and whether in another order of one moment, or only later than it did."""

    at_s: Fraction
    just_after: bool
    in_another_order: bool
    later: bool


@dataclass(frozen=True, slots=True)
class KeepsNow:
    """The requirement is kept, in every order that was tried, up to this moment."""

    until_s: Fraction


@dataclass(frozen=True, slots=True)
class NoLongerPossible:
    """The case cannot happen any more: why, in words."""

    why: str


Comes = StillFails | KeepsNow | NoLongerPossible


# ---------------------------------------------------------------- keeping


@dataclass(frozen=True, slots=True)
class DoesNotFailAgain:
    """A failing run whose case did not fail when it was played: nothing is kept."""


def kept_case(
    job: Job,
    sources: Sources,
    requirement: Requirement,
    verdict: Verdict,
    considered: tuple[str, ...],
    stamp: tuple[str, str],
) -> KeptCase | DoesNotFailAgain | None:
    """The case of a refuted requirement; None if there is no run. It was played, and failed again.

    ``stamp`` are the hash of the rules and the version of the tool.
    """
    if not isinstance(verdict, Refuted) or verdict.run is None:
        return None
    run = verdict.run
    case = case_on(job, requirement, run)
    played = play(job, requirement, case)
    if not _fails(played):
        played = play(job, requirement, case, "fails")
    if not isinstance(played, Played) or played.fails is None:
        return DoesNotFailAgain()
    return KeptCase(
        job.name,
        requirement.name,
        requirement_words(requirement),
        requirement.name not in job.requirement,
        considered,
        None if case.begins_s is None else job.years,
        case.start,
        case.occurs,
        case.sequence,
        tuple(tuple(_acted(span, sources) for span in each) for each in case.order),
        played.fails[0],
        played.fails[1],
        case.until_s,
        case.begins_s,
        None if run.clock is None else run.clock.timezone,
        *stamp,
    )


def _fails(played: Played | Impossible) -> bool:
    return isinstance(played, Played) and played.fails is not None


def _acted(span: Span, sources: Sources) -> ActedLine:
    file = sources.by_name.get(span.file)
    if file is None:
        return ActedLine(span.file, 1, "")
    return ActedLine(span.file, file.line_and_column(span.start)[0], _text(span, sources))


def _text(span: Span, sources: Sources) -> str:
    file = sources.by_name.get(span.file)
    return "" if file is None else " ".join(file.text[span.start : span.end].split())


# ---------------------------------------------------------------- playing


def requirement_of(job: Job, kept: KeptCase) -> Requirement | NoLongerPossible:
    """The requirement that a case is about, as the job has it now."""
    if not kept.asked:
        now = job.requirement.get(kept.requirement)
        return now or NoLongerPossible(f"the job has no requirement called {kept.requirement}")
    asked, mistakes, _ = check_form(kept.form, job, kept.requirement)
    if asked is None:
        why = f": {mistakes[0].message}" if mistakes else ""
        return NoLongerPossible(f"what was asked cannot be asked of this job{why}")
    return asked


def replayed(job: Job, sources: Sources, requirement: Requirement, kept: KeptCase) -> Comes:
    """What comes of a kept case on a job."""
    if kept.years is not None:
        job = replace(job, years=kept.years)
    unknown = _unknown(job, requirement, kept)
    if unknown is not None:
        return NoLongerPossible(unknown)
    system = system_of(job, requirement)
    case = _case(job, sources, kept)
    played = play(system, requirement, case)
    if isinstance(played, Impossible):
        return NoLongerPossible(_why_not(system, case, played))
    if played.fails is not None:
        return StillFails(*played.fails, in_another_order=False, later=False)
    other = play(system, requirement, case, "fails")
    if isinstance(other, Played) and other.fails is not None:
        return StillFails(*other.fails, in_another_order=True, later=False)
    if isinstance(system.monitor, LeadsToMonitor | MeasureMonitor):
        return KeepsNow(played.until_s)
    longer = replace(case, until_s=case.until_s + _longer(system))
    later = play(system, requirement, longer, "fails")
    if isinstance(later, Played) and later.fails is not None:
        return StillFails(*later.fails, in_another_order=False, later=True)
    return KeepsNow(later.until_s if isinstance(later, Played) else played.until_s)


def _longer(system: System) -> Fraction:
    """As long again as the longest time that anything here counts."""
    return min(max(system.layout.greatest, default=0) * system.unit.size_s, LONGER_S)


def _case(job: Job, sources: Sources, kept: KeptCase) -> Case:
    # Rules are idle at the start whatever they are called, and the date tells the clock.
    known = {*job.point, *job.door, *job.room, "sun"}
    start = tuple(
        (subject, value)
        for subject, value in kept.start
        if subject.removesuffix(" as reported") in known
        and not (subject == "sun" and kept.timezone is not None)
    )
    acting = _acting(job, sources)
    return Case(
        start,
        kept.occurs,
        kept.until_s,
        kept.begins_s,
        kept.sequence,
        tuple(
            tuple(span for line in each if (span := _found(line, acting)) is not None)
            for each in kept.order
        ),
    )


def _acting(job: Job, sources: Sources) -> dict[str, list[tuple[ActedLine, Span]]]:
    """The lines of the job that can act, by their text."""
    found: dict[str, list[tuple[ActedLine, Span]]] = {}
    for rule in job.rules:
        for span in (
            *(trigger.span for trigger in rule.triggers),
            *(statement.span for statement in statements_of(rule.body)),
        ):
            line = _acted(span, sources)
            found.setdefault(line.text, []).append((line, span))
    return found


def _found(line: ActedLine, acting: dict[str, list[tuple[ActedLine, Span]]]) -> Span | None:
    """The line with this text now: of several that of the same file, the nearest."""
    alike = acting.get(line.text, [])
    if not alike:
        return None
    return min(alike, key=lambda one: (one[0].file != line.file, abs(one[0].line - line.line)))[1]


# ---------------------------------------------------------------- why not


def _unknown(job: Job, requirement: Requirement, kept: KeptCase) -> str | None:
    """What of a case the job knows nothing of any more."""
    words = outside_of(System(job, requirement))
    for occurs in kept.occurs:
        if occurs.what not in words:
            return f"nothing in the job can bring about “{occurs.what}”"
    return None


def _why_not(system: System, case: Case, impossible: Impossible) -> str:
    """Why a case cannot happen; of one that cannot begin, what cannot begin so."""
    if not any(True for _ in starts_of(system, case.start)):
        for subject, value in case.start:
            if not any(True for _ in starts_of(system, ((subject, value),))):
                return f"{subject} does not begin as {value}"
        return "what it begins with cannot be so together"
    return impossible.why
