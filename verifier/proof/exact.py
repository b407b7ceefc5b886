"""Exact zones, breadth first: the shortest run to a failing state, or an invariant if there is none."""

from __future__ import annotations

import time
from dataclasses import dataclass

from verifier.proof.moves import Constraint, Discrete, Move, Moves, TooLarge
from verifier.proof.zones import Zone, constrained_all, extrapolated, includes, origin


@dataclass(slots=True)
class Node:
    """A zone of a discrete state, as a run comes to it (time passed already)."""

    state: Discrete
    zone: Zone
    parent: Node | None
    move: Move | None
    depth: int


@dataclass(frozen=True, slots=True)
class Reached:
    """A failing node: ``constraints`` are the part of its zone that fails (None: endless move)."""

    node: Node
    constraints: tuple[Constraint, ...]
    endless: Move | None


@dataclass(frozen=True, slots=True)
class Exact:
    """What the exploration came to.

    ``reached`` are all failing nodes of the least depth; empty: none can be reached, and
    ``zones`` (a list for each discrete state) hold everything.
    """

    reached: tuple[Reached, ...]
    zones: dict[Discrete, list[Zone]]
    depth: int


def explore(
    moves: Moves,
    *,
    most_nodes: int = 40_000,
    limit_s: float = 10.0,
    most_work: int = 10**12,
    want_endless: bool = False,
) -> Exact:
    """Explores zones breadth first up to the first depth at which the requirement fails.

    ``want_endless``: look for endless chains instead. Raises: TooLarge (its ``args`` hold the depth).
    """
    until = time.monotonic() + limit_s
    zones: dict[Discrete, list[Zone]] = {}
    layer: list[Node] = []
    count, work = 0, 0
    for state in moves.starts():
        zone = moves.settled(state, origin(moves.info(state).size))
        if zone is not None:
            zones.setdefault(state, []).append(zone)
            layer.append(Node(state, zone, None, None, 0))
    depth = 0
    while layer:
        reached = [r for node in layer for r in _failing(moves, node, want_endless)]
        if reached:
            return Exact(tuple(reached), zones, depth)
        following: list[Node] = []
        for node in layer:
            for move in moves.of(node.state):
                if move.endless:
                    continue
                entered = moves.after(node.state, node.zone, move)
                if entered is None:
                    continue
                work += len(entered)
                zone = moves.settled(move.target, entered)
                if zone is None:
                    continue
                info = moves.info(move.target)
                wide = extrapolated(zone, info.size, info.greatest)
                known = zones.setdefault(move.target, [])
                if any(includes(other, wide) for other in known):
                    continue
                known[:] = [other for other in known if not includes(wide, other)]
                known.append(wide)
                following.append(Node(move.target, wide, node, move, depth + 1))
                count += 1
            if count > most_nodes or work > most_work or time.monotonic() > until:
                raise TooLarge(depth)
        layer = following
        depth += 1
    return Exact((), zones, depth)


def _failing(moves: Moves, node: Node, want_endless: bool) -> list[Reached]:
    info = moves.info(node.state)
    if want_endless:
        return [
            Reached(node, move.guards, move)
            for move in moves.of(node.state)
            if move.endless and constrained_all(node.zone, info.size, move.guards) is not None
        ]
    return [
        Reached(node, bad, None)
        for bad in info.bad
        if constrained_all(node.zone, info.size, bad) is not None
    ]


def path_of(node: Node) -> tuple[Discrete, tuple[Move, ...]]:
    """The discrete start and the moves that lead to a node."""
    found: list[Move] = []
    at: Node = node
    while at.parent is not None:
        assert at.move is not None
        found.append(at.move)
        at = at.parent
    return at.state, tuple(reversed(found))
