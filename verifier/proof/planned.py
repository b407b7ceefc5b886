"""What is bound to happen on the whole job while a run of its slice goes on, to the moment.

The calendar turns on the date of the run, and fades reach levels that the slice does not read:
each at the moment that the date, and the straight line, say.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from verifier.simulate.fading import NO_FADE, Fading, Way
from verifier.simulate.replay import Concrete
from verifier.simulate.system import System
from verifier.surroundings.calendar import DAY_S
from verifier.surroundings.happenings import CalendarTurns, Happening, LevelReached
from verifier.surroundings.levels import Around

NOON_S = Fraction(DAY_S // 2)
"""When a run begins whose slice reads no clock."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A happening and its moment, in units of the whole job."""

    at: Fraction
    happening: Happening


# ---------------------------------------------------------------- the calendar


class Dates:
    """The turns of a system's calendar from the moment on at which a run begins."""

    def __init__(self, system: System, begins_s: Fraction | None, turns_first: bool) -> None:
        """``turns_first``: what turns at the very moment of the beginning is still to come."""
        placed = system.world.in_calendar
        self.system = system
        self.done = 0
        if placed is None:
            return
        calendar = placed.calendar
        self.begins_s = begins_s
        self.moments = calendar.moments
        if calendar.site is None:
            begins = NOON_S if begins_s is None else begins_s
            self.begins_s = begins
            stretch = calendar.marks.stretch_at(int(begins))
            if turns_first and begins == calendar.marks.times[stretch]:
                stretch = (stretch - 1) % len(calendar.marks.times)
            self.phase: int = stretch
            self.next = stretch
            return
        if begins_s is None:
            first = bisect_left(self.moments, self._begin_of_years(), key=lambda m: m.at)
            self.begins_s = Fraction(self.moments[first].at) if self.moments else Fraction(0)
            begins_s = self.begins_s
        find = bisect_left if turns_first else bisect_right
        self.next = find(self.moments, begins_s, key=lambda m: Fraction(m.at))
        self.phase = calendar.turns[calendar.along[self.next]].before if self.moments else 0

    def _begin_of_years(self) -> int:
        from verifier.surroundings.calendar import first_second

        placed = self.system.world.in_calendar
        assert placed is not None
        return first_second(placed.calendar.years[0])

    def following(self) -> Planned | None:
        """The next turn of the calendar."""
        placed = self.system.world.in_calendar
        if placed is None:
            return None
        calendar, size = placed.calendar, self.system.unit.size_s
        assert self.begins_s is not None
        if calendar.site is None:
            number = (self.next + self.done) % len(calendar.turns)
            turn = calendar.turns[number]
            times, period = calendar.marks.times, calendar.marks.period
            first = times[calendar.phases[calendar.turns[self.next].after].stretch]
            at = (first - self.begins_s) % period
            for k in range(self.done):
                step = calendar.turns[(self.next + 1 + k) % len(calendar.turns)]
                assert step.since_clock is not None
                at += step.since_clock[0]
            return Planned(at / size, CalendarTurns(number, turn.what))
        if self.next + self.done >= len(self.moments):
            return None
        moment = self.moments[self.next + self.done]
        number = calendar.along[self.next + self.done]
        at = (moment.at - self.begins_s) / size
        return Planned(at, CalendarTurns(number, calendar.turns[number].what))

    def turned(self) -> None:
        """The next turn has been taken."""
        self.done += 1


# ---------------------------------------------------------------- fades


@dataclass(slots=True)
class Line:
    """A dimmer's level: a straight line from ``begin`` on, or a level that stays (``way`` None)."""

    level: Fraction
    way: Way | None
    begin: Fraction


class Lines:
    """The exact level of each dimmer of a system along a run."""

    def __init__(self, system: System, state: Concrete) -> None:
        self.system = system
        self.lines: dict[str, Line] = {}
        for dimmer, fading in system.fading.items():
            level = self._value(fading, state)
            assert isinstance(level, Fraction)
            self.lines[dimmer] = Line(level, None, Fraction(0))

    @classmethod
    def standing(cls, system: System, lines: Iterable[tuple[str, Line]]) -> Lines:
        """The levels as they stand somewhere along a run, each on a line of its own."""
        found = cls.__new__(cls)
        found.system, found.lines = system, dict(lines)
        return found

    def _value(self, fading: Fading, state: Concrete) -> object:
        values = self.system.layout.variables[fading.level].values
        return values[state.values[fading.level].bit_length() - 1]

    def _figures(self, fading: Fading, way: Way) -> tuple[Fraction, Fraction]:
        """Where a way leads, and how long it takes (units)."""
        target = self.system.layout.variables[fading.level].values[way.target.bit_length() - 1]
        place = self.system.codes[way.rule].places[way.place]
        assert isinstance(target, Fraction)
        assert place.for_s is not None
        return target, place.for_s / self.system.unit.size_s

    def level_at(self, fading: Fading, now: Fraction) -> Fraction:
        """The level of a dimmer at a moment."""
        line = self.lines[fading.dimmer]
        if line.way is None:
            return line.level
        target, over = self._figures(fading, line.way)
        return line.level + (target - line.level) * (now - line.begin) / over

    def after(self, before: Concrete, state: Concrete, now: Fraction) -> None:
        """Takes note of what a happening at the moment ``now`` has made of the fades."""
        for dimmer, fading in self.system.fading.items():
            active = state.values[fading.active]
            way = None if active == NO_FADE else fading.ways[active.bit_length() - 2]
            same = active == before.values[fading.active]
            restarted = (
                way is not None and state.clocks[way.clock] == 0 and before.clocks[way.clock] > 0
            )
            level = self._value(fading, state)
            if way is None and isinstance(level, Fraction):
                self.lines[dimmer] = Line(level, None, now)
                continue
            if same and not restarted:
                continue
            begun = (
                way is not None
                and self.system.layout.variables[fading.level].values[way.start.bit_length() - 1]
            )
            exact = begun if isinstance(begun, Fraction) else self.level_at(fading, now)
            self.lines[dimmer] = Line(exact, way, now)

    def agrees(self, state: Concrete, now: Fraction) -> bool:
        """Whether every level lies where the state says."""
        for fading in self.system.fading.values():
            value, exact = self._value(fading, state), self.level_at(fading, now)
            inside = (
                value.low <= exact <= value.high if isinstance(value, Around) else value == exact
            )
            if not inside:
                return False
        return True

    def following(self, state: Concrete) -> Planned | None:
        """The next level that a fade reaches."""
        found: Planned | None = None
        for dimmer, fading in self.system.fading.items():
            line = self.lines[dimmer]
            if line.way is None:
                continue
            number = fading.ways.index(line.way)
            target, over = self._figures(fading, line.way)
            for c, reach in enumerate(line.way.reaches):
                if reach.before != state.values[fading.level]:
                    continue
                values = self.system.layout.variables[fading.level].values
                level = values[reach.there.bit_length() - 1]
                assert isinstance(level, Fraction)
                at = line.begin + over * (level - line.level) / (target - line.level)
                if found is None or at < found.at:
                    found = Planned(at, LevelReached(dimmer, number, c, reach.what))
        return found
