"""What handling a rule can touch in one instant, with all that it sets off.

Two rules whose footprints do not meet commute: handled in either order, they leave the same
state behind. Run state has names of its own, ``running:RULE``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from verifier.graph.access import Access, condition_names, event_name, rule_access
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
    looking: dict[str, list[int]] = {}
    for number, rule in enumerate(job.rules):
        for name in _looks_at(job, rule, access[rule.name]):
            looking.setdefault(name, []).append(number)
    found: dict[str, tuple[str, ...]] = {}
    for rule in job.rules:
        touched = own[rule.name].writes | access[rule.name].cancels | {rule.name}
        near = sorted({number for name in touched for number in looking.get(name, ())})
        others = (job.rules[number] for number in near)
        found[rule.name] = tuple(
            other.name for other in others if _sets_off(job, own[rule.name], rule, other, access)
        )
    return found


def groups_that_set_themselves_off(job: Job) -> tuple[str, ...]:
    """A rule for each group that can set itself off in one instant, in declared order.

    Rules that nothing sets off, or that set nothing off, are left out first, again and again.
    """
    follows = sets_off(job)
    before: dict[str, list[str]] = {}
    for name, others in follows.items():
        for other in others:
            before.setdefault(other, []).append(name)
    left = set(follows)
    ways: tuple[Mapping[str, Sequence[str]], Mapping[str, Sequence[str]]] = (follows, before)
    for onward, back in (ways, ways[::-1]):
        count = {name: sum(n in left for n in onward.get(name, ())) for name in left}
        ended = [name for name in left if not count[name]]
        while ended:
            name = ended.pop()
            left.discard(name)
            for near in back.get(name, ()):
                if near in left:
                    count[near] -= 1
                    if not count[near]:
                        ended.append(near)
    found: list[str] = []
    covered: set[str] = set()
    group = _groups(follows, before, left)
    for rule in job.rules:
        if rule.name not in left or group[rule.name] in covered:
            continue
        followers = follows[rule.name]
        if rule.name in followers or any(group.get(n) == group[rule.name] for n in followers):
            found.append(rule.name)
            covered.add(group[rule.name])
    return tuple(found)


def _groups(
    follows: Mapping[str, Sequence[str]], before: Mapping[str, Sequence[str]], among: set[str]
) -> dict[str, str]:
    """For each rule ``among`` these one of its group: those that it sets off and that set it off.

    Source: Kosaraju's two searches, as in Sharir, A strong-connectivity algorithm (1981).
    """
    ended: list[str] = []
    begun: set[str] = set()
    for start in follows:
        todo = [(start, False)] if start in among else []
        while todo:
            name, done = todo.pop()
            if done:
                ended.append(name)
            elif name not in begun:
                begun.add(name)
                todo.append((name, True))
                todo.extend((n, False) for n in follows[name] if n in among and n not in begun)
    group: dict[str, str] = {}
    for first in reversed(ended):
        waiting = [first]
        while waiting:
            name = waiting.pop()
            if name not in group:
                group[name] = first
                waiting.extend(n for n in before.get(name, ()) if n in among and n not in group)
    return group


def _looks_at(job: Job, rule: Rule, access: Access) -> frozenset[str]:
    """The names by which a rule can be put to work."""
    events = frozenset(event_name(trigger.event) for trigger in rule.triggers)
    return events | access.fades | _awaited(job, rule)


def _awaited(job: Job, rule: Rule) -> frozenset[str]:
    """What the `wait until`s of a rule read."""
    return frozenset[str]().union(
        *(
            _named(job, condition_names(statement.condition))
            for statement in statements_of(rule.body)
            if isinstance(statement, WaitUntil)
        )
    )


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
    return bool(_awaited(job, other) & share.writes)


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
