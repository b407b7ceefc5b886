"""A calendar as variables and clocks: what a turn of it asks, and how far time goes in a phase.

Four things are kept of the past: when the clock last turned, when night and when day last began,
and which of these has been seen since the start. The two of the sun together tie a day to the
one before: the sun sets some minutes sooner or later than it did yesterday, no more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from verifier.model.job import Between
from verifier.surroundings.calendar import Calendar, Range, Turn
from verifier.surroundings.state import Layout

NO_TURN, NIGHT_SEEN, DAY_SEEN, BOTH_SEEN = 1, 2, 4, 8
"""Bits of what has been seen of the sun since the start."""

SEEN = ("no turn", "night began", "day began", "both began")

NOT_YET, TURNED = 2, 1
"""Bits of ``the clock has not turned yet``: yes and no."""


@dataclass(frozen=True, slots=True)
class Since:
    """A clock of the calendar with what a turn asks of it, in units.

    ``least`` is asked once the variable ``seen`` is in the mask ``known``: before, more time has
    passed than the clock shows. ``due``: the phase ends here at the latest.
    """

    clock: int
    seen: int
    known: int
    least: int
    most: int
    due: bool


@dataclass(frozen=True, slots=True)
class SunIn:
    """The clocks since night and since day last began; ``seen``: which of the two has, so far."""

    night: int
    day: int
    seen: int


@dataclass(frozen=True, slots=True)
class LaidCalendar:
    """A calendar with its variables and clocks; ``phase`` is the variable of the phase.

    ``fresh`` says that the clock has not turned since the start.
    """

    calendar: Calendar
    phase: int
    clock: int
    fresh: int
    sun: SunIn | None
    units: Callable[[Fraction], int]

    def clocks(self) -> frozenset[int]:
        """Its clocks."""
        return frozenset((self.clock, *((self.sun.night, self.sun.day) if self.sun else ())))

    def variables(self) -> frozenset[int]:
        """Its variables."""
        return frozenset((self.phase, self.fresh, *((self.sun.seen,) if self.sun else ())))

    def night_mask(self) -> int:
        """The phases by night."""
        return sum(1 << i for i, phase in enumerate(self.calendar.phases) if phase.night)

    def between_mask(self, between: Between) -> int:
        """The phases that lie between two times."""
        return sum(1 << i for i in self.calendar.within[between])

    def begins_mask(self) -> int:
        """The phases in which a run can begin."""
        return sum(1 << i for i in self.calendar.begins)

    def asked_by(self, turn: Turn) -> list[Since]:
        """What a turn of the calendar asks of its clocks."""
        found: list[Since] = []
        if turn.since_clock is not None:
            latest = self.latest(turn.before, of_sun=False)
            found.append(self._since(self.clock, self.fresh, TURNED, turn.since_clock, latest))
        if self.sun is None:
            return found
        latest = self.latest(turn.before, of_sun=True)
        if turn.to_night is None:
            # What it asks of the sun follows from when the sun turned; but it may end the phase.
            by_night = self.calendar.phases[turn.before].night
            current = turn.since_night if by_night else turn.since_day
            if current is not None and self.units(Fraction(current[1])) == latest:
                clock = self.sun.night if by_night else self.sun.day
                ends = (0, current[1])
                found.append(self._since(clock, self.sun.seen, BOTH_SEEN, ends, latest))
            return found
        night_most, day_most = (None, latest) if turn.to_night else (latest, None)
        spans = (
            (self.sun.night, NIGHT_SEEN, turn.since_night, night_most),
            (self.sun.day, DAY_SEEN, turn.since_day, day_most),
        )
        for clock, mask, span, most in spans:
            if span is not None:
                known = mask | BOTH_SEEN
                found.append(self._since(clock, self.sun.seen, known, span, most))
        return found

    def _since(self, clock: int, seen: int, known: int, span: Range, latest: int | None) -> Since:
        least, most = self.units(Fraction(span[0])), self.units(Fraction(span[1]))
        return Since(clock, seen, known, least, most, most == latest)

    def latest(self, phase: int, *, of_sun: bool) -> int | None:
        """The longest time since the clock, or the sun, last turned, at which a phase ends."""
        turns = [turn for turn in self.calendar.turns if turn.before == phase]
        if of_sun:
            # By night the sun last turned when night began.
            spans = [
                turn.since_night if self.calendar.phases[phase].night else turn.since_day
                for turn in turns
            ]
        else:
            spans = [turn.since_clock for turn in turns]
        known = [span[1] for span in spans if span is not None]
        return self.units(Fraction(max(known))) if known else None

    def bounds(self, *, of_sun: bool) -> list[int | None]:
        """The same as a bound: no less than what a turn that is due can bring with it."""
        found = [self.latest(n, of_sun=of_sun) for n in range(len(self.calendar.phases))]
        while True:
            raised = list(found)
            for turn in self.calendar.turns:
                brought, there = raised[turn.before], raised[turn.after]
                restarts = (turn.to_night is not None) == of_sun
                if not restarts and brought is not None and there is not None:
                    raised[turn.after] = max(there, brought)
            if raised == found:
                return found
            found = raised


def lay_calendar(
    calendar: Calendar, layout: Layout, units: Callable[[Fraction], int]
) -> LaidCalendar:
    """Lays out a calendar: its phase, its clocks, their bounds."""
    phase = layout.add(calendar.name, calendar.words)
    clock = layout.clock("since the clock turned")
    fresh = layout.add("the clock has not turned yet", (0, 1))
    sun = None
    if calendar.linked:
        night = layout.clock("since night began")
        day = layout.clock("since day began")
        sun = SunIn(night, day, layout.add("the sun so far", SEEN))
    laid = LaidCalendar(calendar, phase, clock, fresh, sun, units)
    for of_sun in (False, True) if calendar.linked else (False,):
        # A bound for each phase, though some have the same figure: a turn then always ends one.
        for number, most in enumerate(laid.bounds(of_sun=of_sun)):
            one = clock
            if of_sun:
                assert sun is not None
                one = sun.night if calendar.phases[number].night else sun.day
            if most is not None:
                layout.bound(one, ((phase, 1 << number),), most, outside=False)
    for turn in calendar.turns:
        for since in laid.asked_by(turn):
            # Of the day before it is asked today: these clocks matter at any time.
            layout.compared(since.clock, since.most, ())
    return laid
