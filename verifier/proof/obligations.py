"""What has to be answered for a job: obligations on canonical slices, each asked once.

Many requirements can come down to one obligation (rooms of one kind); each keeps its own names.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from verifier.graph.slice import about_rule, slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.blocked import doomed
from verifier.proof.canonical import Canonical, Keyed, Shapes, canonical, keyed
from verifier.proof.doubts import StructureQuestion
from verifier.simulate.system import Excluded

Kind = Literal["chain", "verdict", "doubt", "reads"]
"""What is asked: an endless chain of a rule, a verdict, or one of two of the rules' structure."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that is asked of the job: its number among its kind, and under which names."""

    number: int
    requirement: Requirement
    keyed: Keyed


@dataclass(slots=True)
class Obligation:
    """One thing to be answered, for all that come down to it. ``extra`` is in the first one's names."""

    kind: Kind
    key: str
    extra: Any
    asked: list[Asked] = field(default_factory=list)


class Plan:
    """The obligations of a job, in the order in which they were asked for."""

    def __init__(self, job: Job) -> None:
        found = doomed(job)
        self.job = job
        self.without: tuple[Excluded, ...] = found.cubes
        # What is left out of all runs is known of the whole job only (15).
        self.by_slices = not found.cubes and not found.undecided
        self.obligations: list[Obligation] = []
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
            return slice_job(self.job, requirement)
        return replace(self.job, requirements=(requirement,), settings=(), usage=None)

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


def plan_of(
    job: Job,
    chains: tuple[str, ...],
    requirements: tuple[Requirement, ...],
    structure: tuple[StructureQuestion, ...],
) -> Plan:
    """All obligations: endless chains first, then requirements, then the rules' structure."""
    plan = Plan(job)
    for number, rule in enumerate(chains):
        plan.ask("chain", number, about_rule(job, rule))
    for number, requirement in enumerate(requirements):
        plan.ask("verdict", number, requirement)
    for number, question in enumerate(structure):
        plan.ask(question.kind, number, question.requirement, question.extra)
    return plan
