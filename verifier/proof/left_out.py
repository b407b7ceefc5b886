"""Why states were left out of all runs, as texts that the two solvers check (15).

A state is left out if from it no more than so much time ever passes in all. For each round of
:mod:`verifier.proof.blocked` (what is left out can doom further states) two invariants over the
surroundings alone tell that, with a clock beside them that nothing restarts:

reached      holds of every state of a run
after        holds of every state that follows a left-out one, its clock begun there; bounds it

Each of their conditions is a text, as in :mod:`verifier.proof.certificate`.
"""

from __future__ import annotations

import functools

from verifier.model.job import Job
from verifier.proof.blocked import Round, doomed, round_of, world_of
from verifier.proof.certificate import declared, standing_lemmas, texts_of, written
from verifier.proof.formula import (
    Compare,
    Formula,
    Writer,
    all_of,
    any_of,
    at_latest,
    within,
)
from verifier.proof.invariant import invariant_of
from verifier.proof.relation import relation_of
from verifier.proof.zones import INFINITE
from verifier.simulate.system import Excluded

Texts = tuple[tuple[str, str], ...]


def left_out_texts(job: Job) -> Texts:
    """The texts, by name; none if nothing is left out. Raises: TooLarge."""
    found = doomed(job)
    return _texts(world_of(job), found.rounds) if found.rounds else ()


@functools.cache
def _texts(world: Job, rounds: tuple[tuple[Excluded, ...], ...]) -> Texts:
    texts: list[tuple[str, str]] = []
    before: tuple[Excluded, ...] = ()
    for number, cubes in enumerate(rounds, start=1):
        named = f"left out {number}" if len(rounds) > 1 else "left out"
        for name, text in _of_round(round_of(world, before, cubes)):
            texts.append((f"{named}: {name}", text))
        before = (*before, *cubes)
    return tuple(texts)


def _of_round(found: Round) -> Texts:
    """The conditions of one round's two invariants."""
    system, moves = found.system, found.moves
    layout = system.layout
    writer = Writer(system)
    relation = relation_of(system)
    reached = invariant_of(moves, {state: [zone] for state, zone in found.reached.items()})
    after = invariant_of(moves, {state: [zone] for state, zone in found.after.items()})
    kept_reached = dict(texts_of(relation, (reached,)))
    kept_after = dict(texts_of(relation, (after,)))
    standing = standing_lemmas(system)
    watched: list[Formula] = [
        Compare(found.watched + 1, 0, 1),
        Compare(0, found.watched + 1, 1),
    ]
    lost = any_of(
        all_of(within(layout, layout.index[name], bit) for name, bit in cube) for cube in found.lost
    )
    starts = written(
        "A state is left out and what follows it is not told",
        declared(writer),
        [
            *(writer.formula(f) for f in (*standing, reached, lost, *watched)),
            f"(not {writer.formula(after)})",
        ],
    )
    ends = written(
        "Time goes on for longer after a state that is left out",
        declared(writer),
        [
            *(writer.formula(f) for f in (*standing, after)),
            f"(not {writer.formula(at_latest(found.watched, 2 * _most(found)))})",
        ],
    )
    return (
        *((f"reached, {n}", kept_reached[n]) for n in ("initial", "kept", "kept in time", "cover")),
        ("after, begun", starts),
        *((f"after, {n}", kept_after[n]) for n in ("kept", "kept in time")),
        ("after, ends", ends),
    )


def _most(found: Round) -> int:
    """The greatest value of the clock in what follows, in units."""
    most = 0
    for state, zone in found.after.items():
        info = found.moves.info(state)
        bound = zone[(info.active.index(found.watched) + 1) * info.size]
        if bound < INFINITE:  # else the solvers refuse the text
            most = max(most, bound >> 1)
    return most
