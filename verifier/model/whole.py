"""What can only be said of a job as a whole, once every part of it was found good."""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import dataclass
from fractions import Fraction

from verifier.diagnostics import Label
from verifier.model.job import (
    AssumeStays,
    Atom,
    Is,
    Job,
    PointKind,
)
from verifier.model.report import Report
from verifier.model.words import atom_value, duration
from verifier.source import Span


def check_whole(job: Job, used_settings: Set[str], report: Report) -> None:
    """Report what is odd about the job: no rules, settings unused, bounds that contradict.

    ``used_settings`` are the names of the settings that something reads.
    """
    if not job.rules and job.requirements:
        report.warning(
            "no-rules",
            "the job has no rules, so the verdicts speak of the surroundings alone",
            job.requirements[0].span,
            "Write what the controller does: `rule NAME upon EVENT do … end rule`.",
        )
    _unused_settings(job, used_settings, report)
    _contradictions(job, report)


def _unused_settings(job: Job, used: Set[str], report: Report) -> None:
    """A typical's setting is unused if no application of it reads it."""
    read = {setting.span for setting in job.settings if setting.name in used}
    for setting in job.settings:
        if setting.span not in read:
            name = setting.name.rpartition(".")[2]
            report.warning(
                "unused-setting",
                f"nothing reads the setting {name}",
                setting.span,
                f"Write `{name}` where its figure stands, or take the setting out.",
            )


# ---------------------------------------------------------------- bounds


@dataclass(frozen=True, slots=True)
class _Bound:
    """How long something stays as it is, at least or at most; where it says so."""

    atom: Atom
    seconds: Fraction
    span: Span


def _contradictions(job: Job, report: Report) -> None:
    """Stretches that have to be longer than they can be: runs that begin one are left out."""
    least, most = tuple(_least(job)), tuple(_most(job))
    for longest in most:
        for shortest in least:
            if shortest.atom != longest.atom or shortest.seconds <= longest.seconds:
                continue
            name, value = longest.atom.subject, atom_value(longest.atom)
            report.warning(
                "bounds-contradict",
                f"{name} cannot stay {value} for {duration(shortest.seconds)} at least and for "
                f"{duration(longest.seconds)} at most",
                longest.span,
                f"Correct one of the figures: runs in which {name} becomes {value} are left out.",
                also=(Label(shortest.span, f"at least {duration(shortest.seconds)}"),),
            )
            break


def _least(job: Job) -> Iterator[_Bound]:
    for point in job.points:
        if point.kind is not PointKind.DETECTOR:
            continue
        for value, seconds in (("occupied", point.holds_s), ("vacant", point.rearm_s)):
            if seconds is not None:
                yield _Bound(Is(point.name, value), seconds, point.span)
    for assumption in job.assumptions:
        if isinstance(assumption, AssumeStays) and assumption.bound == "at least":
            yield _Bound(assumption.atom, assumption.seconds, assumption.span)


def _most(job: Job) -> Iterator[_Bound]:
    for door in job.doors:
        yield _Bound(Is(door.name, "moving"), door.travel_most_s, door.span)
        if door.moving_by is not None:
            yield _Bound(Is(door.moving_by, "on"), door.travel_most_s, door.span)
    for assumption in job.assumptions:
        if isinstance(assumption, AssumeStays) and assumption.bound == "at most":
            yield _Bound(assumption.atom, assumption.seconds, assumption.span)
