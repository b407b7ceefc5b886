"""A walk through a part of a job, step by step, as a person can take it on site.

The state is that of the reference interpreter, in exact times. What a person does happens a little
after what was before, never at the very moment at which something runs out; what runs out by
itself is waited for. Where rules can be handled in an order that would show, the walk does not go:
what a person sees may not hang on luck.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.explain.playback import due_in
from verifier.model.job import Job
from verifier.proof.planned import Dates, Line, Lines, Planned
from verifier.simulate.beginning import at_rest
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import Concrete, concrete, passed, position, registers_of
from verifier.simulate.script import BY_ITSELF
from verifier.simulate.seen import seen_values
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.happenings import (
    CalendarTurns,
    Happening,
    LevelReached,
    LimitsTurn,
    PointSticks,
    QuietBegins,
    ReportBounces,
    WireBreaks,
)
from verifier.surroundings.state import FOREVER, Registers

GAP_S = Fraction(2)
"""A person does one thing after the other, with so long between."""

MOST_AT_ONCE = 60
"""What may run out, one after the other, while nobody does anything, in one wait."""

_CANNOT_BE_MADE = (LimitsTurn, PointSticks, ReportBounces, WireBreaks, QuietBegins)


@dataclass(frozen=True, slots=True)
class Taken:
    """A happening on a walk: the states around it and the lines that acted."""

    at_s: Fraction
    happening: Happening
    before: Concrete
    after: Concrete
    because: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Here:
    """Where a walk has come: the state, the second since the start, calendar and fades."""

    state: Concrete
    now_s: Fraction
    turns: int
    lines: tuple[tuple[str, Line], ...]


class Walker:
    """Moves through the states of a part."""

    def __init__(self, part: Job) -> None:
        self.part = part
        self.system = System(part, None)
        self.size = self.system.unit.size_s
        self.dates = Dates(self.system, None, False)
        self.itself = [
            h
            for h in self.system.happenings
            if isinstance(h, BY_ITSELF) and not isinstance(h, CalendarTurns | LevelReached)
        ]
        self.doable = [h for h in self.system.happenings if self._can_be_made(h)]
        self.tried = 0
        self.seen_values: dict[tuple[int, ...], dict[str, str]] = {}

    def _can_be_made(self, happening: Happening) -> bool:
        """Whether somebody on site can bring it about, the power at the breaker among it."""
        if isinstance(happening, (*BY_ITSELF, *_CANNOT_BE_MADE)):
            return False
        return not getattr(happening, "lost", False)

    def start(self) -> Here | None:
        """The start at which everything is at rest; None if there is no run at all."""
        placed = self.system.world.in_calendar
        reg = self.system.fresh()
        if placed is not None:
            reg.facts[placed.phase] &= 1 << self.dates.phase
        state = at_rest(self.system, reg)
        if state is None:
            return None
        return Here(state, Fraction(0), 0, tuple(Lines(self.system, state).lines.items()))

    def seen(self, here: Here) -> dict[str, str]:
        """What a person can see."""
        return self.seen_in(here.state)

    def seen_in(self, state: Concrete) -> dict[str, str]:
        """What a person can see of a state."""
        known = self.seen_values.get(state.values)
        if known is None:
            known = self.seen_values[state.values] = seen_values(self.system, state)
        return known

    def due_s(self, here: Here) -> Fraction | None:
        """The second at which something next runs out by itself; None if nothing will."""
        planned = self._planned(here)
        wait = due_in(self.system, here.state, outside=False)
        at = [] if wait is None else [here.now_s + wait * self.size]
        if planned is not None and not isinstance(planned.happening, CalendarTurns):
            at.append(planned.at * self.size)
        return min(at, default=None)

    def due_after_s(self, here: Here) -> Fraction:
        """How long in all that takes which next runs out by itself; 0 if nothing will."""
        state = here.state
        found = [
            (bound.limit - state.clocks[bound.clock], bound.limit * self.size)
            for bound in self.system.layout.bounds
            if not bound.outside and all(state.values[v] & m for v, m in bound.when)
        ]
        return min(found, default=(Fraction(0), Fraction(0)))[1]

    def turns_s(self, here: Here) -> Fraction | None:
        """The second at which the calendar next turns."""
        self.dates.done = here.turns
        turn = self.dates.following()
        return None if turn is None else turn.at * self.size

    def latest_s(self, here: Here) -> Fraction | None:
        """The second by which something has to happen outside; None if nothing has to."""
        wait = due_in(self.system, here.state, outside=True)
        return None if wait is None else here.now_s + wait * self.size

    def later(self, here: Here, until_s: Fraction) -> tuple[Here, tuple[Taken, ...]] | None:
        """The walk at a later second, with what ran out meanwhile; None if that cannot be."""
        taken: list[Taken] = []
        for _ in range(MOST_AT_ONCE):
            planned = self._planned(here)
            wait = due_in(self.system, here.state, outside=False)
            goal, happenings = until_s, list[Happening]()
            if planned is not None and planned.at * self.size <= goal:
                goal, happenings = planned.at * self.size, [planned.happening]
            if wait is not None and here.now_s + wait * self.size <= goal:
                if here.now_s + wait * self.size < goal or not happenings:
                    happenings = []
                goal = here.now_s + wait * self.size
                happenings = [*happenings, *self.itself]
            state = passed(self.system, here.state, (goal - here.now_s) / self.size)
            if state is None:
                return None
            here = replace(here, state=state, now_s=goal)
            if not happenings:
                return here, tuple(taken)
            step = next((s for h in happenings if (s := self._happen(here, h)) is not None), None)
            if step is None:
                return None
            here, one = step
            taken.append(one)
        return None

    def done(self, here: Here, happening: Happening) -> tuple[Here, Taken] | None:
        """The walk after something was done now; None if that is not possible, or hangs on luck."""
        return self._happen(here, happening)

    def earliest_s(self, here: Here, happening: Happening) -> Iterator[Fraction]:
        """The seconds from which a happening is possible, as far as time alone decides."""
        self.tried += 1
        begin = [position(clock) for clock in here.state.clocks]
        reg = Registers(list(here.state.values), begin, [FOREVER] * len(begin))
        found: set[Fraction] = set()
        for outcome in outcomes(self.system, reg, happening):
            least = outcome.registers.at_least
            waits = [
                Fraction(asked, 2) - clock
                for asked, clock, old in zip(least, here.state.clocks, begin, strict=True)
                if asked > old
            ]
            found.add(here.now_s + max(waits, default=Fraction(0)) * self.size)
        yield from sorted(found)

    def _happen(self, here: Here, happening: Happening) -> tuple[Here, Taken] | None:
        self.tried += 1
        found: dict[tuple[int, ...], tuple[Here, Taken]] = {}
        for outcome in outcomes(self.system, registers_of(here.state), happening):
            if outcome.endless:
                return None
            state = concrete(outcome, here.state)
            lines = self._lines(here)
            now = here.now_s / self.size
            lines.after(here.state, state, now)
            if not lines.agrees(state, now):
                continue
            turns = here.turns + isinstance(happening, CalendarTurns)
            after = Here(state, here.now_s, turns, tuple(lines.lines.items()))
            taken = Taken(here.now_s, happening, here.state, state, outcome.because)
            found.setdefault(state.values, (after, taken))
        if len(found) != 1:
            return None
        return next(iter(found.values()))

    def _lines(self, here: Here) -> Lines:
        return Lines.standing(self.system, here.lines)

    def _planned(self, here: Here) -> Planned | None:
        self.dates.done = here.turns
        both = (self.dates.following(), self._lines(here).following(here.state))
        return min((p for p in both if p is not None), key=lambda p: p.at, default=None)
