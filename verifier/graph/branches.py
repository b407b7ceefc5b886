"""Every guard and branch of a job, with what reaching it means: what a proof can ask about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from verifier.graph.flow import IDLE, flow_of
from verifier.graph.logic import implied, satisfiable
from verifier.graph.recent import Recent
from verifier.graph.transitions import OnEvent, Transition, event_facts, transitions_of
from verifier.graph.values import Structure, structure_of
from verifier.model.job import (
    Condition,
    Event,
    If,
    Job,
    Repeat,
    Rule,
    Statement,
    WaitUntil,
    statements_of,
)
from verifier.source import Span

BranchKind = Literal["provided", "upon", "if", "elsif", "until", "wait until"]


@dataclass(frozen=True, slots=True)
class BranchCondition:
    """One condition that a rule reads and the ways on which it is read.

    Of a guard (``provided``: one for each ``upon`` line; ``upon``: what stands behind the event
    itself) ``event`` is the line's event, and reading it true means: a trigger of this event is
    handled with the guard true. Of a condition in the body, ``if_true`` and ``if_false`` are
    the transitions on which it is read so: reaching that side means to take one of them, which
    is to be at its source, with its cause there and its guard true. ``exact`` is false where
    the ways were too many to be told apart: then both are empty and nothing is known.
    """

    rule: str
    kind: BranchKind
    condition: Condition
    event: Event | None
    span: Span
    if_true: tuple[Transition, ...]
    if_false: tuple[Transition, ...]
    can_be_true: bool
    can_be_false: bool
    exact: bool

    @property
    def reached(self) -> bool:
        """Whether it can be read at all, by structure."""
        return self.can_be_true or self.can_be_false


def branch_conditions(job: Job) -> tuple[BranchCondition, ...]:
    """Each guard and branch of a job's rules, in order of the text.

    What is said to be impossible is so by structure alone; what is left can be asked of a proof.
    """
    return _all_branches.of(job)


def _branch_conditions(job: Job) -> tuple[BranchCondition, ...]:
    structure = structure_of(job)
    found: list[BranchCondition] = []
    for rule in job.rules:
        found.extend(_guards(rule, structure))
        if rule.name in structure.alive:
            found.extend(_in_body(job, rule, structure))
    return tuple(found)


_all_branches = Recent(_branch_conditions)


def _guards(rule: Rule, structure: Structure) -> list[BranchCondition]:
    found = []
    for trigger in rule.triggers:
        if not structure.event_can_happen(trigger.event):
            continue
        guards: tuple[tuple[BranchKind, Condition | None, Condition | None], ...] = (
            ("provided", rule.provided, None),
            ("upon", trigger.guard, rule.provided),
        )
        for kind, condition, other in guards:
            if condition is None:
                continue
            known = event_facts(structure.job, rule, trigger.event)
            known = known if other is None else (*known, other)
            found.append(
                BranchCondition(
                    rule=rule.name,
                    kind=kind,
                    condition=condition,
                    event=trigger.event,
                    span=trigger.span,
                    if_true=(),
                    if_false=(),
                    can_be_true=satisfiable((*known, condition), structure.domains),
                    can_be_false=not implied(condition, known, structure.domains),
                    exact=True,
                )
            )
    return found


def _in_body(job: Job, rule: Rule, structure: Structure) -> list[BranchCondition]:
    conditions = _conditions(rule.body)
    if not conditions:
        return []
    ways = reachable_ways(job, rule, structure)
    exact = not any(way.summarised for way in ways)
    found = []
    for kind, condition, span in conditions:
        read: dict[bool, list[Transition]] = {True: [], False: []}
        for way in ways:
            for truth in dict.fromkeys(
                r.truth for r in way.reads if (r.condition, r.span) == (condition, span)
            ):
                read[truth].append(way)
        found.append(
            BranchCondition(
                rule=rule.name,
                kind=kind,
                condition=condition,
                event=None,
                span=span,
                if_true=tuple(read[True]) if exact else (),
                if_false=tuple(read[False]) if exact else (),
                can_be_true=bool(read[True]) or not exact,
                can_be_false=bool(read[False]) or not exact,
                exact=exact,
            )
        )
    return found


def reachable_ways(job: Job, rule: Rule, structure: Structure) -> tuple[Transition, ...]:
    """The transitions of a rule that start from a place that can be reached, by structure."""
    ways = tuple(
        way
        for way in transitions_of(job, rule, flow_of(rule), structure.domains)
        if not isinstance(way.on, OnEvent) or structure.event_can_happen(way.on.event)
    )
    reached = {IDLE}
    while True:
        grown = reached | {way.target for way in ways if way.source in reached}
        if grown == reached:
            return tuple(way for way in ways if way.source in reached)
        reached = grown


def _conditions(body: tuple[Statement, ...]) -> list[tuple[BranchKind, Condition, Span]]:
    """Every condition in a body with its kind and place, in order of the text."""
    found: list[tuple[BranchKind, Condition, Span]] = []
    for statement in statements_of(body):
        match statement:
            case If(branches):
                for position, branch in enumerate(branches):
                    kind: BranchKind = "elsif" if position else "if"
                    found.append((kind, branch.condition, branch.span))
            case Repeat(_, until):
                found.append(("until", until, statement.span))
            case WaitUntil(condition):
                found.append(("wait until", condition, statement.span))
            case _:
                pass
    return found
