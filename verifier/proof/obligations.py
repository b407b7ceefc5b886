"""What has to be answered for a job: obligations on canonical slices, each asked once.

Many requirements can come down to one obligation (rooms of one kind); each keeps its own names.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from verifier.graph.slice import about_rule, slice_job
from verifier.graph.twins import Twins, twins_of
from verifier.model.job import Job, Requirement
from verifier.proof.canonical import Canonical, Keyed, Shapes, canonical, keyed
from verifier.proof.doubts import StructureQuestion
from verifier.proof.may_block import doomed
from verifier.simulate.system import Excluded

Kind = Literal["chain", "verdict", "doubt", "reads"]
"""What is asked: an endless chain of a rule, a verdict, or one of two of the rules' structure."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that is asked of the job: its number among its kind, and under which names.

    ``twin``: it is the same as another that is asked, for its part of the job is a twin of that one's.
    """

    number: int
    requirement: Requirement
    keyed: Keyed
    twin: bool = False


@dataclass(slots=True)
class Obligation:
    """One thing to be answered, for all that come down to it. ``extra`` is in the first one's names."""

    kind: Kind
    key: str
    extra: Any
    asked: list[Asked] = field(default_factory=list)


class Plan:
    """The obligations of a job, in the order in which they were asked for.

    With ``twins`` they are those of the first of each, and hold for the others.
    """

    def __init__(self, job: Job, *, twins: bool) -> None:
        found = doomed(job)
        self.job = job
        self.without: tuple[Excluded, ...] = found.cubes
        # What is left out of all runs is known of the whole job only (15).
        self.by_slices = not found.cubes and not found.undecided
        self.twins = twins_of(job) if twins and self.by_slices else Twins(job, job, {})
        self.firsts = self.twins.firsts
        self.obligations: list[Obligation] = []
        self._number = {each.name: k for k, each in enumerate(job.requirements)}
        self._by_key: dict[str, Obligation] = {}
        self._shapes = Shapes()
        self._made: dict[str, Canonical] = {}

    def ask(self, kind: Kind, number: int, requirement: Requirement, extra: Any = None) -> None:
        """Adds one thing to be answered."""
        own = keyed(self._shapes, self.part(requirement), extra)
        key = hashlib.sha256(f"{kind} {own.key}".encode()).hexdigest()
        obligation = self._by_key.get(key)
        if obligation is None:
            obligation = self._by_key[key] = Obligation(kind, key, extra)
            self.obligations.append(obligation)
        obligation.asked.append(Asked(number, requirement, own))

    def part(self, requirement: Requirement) -> Job:
        """What of the job a requirement is judged on: its slice, or all where only that can tell."""
        if self.by_slices:
            return slice_job(self.firsts, requirement)
        return replace(self.job, requirements=(requirement,), settings=(), usage=None)

    def alike(self, asked: Asked) -> Iterator[Asked]:
        """A requirement that is asked, and those of the twins of its part of the job."""
        yield asked
        own = asked.keyed
        for others in zip(
            self.twins.names_of(asked.requirement.name),
            *map(self.twins.names_of, own.names),
            strict=True,
        ):
            number = self._number[others[0]]
            keyed = replace(own, names=others[1:])
            yield Asked(number, self.job.requirements[number], keyed, twin=True)

    def canonical(self, obligation: Obligation) -> Canonical:
        """An obligation's part of the job in canonical names, made from the first that asks for it."""
        made = self._made.get(obligation.key)
        if made is None:
            first = obligation.asked[0]
            made = canonical(self.part(first.requirement), first.keyed, obligation.extra)
            self._made[obligation.key] = made
        return made

    def forget(self, obligation: Obligation) -> None:
        """Gives up what was made for an obligation that is answered."""
        self._made.pop(obligation.key, None)

    def ask_all(
        self,
        chains: tuple[str, ...],
        requirements: tuple[Requirement, ...],
        structure: tuple[StructureQuestion, ...],
    ) -> None:
        """Asks for endless chains first, then for requirements, then for the rules' structure.

        ``chains`` and ``structure`` are those of ``firsts``, ``requirements`` all of them.
        """
        for number, rule in enumerate(chains):
            self.ask("chain", number, about_rule(self.firsts, rule))
        if self.twins.of:
            for requirement in self.firsts.requirements:
                self.ask("verdict", self._number[requirement.name], requirement)
        else:
            for number, requirement in enumerate(requirements):
                self.ask("verdict", number, requirement)
        for number, question in enumerate(structure):
            self.ask(question.kind, number, question.requirement, question.extra)
