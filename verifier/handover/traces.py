"""The runs of a result as traces: everything's value at every instant, with its exact moment.

What tools that read runs are given (waveforms, traces of model checkers, our own trace JSON).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal, assert_never

from verifier.explain.told import REPORTED
from verifier.model.job import DOOR_VALUES, ROOM_VALUES, Job, PointKind, Requirement
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.run import Run
from verifier.source import Span

Role = Literal["counterexample", "witness"]
"""What a run is evidence of: that a requirement fails, or that something can be."""


@dataclass(frozen=True, slots=True)
class Subject:
    """Something that has a value in a run.

    ``kind`` is the keyword that declares it, or ``report`` (what was last reported of a point),
    ``sun``, ``clock``. ``values`` are all words that it can be, the one at rest first; none where
    it can be too many (levels of a dimmer, a rule's runs, stretches of the clock).
    """

    name: str
    kind: str
    label: str
    values: tuple[str, ...]
    span: Span | None


@dataclass(frozen=True)
class Trace:
    """A run of a requirement's verdict, with all that is needed to read it alone."""

    requirement: Requirement
    role: Role
    run: Run
    subjects: tuple[Subject, ...]

    @cached_property
    def states(self) -> tuple[dict[str, str], ...]:
        """The value of every subject at the start, then after each step."""
        found = [dict(self.run.start)]
        for step in self.run.steps:
            found.append(found[-1] | dict(step.changes))
        return tuple(found)

    @cached_property
    def moments_s(self) -> tuple[Fraction, ...]:
        """When each of the states begins, in seconds from the start, as the replay has it."""
        return (Fraction(0), *(step.at_s for step in self.run.steps))

    @property
    def loop(self) -> int | None:
        """The state that follows the last one again, of a run that goes round for ever."""
        return None if self.run.cycle_from is None else self.run.cycle_from + 1


def traces_of(
    job: Job, verdicts: tuple[tuple[Requirement, Verdict, float], ...]
) -> tuple[Trace, ...]:
    """The traces of all verdicts that have a run, in their order."""
    found = []
    for requirement, verdict, _ in verdicts:
        role, run = run_of(verdict)
        if run is not None:
            subjects = tuple(_subject(job, name) for name, _ in run.start)
            found.append(Trace(requirement, role, run, subjects))
    return tuple(found)


def run_of(verdict: Verdict) -> tuple[Role, Run | None]:
    """The run of a verdict, and what it is evidence of."""
    match verdict:
        case Refuted(run):
            return "counterexample", run
        case Proved():
            return "witness", verdict.witness
        case Answered():
            return "witness", verdict.run
        case Undecided():
            return "witness", None
        case _:
            assert_never(verdict)


def _subject(job: Job, name: str) -> Subject:
    if name in job.point:
        point = job.point[name]
        values = () if point.kind is PointKind.DIMMER else point.kind.values
        return Subject(name, point.kind.value, point.label, values, point.span)
    if name in job.door:
        return Subject(name, "door", job.door[name].label, DOOR_VALUES, job.door[name].span)
    if name in job.room:
        return Subject(name, "room", job.room[name].label, ROOM_VALUES, job.room[name].span)
    if name in job.rule:
        return Subject(name, "rule", job.rule[name].label, (), job.rule[name].span)
    reported = job.point.get(name.removesuffix(REPORTED))
    if reported is not None:
        return Subject(name, "report", reported.label, reported.kind.values, reported.span)
    if name == "sun":
        return Subject(name, "sun", "", ("day", "night"), None)
    return Subject(name, "clock", "", (), None)
