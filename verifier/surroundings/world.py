"""The surroundings of a job: doors, people, inputs, night and day, and what bounds them.

:class:`World` lays out their variables and clocks and says what can happen when. It knows
nothing of rules: what a change sets off is the controller's business (``verifier.simulate``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from verifier.model.job import (
    And,
    AssumeAlways,
    AssumeStays,
    Atom,
    Between,
    Condition,
    Door,
    FaultKind,
    Is,
    Job,
    Level,
    Point,
    PointKind,
    Room,
)
from verifier.surroundings.calendar import calendar_of, reads_sun
from verifier.surroundings.happenings import (
    ButtonPressed,
    DoorMoves,
    InputTurns,
    LimitsTurn,
    LocalSwitch,
    Outside,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    PowerCut,
    ReportBounces,
    SunTurns,
    WireBreaks,
)
from verifier.surroundings.laid_calendar import NO_TURN, NOT_YET, LaidCalendar, lay_calendar
from verifier.surroundings.levels import Around, dimmer_levels, percent_of
from verifier.surroundings.reports import (
    AWAY,
    BOUNCES,
    MAY_BOUNCE,
    Reporting,
    broken_wire_reads,
    faulty_points,
)
from verifier.surroundings.state import Layout, Registers

DOOR_STATES = (
    "raised",
    "lowered",
    "stopped",
    "rising from its limit",
    "rising",
    "sinking from its limit",
    "sinking",
)
RAISED, LOWERED, STOPPED = 1, 2, 4
UP_FULL, UP_PART, DOWN_FULL, DOWN_PART = 8, 16, 32, 64
MOVING = UP_FULL | UP_PART | DOWN_FULL | DOWN_PART
DOOR_PLACES = len(DOOR_STATES)
"""With the fault considered a door has each state twice: the second time both limits are reached."""
DOOR_MASKS = {"raised": RAISED, "lowered": LOWERED, "stopped": STOPPED, "moving": MOVING}

FALSE, TRUE = 1, 2
"""Bits of a variable that is no (0) or yes (1)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A value (``mask``) that is kept at least ``limit`` units, unless it is the first stretch.

    ``yields`` are (clock, when, limit) at which it gives way, being due.
    """

    mask: int
    clock: int
    limit: int
    yields: tuple[tuple[int, tuple[tuple[int, int], ...], int], ...]


class World:
    """The surroundings of ``job``, laid out in ``layout``; times in whole units of ``unit`` seconds."""

    def __init__(self, job: Job, layout: Layout, units: Callable[[Fraction], int]) -> None:
        self.job = job
        self.layout = layout
        self.units = units
        self.of_point: dict[str, int] = {}
        """The variable of a point that has one of its own."""
        self.of_door: dict[str, int] = {}
        self.of_room: dict[str, int] = {}
        self.travel: dict[str, int] = {}
        """The clock of each door."""
        self.entered: dict[str, int] = {}
        """The clock since somebody came in, of rooms that bound when they are noticed."""
        self.awaiting: dict[tuple[str, str], int] = {}
        """Variable: this detector has still to notice those who came into this room."""
        self.first: dict[int, int] = {}
        """Variable (yes): this variable has not changed since the start."""
        self.stretches: dict[int, list[Stretch]] = {}
        self.always: list[Condition] = []
        self.restarted: dict[int, list[tuple[int, int]]] = {}
        """For each variable (mask, clock): the clock restarts when it comes to be in mask (0: always)."""
        self.reporting: dict[str, Reporting] = {}
        """How a point is reported, of those whose report can differ from the truth."""
        self.both_limits = {
            f.subject for f in job.faults if f.kind is FaultKind.BOTH_LIMITS and f.subject
        }
        self.power_cuts = job.considers(FaultKind.POWER_CUTS)
        self.in_calendar: LaidCalendar | None = None
        calendar = calendar_of(job, job.seasons)
        linked = calendar is not None and calendar.linked
        self.night: int | None = None
        """The variable of night and day, where no site rules them."""
        if reads_sun(job) and not linked:
            self.night = layout.add("night", ("day", "night"))
        if calendar is not None:
            self.in_calendar = lay_calendar(calendar, layout, units)
        for point in job.points:
            self._lay_point(point)
        for door in job.doors:
            self._lay_door(door)
        for room in job.rooms:
            self._lay_room(room)
        for name, kinds in faulty_points(job).items():
            self._lay_report(job.point[name], kinds)
        self._lay_stretches()

    # ------------------------------------------------------------ layout

    def _lay_point(self, point: Point) -> None:
        if point.kind is PointKind.BUTTON or point.name in self.job.door_of_point:
            return
        if point.kind is PointKind.DIMMER:
            levels = dimmer_levels(self.job, point)
            # A variable has at least two values, else nothing could be asked of it.
            self.of_point[point.name] = self.layout.add(point.name, levels)
        else:
            self.of_point[point.name] = self.layout.add(point.name, point.kind.values)

    def _lay_door(self, door: Door) -> None:
        states: tuple[str, ...] = DOOR_STATES
        if door.name in self.both_limits:
            states = (*states, *(f"{state}, both limits reached" for state in states))
        variable = self.layout.add(door.name, states)
        clock = self.layout.clock(f"travel of {door.name}")
        self.of_door[door.name] = variable
        self.travel[door.name] = clock
        moving = self.door_mask(door.name, MOVING)
        self.layout.bound(
            clock, ((variable, moving),), self.units(door.travel_most_s), outside=True
        )

    def night_at(self) -> tuple[int, int]:
        """The variable that tells night, and the mask by which it does."""
        if self.night is not None:
            return self.night, TRUE
        assert self.in_calendar is not None
        return self.in_calendar.phase, self.in_calendar.night_mask()

    def between_at(self, between: Between) -> tuple[int, int]:
        """The variable that tells whether it is between two times, and the mask by which it does."""
        assert self.in_calendar is not None
        return self.in_calendar.phase, self.in_calendar.between_mask(between)

    def door_mask(self, door: str, mask: int) -> int:
        """The mask of places of a door, whatever its limits read."""
        return mask | mask << DOOR_PLACES if door in self.both_limits else mask

    def _lay_report(self, point: Point, kinds: tuple[FaultKind, ...]) -> None:
        layout, name = self.layout, point.name

        def says(kind: FaultKind, words: str) -> int | None:
            return layout.add(f"{name} {words}", (0, 1)) if kind in kinds else None

        copy = None
        if point.kind is not PointKind.BUTTON:
            copy = layout.add(f"{name} as reported", point.kind.values)
        stuck = says(FaultKind.STUCK, "is stuck")
        broken = says(FaultKind.BROKEN_WIRE, "has a broken wire")
        reads = broken_wire_reads(point)
        broken_bit = 0 if reads is None else 1 << point.kind.values.index(reads)
        bounce, clock, limit = None, -1, 0
        for fault in self.job.faults:
            if fault.kind is FaultKind.BOUNCE and fault.subject == name and bounce is None:
                assert fault.within_s is not None
                bounce = layout.add(f"bounce of {name}", BOUNCES)
                clock = layout.clock(f"since {name} was reported")
                limit = self.units(fault.within_s)
                layout.compared(clock, limit, ((bounce, MAY_BOUNCE),))
                layout.bound(clock, ((bounce, AWAY),), limit, outside=True)
        lost = FaultKind.LOST_REPORTS in kinds
        self.reporting[name] = Reporting(
            name, copy, lost, stuck, broken, broken_bit, bounce, clock, limit
        )

    def _lay_room(self, room: Room) -> None:
        variable = self.layout.add(room.name, ("empty", "peopled"))
        self.of_room[room.name] = variable
        if room.noticed_s is not None:
            clock = self.layout.clock(f"since somebody came into {room.name}")
            self.entered[room.name] = clock
            for detector in room.seen_by:
                awaiting = self.layout.add(f"{detector} has yet to notice {room.name}", (0, 1))
                self.awaiting[room.name, detector] = awaiting
                self.layout.bound(
                    clock,
                    ((variable, TRUE), (awaiting, TRUE)),
                    self.units(room.noticed_s),
                    outside=True,
                )
        if room.still_s is not None:
            for detector in room.seen_by:
                sensor = self.of_point[detector]
                self.layout.bound(
                    self.since(sensor, FALSE),
                    (
                        (variable, TRUE),
                        (sensor, FALSE),
                        (self.awaiting[room.name, detector], FALSE),
                    ),
                    self.units(room.still_s),
                    outside=True,
                )

    def _lay_stretches(self) -> None:
        for point in self.job.points:
            for value, seconds in ((TRUE, point.holds_s), (FALSE, point.rearm_s)):
                if seconds is not None:
                    self._keep(
                        self.of_point[point.name], value, seconds, self._due_in_rooms(point, value)
                    )
        for assumption in self.job.assumptions:
            match assumption:
                case AssumeAlways(condition):
                    parts = condition.items if isinstance(condition, And) else (condition,)
                    self.always.extend(parts)
                case AssumeStays(atom, "at least", seconds):
                    variable, mask = self.locate(atom)
                    self._keep(variable, mask, seconds, ())
                case AssumeStays(atom, _, seconds):
                    variable, mask = self.locate(atom)
                    clock = self.since(variable, mask)
                    self.layout.bound(clock, ((variable, mask),), self.units(seconds), outside=True)

    def _due_in_rooms(
        self, point: Point, value: int
    ) -> tuple[tuple[int, tuple[tuple[int, int], ...], int], ...]:
        """When ``rearm`` yields to ``noticed within`` and ``still at most`` of the rooms."""
        if value != FALSE:
            return ()
        due = []
        for bound in self.layout.bounds:
            watched = {variable for variable, _ in bound.when}
            for room in self.job.rooms:
                if point.name not in room.seen_by or room.noticed_s is None:
                    continue
                awaiting = self.awaiting[room.name, point.name]
                if self.of_room[room.name] in watched and awaiting in watched:
                    due.append((bound.clock, bound.when, bound.limit))
        return tuple(due)

    def _keep(
        self,
        variable: int,
        mask: int,
        seconds: Fraction,
        yields: tuple[tuple[int, tuple[tuple[int, int], ...], int], ...],
    ) -> None:
        clock = self.since(variable, mask)
        if variable not in self.first:
            name = self.layout.variables[variable].name
            self.first[variable] = self.layout.add(f"{name} has not changed yet", (0, 1))
        limit = self.units(seconds)
        self.layout.compared(clock, limit, ((variable, mask), (self.first[variable], FALSE)))
        self.stretches.setdefault(variable, []).append(Stretch(mask, clock, limit, yields))

    def since(self, variable: int, mask: int) -> int:
        """The clock that starts when the variable comes to be in ``mask`` (in truth)."""
        name = self.layout.variables[variable].name
        if len(self.layout.variables[variable].values) == 2:
            clock, mask = self.layout.clock(f"since {name} changed"), 0
        else:
            clock = self.layout.clock(f"since {name} came to be {self.words(variable, mask)}")
        known = self.restarted.setdefault(variable, [])
        if (mask, clock) not in known:
            known.append((mask, clock))
        return clock

    def words(self, variable: int, mask: int) -> str:
        """The values of a mask, for people."""
        values = self.layout.variables[variable].values
        return " or ".join(str(v) for i, v in enumerate(values) if mask >> i & 1)

    # ------------------------------------------------------------ names

    def locate(self, atom: Atom, truth: bool = True) -> tuple[int, int]:
        """The variable that an atom speaks of and the mask of the values that make it true.

        Of the truth, or as it was last reported.
        """
        match atom:
            case Is(subject, value):
                copy = None if truth else self.copy_of(subject)
                if copy is not None:
                    return copy, self.layout.variables[copy].bit(value)
                if subject in self.of_door:
                    return self.of_door[subject], self.door_mask(subject, DOOR_MASKS[value])
                if subject in self.of_room:
                    return self.of_room[subject], TRUE if value == "peopled" else FALSE
                door = self.job.door_of_point.get(subject)
                if door is not None:
                    true_value, mask = self._of_door_point(door, subject)
                    every = self.layout.variables[self.of_door[door.name]].every
                    return (
                        self.of_door[door.name],
                        mask if value == true_value else every & ~mask,
                    )
                variable = self.of_point[subject]
                return variable, self.layout.variables[variable].bit(value)
            case Level(subject):
                variable = self.of_point[subject]
                values = self.layout.variables[variable].values
                mask = 0
                for i, level in enumerate(values):
                    assert isinstance(level, Fraction | Around)
                    if atom.holds_of(percent_of(level)):
                        mask |= 1 << i
                return variable, mask

    def copy_of(self, subject: str) -> int | None:
        """The variable of what was last reported of a point, if it can differ from the truth."""
        reporting = self.reporting.get(subject)
        return None if reporting is None else reporting.copy

    def _of_door_point(self, door: Door, point: str) -> tuple[str, int]:
        if point == door.moving_by:
            return "on", self.door_mask(door.name, MOVING)
        place = RAISED if point == door.raised_by else LOWERED
        every = self.layout.variables[self.of_door[door.name]].every
        return "reached", place | (every >> DOOR_PLACES << DOOR_PLACES)

    def classes(self, subject: str, truth: bool = True) -> tuple[int, tuple[int, ...]]:
        """The variable of a subject and the masks between which a change of it is seen."""
        copy = None if truth else self.copy_of(subject)
        if copy is not None:
            return copy, (FALSE, TRUE)
        if subject in self.of_door:
            places = (RAISED, LOWERED, STOPPED, MOVING)
            return self.of_door[subject], tuple(self.door_mask(subject, m) for m in places)
        door = self.job.door_of_point.get(subject)
        if door is not None:
            _, mask = self._of_door_point(door, subject)
            variable = self.of_door[door.name]
            return variable, (mask, self.layout.variables[variable].every & ~mask)
        variable = self.of_room[subject] if subject in self.of_room else self.of_point[subject]
        return variable, tuple(1 << i for i in range(len(self.layout.variables[variable].values)))

    # ------------------------------------------------------------ what can happen

    def happenings(self) -> tuple[Outside, ...]:
        """Everything that the surroundings can do, in declared order."""
        found: list[Outside] = []
        for point in self.job.points:
            found.extend(self._of_point(point))
        for door in self.job.doors:
            found.extend(self._of_door(door))
        for reporting in self.reporting.values():
            found.extend(_of_report(reporting))
        for room in self.job.rooms:
            found.append(PeopleCome(room.name, f"somebody comes into {room.name}"))
            found.append(PeopleLeave(room.name, f"the last one leaves {room.name}"))
        if self.night is not None:
            found.append(SunTurns(self.night, TRUE, "night begins"))
            found.append(SunTurns(self.night, FALSE, "day begins"))
        if self.power_cuts:
            found.append(PowerCut())
        return tuple(found)

    def _of_point(self, point: Point) -> list[Outside]:
        reporting = self.reporting.get(point.name)
        ways = (False, True) if reporting is not None and reporting.lost else (False,)
        if point.kind is PointKind.BUTTON:
            what = f"{point.name} pressed"
            return [
                ButtonPressed(point.name, f"{what}{LOST if lost else ''}", lost) for lost in ways
            ]
        if point.name in self.job.door_of_point:
            return []
        variable = self.of_point[point.name]
        values = self.layout.variables[variable].values
        if point.kind.is_input:
            return [
                InputTurns(
                    point.name,
                    variable,
                    1 << i,
                    f"{point.name} becomes {values[i]}{LOST if lost else ''}",
                    lost,
                )
                for i in (1, 0)
                for lost in ways
            ]
        if point.kind.is_output and point.local_switch:
            ends = (len(values) - 1, 0)
            words = ("on", "off")
            return [
                LocalSwitch(point.name, variable, 1 << i, f"{point.name} is switched {w} by hand")
                for i, w in zip(ends, words, strict=True)
            ]
        return []

    def _of_door(self, door: Door) -> list[Outside]:
        least = self.units(door.travel_least_s)
        variable, name = self.of_door[door.name], door.name
        whole = self.door_mask(name, UP_FULL | DOWN_FULL)
        self.layout.compared(self.travel[name], least, ((variable, whole),))
        moves = (
            (RAISED, DOWN_FULL, 0, f"{name} starts to go down"),
            (LOWERED, UP_FULL, 0, f"{name} starts to go up"),
            (STOPPED, UP_PART, 0, f"{name} starts to go up"),
            (STOPPED, DOWN_PART, 0, f"{name} starts to go down"),
            (MOVING, STOPPED, 0, f"{name} stops part way"),
            (UP_FULL, RAISED, least, f"{name} arrives at the top"),
            (UP_PART, RAISED, 0, f"{name} arrives at the top"),
            (DOWN_FULL, LOWERED, least, f"{name} arrives at the bottom"),
            (DOWN_PART, LOWERED, 0, f"{name} arrives at the bottom"),
        )
        found: list[Outside] = []
        for shift in (0, DOOR_PLACES) if name in self.both_limits else (0,):
            for before, bit, at_least, what in moves:
                for lost in self._ways_to_lose(door, before, bit, shift):
                    words = f"{what}{_lost_words(lost)}"
                    found.append(
                        DoorMoves(
                            name, variable, before << shift, bit << shift, at_least, words, lost
                        )
                    )
        if name in self.both_limits:
            for both, what in (
                (True, "both limits of {} reached"),
                (False, "not both limits of {}"),
            ):
                places = [(1 << i, 1 << i + DOOR_PLACES) for i in range(DOOR_PLACES)]
                turns = tuple(pair if both else pair[::-1] for pair in places)
                for lost in self._ways_to_lose(door, RAISED, LOWERED, 0):
                    words = f"{what.format(name)}{_lost_words(lost)}"
                    found.append(LimitsTurn(name, variable, both, turns, words, lost))
        return found

    def _ways_to_lose(self, door: Door, before: int, bit: int, shift: int) -> list[tuple[str, ...]]:
        """Which of the reports of a move can be lost together: none, each, any of them."""
        can: list[str] = []
        for name, mask in (
            (door.raised_by, RAISED),
            (door.lowered_by, LOWERED),
            (door.moving_by, MOVING),
        ):
            reporting = None if name is None else self.reporting.get(name)
            reads_both = shift > 0 and mask != MOVING
            if reporting is None or not reporting.lost or reads_both:
                continue
            if bool(before & mask) != bool(bit & mask):
                can.append(reporting.point)
        return [lost for count in range(len(can) + 1) for lost in combinations(can, count)]

    def open_for(self, reg: Registers, room: Room) -> bool:
        """Whether people can come and go: a contact is open, or a door is not lowered."""
        if not room.entered_by:
            return True
        for name in room.entered_by:
            if name in self.of_door:
                if not reg.test(self.of_door[name], self.door_mask(name, LOWERED)):
                    return True
            elif reg.test(self.of_point[name], TRUE):
                return True
        return False

    def may_change(self, reg: Registers, variable: int, bit: int) -> None:
        """Gives the path up if a stretch that has to last forbids this change."""
        for stretch in self.stretches.get(variable, ()):
            if stretch.mask & bit or not reg.test(variable, stretch.mask):
                continue
            if reg.test(self.first[variable], TRUE):
                continue
            if reg.reached(stretch.clock, 2 * stretch.limit):
                continue
            reg.require(any(self._due(reg, *due) for due in stretch.yields))

    @staticmethod
    def _due(reg: Registers, clock: int, when: tuple[tuple[int, int], ...], limit: int) -> bool:
        return all(reg.test(v, m) for v, m in when) and reg.reached(clock, 2 * limit)

    def rooms_seen_by(self, detector: str) -> tuple[Room, ...]:
        """The rooms that a detector sees."""
        return tuple(room for room in self.job.rooms if detector in room.seen_by)

    def noticed(self, reg: Registers, detector: str) -> None:
        """Notes that the detector has become occupied: it has noticed whoever came in."""
        for room in self.rooms_seen_by(detector):
            awaiting = self.awaiting.get((room.name, detector))
            if awaiting is not None:
                reg.put(awaiting, FALSE)

    # ------------------------------------------------------------ the start

    def begin(self, reg: Registers) -> None:
        """Narrows the facts of a state of the surroundings to those in which a run can begin."""
        job = self.job
        for point in job.points:
            variable = self.of_point.get(point.name)
            if variable is None:
                continue
            var = self.layout.variables[variable]
            if point.starts is not None:
                reg.put(variable, var.bit(point.starts))
            elif not point.kind.is_input:
                reg.put(variable, 1)
        for door in job.doors:
            # Both limits are not reached at the start: a fault sets in later.
            rest = {"raised": RAISED, "lowered": LOWERED, "anywhere": RAISED | LOWERED | STOPPED}
            mask = rest[door.starts] if door.starts is not None else RAISED | LOWERED
            for name in (door.raised_by, door.lowered_by, door.moving_by):
                value = job.point[name].starts if name is not None else None
                if name is not None and value is not None:
                    assert isinstance(value, str)
                    mask &= self.locate(Is(name, value))[1]
            reg.require(reg.test(self.of_door[door.name], mask))
        for room in job.rooms:
            if room.starts is not None:
                reg.put(self.of_room[room.name], TRUE if room.starts == "peopled" else FALSE)
        for awaiting in self.awaiting.values():
            reg.put(awaiting, FALSE)
        for first in self.first.values():
            reg.put(first, TRUE)
        placed = self.in_calendar
        if placed is not None:
            reg.require(reg.test(placed.phase, placed.begins_mask()))
            reg.put(placed.fresh, NOT_YET)
            if placed.sun is not None:
                reg.put(placed.sun.seen, NO_TURN)
        for reporting in self.reporting.values():
            self._begin_report(reg, reporting)

    def _begin_report(self, reg: Registers, reporting: Reporting) -> None:
        """At the start what is reported is true (7), and no fault has set in."""
        if reporting.copy is not None:
            values = self.job.point[reporting.point].kind.values
            rests = reg.test(*self.locate(Is(reporting.point, values[0])))
            reg.put(reporting.copy, FALSE if rests else TRUE)
        for variable in (reporting.stuck, reporting.broken, reporting.bounce):
            if variable is not None:
                reg.put(variable, 1)


LOST = ", the report is lost"


def _lost_words(lost: tuple[str, ...]) -> str:
    if not lost:
        return ""
    return f", the report of {' and of '.join(lost)} is lost"


def _of_report(reporting: Reporting) -> list[Outside]:
    """What can go wrong with the reports of a point."""
    name = reporting.point
    found: list[Outside] = []
    if reporting.bounce is not None:
        found.append(ReportBounces(name, False, f"{name} bounces"))
        if reporting.copy is not None:
            found.append(ReportBounces(name, True, f"{name} bounces back"))
    if reporting.stuck is not None:
        found.append(PointSticks(name, f"{name} sticks"))
    if reporting.broken is not None:
        found.append(WireBreaks(name, f"the wire of {name} breaks"))
    return found
