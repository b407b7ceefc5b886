"""What handling a rule can touch in one instant, with all that it sets off.

Two rules whose footprints do not meet commute: handled in either order, they leave the same
state behind. Run state has names of its own, ``running:RULE``.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.graph.access import Access, condition_names, rule_access
from verifier.model.job import (
    Becomes,
    Changes,
    Event,
    HasStayed,
    Job,
    Rule,
    RuleEnds,
    RuleStarts,
    WaitUntil,
    statements_of,
)


@dataclass(frozen=True, slots=True)
class Footprint:
    """The names that handling a rule can read and write in one instant, all sets off included."""

    reads: frozenset[str]
    writes: frozenset[str]

    def meets(self, other: Footprint) -> bool:
        """Whether the order of the two can matter."""
        mine = self.writes & (other.reads | other.writes)
        return bool(mine or other.writes & self.reads)


def running(rule: str) -> str:
    """The pseudo-name of a rule's run state (its runs and waiting triggers)."""
    return f"running:{rule}"


def footprints(job: Job) -> dict[str, Footprint]:
    """The footprint of each rule, in declared order.

    A rule's own share: what its guards and conditions read, what it sets, its run state and
    that of the rules that it cancels. With it comes, again and again, the share of each rule
    that this can set off in the same instant: triggered by a point that is set, by a start or
    an end; waiting until something that is written; holding a fade of a dimmer that is set.
    """
    own = {rule.name: _own_share(job, rule, rule_access(rule)) for rule in job.rules}
    next_rules = sets_off(job)
    result: dict[str, Footprint] = {}
    for rule in job.rules:
        found: set[str] = set()
        waiting = [rule.name]
        while waiting:
            name = waiting.pop()
            if name not in found:
                found.add(name)
                waiting.extend(next_rules[name])
        reads: frozenset[str] = frozenset()
        writes: frozenset[str] = frozenset()
        for name in found:
            reads |= own[name].reads
            writes |= own[name].writes
        result[rule.name] = Footprint(reads, writes)
    return result


def sets_off(job: Job) -> dict[str, tuple[str, ...]]:
    """For each rule those that handling it can, by itself, put to work in the same instant."""
    access = {rule.name: rule_access(rule) for rule in job.rules}
    own = {rule.name: _own_share(job, rule, access[rule.name]) for rule in job.rules}
    return {
        rule.name: tuple(
            other.name for other in job.rules if _sets_off(job, own[rule.name], rule, other, access)
        )
        for rule in job.rules
    }


def commute(first: Footprint, second: Footprint) -> bool:
    """Whether the order in which the two are handled cannot matter."""
    return not first.meets(second)


def _named(job: Job, names: frozenset[str]) -> frozenset[str]:
    """Names as they stand in a footprint: a rule that is read is its run state."""
    return frozenset(running(name) if name in job.rule else name for name in names)


def _own_share(job: Job, rule: Rule, access: Access) -> Footprint:
    state = running(rule.name)
    reads = _named(job, access.guards | access.body | access.fades) | {state}
    writes = access.writes | {running(name) for name in access.cancels} | {state}
    return Footprint(reads, writes)


def _sets_off(
    job: Job, share: Footprint, rule: Rule, other: Rule, access: dict[str, Access]
) -> bool:
    """Whether handling ``rule`` can, by itself, put ``other`` to work in the same instant."""
    if any(
        _can_trigger(trigger.event, share.writes, rule, access[rule.name])
        for trigger in other.triggers
    ):
        return True
    if access[other.name].fades & share.writes:
        return True
    waits = frozenset[str]().union(
        *(
            _named(job, condition_names(statement.condition))
            for statement in statements_of(other.body)
            if isinstance(statement, WaitUntil)
        )
    )
    return bool(waits & share.writes)


def _can_trigger(event: Event, written: frozenset[str], rule: Rule, access: Access) -> bool:
    match event:
        case Becomes(atom):
            return atom.subject in written
        case Changes(subject):
            return subject in written
        case HasStayed(timer):
            return timer.for_s <= 0 and timer.atom.subject in written
        case RuleStarts(name):
            return name == rule.name
        case RuleEnds(name):
            return name == rule.name or name in access.cancels
        case _:
            return False
