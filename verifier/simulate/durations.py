"""Every duration that a job writes down: what its unit of time has to divide."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.model.job import (
    AfterLast,
    AssumeStays,
    AtMostTimes,
    Before,
    Fade,
    HasStayed,
    Job,
    NoLonger,
    NoShorter,
    Requirement,
    Stayed,
    Wait,
    WaitUntil,
    WhenFor,
    WhenWithin,
    atoms_and_leaves,
    read_by,
    statements_of,
)
from verifier.surroundings.calendar import calendar_of
from verifier.surroundings.levels import crossings, dimmer_levels, read_levels


def durations_of_requirement(requirement: Requirement) -> Iterator[Fraction]:
    """The durations of a requirement's own form."""
    if requirement.allowing_s:
        yield requirement.allowing_s
    match requirement.form:
        case WhenWithin(_, _, d) | WhenFor(_, _, d) | AfterLast(_, _, d) | Before(_, _, d):
            yield d
        case NoLonger(d, _) | NoShorter(d, _) | AtMostTimes(_, d, _):
            yield d
        case _:
            pass


def durations(job: Job) -> Iterator[Fraction]:
    """Every duration written in a job, in seconds, and those of its calendar."""
    calendar = calendar_of(job, job.seasons)
    for turn in () if calendar is None else calendar.turns:
        for span in (turn.since_clock, turn.since_night, turn.since_day):
            if span is not None:
                yield from (Fraction(second) for second in span)
    if job.site is not None:
        yield job.site.reaction_s
    for point in job.points:
        for held in (point.holds_s, point.rearm_s):
            if held is not None:
                yield held
    for door in job.doors:
        yield door.travel_least_s
        yield door.travel_most_s
    for room in job.rooms:
        for bound in (room.still_s, room.noticed_s):
            if bound is not None:
                yield bound
    for rule in job.rules:
        for statement in statements_of(rule.body):
            match statement:
                case Wait(for_s):
                    yield for_s
                case WaitUntil(_, at_most_s) if at_most_s is not None:
                    yield at_most_s
                case Fade(dimmer, percent, over_s):
                    yield over_s
                    read = read_levels(job, dimmer)
                    for start in dimmer_levels(job, job.point[dimmer]):
                        for crossing in crossings(read, start, percent, over_s):
                            yield crossing.earliest_s
                            yield crossing.latest_s
                case _:
                    pass
    for fault in job.faults:
        if fault.within_s is not None:
            yield fault.within_s
    for assumption in job.assumptions:
        if isinstance(assumption, AssumeStays):
            yield assumption.seconds
    for requirement in job.requirements:
        yield from durations_of_requirement(requirement)
    conditions, events = read_by(job)
    for condition in conditions:
        for leaf in atoms_and_leaves(condition):
            if isinstance(leaf, Stayed):
                yield leaf.for_s
    for event in events:
        if isinstance(event, HasStayed):
            yield event.timer.for_s
