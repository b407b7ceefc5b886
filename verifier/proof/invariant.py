"""An invariant as a formula, from the zones that an exploration ended with.

Before: a zone for each discrete state. After: cubes (a mask for each variable, with the few
constraints that tell the zone), as few as merging of like neighbours gives.
"""

from __future__ import annotations

from verifier.proof.formula import Compare, Formula, all_of, any_of, within
from verifier.proof.moves import Discrete, Moves, Space
from verifier.proof.zones import INFINITE, Zone, added

Constraints = tuple[tuple[int, int, int], ...]
"""``(i, j, bound)`` with clocks of the layout numbered from 1."""


def constraints_of(moves: Space, state: Discrete, zone: Zone) -> Constraints:
    """The constraints of a zone that the others do not imply, over the clocks of the layout."""
    info = moves.info(state)
    size = info.size
    names = (0, *(clock + 1 for clock in info.active))
    kept = {
        (i, j) for i in range(size) for j in range(size) if i != j and zone[i * size + j] < INFINITE
    }
    for i, j in sorted(kept, reverse=True):
        bound = zone[i * size + j]
        for k in range(size):
            if (
                k not in (i, j)
                and (i, k) in kept
                and (k, j) in kept
                and added(zone[i * size + k], zone[k * size + j]) <= bound
            ):
                kept.discard((i, j))
                break
    return tuple(
        (names[i], names[j], zone[i * size + j])
        for i, j in sorted(kept)
        if not (i == 0 and zone[j] == 1)
    )


def merged(states: list[Discrete]) -> list[Discrete]:
    """Cubes that cover exactly the given discrete states, neighbours merged."""
    cubes = states
    if not cubes:
        return cubes
    width = len(cubes[0])
    while True:
        before = len(cubes)
        for variable in range(width):
            groups: dict[Discrete, int] = {}
            for cube in cubes:
                key = (*cube[:variable], 0, *cube[variable + 1 :])
                groups[key] = groups.get(key, 0) | cube[variable]
            cubes = [(*k[:variable], mask, *k[variable + 1 :]) for k, mask in groups.items()]
        if len(cubes) == before:
            return cubes


def invariant_of(moves: Moves, zones: dict[Discrete, list[Zone]]) -> Formula:
    """The union of the zones as a formula, which says nothing of variables that are pinned."""
    layout = moves.system.layout
    told = set(range(len(layout.variables))) - {v for v, _ in moves.pinned}
    groups: dict[Constraints, list[Discrete]] = {}
    for state, here in zones.items():
        for zone in here:
            groups.setdefault(constraints_of(moves, state, zone), []).append(state)
    cubes: list[Formula] = []
    for constraints, states in groups.items():
        compared: list[Formula] = [Compare(*c) for c in constraints]
        for cube in merged(states):
            values = [within(layout, v, mask) for v, mask in enumerate(cube) if v in told]
            cubes.append(all_of([*values, *compared]))
    return any_of(cubes)
