"""The moves of a system from one discrete state: what zones are explored over.

A discrete state gives a value to every variable and leaves the clocks open. Its moves are found
by driving the reference interpreter on it, once; what the clocks must show for a move comes out
as guards. Only clocks that something may still compare ("active") are kept.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

from verifier.proof.zones import INFINITE, Zone, constrained_all, delayed
from verifier.simulate.instant import Commute, beginnings, outcomes
from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LevelPassed,
    LevelReached,
    LimitsTurn,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    PowerCut,
    QuietBegins,
    ReportBounces,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
    WireBreaks,
)
from verifier.surroundings.reports import AWAY, MAY_BOUNCE
from verifier.surroundings.state import FOREVER, Registers, each_way
from verifier.surroundings.world import FALSE, TRUE

Discrete = tuple[int, ...]
"""The bit of each variable."""

Constraint = tuple[int, int, int]
"""``(i, j, bound)`` of :mod:`verifier.proof.zones`, in the numbering of a state's active clocks."""


Pin = tuple[int, int]
"""``(variable, bit)``: a variable that stays as it is, as nothing asks for it (see ``silent``)."""


@dataclass(frozen=True, slots=True)
class Move:
    """One happening with its outcome, from a discrete state.

    ``guards`` are over the active clocks of the source; ``sources`` gives for each active clock of
    the target (and the zero clock first) the index in the source that it takes its time from: 0 a
    reset, -1 any time. ``clock_from`` is the same over all clocks of the layout.
    """

    happening: int
    guards: tuple[Constraint, ...]
    target: Discrete
    sources: tuple[int, ...]
    endless: bool


@dataclass(frozen=True, slots=True)
class Info:
    """What is fixed for a discrete state."""

    active: tuple[int, ...]
    size: int
    invariant: tuple[Constraint, ...]
    greatest: tuple[int, ...]
    bad: tuple[tuple[Constraint, ...], ...]


class TooLarge(Exception):
    """The exploration met more states, or took longer, than it was given."""


MOST_STARTS = 1_000
"""Discrete states at the start; with more the zones are not even begun."""


class Space(ABC):
    """Discrete states with their moves, found on demand and kept: what zones are explored over."""

    def __init__(self) -> None:
        self.infos: dict[Discrete, Info] = {}
        self.moves: dict[Discrete, tuple[Move, ...]] = {}

    @abstractmethod
    def starts(self) -> list[Discrete]:
        """The discrete states in which a run can begin (every clock is then 0). Raises: TooLarge."""

    @abstractmethod
    def _info(self, state: Discrete) -> Info: ...

    @abstractmethod
    def _of(self, state: Discrete) -> list[Move]: ...

    def info(self, state: Discrete) -> Info:
        """Active clocks, invariant and failing parts of a state."""
        info = self.infos.get(state)
        if info is None:
            info = self.infos[state] = self._info(state)
        return info

    def of(self, state: Discrete) -> tuple[Move, ...]:
        """The moves from a state, happenings in declared order."""
        moves = self.moves.get(state)
        if moves is None:
            moves = self.moves[state] = tuple(self._of(state))
        return moves

    def settled(self, state: Discrete, zone: Zone) -> Zone | None:
        """The zone after any time that may pass in the state."""
        info = self.info(state)
        first = constrained_all(zone, info.size, info.invariant)
        if first is None:
            return None
        return constrained_all(delayed(first, info.size), info.size, info.invariant)

    def after(self, state: Discrete, zone: Zone, move: Move) -> Zone | None:
        """The zone in the target as it is entered; None if the move is not possible from the zone."""
        size = self.info(state).size
        before = constrained_all(zone, size, move.guards) if move.guards else zone
        if before is None:
            return None
        return carried(before, size, move.sources)


class Moves(Space):
    """The discrete states of a system and their moves, as the interpreter gives them."""

    def __init__(
        self,
        system: System,
        commute: Commute | None = None,
        bad: Callable[[Registers], bool] | None = None,
        pinned: tuple[Pin, ...] = (),
    ) -> None:
        super().__init__()
        self.system = system
        self.pinned = pinned
        self.commute = commute
        self.is_bad = bad if bad is not None else system.bad
        self.needs = [tuple(self._needs(h)) for h in system.happenings]
        self.open_clocks = len(system.layout.clocks)

    def _needs(self, happening: Happening) -> list[tuple[int, int]]:
        """What a state must have for the happening to be possible at all (a quick test)."""
        system, world = self.system, self.system.world
        every = [v.every for v in system.layout.variables]
        needs: list[tuple[int, int]] = []
        match happening:
            case WaitRunsOut(rule, slot, place, _):
                return [(system.slots[rule][slot], system.at(place))]
            case StayedRunsOut(number, _):
                timer = system.timers[number]
                return [(timer.variable, timer.mask), (timer.ran_out, FALSE)]
            case LevelReached(dimmer, w, c):
                fading = system.fading[dimmer]
                before = fading.ways[w].reaches[c].before
                assert before is not None
                return [(fading.active, 2 << w), (fading.level, before)]
            case LevelPassed(dimmer, p):
                fading = system.fading[dimmer]
                passing = fading.passings[p]
                return [(fading.active, passing.ways), (fading.level, passing.there)]
            case CalendarTurns(number):
                placed = world.in_calendar
                assert placed is not None
                return [(placed.phase, 1 << placed.calendar.turns[number].before)]
            case ControllerWakes():
                assert system.reaction is not None
                return [(system.reaction.due, TRUE)]
            case QuietBegins():
                return [] if system.monitor is None else system.monitor.before_quiet()
            case InputTurns(_, variable, bit, _) | SunTurns(variable, bit, _):
                needs.append((variable, every[variable] & ~bit))
            case LocalSwitch(_, variable, bit, _):
                needs.append((variable, every[variable] & ~bit))
            case DoorMoves(_, variable, before):
                needs.append((variable, before))
            case LimitsTurn(_, variable, _, turns):
                needs.append((variable, sum(before for before, _ in turns)))
            case ReportBounces(point, back):
                bounce = world.reporting[point].bounce
                assert bounce is not None
                needs.append((bounce, AWAY if back else MAY_BOUNCE))
            case PointSticks(point) | WireBreaks(point):
                reporting = world.reporting[point]
                fault = reporting.stuck if isinstance(happening, PointSticks) else reporting.broken
                assert fault is not None
                needs.append((fault, FALSE))
            case PeopleCome(room, _):
                needs.append((world.of_room[room], FALSE))
            case PeopleLeave(room, _):
                needs.append((world.of_room[room], TRUE))
            case ButtonPressed() | PowerCut():
                pass
        if system.monitor is not None:
            needs.extend(system.monitor.before_outside())
        return needs

    def registers(self, state: Discrete) -> Registers:
        """Registers that know the variables and no clock."""
        return Registers(list(state), [0] * self.open_clocks, [FOREVER] * self.open_clocks)

    def starts(self) -> list[Discrete]:
        """The discrete states in which a run can begin (every clock is then 0). Raises: TooLarge."""
        seen: dict[Discrete, None] = {}
        for reg in beginnings(self.system):
            for variable, bit in self.pinned:
                reg.facts[variable] = bit
            if len(seen) + _count(reg) > MOST_STARTS:
                raise TooLarge(0)
            for state in _spread(reg):
                seen.setdefault(state)
        return list(seen)

    def _info(self, state: Discrete) -> Info:
        layout = self.system.layout
        active = tuple(
            clock
            for clock, uses in enumerate(layout.uses)
            if any(all(state[v] & m for v, m in when) for when in uses)
        )
        place = {clock: i + 1 for i, clock in enumerate(active)}
        invariant = tuple(
            (place[b.clock], 0, 2 * b.limit + 1)
            for b in layout.bounds
            if all(state[v] & m for v, m in b.when)
        )
        bad = []
        for reg, result in each_way(self.registers(state), self.is_bad):
            if result:
                bad.append(guards_of(reg, place))
        greatest = (0, *(layout.greatest[clock] for clock in active))
        return Info(active, len(active) + 1, invariant, greatest, tuple(bad))

    def _of(self, state: Discrete) -> list[Move]:
        found: list[Move] = []
        info = self.info(state)
        place = {clock: i + 1 for i, clock in enumerate(info.active)}
        registers = self.registers(state)
        for number, happening in enumerate(self.system.happenings):
            if not all(state[v] & m for v, m in self.needs[number]):
                continue
            for outcome in outcomes(self.system, registers, happening, self.commute):
                reg = outcome.registers
                target = tuple(
                    state[source] if source >= 0 else value
                    for source, value in zip(reg.source, reg.value, strict=True)
                )
                if self.pinned:
                    target = self._pin(target)
                if outcome.endless:
                    found.append(Move(number, guards_of(reg, place), state, (), True))
                    continue
                sources = [0]
                for clock in self.info(target).active:
                    source = reg.clock_from[clock]
                    sources.append(0 if source < 0 else place.get(source, -1))
                found.append(Move(number, guards_of(reg, place), target, tuple(sources), False))
        return found

    def _pin(self, state: Discrete) -> Discrete:
        values = list(state)
        for variable, bit in self.pinned:
            values[variable] = bit
        return tuple(values)


def carried(zone: Zone, size: int, sources: tuple[int, ...]) -> Zone:
    """The zone over the clocks that ``sources`` names (see :class:`Move`)."""
    cells: list[int] = []
    for i in sources:
        if i < 0:
            cells.extend(INFINITE for _ in sources)
            continue
        row = i * size
        cells.extend(zone[row + j] if j >= 0 else (zone[row]) for j in sources)
    width = len(sources)
    for k, i in enumerate(sources):
        if i < 0:
            cells[k * width + k] = 1
    return tuple(cells)


def guards_of(reg: Registers, place: dict[int, int]) -> tuple[Constraint, ...]:
    """What registers have learnt of the clocks, as constraints."""
    found: list[Constraint] = []
    for clock, i in place.items():
        low, high = reg.at_least[clock], reg.at_most[clock]
        if low > 0:
            found.append((0, i, 1 - low))
        if high < FOREVER:
            found.append((i, 0, high + 1))
    return tuple(found)


def _count(reg: Registers) -> int:
    """How many discrete states agree with registers."""
    count = 1
    for source in {source for source in reg.source if source >= 0}:
        count *= reg.facts[source].bit_count()
    return count


def _spread(reg: Registers) -> list[Discrete]:
    """Every discrete state that agrees with registers."""
    used = {source for source in reg.source if source >= 0}
    free = [v for v in used if reg.facts[v] & (reg.facts[v] - 1)]
    choices = [
        [1 << i for i in range(reg.facts[v].bit_length()) if reg.facts[v] >> i & 1] for v in free
    ]
    found = []
    for choice in product(*choices):
        facts = dict(zip(free, choice, strict=True))
        found.append(
            tuple(
                facts.get(source, reg.facts[source]) if source >= 0 else value
                for source, value in zip(reg.source, reg.value, strict=True)
            )
        )
    return found
