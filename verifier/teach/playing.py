"""A job as it is played by hand: what is due, what can be done, and every way in which a moment can end.

All of it is the reference interpreter. The clock and the sun of a site follow one real date, fades
their straight lines; what runs out by itself does so on time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from typing import Literal
from zoneinfo import ZoneInfo

from verifier.explain.playback import due_in, outside_of
from verifier.graph.footprints import footprints
from verifier.model.job import DOOR_VALUES, ROOM_VALUES, Is, Job, Level, PointKind
from verifier.proof.planned import Dates, Lines
from verifier.proof.planned import Line as Straight
from verifier.simulate.beginning import at_rest
from verifier.simulate.instant import Commute, outcomes
from verifier.simulate.replay import Concrete, concrete, passed, registers_of
from verifier.simulate.run import RunClock
from verifier.simulate.script import BY_ITSELF
from verifier.simulate.script_reason import due_words
from verifier.simulate.seen import seen_values
from verifier.simulate.structure import Instant
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.calendar import DAY_S, WEEK_S, first_second
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LevelReached,
    LimitsTurn,
    PointSticks,
    PowerCut,
    QuietBegins,
    ReportBounces,
    WireBreaks,
)
from verifier.surroundings.state import Bound, Registers, each_way
from verifier.surroundings.world import (
    DOOR_PLACES,
    DOWN_FULL,
    DOWN_PART,
    FALSE,
    LOWERED,
    RAISED,
    STOPPED,
    TRUE,
    UP_FULL,
    UP_PART,
)

MOST_TRIED = 300
"""Happenings that are tried to find every way in which one moment can end."""

MOST_WAYS = 24
"""Ways of one moment that are told apart."""

By = Literal["person", "rules", "surroundings", "calendar"]
"""Who made something happen: a person; what runs out by itself; what the surroundings owe; the clock."""

Starts = tuple[tuple[str, str], ...]
"""Values at the start, as a script names them; of the sun with the subject ``sun``."""


class CannotBegin(Exception):
    """No run begins as it is asked; ``args[0]`` says why, in words."""


class NeverSettles(Exception):
    """The rules go round with no time passing; ``args[0]`` is what set them off."""


@dataclass(frozen=True, slots=True)
class Now:
    """A settled state and its moment, in seconds from the start.

    ``turns`` counts the turns of the calendar so far, ``lines`` are the dimmers' exact levels.
    ``places`` are the doors' places as a picture shows them (0 lowered to 1 raised): the rules and
    the interpreter know the limits only, so what lies between is drawn by the time it has moved.
    """

    at_s: Fraction
    state: Concrete
    turns: int
    lines: tuple[tuple[str, Straight], ...]
    places: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True)
class Happened:
    """One happening: who made it, the state before it at its moment, and the settled end of it."""

    happening: Happening
    by: By
    before: Now
    now: Now
    because: tuple[Span, ...]


Way = tuple[Happened, ...]
"""One way in which a moment comes out: what happened in it, in order."""


class Playing:
    """A job played by hand; every method gives values and keeps nothing."""

    def __init__(
        self, job: Job, begins_s: Fraction | None = None, *, turns_first: bool = False
    ) -> None:
        """``begins_s`` as in :class:`~verifier.simulate.run.RunClock`; None: noon.

        ``turns_first``: what the calendar brings at that very moment is still to come.
        """
        site = job.site
        if site is not None and site.timezone is not None:
            year = job.years[0] if begins_s is None else _year_of(begins_s)
            job = replace(job, years=(year, year + 1))
        self.job = job
        self.system = System(job, None)
        self.size = self.system.unit.size_s
        self._known: tuple[Concrete, Registers] | None = None
        self.itself = [h for h in self.system.happenings if isinstance(h, BY_ITSELF)]
        self.outside = outside_of(self.system)
        """What can happen outside, by its words, in declared order; and that the controller reacts."""
        prints = list(footprints(job).values())
        self.apart: Commute = lambda a, b: a != b and not prints[a].meets(prints[b])
        """Whether two rules do not touch each other, so that their order is all one."""
        placed = self.system.world.in_calendar
        self.clock: RunClock | None = None
        self.phase: int | None = None
        if placed is not None:
            calendar = placed.calendar
            if begins_s is None and calendar.site is not None:
                begins_s = noon_in_march(calendar.years[0], calendar.site.timezone or "UTC")
            self._dates = Dates(self.system, begins_s, turns_first)
            self.phase = self._dates.phase
            zone = None if calendar.site is None else calendar.site.timezone
            assert self._dates.begins_s is not None
            self.clock = RunClock(self._dates.begins_s, zone, calendar.marks.period == WEEK_S)
        else:
            self._dates = Dates(self.system, None, False)

    # ------------------------------------------------------------ the start

    def start(self, starts: Starts = ()) -> Now:
        """The beginning: what is not named is at rest. Raises: CannotBegin."""
        reg = self.system.fresh()
        placed = self.system.world.in_calendar
        if placed is not None and self.phase is not None:
            reg.facts[placed.phase] &= 1 << self.phase
        found = at_rest(self.system, reg)
        if found is None:
            raise CannotBegin(
                "no run of this job begins at all: look at its `starts` and assumptions"
            )
        for subject, value in starts:
            located = self.located(subject, value)
            if located is None:
                raise CannotBegin(f"`{subject} {value}` says nothing that the job can start with")
            reg.facts[located[0]] &= located[1]
            found = at_rest(self.system, reg) if reg.facts[located[0]] else None
            if found is None:
                raise CannotBegin(
                    f"no run begins with {subject} {value}: the job's own `starts`, an assumption or "
                    "another value says otherwise"
                )
        return self.at_start(found)

    def at_start(self, state: Concrete) -> Now:
        """The beginning of a run in a state."""
        lines = tuple(Lines(self.system, state).lines.items())
        places = tuple(
            _place_at_rest(state.values[self.system.world.of_door[door.name]], Fraction(1, 2))
            for door in self.job.doors
        )
        return Now(Fraction(0), state, 0, lines, places)

    def located(self, subject: str, value: str) -> tuple[int, int] | None:
        """The variable of a subject and the mask of a value; None: it cannot start so."""
        job, world = self.job, self.system.world
        if subject == "sun":
            if world.night is None or value not in ("night", "day"):
                return None
            return world.night, TRUE if value == "night" else FALSE
        point = job.point.get(subject)
        words: tuple[str, ...] = ()
        if subject in job.door:
            words = DOOR_VALUES
        elif subject in job.room:
            words = ROOM_VALUES
        elif point is not None:
            words = point.kind.values
        if value not in words:
            return None
        if point is not None and point.kind is PointKind.DIMMER:
            return world.locate(
                Level(subject, "above" if value == "on" else "at most", Fraction(0))
            )
        return world.locate(Is(subject, value))

    # ------------------------------------------------------------ time

    def due_at(self, now: Now) -> Fraction | None:
        """The moment at which something happens by itself next; None: nothing will."""
        found: list[Fraction] = []
        wait = due_in(self.system, now.state, outside=False)
        if wait is not None:
            found.append(now.at_s + wait * self.size)
        found.extend(at for at, _ in self.planned(now))
        return min(found, default=None)

    def must_at(self, now: Now) -> Fraction | None:
        """The moment by which something outside has to happen; None: nothing has to."""
        wait = due_in(self.system, now.state, outside=True)
        return None if wait is None else now.at_s + wait * self.size

    def later(self, now: Now, at_s: Fraction) -> Now:
        """The same, later; nothing may run out before."""
        if at_s == now.at_s:
            return now
        state = passed(self.system, now.state, (at_s - now.at_s) / self.size)
        assert state is not None, "time passed a bound"
        places = tuple(
            _moved(place, now.state.values[self.system.world.of_door[door.name]],
                   (at_s - now.at_s) / door.travel_most_s)
            for place, door in zip(now.places, self.job.doors, strict=True)
        )  # fmt: skip
        return replace(now, at_s=at_s, state=state, places=places)

    def planned(self, now: Now) -> list[tuple[Fraction, Happening]]:
        """The next turn of the calendar and the next level that a fade reaches, with their moments."""
        self._dates.done = now.turns
        lines = Lines.standing(self.system, now.lines)
        found = (self._dates.following(), lines.following(now.state))
        return [(each.at * self.size, each.happening) for each in found if each is not None]

    # ------------------------------------------------------------ what happens

    def by_itself(self, now: Now) -> list[Happened]:
        """Everything that runs out at this very moment, in every order of handling."""
        found: list[Happened] = []
        for at, happening in self.planned(now):
            if at == now.at_s:
                by: By = "calendar" if isinstance(happening, CalendarTurns) else "rules"
                found.extend(self.happened(now, happening, by))
        if due_in(self.system, now.state, outside=False) != 0:
            return found
        for happening in self.itself:
            if isinstance(happening, CalendarTurns | LevelReached):
                continue
            if isinstance(happening, ControllerWakes) and not self._is_late(now):
                continue
            found.extend(self.happened(now, happening, "rules"))
        return found

    def _is_late(self, now: Now) -> bool:
        """Whether the controller has to react at this very moment."""
        reaction = self.system.reaction
        assert reaction is not None
        return any(
            b.clock == reaction.clock and now.state.clocks[b.clock] >= b.limit
            for b in self.system.layout.bounds
            if all(now.state.values[v] & m for v, m in b.when)
        )

    def owed(self, now: Now) -> list[Happened]:
        """What the surroundings have to do at this very moment, the usual thing first."""
        found: list[Happened] = []
        for happenings in self.outside.values():
            for happening in happenings:
                if isinstance(happening, BY_ITSELF) or is_fault(happening):
                    continue
                for happened in self.happened(now, happening, "surroundings"):
                    if self.must_at(happened.now) != now.at_s:
                        found.append(happened)
        arrives = (RAISED, LOWERED)
        found.sort(
            key=lambda h: isinstance(h.happening, DoorMoves) and h.happening.bit not in arrives
        )
        return found

    def done(self, now: Now, key: str) -> list[Happened]:
        """What comes of something that a person does, by its words: every order of handling."""
        return [
            happened
            for happening in self.outside.get(key, ())
            for happened in self.happened(now, happening, "person")
        ]

    def can_be_done(self, now: Now, key: str) -> bool:
        """Whether something can be done now, by its words."""
        regs = self._registers(now.state)

        def begin(happening: Happening) -> Callable[[Registers], None]:
            return lambda reg: self.system.happen(reg, Instant(True), happening)

        return any(
            True for happening in self.outside[key] for _ in each_way(regs, begin(happening))
        )

    def _registers(self, state: Concrete) -> Registers:
        """Registers that know the state; whoever changes them changes a copy."""
        if self._known is None or self._known[0] is not state:
            self._known = state, registers_of(state)
        return self._known[1]

    def owed_words(self, bound: Bound) -> str:
        """What the surroundings owe by a bound, in words."""
        return due_words(self.system, bound)

    def happened(self, now: Now, happening: Happening, by: By) -> list[Happened]:
        """Every settled end of a happening; none where it is not possible. Raises: NeverSettles."""
        found: list[Happened] = []
        endless = False
        for outcome in outcomes(self.system, self._registers(now.state), happening, self.apart):
            if outcome.endless:
                endless = True
                continue
            state = concrete(outcome, now.state)
            units = now.at_s / self.size
            lines = Lines.standing(self.system, now.lines)
            lines.after(now.state, state, units)
            if not lines.agrees(state, units):
                continue
            places = tuple(
                _place_at_rest(state.values[self.system.world.of_door[door.name]], place)
                for place, door in zip(now.places, self.job.doors, strict=True)
            )
            turns = now.turns + isinstance(happening, CalendarTurns)
            after = Now(now.at_s, state, turns, tuple(lines.lines.items()), places)
            found.append(Happened(happening, by, now, after, outcome.because))
        if endless and not found:
            raise NeverSettles(happening.what)
        return found

    # ------------------------------------------------------------ every way of a moment

    def ways(self, first: Iterable[Happened], *, goes_on: bool = True) -> tuple[Way, ...]:
        """Every way of going on from here that ends differently, that of declared order first.

        ``goes_on``: up to where nothing more runs out at this moment.
        """
        found: dict[tuple[object, ...], Way] = {}
        been: set[tuple[object, ...]] = set()
        stack: list[Way] = [(each,) for each in reversed(list(first))]
        tried = 0
        while stack and len(found) < MOST_WAYS and (tried < MOST_TRIED or not found):
            way = stack.pop()
            now, tried = way[-1].now, tried + 1
            if not goes_on or self.due_at(now) != now.at_s:
                found.setdefault(self.key(now), way)
                continue
            if self.key(now) in been:
                continue
            been.add(self.key(now))
            following = self.by_itself(now)
            if not following:
                found.setdefault(self.key(now), way)
            stack.extend((*way, each) for each in reversed(following))
        return tuple(found.values())

    def key(self, now: Now) -> tuple[object, ...]:
        """What tells states apart: values, the clocks that matter, the levels."""
        state = now.state
        matters = tuple(
            time if any(all(state.values[v] & m for v, m in when) for when in uses) else None
            for time, uses in zip(state.clocks, self.system.layout.uses, strict=True)
        )
        levels = tuple((line.level, line.way, line.begin) for _, line in now.lines if line.way)
        return state.values, matters, levels, now.turns

    def seen(self, now: Now) -> dict[str, str]:
        """What a person could see of a state, in declared order."""
        return seen_values(self.system, now.state)

    def level(self, now: Now, dimmer: str) -> Fraction | None:
        """The exact level of a dimmer that some rule fades, in per cent; None of any other point."""
        fading = self.system.fading.get(dimmer)
        if fading is None:
            return None
        return Lines.standing(self.system, now.lines).level_at(fading, now.at_s / self.size)


def is_fault(happening: Happening) -> bool:
    """Whether a happening is a fault that the job considers, and nothing that a person does."""
    match happening:
        case InputTurns() | ButtonPressed() | DoorMoves():
            return bool(happening.lost)
        case (
            LimitsTurn()
            | ReportBounces()
            | PointSticks()
            | WireBreaks()
            | PowerCut()
            | QuietBegins()
        ):
            return True
        case _:
            return False


def noon_in_march(year: int, timezone: str) -> Fraction:
    """When a room with a site begins if nobody says: day and night are about alike then."""
    return Fraction(int(datetime(year, 3, 20, 12, tzinfo=ZoneInfo(timezone)).timestamp()))


def _year_of(begins_s: Fraction) -> int:
    year = 1970 + int(begins_s // (366 * DAY_S))
    while first_second(year + 1) <= begins_s:
        year += 1
    return year


# ---------------------------------------------------------------- doors, as a picture shows them

_NEARLY = Fraction(1, 25)
"""How far from a limit a moving door is drawn at least."""


def _low(bit: int) -> int:
    """The place of a door, whatever its limits read."""
    return bit if bit < 1 << DOOR_PLACES else bit >> DOOR_PLACES


def _place_at_rest(bit: int, place: Fraction) -> Fraction:
    low = _low(bit)
    if low == RAISED:
        return Fraction(1)
    if low == LOWERED:
        return Fraction(0)
    return min(max(place, _NEARLY), 1 - _NEARLY) if low == STOPPED else place


def _moved(place: Fraction, bit: int, part: Fraction) -> Fraction:
    low = _low(bit)
    if low in (UP_FULL, UP_PART):
        return min(place + part, 1 - _NEARLY)
    if low in (DOWN_FULL, DOWN_PART):
        return max(place - part, _NEARLY)
    return place
