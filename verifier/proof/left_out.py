"""Why states are left out of all runs, as texts that the two solvers check (15).

A state is left out if from it no more than so much time ever passes in all. For each round (what is
left out can doom further states) two invariants over the surroundings alone tell that, with a
clock beside them that nothing restarts:

reached      holds of every state of a run
after        holds of every state that follows a left-out one, its clock begun there; bounds it

Each of their conditions is a text, as in :mod:`verifier.proof.certificate`.
"""

from __future__ import annotations

from verifier.model.job import (
    Job,
)
from verifier.proof.certificate import declared, no_fact, standing_lemmas, texts_of, written
from verifier.proof.formula import (
    Quoted,
    Writer,
    all_of,
    any_of,
    at_latest,
    within,
)
from verifier.proof.relation import relation_of
from verifier.proof.tied import world_of
from verifier.proof.verdict import LeftOut
from verifier.simulate.monitor import Monitor
from verifier.simulate.system import Excluded, System
from verifier.surroundings.state import Registers

Texts = tuple[tuple[str, str], ...]


class Elapsed(Monitor):
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
        """No state of it is wrong in itself."""
        return False


def watched_world(world: Job, without: tuple[Excluded, ...]) -> tuple[System, int]:
    """The surroundings with a clock that nothing restarts, and that clock."""
    system = System(world, None, watch=Elapsed, without=without)
    return system, system.layout.clocks.index("claim: time since then")


def left_out_texts(job: Job, left_out: tuple[LeftOut, ...]) -> Texts:
    """The texts, by name; none if nothing is left out. Raises: ValueError if one is no text."""
    texts: list[tuple[str, str]] = []
    world = world_of(job)
    before: tuple[Excluded, ...] = ()
    for number, one in enumerate(left_out, start=1):
        named = f"left out {number}" if len(left_out) > 1 else "left out"
        texts.extend((f"{named}: {name}", text) for name, text in _of_round(world, before, one))
        before = (*before, *one.cubes)
    return tuple(texts)


def _of_round(world: Job, before: tuple[Excluded, ...], one: LeftOut) -> Texts:
    """The conditions of one round's two invariants."""
    system, watched = watched_world(world, before)
    layout, writer, relation = system.layout, Writer(system), relation_of(system)
    reached, after = Quoted(one.reached), Quoted(one.after)
    for text in (one.reached, one.after):
        wrong = no_fact(writer, text)
        if wrong:
            raise ValueError(f"what is said of the states left out is no fact: {wrong}")
    of_reached = dict(texts_of(relation, (reached,)))
    of_after = dict(texts_of(relation, (after,)))
    begun = at_latest(watched, 0)  # and no clock is negative
    lost = any_of(
        all_of(within(layout, layout.index[name], bit) for name, bit in cube) for cube in one.cubes
    )
    standing = standing_lemmas(system)
    starts = written(
        "A state is left out and what follows it is not told",
        declared(writer),
        [
            *(writer.formula(f) for f in (*standing, reached, lost, begun)),
            f"(not {writer.formula(after)})",
        ],
    )
    ends = written(
        "Time goes on for longer after a state that is left out",
        declared(writer),
        [
            *(writer.formula(f) for f in (*standing, after)),
            f"(not {writer.formula(at_latest(watched, 2 * one.most))})",
        ],
    )
    return (
        *((f"reached, {n}", of_reached[n]) for n in ("initial", "kept", "kept in time", "cover")),
        ("after, begun", starts),
        *((f"after, {n}", of_after[n]) for n in ("kept", "kept in time")),
        ("after, ends", ends),
    )
