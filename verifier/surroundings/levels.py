"""The levels of a dimmer, and how a fade goes through those that something reads.

A dimmer stands at an exact level, or, while it fades and after a fade that was cut short,
:class:`Around` two levels that something reads: which one exactly does not matter to any
condition. A fade reaches the levels in between at known moments if it starts from an exact level;
after one that was cut short, between two known moments (5).

A level is passed in two happenings of one moment: it is *reached* (``at least`` turns on the way
up, ``above`` on the way down), then *passed*. What is due at that same moment and could end the
fade comes before it is passed: a fade that is stopped just there stands at the level, not beyond.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from verifier.model.job import (
    Becomes,
    Fade,
    HasStayed,
    Job,
    Level,
    Point,
    Put,
    Stayed,
    atoms_and_leaves,
    read_by,
    statements_of,
)
from verifier.model.words import level as level_words

FULL = Fraction(100)


@dataclass(frozen=True, slots=True)
class Around:
    """Somewhere between two levels that something reads."""

    low: Fraction
    high: Fraction

    def __str__(self) -> str:
        return f"between {level_words(self.low)} and {level_words(self.high)}"


LevelValue = Fraction | Around


@dataclass(frozen=True, slots=True)
class Crossing:
    """A level on the way of a fade.

    ``before`` is the value with which it is approached (None: the fade begins there), ``after``
    the one with which it is left. ``earliest_s`` and ``latest_s`` count from the fade's start.
    """

    at: Fraction
    before: Around | None
    after: Around
    earliest_s: Fraction
    latest_s: Fraction


def read_levels(job: Job, dimmer: str) -> tuple[Fraction, ...]:
    """The levels of a dimmer that something reads, rising."""
    conditions, events = read_by(job)
    leaves = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
    leaves.extend(e.atom for e in events if isinstance(e, Becomes))
    leaves.extend(e.timer.atom for e in events if isinstance(e, HasStayed))
    leaves.extend(leaf.atom for leaf in tuple(leaves) if isinstance(leaf, Stayed))
    return tuple(
        sorted(
            {
                leaf.percent
                for leaf in leaves
                if isinstance(leaf, Level) and leaf.subject == dimmer and 0 <= leaf.percent <= FULL
            }
        )
    )


def is_faded(job: Job, dimmer: str) -> bool:
    """Whether any rule fades a dimmer."""
    return any(
        isinstance(s, Fade) and s.dimmer == dimmer
        for rule in job.rules
        for s in statements_of(rule.body)
    )


def dimmer_levels(job: Job, point: Point) -> tuple[LevelValue, ...]:
    """The values that a dimmer's level is told apart by, rising; 0 first."""
    levels = {Fraction(0), FULL} if point.local_switch else {Fraction(0)}
    if isinstance(point.starts, Fraction):
        levels.add(point.starts)
    if point.power_return == "on":
        levels.add(FULL)
    for rule in job.rules:
        for statement in statements_of(rule.body):
            match statement:
                case Put(name, value) if name == point.name:
                    assert isinstance(value, Fraction)
                    levels.add(value)
                case Fade(name, percent) if name == point.name:
                    levels.add(percent)
                case _:
                    pass
    if not is_faded(job, point.name):
        return tuple(sorted(levels))
    read = read_levels(job, point.name)
    values: list[LevelValue] = [*levels.union(read), *_stretches(read)]
    return tuple(sorted(values, key=_place))


def _stretches(read: tuple[Fraction, ...]) -> list[Around]:
    ends = sorted({Fraction(0), FULL, *read})
    return [Around(low, high) for low, high in pairwise(ends)]


def _place(value: LevelValue) -> tuple[Fraction, Fraction]:
    return (value.low, value.high) if isinstance(value, Around) else (value, value)


def percent_of(value: LevelValue) -> Fraction:
    """A level that every condition judges as it judges the value."""
    return (value.low + value.high) / 2 if isinstance(value, Around) else value


def around(read: tuple[Fraction, ...], level: Fraction) -> Around:
    """The stretch in which a level lies that nothing reads."""
    return next(a for a in _stretches(read) if a.low <= level <= a.high)


def crossings(
    read: tuple[Fraction, ...], start: LevelValue, target: Fraction, over_s: Fraction
) -> tuple[Crossing, ...]:
    """The levels that a fade goes through, in order; its start too, where that is read."""
    low, high = _place(start)
    if low < target < high or low == high == target:
        return ()
    rising = target >= high
    stretches = _stretches(read)

    def beside(level: Fraction, above: bool) -> Around:
        return next(a for a in stretches if (a.low if above else a.high) == level)

    def moment(level: Fraction, begun: Fraction) -> Fraction:
        return over_s * (level - begun) / (target - begun)

    found: list[Crossing] = []
    on_the_way = [
        level for level in read if (high <= level < target if rising else target < level <= low)
    ]
    for level in on_the_way if rising else on_the_way[::-1]:
        begins = not isinstance(start, Around) and level == start
        times = sorted((moment(level, low), moment(level, high)))
        before = None if begins else beside(level, not rising)
        found.append(Crossing(level, before, beside(level, rising), times[0], times[1]))
    return tuple(found)
