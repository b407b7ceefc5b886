"""Inputs of which one edge alone is noticed: the zones need not tell what they stand at.

A detector that rules hear when it becomes occupied, and that nobody reads, comes back to clear
unnoticed. With n of them every state is there 2^n times. So the zones pin such an input to the
value from which its edge can be noticed: it is always ready. What is found so is about the other
variables, and a proof says nothing of the input.

Every run is one of these runs once its unnoticed edges are left out, so it is no shorter. A run
that is found is one of the job's runs if no input has its edge noticed twice, or if the unnoticed
edge is put in between; only without such an addition is it certain to be the shortest.
"""

from __future__ import annotations

from dataclasses import replace

from verifier.proof.moves import Discrete, Move, Moves, Pin
from verifier.proof.relation import Path, Relation
from verifier.proof.timing import Timeline
from verifier.surroundings.happenings import InputTurns
from verifier.surroundings.world import FALSE, TRUE


def silent_inputs(relation: Relation) -> tuple[Pin, ...]:
    """The inputs of which one edge alone is noticed, each with the value from which it is."""
    system = relation.system
    edges: dict[int, dict[int, int]] = {}
    for number, happening in enumerate(system.happenings):
        if (
            isinstance(happening, InputTurns)
            and happening.point not in system.world.reporting
            and system.layout.variables[happening.variable].every == TRUE | FALSE
        ):
            edges.setdefault(happening.variable, {})[happening.bit] = number
    edges = {variable: turns for variable, turns in edges.items() if len(turns) == 2}
    if not edges:
        return ()
    read = _read(relation, {turns[bit]: v for v, turns in edges.items() for bit in turns})
    of_happening: dict[int, list[Path]] = {}
    for path in relation.paths:
        of_happening.setdefault(path.happening, []).append(path)
    begun = {(v, bit) for start in relation.starts for v, _, bit in start.values}
    found: list[Pin] = []
    for variable, turns in edges.items():
        if variable in read:
            continue
        for bit, other in ((FALSE, TRUE), (TRUE, FALSE)):
            paths = of_happening.get(turns[bit], [])
            silent = bool(paths) and all(_is_silent(path, variable) for path in paths)
            if silent and (variable, other) not in begun:
                found.append((variable, bit))
                break
    return tuple(found)


def _read(relation: Relation, owned: dict[int, int]) -> set[int]:
    """Variables that matter elsewhere than in their own happenings (happening: variable)."""
    layout = relation.system.layout
    read = {v for uses in layout.uses for when in uses for v, _ in when}
    read.update(v for bound in layout.bounds for v, _ in bound.when)
    read.update(v for cube in relation.bad for v, _ in cube.values)
    for path in (*relation.starts, *relation.paths):
        own = owned.get(path.happening, -1)
        read.update(v for v, _ in path.before.values if v != own)
        for variable, source, _ in path.values:
            if source >= 0:
                read.add(source)
            if variable != own and path.happening >= 0:
                read.add(variable)
    return read


def _is_silent(path: Path, variable: int) -> bool:
    """Whether a path does nothing but to give the variable its value, whatever else there is."""
    return (
        not path.endless
        and not path.clocks
        and not path.before.clocks
        and all(v == variable for v, _, _ in path.values)
        and all(v == variable for v, _ in path.before.values)
    )


def lifted(moves: Moves, timeline: Timeline) -> Timeline | None:
    """A timeline of pinned moves as one of the job's own, of the same length and the same times.

    None if an unnoticed edge would have to be put in: a shorter run may then be another one.
    """
    now = dict(moves.pinned)
    path: list[Move] = []
    for move in timeline.path:
        happening = moves.system.happenings[move.happening]
        if isinstance(happening, InputTurns) and happening.variable in now:
            if now[happening.variable] == happening.bit:
                return None
            now[happening.variable] = happening.bit
        path.append(replace(move, target=_with(move.target, now)))
    return replace(timeline, path=tuple(path))


def _with(state: Discrete, now: dict[int, int]) -> Discrete:
    return tuple(now.get(variable, value) for variable, value in enumerate(state))
