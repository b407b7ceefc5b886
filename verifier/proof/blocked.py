"""States from which the surroundings have no way to go on for ever: left out of all runs.

Assumptions can contradict each other in some states, so that time cannot pass beyond a moment.
Such states are found among the surroundings alone (rules cannot stop time): from one, no more than
so much time ever passes in all, whatever happens. Hull zones say so; what they say is checked with each
certificate (:mod:`verifier.proof.left_out`).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

from verifier.model.job import (
    AssumeAlways,
    AssumeStays,
    FaultKind,
    Is,
    Job,
    Level,
    Stayed,
    atoms_and_leaves,
)
from verifier.proof.hull import hull
from verifier.proof.moves import Discrete, Moves, TooLarge, carried
from verifier.proof.zones import INFINITE, Zone, constrained_all, everything
from verifier.simulate.monitor import Monitor
from verifier.simulate.replay import Concrete
from verifier.simulate.system import Excluded, System
from verifier.surroundings.state import Registers


@dataclass(frozen=True, slots=True)
class Doomed:
    """Left-out states as cubes over named variables; ``undecided`` if the search grew too large.

    ``rounds``: what is left out can doom further states, which the next round finds.
    """

    rounds: tuple[tuple[Excluded, ...], ...]
    undecided: bool

    @property
    def cubes(self) -> tuple[Excluded, ...]:
        """All of them."""
        return tuple(cube for found in self.rounds for cube in found)


@dataclass(frozen=True, slots=True)
class Round:
    """The surroundings with a clock that nothing restarts, and what was found about them.

    ``reached`` is the zone of each discrete state, ``lost`` the states from which only so much time
    passes, ``after`` the zones of what follows those. ``watched`` is the clock.
    """

    system: System
    moves: Moves
    watched: int
    reached: dict[Discrete, Zone]
    lost: tuple[Excluded, ...]
    after: dict[Discrete, Zone]


class _Elapsed(Monitor):
    """A clock that nothing restarts."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.layout = system.layout
        self.condition = None
        self.scope = None
        self.allowing = 0
        self.flags = []
        self.clocks = []
        always = self.flag("time is measured")
        self.total = self.clock("time since then")
        limit = 4 * sum(self.layout.greatest) + 4
        self.layout.compared(self.total, limit, ((always, 3),))

    def bad(self, reg: Registers) -> bool:
        return False


def may_block(job: Job) -> bool:
    """Whether assumptions could stop time: a bound from above that something else can hold up."""
    bounded = {
        a.atom.subject
        for a in job.assumptions
        if isinstance(a, AssumeStays) and a.bound == "at most"
    }
    bounded |= {d.name for d in job.doors}
    for room in job.rooms:
        if room.noticed_s is not None:
            bounded |= {room.name, *room.seen_by}
    for door in job.doors:
        if bounded & {door.raised_by, door.lowered_by, door.moving_by}:
            bounded.add(door.name)
    held: set[str] = set()
    for assumption in job.assumptions:
        match assumption:
            case AssumeAlways(condition):
                for leaf in atoms_and_leaves(condition):
                    if isinstance(leaf, Is | Level):
                        held.add(leaf.subject)
                    elif isinstance(leaf, Stayed):
                        held.add(leaf.atom.subject)
                        bounded.add(leaf.atom.subject)
            case AssumeStays(atom, "at least", _):
                held.add(atom.subject)
            case _:
                pass
    for point in job.points:
        if point.holds_s is not None or point.rearm_s is not None:
            seen = any(point.name in room.seen_by for room in job.rooms)
            if point.name in bounded and not (seen and not _assumed(job, point.name)):
                held.add(point.name)
    for room in job.rooms:
        if room.entered_by and _assumed(job, room.name):
            held.add(room.name)
    for door in job.doors:
        if held & {door.raised_by, door.lowered_by, door.moving_by}:
            held.add(door.name)
    return bool(bounded & held)


def _assumed(job: Job, name: str) -> bool:
    return any(isinstance(a, AssumeStays) and a.atom.subject == name for a in job.assumptions)


def doomed(job: Job) -> Doomed:
    """The states of the job's surroundings that are left out of all runs."""
    if not may_block(job):
        return Doomed((), False)
    return _doomed(world_of(job))


@functools.cache
def _doomed(world: Job) -> Doomed:
    """Asked for every requirement of a job, and again for what makes one vacuous."""
    known = Doomed((), False)
    try:
        while True:
            found = round_of(world, known.cubes)
            if not found.lost:
                return known
            known = Doomed((*known.rounds, found.lost), False)
    except TooLarge:
        return replace(known, undecided=True)


def _named(system: System, state: Discrete) -> Excluded:
    names = [v.name for v in system.layout.variables]
    return tuple(
        (names[v], bit) for v, bit in enumerate(state) if not names[v].startswith("claim: ")
    )


def world_of(job: Job) -> Job:
    """The part of the job's surroundings that assumptions tie together, and nothing else."""
    tied = _tied(job)
    return replace(
        job,
        points=tuple(p for p in job.points if p.name in tied),
        doors=tuple(d for d in job.doors if d.name in tied),
        rooms=tuple(r for r in job.rooms if r.name in tied),
        rules=(),
        requirements=(),
        faults=tuple(
            f for f in job.faults if f.kind is not FaultKind.POWER_CUTS and f.subject in tied
        ),
    )


def comes_to_a_stop(job: Job, system: System, state: Concrete) -> bool:
    """Whether only a bounded time can pass from a state of a slice of the job, for certain."""
    world = System(world_of(job), None, watch=_Elapsed)
    moves = Moves(world)
    index = system.layout.index
    start = []
    for variable in world.layout.variables:
        there = index.get(variable.name)
        if there is not None:
            start.append(state.values[there])
        elif variable.name.startswith("claim: "):
            start.append(1)
        else:
            return False  # another part of the surroundings: it has its own life
    discrete = tuple(start)
    info = moves.info(discrete)
    zone = everything(info.size)
    scale = system.unit.size_s / world.unit.size_s
    for place, clock in enumerate(info.active, 1):
        name = world.layout.clocks[clock]
        if name not in system.layout.clock_index:
            continue
        shown = state.clocks[system.layout.clock_index[name]] * scale
        low = shown.numerator // shown.denominator
        high = low if shown.denominator == 1 else low + 1
        exact = 1 if shown.denominator == 1 else 0
        cut = constrained_all(
            zone, info.size, ((0, place, -2 * low + exact), (place, 0, 2 * high + exact))
        )
        assert cut is not None
        zone = cut
    watched = world.layout.clocks.index("claim: time since then")
    try:
        return _ends(moves, discrete, zone, watched)
    except TooLarge:
        return False


def _tied(job: Job) -> frozenset[str]:
    """Everything that an assumption, a room or a door ties together and bounds."""
    names: set[str] = set()
    for assumption in job.assumptions:
        match assumption:
            case AssumeAlways(condition):
                for leaf in atoms_and_leaves(condition):
                    if isinstance(leaf, Is | Level):
                        names.add(leaf.subject)
                    elif isinstance(leaf, Stayed):
                        names.add(leaf.atom.subject)
            case AssumeStays(atom):
                names.add(atom.subject)
    while True:
        before = len(names)
        for door in job.doors:
            parts = {door.name, door.raised_by, door.lowered_by, door.moving_by} - {None}
            if names & parts:
                names |= {p for p in parts if p is not None}
        for room in job.rooms:
            parts = {room.name, *room.seen_by, *room.entered_by}
            if names & {room.name, *room.seen_by}:
                names |= {p for p in parts if p is not None}
        if len(names) == before:
            return frozenset(names)


def round_of(
    world: Job, without: tuple[Excluded, ...], lost: tuple[Excluded, ...] | None = None
) -> Round:
    """What is lost where ``without`` is left out already; ``lost`` says what. Raises: TooLarge."""
    system = System(world, None, watch=_Elapsed, without=without)
    moves = Moves(system)
    reached = hull(moves, most_states=2000, limit_s=2.0, stop_when_failing=False).zones
    watched = system.layout.clocks.index("claim: time since then")
    if lost is None:
        ending = [
            state
            for state, zone in reached.items()
            if _can_stop(moves, state) and _ends(moves, state, zone, watched)
        ]
    else:
        ending = [state for state in reached if _named(system, state) in lost]
    begin = [(state, _begun(moves, state, reached[state], watched)) for state in ending]
    after = hull(moves, most_states=2000, limit_s=2.0, stop_when_failing=False, begin=begin).zones
    cubes = lost if lost is not None else tuple(_named(system, state) for state in ending)
    return Round(system, moves, watched, reached, cubes, after)


def _can_stop(moves: Moves, state: Discrete) -> bool:
    return bool(moves.info(state).invariant)


def _ends(moves: Moves, state: Discrete, zone: Zone, watched: int) -> bool:
    """Whether in all that can follow from a zone only a bounded time passes."""
    begin = [(state, _begun(moves, state, zone, watched))]
    after = hull(moves, most_states=2000, limit_s=2.0, stop_when_failing=False, begin=begin)
    for other, there in after.zones.items():
        place = moves.info(other).active.index(watched) + 1
        if there[place * moves.info(other).size] >= INFINITE:
            return False
    return True


def _begun(moves: Moves, state: Discrete, zone: Zone, watched: int) -> Zone:
    """The zone from now on: the watched clock starts at zero, the others are as they are."""
    info = moves.info(state)
    index = info.active.index(watched) + 1
    return carried(zone, info.size, tuple(0 if i == index else i for i in range(info.size)))
