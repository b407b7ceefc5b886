"""What a requirement's own monitor says of a timeline: whether it is broken, and when.

The monitor is that of the prover (``simulate.monitor``), of the requirement's form over three
inputs of a bench: C (its condition), S (its scope) and E (its events). The timeline says what they
are at each settled instant; when a time is up is left to the monitor's own clocks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.explain.timeline import Settled
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Condition,
    Event,
    Form,
    Is,
    Job,
    LeadsTo,
    Never,
    NoLonger,
    NoShorter,
    Point,
    PointKind,
    Policy,
    Possible,
    Pressed,
    Requirement,
    Rule,
    Trigger,
    WhenFor,
    WhenWithin,
)
from verifier.simulate.explicit import starts
from verifier.simulate.instant import Outcome
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.replay import Concrete, concrete, fails, passed, registers_of
from verifier.simulate.system import System
from verifier.source import NOWHERE
from verifier.surroundings.state import Registers, each_way

C, S, E = Is("c", "on"), Is("s", "on"), Pressed("e")

Moment = tuple[Fraction, bool]
"""A moment in seconds from the start, and whether it is only just after that."""


def judge(requirement: Requirement, instants: Iterable[Settled], end_s: Fraction) -> Moment | None:
    """When the requirement is first seen to be broken on a timeline; None: it is not.

    Of ``possible`` it is when the condition is reached. ``leads to`` is broken at the end, if the
    rule was set going and the condition is not so in the state that lasts from then on. A
    ``measure`` cannot be broken.
    """
    return Bench(requirement).judge(tuple(instants), end_s)


class Bench:
    """The monitor of a requirement with nothing around it but C, S and E."""

    def __init__(self, requirement: Requirement) -> None:
        abstract = replace(
            requirement,
            scope=None if requirement.scope is None else S,
            form=_abstract(requirement.form),
        )
        points = (
            _input("c", PointKind.SWITCH),
            _input("s", PointKind.SWITCH),
            _input("e", PointKind.BUTTON),
        )
        rules: tuple[Rule, ...] = ()
        if isinstance(requirement.form, LeadsTo):
            rules = (_rule(requirement.form.rule),)
        job = Job("bench", None, points, (), (), rules, (), (), (abstract,))
        self.system = System(job, abstract)

    def judge(self, instants: tuple[Settled, ...], end_s: Fraction) -> Moment | None:
        """As :func:`judge`."""
        monitor = self.system.monitor
        assert monitor is not None
        if isinstance(monitor, MeasureMonitor):
            return None
        states = self._begun(instants[0])
        in_the_end = isinstance(monitor, LeadsToMonitor)
        for number, instant in enumerate(instants):
            if number:
                states = self._settled(states, instant)
            last = number + 1 == len(instants)
            until = end_s if last else instants[number + 1].at_s
            if not in_the_end:
                broken = self._failing(states, instant.at_s, until, closed=last)
                if broken is not None:
                    return broken
            states = self._passed(states, until - instant.at_s)
        if not in_the_end:
            return None
        bad = any(
            fails(self.system, state, monitor.was_handled)
            and not fails(self.system, state, monitor.holds)
            for state in states
        )
        return (end_s, False) if bad else None

    def _bits(self, instant: Settled) -> tuple[tuple[int, int], ...]:
        of_point = self.system.world.of_point
        seen = (("c", instant.holds), ("s", instant.inside))
        return tuple((of_point[name], 2 if so else 1) for name, so in seen if name in of_point)

    def _begun(self, instant: Settled) -> list[Concrete]:
        clocks = (Fraction(0),) * len(self.system.layout.clocks)
        return [
            Concrete(values, clocks)
            for values, _ in starts(self.system)
            if all(values[v] == bit for v, bit in self._bits(instant))
        ]

    def _settled(self, states: list[Concrete], instant: Settled) -> list[Concrete]:
        """Every state after an instant: a monitor may guess, and fails if one of its guesses does."""
        monitor = self.system.monitor
        assert monitor is not None
        count = min(instant.count, monitor.count_cap)

        def settle(reg: Registers) -> None:
            for variable, bit in self._bits(instant):
                reg.put(variable, bit)
            if instant.handled:
                monitor.handled(reg, 0)
            monitor.settle(reg, count)

        return list(
            dict.fromkeys(
                concrete(Outcome(reg, (), False), state)
                for state in states
                for reg, _ in each_way(registers_of(state), settle)
            )
        )

    def _passed(self, states: list[Concrete], seconds: Fraction) -> list[Concrete]:
        units = seconds / self.system.unit.size_s
        later = [passed(self.system, state, units) for state in states]
        return [state for state in later if state is not None]

    def _failing(
        self, states: list[Concrete], from_s: Fraction, to_s: Fraction, *, closed: bool
    ) -> Moment | None:
        """When in a stretch in which nothing happens the requirement is first seen to fail."""
        monitor, size = self.system.monitor, self.system.unit.size_s
        assert monitor is not None
        left = (to_s - from_s) / size
        moments = {Fraction(0)}
        for state in states:
            for clock in monitor.clocks:
                for limit in self._limits(clock):
                    moments.add(limit - state.clocks[clock])
        for units in sorted(m for m in moments if 0 <= m <= left):
            if units == left and left and not closed:
                continue
            room = (left - units) / 2 if left > units else Fraction(0)
            for late in (Fraction(0), min(Fraction(1, 8), room)):
                for state in states:
                    at = Concrete(state.values, tuple(c + units + late for c in state.clocks))
                    if fails(self.system, at):
                        return from_s + units * size, late > 0
        return None

    def _limits(self, clock: int) -> set[int]:
        """What a clock of the monitor is compared with."""
        unit = self.system.unit
        found = {self.system.layout.greatest[clock]}
        requirement = self.system.job.requirements[0]
        for seconds in (requirement.allowing_s, *_durations(requirement.form)):
            found.add(unit(seconds))
        return found


def _durations(form: Form) -> tuple[Fraction, ...]:
    match form:
        case WhenWithin(_, _, d) | WhenFor(_, _, d) | AfterLast(_, _, d) | Before(_, _, d):
            return (d,)
        case NoLonger(d) | NoShorter(d) | AtMostTimes(_, d):
            return (d,)
        case _:
            return ()


def _abstract(form: Form) -> Form:
    """A form over C and E."""
    condition: Condition = C
    events: tuple[Event, ...] = (E,)
    match form:
        case Always() | Never() | Possible() | NoLonger() | NoShorter() | LeadsTo():
            return replace(form, condition=condition)
        case AtMostTimes():
            return replace(form, events=events)
        case _:
            return replace(form, condition=condition, events=events)


def _input(name: str, kind: PointKind) -> Point:
    return Point(
        name, "", kind, None, None, None, None, None, None, False, False, "off", False, NOWHERE
    )


def _rule(name: str) -> Rule:
    """A rule that does nothing, so that it can be spoken of."""
    return Rule(name, "", Policy(1, 0, False), (Trigger(E, None, NOWHERE),), None, (), NOWHERE)
