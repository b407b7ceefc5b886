"""A question: one requirement with its slice, system and moves, its limits, and what can go wrong."""

from __future__ import annotations

import time
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass

from verifier.graph.footprints import footprints
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.exact import Exact, explore
from verifier.proof.hull import Hull, hull
from verifier.proof.may_block import doomed
from verifier.proof.moves import Moves
from verifier.proof.relation import Relation, relation_of
from verifier.proof.silent import silent_inputs
from verifier.simulate.instant import Commute
from verifier.simulate.system import System
from verifier.surroundings.happenings import InputTurns
from verifier.surroundings.state import Registers


class EndlessChainFound(Exception):
    """An endless chain can be reached; ``args[0]`` is the :class:`Chain`."""


@dataclass(frozen=True, slots=True)
class Budget:
    """How long one requirement may take, and where the engines give up."""

    limit_s: float = 60.0
    most_states: int = 4_000
    most_nodes: int = 40_000
    most_work: int = 10**12
    """Cells of zones that are looked at: a limit that does not hang on how busy a machine is."""


class Question:
    """A system with its moves, and what has been found out about it."""

    def __init__(
        self,
        job: Job,
        requirement: Requirement,
        budget: Budget,
        bad: Callable[[System], Callable[[Registers], bool]] | None = None,
    ) -> None:
        self.job = job
        self.requirement = requirement
        self.budget = budget
        self.until = time.monotonic() + budget.limit_s
        self.without = doomed(job).cubes
        part = slice_job(job, requirement, tied=bool(self.without))
        self.system = System(part, requirement, without=self.without)
        self.commute: Commute | None = commuting(self.system)
        self._relation: Relation | None = None
        self.moves = Moves(self.system, self.commute, bad(self.system) if bad is not None else None)

    @property
    def relation(self) -> Relation:
        """The relation on which proofs are checked (made once; see :meth:`rethink`)."""
        if self._relation is None:
            self._relation = relation_of(self.system, self.commute, self.moves.is_bad)
        return self._relation

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return max(0.0, self.until - time.monotonic())

    def hull(self, *, stop_when_failing: bool = True) -> Hull:
        """The hull of all that can be reached. Raises: TooLarge."""
        return hull(
            self.moves,
            most_states=self.budget.most_states,
            limit_s=self.left_s,
            stop_when_failing=stop_when_failing,
        )

    def explore(self, *, want_endless: bool = False) -> Exact:
        """The shortest runs to what fails. Raises: TooLarge."""
        return explore(
            self.moves,
            most_nodes=self.budget.most_nodes,
            limit_s=self.left_s,
            want_endless=want_endless,
        )

    def pinned(self) -> Question | None:
        """The question with the inputs pinned whose state nothing asks for; None if there are none.

        Its relation is this one's, so what is proved of it is checked on the whole slice.
        """
        turning = any(isinstance(happening, InputTurns) for happening in self.system.happenings)
        pins = silent_inputs(self.relation) if turning else ()
        if not pins:
            return None
        found = copy(self)
        found.moves = Moves(self.system, self.commute, self.moves.is_bad, pins)
        return found

    def rethink(self) -> None:
        """Forgets what depends on the monitor's claim, which has changed."""
        self.moves.infos.clear()
        self._relation = None


def commuting(system: System) -> Commute:
    """Whether the handlers of two rules do not touch each other, whatever they set off."""
    prints = footprints(system.job)
    names = [rule.name for rule in system.rules]
    table = [[a != b and not prints[a].meets(prints[b]) for b in names] for a in names]
    return lambda a, b: table[a][b]
