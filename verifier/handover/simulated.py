"""How long each output is on when the house is used as stated: weeks of a year on the interpreter.

Each week is a run of the whole job from its statements (`simulate`), in exact times. It begins a day
early, with everything at rest, and that day is not counted. Rules triggered by one change are
handled in the order in which they are declared. Nothing fails and nobody uses a local switch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from verifier.handover.pattern import Stretch, stretches, travel_s
from verifier.handover.year import Year
from verifier.model.job import Job, Point
from verifier.proof.planned import Dates, Lines
from verifier.simulate.beginning import at_rest
from verifier.simulate.fading import NO_FADE
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import Concrete, concrete, passed, registers_of
from verifier.simulate.system import System
from verifier.surroundings.calendar import DAY_S
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LevelPassed,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
)
from verifier.surroundings.world import DOWN_FULL, FALSE, LOWERED, RAISED, TRUE, UP_FULL

WEEK_DAYS = 7
LEAD_DAYS = 1
"""Days played before a week begins to count, so that it begins as others do."""

MOST_HAPPENINGS = 2_000_000
"""Things that happen in one week at most; more is an endless loop of no use to anybody."""


MOST_IN_ALL = 1_000_000
"""Things that happen in all weeks together, where the number of weeks is left open: about two minutes."""

ALL_WEEKS = 52


class TooMuch(Exception):
    """More happens in a week than can be played."""


@dataclass(frozen=True, slots=True)
class Spent:
    """What one output did in one week: seconds on, seconds of full light, and times switched on.

    ``full_s`` counts a second at 60 % as 0.6 s.
    """

    on_s: Fraction
    full_s: Fraction
    switched: int


@dataclass(frozen=True, slots=True)
class Week:
    """One week as it was played, from a day of the year on; outputs in declared order."""

    first_day: int
    spent: tuple[Spent, ...]
    happenings: int


def plain_job(job: Job) -> Job:
    """The job as its usage is played on it: its rules among inputs that come and go freely.

    Rooms, assumptions, faults and requirements are taken out, since no rule reads them and the usage
    itself says what happens; so are local switches. Inputs begin at rest; night and day come as the
    year says.
    """
    rest = resting(job)
    points = tuple(
        replace(point, starts=rest.get(point.name, point.starts))
        if point.kind.is_input
        else replace(point, local_switch=False)
        for point in job.points
    )
    doors = tuple(
        replace(door, starts="raised" if rest.get(door.name) == "raised" else "lowered")
        for door in job.doors
    )
    site = job.site
    if site is not None:
        site = replace(site, latitude_deg=None, longitude_deg=None, timezone=None)
    return replace(
        job, site=site, points=points, doors=doors, rooms=(), assumptions=(), faults=(),
        requirements=(), usage=None,
    )  # fmt: skip


def resting(job: Job) -> dict[str, str]:
    """How each input and door is at rest: not as the usage says that it becomes for a while.

    An input of which the usage says nothing is as it starts; without that, its first value.
    """
    found: dict[str, str] = {}
    for point in job.points:
        if point.kind.is_input and point.kind.values and point.name not in job.door_of_point:
            start = point.starts
            found[point.name] = start if isinstance(start, str) else point.kind.values[0]
    for door in job.doors:
        found[door.name] = "raised" if door.starts == "raised" else "lowered"
    for use in () if job.usage is None else job.usage.uses:
        if use.value is not None and use.subject in job.door:
            found[use.subject] = "lowered" if use.value == "raised" else "raised"
        elif use.value is not None:
            found[use.subject] = next(
                value for value in job.point[use.subject].kind.values if value != use.value
            )
    return found


def outputs_of(job: Job) -> tuple[Point, ...]:
    """The lamps, dimmers and loads of a job, in declared order."""
    return tuple(point for point in job.points if point.kind.is_output)


def week_starts(year: Year, weeks: int, random: Random) -> tuple[int, ...]:
    """The first day of each week that is played: one at a random place of each part of the year."""
    return tuple(
        random.randrange(
            k * year.days // weeks, max((k + 1) * year.days // weeks, k * year.days // weeks + 1)
        )
        for k in range(weeks)
    )


def simulated(
    job: Job, year: Year, weeks: int, seed: int, on_week: Callable[[int], None]
) -> Iterator[Week]:
    """Weeks spread over a year, played one after the other. Raises: TooMuch."""
    plain = plain_job(job)
    system = System(plain, None)
    for number, first in enumerate(week_starts(year, weeks, Random(f"{seed} weeks"))):
        on_week(number)
        random = Random(f"{seed} week {number}")
        happening = stretches(job, year, first - LEAD_DAYS - 1, first + WEEK_DAYS, random)
        yield _Playing(system, year, first, happening).week()


def weeks_to_play(job: Job, year: Year, seed: int) -> int:
    """All weeks of the year, or as many as can be played in some minutes, going by one of them.

    Raises: TooMuch.
    """
    first = next(simulated(job, year, ALL_WEEKS, seed, lambda number: None))
    return max(1, min(ALL_WEEKS, MOST_IN_ALL // max(first.happenings, 1)))


class _Playing:
    """One week on one system."""

    def __init__(self, system: System, year: Year, first: int, used: tuple[Stretch, ...]) -> None:
        self.system, self.year, self.first = system, year, first
        job = system.job
        self.outputs = outputs_of(job)
        self.size = system.unit.size_s
        self.begin_s = (first - LEAD_DAYS) * DAY_S
        self.now: Fraction | int = 0
        self.happenings = 0
        marks = system.world.in_calendar
        weekday = year.day_of_week(first - LEAD_DAYS)
        period = DAY_S if marks is None else marks.calendar.marks.period
        self.dates = Dates(system, Fraction(weekday * DAY_S % period), False)
        self.state = self._start()
        self.lines = Lines(system, self.state) if system.fading else None
        self.outside = self._outside(used)
        self.bounds = tuple(
            bound
            for bound in system.layout.bounds
            if not bound.outside and not (marks is not None and bound.clock in marks.clocks())
        )
        self.itself = _by_itself(system)
        self.kept = [[Fraction(0), Fraction(0)] for _ in self.outputs]
        self.switched = [0] * len(self.outputs)
        self.levels = [self._level(point, self.state) for point in self.outputs]

    # ------------------------------------------------------------ the start

    def _start(self) -> Concrete:
        system = self.system
        reg = system.fresh()
        placed = system.world.in_calendar
        if placed is not None:
            reg.facts[placed.phase] = 1 << self.dates.phase
        if system.world.night is not None:
            assert self.year.nights is not None
            night = self.year.nights.is_night(self.begin_s)
            reg.facts[system.world.night] = TRUE if night else FALSE
        found = at_rest(system, reg)
        assert found is not None, "energy: no run begins at rest"
        return found

    # ------------------------------------------------------------ what happens outside

    def _outside(self, used: tuple[Stretch, ...]) -> list[tuple[Fraction | int, Happening]]:
        """What happens outside, in order: what is used, and night and day."""
        system = self.system
        turns = {(h.point, h.bit): h for h in system.happenings if isinstance(h, InputTurns)}
        pressed = {h.button: h for h in system.happenings if isinstance(h, ButtonPressed)}
        moves = {
            (h.door, h.before, h.bit): h for h in system.happenings if isinstance(h, DoorMoves)
        }
        found: list[tuple[Fraction | int, Happening]] = []
        for each in used:
            if each.begin < self.begin_s:
                continue
            if each.value is None:
                found.append((each.begin, pressed[each.subject]))
            elif each.subject in system.job.door:
                travel = travel_s(system.job, each.subject)
                found.extend(_of_door(moves, each, travel))
            else:
                values = system.job.point[each.subject].kind.values
                bit = 1 << values.index(each.value)
                found.append((each.begin, turns[each.subject, bit]))
                found.append((each.end, turns[each.subject, (TRUE | FALSE) ^ bit]))
        sun = {h.bit: h for h in system.happenings if isinstance(h, SunTurns)}
        if sun:
            assert self.year.nights is not None
            found.extend(
                (at, sun[TRUE if to_night else FALSE])
                for at, to_night in self.year.nights.turns
                if self.begin_s < at < self.begin_s + (LEAD_DAYS + WEEK_DAYS) * DAY_S
            )
        found.sort(key=lambda each: each[0])
        return [(self._units(at - self.begin_s), happening) for at, happening in found]

    def _units(self, seconds: Fraction | int) -> Fraction | int:
        """Seconds as units: a whole number where it is one, which is faster."""
        units = seconds / self.size
        return units.numerator if units.denominator == 1 else units

    # ------------------------------------------------------------ the run

    def week(self) -> Week:
        """The week played."""
        self._until(self._units(LEAD_DAYS * DAY_S))
        self.kept = [[Fraction(0), Fraction(0)] for _ in self.outputs]
        self.switched = [0] * len(self.outputs)
        self._until(self._units((LEAD_DAYS + WEEK_DAYS) * DAY_S))
        spent = tuple(
            Spent(on * self.size, full * self.size, switched)
            for (on, full), switched in zip(self.kept, self.switched, strict=True)
        )
        return Week(self.first, spent, self.happenings)

    def _until(self, end: Fraction | int) -> None:
        place = 0
        while True:
            at, happening = end, None
            if place < len(self.outside) and self.outside[place][0] < end:
                at, happening = self.outside[place]
            turn = self.dates.following()
            if turn is not None and turn.at < at:
                at, happening = turn.at, turn.happening
            due, by_itself = self._due()
            if due is not None and due <= at and due < end:
                self._pass(due)
                self._by_itself(by_itself)
                continue
            self._pass(at)
            if happening is None:
                self.outside = self.outside[place:]
                return
            if not self._happen(happening):
                # A report or a rule cannot stop what people do: only the surroundings could.
                raise AssertionError(f"energy: {happening.what} is not possible")
            if isinstance(happening, CalendarTurns):
                self.dates.turned()
            else:
                place += 1

    def _due(self) -> tuple[Fraction | int | None, Happening | None]:
        """When something next runs out by itself; with the level that a fade reaches, if that is it."""
        values, clocks = self.state.values, self.state.clocks
        left: Fraction | int | None = None
        for bound in self.bounds:
            for variable, mask in bound.when:
                if not values[variable] & mask:
                    break
            else:
                rest = bound.limit - clocks[bound.clock]
                if left is None or rest < left:
                    left = rest
        due = None if left is None else self.now + left
        if self.lines is not None:
            planned = self.lines.following(self.state)
            if planned is not None and (due is None or planned.at <= due):
                return planned.at, planned.happening
        return due, None

    def _pass(self, at: Fraction | int) -> None:
        """Lets time pass up to a moment; adds up what is on meanwhile."""
        if at == self.now:
            return
        took = at - self.now
        for number, level in enumerate(self.levels):
            begin, finish = level, level
            if self.lines is not None and (fade := self._fade(number)) is not None:
                begin, finish = fade(self.now), fade(at)
            if begin or finish:
                self.kept[number][0] += took
                self.kept[number][1] += Fraction(took * (begin + finish), 200)
        later = passed(self.system, self.state, took)  # type: ignore[arg-type]
        assert later is not None, "energy: time passed a bound"
        self.state, self.now = later, at

    def _by_itself(self, planned: Happening | None) -> None:
        for happening, variable, mask in self.itself if planned is None else ((planned, 0, -1),):
            if self.state.values[variable] & mask and self._happen(happening):
                return
        raise AssertionError("energy: nothing runs out where something is due")

    def _happen(self, happening: Happening) -> bool:
        """The first order in which the instant can end; False if it cannot begin."""
        before = self.state
        found = outcomes(self.system, registers_of(before), happening, lambda *_: True)
        if not found:
            return False
        self.happenings += 1
        if found[0].endless or self.happenings > MOST_HAPPENINGS:
            raise TooMuch
        self.state = concrete(found[0], before)
        if self.lines is not None:
            self.lines.after(before, self.state, Fraction(self.now))
        for number, point in enumerate(self.outputs):
            level = self._level(point, self.state)
            if level and not self.levels[number]:
                self.switched[number] += 1
            self.levels[number] = level
        return True

    # ------------------------------------------------------------ levels

    def _level(self, point: Point, state: Concrete) -> Fraction | int:
        """The level of an output in per cent; above 0 of a dimmer that fades."""
        fading = self.system.fading.get(point.name)
        if fading is not None and self.lines is not None:
            going = state.values[fading.active] != NO_FADE
            return 1 if going else self.lines.lines[point.name].level
        variable = self.system.world.of_point[point.name]
        values = self.system.layout.variables[variable].values
        value = values[state.values[variable].bit_length() - 1]
        return value if isinstance(value, Fraction) else 100 if value == "on" else 0

    def _fade(self, number: int) -> Callable[[Fraction | int], Fraction] | None:
        """The level of an output by time, if it is one that rules fade."""
        name = self.outputs[number].name
        fading = self.system.fading.get(name)
        if fading is None or self.lines is None:
            return None
        lines = self.lines
        return lambda at: lines.level_at(fading, Fraction(at))


def _of_door(
    moves: dict[tuple[str, int, int], DoorMoves], each: Stretch, travel: Fraction
) -> list[tuple[Fraction | int, Happening]]:
    """A door goes to where it is left for a while, and comes back."""
    up = ((LOWERED, UP_FULL), (UP_FULL, RAISED))
    down = ((RAISED, DOWN_FULL), (DOWN_FULL, LOWERED))
    there, back = (up, down) if each.value == "raised" else (down, up)
    times = (each.begin, each.begin + travel, each.end - travel, each.end)
    return [
        (at, moves[each.subject, before, bit])
        for at, (before, bit) in zip(times, (*there, *back), strict=True)
    ]


def _by_itself(system: System) -> tuple[tuple[Happening, int, int], ...]:
    """What can run out by itself, with the variable and mask without which it does not."""
    found: list[tuple[Happening, int, int]] = []
    for happening in system.happenings:
        match happening:
            case WaitRunsOut(rule, slot, place):
                found.append((happening, system.slots[rule][slot], system.at(place)))
            case StayedRunsOut(number):
                found.append((happening, system.timers[number].ran_out, FALSE))
            case LevelPassed(dimmer, number):
                passing = system.fading[dimmer].passings[number]
                found.append((happening, system.fading[dimmer].active, passing.ways))
            case ControllerWakes():
                assert system.reaction is not None
                found.append((happening, system.reaction.due, TRUE))
            case _:
                pass
    return tuple(found)
