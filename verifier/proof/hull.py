"""Hull zones: for each discrete state one convex zone that holds all that can be there.

The hull is closed under every move and the passing of time, so where no failing part meets it
it is an inductive invariant as it stands. It gives up the orderings of timers that make exact
zones explode, and rarely a proof with them.
"""

from __future__ import annotations

import time
from collections import deque
from dataclasses import dataclass

from verifier.proof.moves import Discrete, Space, TooLarge
from verifier.proof.zones import (
    INFINITE,
    Zone,
    closed,
    constrained_all,
    extrapolated,
    includes,
    joined,
    origin,
)

PATIENCE = 12
"""After so many growths of one state's zone its growing upper bounds are let go."""


@dataclass(frozen=True, slots=True)
class Hull:
    """The zone of each discrete state.

    ``failing`` are states in which the requirement may fail, ``endless`` says that a chain
    without end may be reached.
    """

    zones: dict[Discrete, Zone]
    failing: tuple[Discrete, ...]
    endless: bool


def hull(
    moves: Space,
    *,
    most_states: int = 20_000,
    limit_s: float = 10.0,
    most_work: int = 10**12,
    stop_when_failing: bool = True,
    begin: list[tuple[Discrete, Zone]] | None = None,
) -> Hull:
    """The hull of all that can be reached (from ``begin``; else from the start). Raises: TooLarge."""
    until = time.monotonic() + limit_s
    zones: dict[Discrete, Zone] = {}
    grown: dict[Discrete, int] = {}
    todo: deque[Discrete] = deque()
    queued: set[Discrete] = set()
    endless = False
    failing: dict[Discrete, None] = {}
    work = 0

    def arrive(state: Discrete, zone: Zone) -> None:
        nonlocal work
        work += len(zone)
        settled = moves.settled(state, zone)
        if settled is None:
            return
        old = zones.get(state)
        if old is not None:
            if includes(old, settled):
                return
            settled = joined(old, settled)
        info = moves.info(state)
        wide = extrapolated(settled, info.size, info.greatest)
        if old is not None:
            grown[state] = grown.get(state, 0) + 1
            if grown[state] > PATIENCE:
                wide = _let_go(old, wide, info.size)
        again = moves.settled(state, wide)
        assert again is not None
        zones[state] = again
        if info.bad and state not in failing:
            for bad in info.bad:
                if constrained_all(again, info.size, bad) is not None:
                    failing[state] = None
                    break
        if state not in queued:
            queued.add(state)
            todo.append(state)

    if begin is None:
        begin = [(state, origin(moves.info(state).size)) for state in moves.starts()]
    for state, zone in begin:
        arrive(state, zone)
    while todo:
        if failing and stop_when_failing:
            break
        if len(zones) > most_states or work > most_work or time.monotonic() > until:
            raise TooLarge
        state = todo.popleft()
        queued.discard(state)
        zone = zones[state]
        for move in moves.of(state):
            if move.endless:
                if constrained_all(zone, moves.info(state).size, move.guards) is not None:
                    endless = True
                continue
            target = moves.after(state, zone, move)
            if target is not None:
                arrive(move.target, target)
    return Hull(zones, tuple(failing), endless)


def _let_go(old: Zone, new: Zone, size: int) -> Zone:
    """``new`` without the bounds that have just been weakened (they would only go on growing)."""
    cells = [
        INFINITE if b > a and i // size != 0 and i % (size + 1) else b
        for i, (a, b) in enumerate(zip(old, new, strict=True))
    ]
    result = closed(cells, size)
    assert result is not None
    return result
