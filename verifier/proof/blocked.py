"""States from which the surroundings have no way to go on for ever: left out of all runs.

Assumptions can contradict each other in some states, so that time cannot pass beyond a moment.
Such states are found among the surroundings alone (rules cannot stop time): from one, no more than
so much time ever passes in all, whatever happens. Hull zones say so; what they say is checked with each
certificate (:mod:`verifier.proof.left_out`).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.model.job import Job
from verifier.proof.formula import Writer
from verifier.proof.hull import hull
from verifier.proof.invariant import invariant_of
from verifier.proof.left_out import watched_world
from verifier.proof.may_block import EVERY_STATE, Doomed, doomed
from verifier.proof.moves import Discrete, Moves, TooLarge, carried
from verifier.proof.tied import world_of
from verifier.proof.verdict import LeftOut
from verifier.proof.zones import INFINITE, Zone, constrained_all, everything
from verifier.simulate.replay import Concrete
from verifier.simulate.system import Excluded, System
from verifier.surroundings.laid_calendar import NOT_YET, TURNED


@dataclass(frozen=True, slots=True)
class _Round:
    """The surroundings with a clock that nothing restarts, and the zone of each discrete state."""

    moves: Moves
    watched: int
    reached: dict[Discrete, Zone]


@functools.cache
def doomed_in(world: Job) -> Doomed:
    """The left-out states of surroundings: asked for every requirement, and for what makes one vacuous."""
    known = Doomed((), False)
    try:
        while True:
            found = _round_of(world, known.cubes)
            if not found.reached:
                return Doomed((*known.rounds, (EVERY_STATE,)), False)
            lost = tuple(_named(found.moves.system, state) for state in _lost(found))
            if not lost:
                return known
            known = Doomed((*known.rounds, lost), False)
    except TooLarge:
        return replace(known, undecided=True)


def reasons(job: Job) -> tuple[LeftOut, ...]:
    """Why the states of the job's surroundings are left out, round by round. Raises: TooLarge."""
    rounds = doomed(job).rounds
    return _reasons(world_of(job), rounds) if rounds else ()


@functools.cache
def _reasons(world: Job, rounds: tuple[tuple[Excluded, ...], ...]) -> tuple[LeftOut, ...]:
    found: list[LeftOut] = []
    before: tuple[Excluded, ...] = ()
    for cubes in rounds:
        found.append(_reason(_round_of(world, before), cubes))
        before = (*before, *cubes)
    return tuple(found)


def _reason(found: _Round, cubes: tuple[Excluded, ...]) -> LeftOut:
    moves, watched = found.moves, found.watched
    begin = [
        (state, _begun(moves, state, zone, watched))
        for state, zone in found.reached.items()
        if _named(moves.system, state) in cubes
    ]
    after = _zones(moves, begin)
    bounds = [_longest(moves, state, zone, watched) for state, zone in after.items()]
    writer = Writer(moves.system)
    return LeftOut(
        cubes,
        writer.formula(invariant_of(moves, {s: [zone] for s, zone in found.reached.items()})),
        writer.formula(invariant_of(moves, {s: [zone] for s, zone in after.items()})),
        # Without a bound the solvers refuse it.
        max((bound >> 1 for bound in bounds if bound < INFINITE), default=0),
    )


def _named(system: System, state: Discrete) -> Excluded:
    names = [v.name for v in system.layout.variables]
    return tuple(
        (names[v], bit) for v, bit in enumerate(state) if not names[v].startswith("claim: ")
    )


def comes_to_a_stop(job: Job, system: System, state: Concrete) -> bool:
    """Whether only a bounded time can pass from a state of a slice of the job, for certain."""
    world, watched = watched_world(world_of(job), ())
    moves = Moves(world)
    index = system.layout.index
    placed = world.world.in_calendar
    starts: list[list[int]] = [[]]
    for number, variable in enumerate(world.layout.variables):
        there = index.get(variable.name)
        if placed is not None and number in placed.variables():
            bits = _calendar_bits(world, system, state, number)
        elif there is not None:
            bits = [state.values[there]]
        elif variable.name.startswith("claim: "):
            bits = [1]
        else:
            return False  # another part of the surroundings: it has its own life
        starts = [[*start, bit] for start in starts for bit in bits]
    try:
        return bool(starts) and all(
            _ends(moves, tuple(start), _zone_at(moves, tuple(start), system, state), watched)
            for start in starts
        )
    except TooLarge:
        return False


def _zone_at(moves: Moves, discrete: Discrete, system: System, state: Concrete) -> Zone:
    """What the clocks of the surroundings can show in a state of a slice."""
    world = moves.system
    info = moves.info(discrete)
    zone = everything(info.size)
    scale = system.unit.size_s / world.unit.size_s
    placed = world.world.in_calendar
    for place, clock in enumerate(info.active, 1):
        name = world.layout.clocks[clock]
        if placed is not None and clock == placed.clock:
            shown, most = _since_the_clock_turned(world, discrete, system, state)
        elif name in system.layout.clock_index:
            shown = most = state.clocks[system.layout.clock_index[name]] * scale
        else:
            continue
        low = shown.numerator // shown.denominator
        high = -(-most.numerator // most.denominator)
        least = 1 if shown.denominator == 1 else 0
        greatest = 1 if most.denominator == 1 else 0
        cut = constrained_all(
            zone, info.size, ((0, place, -2 * low + least), (place, 0, 2 * high + greatest))
        )
        assert cut is not None
        zone = cut
    return zone


def _calendar_bits(world: System, system: System, state: Concrete, number: int) -> list[int]:
    """What a variable of the surroundings' calendar can be in a state of a slice that reads more."""
    theirs, ours = world.world.in_calendar, system.world.in_calendar
    assert theirs is not None
    if ours is None or (theirs.sun is not None and ours.sun is None):
        return []
    if number == theirs.fresh:
        return [TURNED]
    if theirs.sun is not None and number == theirs.sun.seen:
        assert ours.sun is not None
        return [state.values[ours.sun.seen]]
    phase = ours.calendar.phases[state.values[ours.phase].bit_length() - 1]
    times = ours.calendar.marks.times
    stretch = theirs.calendar.marks.stretch_at(times[phase.stretch]) if times else 0
    return [
        1 << k
        for k, other in enumerate(theirs.calendar.phases)
        if other.stretch == stretch and (theirs.sun is None or other.night == phase.night)
    ]


def _since_the_clock_turned(
    world: System, discrete: Discrete, system: System, state: Concrete
) -> tuple[Fraction, Fraction]:
    """The least and the greatest time since the surroundings' clock turned, in their units."""
    theirs, ours = world.world.in_calendar, system.world.in_calendar
    assert theirs is not None
    assert ours is not None
    now = ours.calendar.phases[state.values[ours.phase].bit_length() - 1]
    other = theirs.calendar.phases[discrete[theirs.phase].bit_length() - 1]
    period = ours.calendar.marks.period
    begun, began = (c.calendar.marks.times[p.stretch] for c, p in ((ours, now), (theirs, other)))
    before = Fraction((begun - began) % min(period, theirs.calendar.marks.period))
    shown = system.unit.seconds(state.clocks[ours.clock])
    # A run begins somewhere in a stretch: until the clock has turned more may have passed.
    limits = [
        system.unit.seconds(b.limit)
        for b in system.layout.bounds
        if b.clock == ours.clock and all(state.values[v] & m for v, m in b.when)
    ]
    most = max([shown, *limits]) if state.values[ours.fresh] == NOT_YET else shown
    # A change of the clock in between makes it an hour more or less.
    slack = Fraction(0) if ours.calendar.site is None else Fraction(3600)
    size = world.unit.size_s
    return max(Fraction(0), before + shown - slack) / size, (before + most + slack) / size


def _round_of(world: Job, without: tuple[Excluded, ...]) -> _Round:
    """What can be reached where ``without`` is left out already. Raises: TooLarge."""
    system, watched = watched_world(world, without)
    moves = Moves(system)
    return _Round(moves, watched, _zones(moves))


def _zones(moves: Moves, begin: list[tuple[Discrete, Zone]] | None = None) -> dict[Discrete, Zone]:
    """All that can be reached (from ``begin``; else from the start). Raises: TooLarge."""
    return hull(moves, most_states=2000, limit_s=2.0, stop_when_failing=False, begin=begin).zones


def _longest(moves: Moves, state: Discrete, zone: Zone, watched: int) -> int:
    """The bound of the watched clock in a zone (see :mod:`verifier.proof.zones`)."""
    info = moves.info(state)
    return zone[(info.active.index(watched) + 1) * info.size]


def _lost(found: _Round) -> list[Discrete]:
    """The states from which only so much time passes. Raises: TooLarge."""
    return [
        state
        for state, zone in found.reached.items()
        if _can_stop(found.moves, state) and _ends(found.moves, state, zone, found.watched)
    ]


def _can_stop(moves: Moves, state: Discrete) -> bool:
    return bool(moves.info(state).invariant)


def _ends(moves: Moves, state: Discrete, zone: Zone, watched: int) -> bool:
    """Whether in all that can follow from a zone only a bounded time passes."""
    after = _zones(moves, [(state, _begun(moves, state, zone, watched))])
    return all(_longest(moves, *there, watched) < INFINITE for there in after.items())


def _begun(moves: Moves, state: Discrete, zone: Zone, watched: int) -> Zone:
    """The zone from now on: the watched clock starts at zero, the others are as they are."""
    info = moves.info(state)
    index = info.active.index(watched) + 1
    return carried(zone, info.size, tuple(0 if i == index else i for i in range(info.size)))
