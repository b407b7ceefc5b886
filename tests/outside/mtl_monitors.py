"""The interpreter's monitors on timelines of their own, and random timelines to put before them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from tests.outside.mtl import Formula, Moment, Settled, Timeline, samples_of, unit_of
from tests.random_jobs import point
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Event,
    Form,
    Is,
    Job,
    Never,
    NoLonger,
    NoShorter,
    PointKind,
    Possible,
    Pressed,
    Requirement,
    WhenFor,
    WhenWithin,
)
from verifier.simulate.explicit import starts
from verifier.simulate.instant import Outcome
from verifier.simulate.replay import Concrete, concrete, fails, passed, registers_of
from verifier.simulate.system import System
from verifier.source import NOWHERE
from verifier.surroundings.state import Registers, each_way

CONDITION = Is("c", "on")
SCOPE = Is("s", "on")
EVENTS: tuple[Event, ...] = (Pressed("e"),)

JUDGED: tuple[type[Form], ...] = (
    Always,
    Never,
    WhenWithin,
    WhenFor,
    AfterLast,
    Before,
    NoLonger,
    NoShorter,
    AtMostTimes,
    Possible,
)
"""The forms that a timeline can break (or, of ``possible``, reach)."""

WITH_ALLOWING = (Always, Never, WhenFor, NoLonger, NoShorter)


def form_of(kind: type[Form], d: Fraction, times: int) -> Form:
    """A form over C (the switch c is on) and E (the button e is pressed)."""
    forms: dict[type[Form], Form] = {
        Always: Always(CONDITION),
        Never: Never(CONDITION),
        WhenWithin: WhenWithin(EVENTS, CONDITION, d),
        WhenFor: WhenFor(EVENTS, CONDITION, d),
        AfterLast: AfterLast(EVENTS, CONDITION, d),
        Before: Before(EVENTS, CONDITION, d),
        NoLonger: NoLonger(d, CONDITION),
        NoShorter: NoShorter(d, CONDITION),
        AtMostTimes: AtMostTimes(times, d, EVENTS),
        Possible: Possible(CONDITION),
    }
    return forms[kind]


def requirement_of(form: Form, *, scoped: bool, allowing_s: Fraction) -> Requirement:
    """A requirement over C, E and S (the switch s is on)."""
    return Requirement("claim", "", SCOPE if scoped else None, form, allowing_s, NOWHERE)


@dataclass(frozen=True, slots=True)
class Bench:
    """A monitor with nothing around it but the two switches that it reads."""

    system: System

    @classmethod
    def of(cls, requirement: Requirement) -> Bench:
        """The monitor of a requirement over C, E and S."""
        points = (
            point("c", PointKind.SWITCH),
            point("s", PointKind.SWITCH),
            point("e", PointKind.BUTTON),
        )
        job = Job("bench", None, points, (), (), (), (), (), (requirement,))
        return cls(System(job, requirement))

    def first_bad(self, timeline: Timeline, formula: Formula) -> Moment | None:
        """The moment at which the monitor first says that the requirement has failed.

        ``formula`` only tells at which moments to ask.
        """
        unit = unit_of(timeline, formula)
        states, now = self._begun(timeline.instants[0]), Fraction(0)
        for sample in samples_of(timeline, unit):
            at = sample.moment * unit / 2
            units = (at - now) / self.system.unit.size_s
            later = [passed(self.system, state, units) for state in states]
            states, now = [state for state in later if state is not None], at
            if sample.first and sample.instant:
                states = self._settled(states, timeline.instants[sample.instant])
            if any(fails(self.system, state) for state in states):
                return Moment(sample.moment // 2 * unit, sample.is_gap)
        return None

    def _bits(self, settled: Settled) -> tuple[tuple[int, int], ...]:
        of_point = self.system.world.of_point
        return tuple((of_point[n], 2 if n.upper() in settled.true else 1) for n in ("c", "s"))

    def _begun(self, settled: Settled) -> list[Concrete]:
        return [
            Concrete(values, (Fraction(0),) * len(self.system.layout.clocks))
            for values, _ in starts(self.system)
            if all(values[v] == bit for v, bit in self._bits(settled))
        ]

    def _settled(self, states: list[Concrete], settled: Settled) -> list[Concrete]:
        """Every state after an instant: a monitor may guess, and fails if one of its guesses does."""
        monitor = self.system.monitor
        assert monitor is not None
        count = min(settled.times("E"), monitor.count_cap)

        def settle(reg: Registers) -> None:
            for variable, bit in self._bits(settled):
                reg.put(variable, bit)
            monitor.settle(reg, count)

        return [
            concrete(Outcome(reg, (), False), state)
            for state in states
            for reg, _ in each_way(registers_of(state), settle)
        ]


def random_timeline(rng: Random, durations: tuple[Fraction, ...], instants: int = 7) -> Timeline:
    """A timeline on which distances are often exactly a duration, a little less, a little more, none."""
    quarter = Fraction(1, 4)
    at, true = Fraction(0), {n for n in ("C", "S") if rng.random() < 0.6}
    found = [Settled(at, frozenset(true))]
    for _ in range(1 + rng.randrange(instants)):
        chosen = rng.random()
        if chosen < 0.3:
            later = Fraction(0)
        elif chosen < 0.75:
            later = rng.choice(durations) + rng.choice(
                (-quarter, Fraction(0), Fraction(0), quarter)
            )
        else:
            later = Fraction(rng.randrange(1, 9), 4)
        at += max(later, Fraction(0))
        if rng.random() < 0.65:
            true ^= {"C"}
        if rng.random() < 0.25:
            true ^= {"S"}
        count = rng.choice((0, 0, 1, 1, 1, 2, 3))
        found.append(Settled(at, frozenset(true), (("E", count),)))
    return Timeline(tuple(found), at + rng.choice((Fraction(0), quarter, Fraction(5))))
