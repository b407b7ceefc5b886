"""What each point can ever be and which rules can ever fire, by structure alone.

A least fixed point: at first a point has its start and nothing fires; a rule that can fire under
the values so far adds what it sets. So two rules that only wait for each other never fire.
Assumptions are left aside: more can happen than really does, never less.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import assert_never

from verifier.graph.access import rule_access
from verifier.graph.logic import Domains, atom_holds, satisfiable
from verifier.graph.recent import Recent
from verifier.graph.transitions import event_facts
from verifier.model.job import (
    AtClock,
    Atom,
    Becomes,
    Changes,
    Condition,
    DayBegins,
    Event,
    FaultKind,
    HasStayed,
    Job,
    NightBegins,
    Point,
    PointKind,
    PowerReturns,
    Pressed,
    Put,
    Rule,
    RuleEnds,
    RuleStarts,
    Trigger,
    Value,
    can_wait,
    statements_of,
)


@dataclass(frozen=True)
class Structure:
    """What can happen by structure: values of points (a name left out is free), firing rules."""

    job: Job
    values: dict[str, tuple[Value, ...]]
    alive: frozenset[str]

    @cached_property
    def domains(self) -> Domains:
        """The values and run states that conditions can meet."""
        runs = {
            rule.name: (True, False) if rule.name in self.alive and can_wait(rule) else (False,)
            for rule in self.job.rules
        }
        return Domains(self.job, self.values, runs)

    def event_can_happen(self, event: Event) -> bool:
        """Whether an event can ever happen."""
        match event:
            case Becomes(atom):
                return self._can_be(atom, True) and self._can_be(atom, False)
            case HasStayed(timer):
                return self._can_be(timer.atom, True)
            case Changes(subject):
                values = self.values.get(subject)
                return values is None or len(values) > 1
            case PowerReturns():
                return self.job.considers(FaultKind.POWER_CUTS)
            case RuleStarts(name) | RuleEnds(name):
                return name in self.alive
            case Pressed() | NightBegins() | DayBegins() | AtClock():
                return True
            case _:
                assert_never(event)

    def _can_be(self, atom: Atom, truth: bool) -> bool:
        values = self.values.get(atom.subject)
        return values is None or any(atom_holds(atom, value) is truth for value in values)

    def guards_of(self, rule: Rule, trigger: Trigger) -> tuple[Condition, ...]:
        """What has to be true for a trigger to start a run, with what its event makes true."""
        guards = tuple(g for g in (rule.provided, trigger.guard) if g is not None)
        return (*event_facts(self.job, rule, trigger.event), *guards)

    def trigger_can_fire(self, rule: Rule, trigger: Trigger) -> bool:
        """Whether an ``upon`` line can ever start a run."""
        return self.event_can_happen(trigger.event) and satisfiable(
            self.guards_of(rule, trigger), self.domains
        )


def structure_of(job: Job) -> Structure:
    """What can happen in a job by structure alone."""
    return _structures.of(job)


def _structure_of(job: Job) -> Structure:
    alive: frozenset[str] = frozenset()
    while True:
        structure = Structure(job, _values(job, alive), alive)
        grown = frozenset(
            rule.name
            for rule in job.rules
            if rule.name in alive
            or any(structure.trigger_can_fire(rule, trigger) for trigger in rule.triggers)
        )
        if grown == alive:
            return structure
        alive = grown


_structures = Recent(_structure_of)


def start_value(point: Point) -> Value:
    """The value that an output or a flag starts with."""
    if point.starts is not None:
        return point.starts
    return Fraction(0) if point.kind is PointKind.DIMMER else point.kind.values[0]


def _values(job: Job, alive: frozenset[str]) -> dict[str, tuple[Value, ...]]:
    """The values of each output and flag that is not free."""
    settings: dict[str, list[Value]] = {}
    faded: set[str] = set()
    for rule in job.rules:
        if rule.name not in alive:
            continue
        faded |= rule_access(rule).fades
        for statement in statements_of(rule.body):
            if isinstance(statement, Put):
                settings.setdefault(statement.point, []).append(statement.value)
    found: dict[str, tuple[Value, ...]] = {}
    for point in job.points:
        if point.kind.is_input or point.name in faded:
            continue
        values = [start_value(point), *settings.get(point.name, ())]
        if point.local_switch:
            values += _words(point, "off", "on")
        if job.considers(FaultKind.POWER_CUTS) and point.power_return != "last":
            values += () if point.kind is PointKind.FLAG else _words(point, point.power_return)
        found[point.name] = tuple(dict.fromkeys(values))
    return found


def _words(point: Point, *words: str) -> tuple[Value, ...]:
    if point.kind is PointKind.DIMMER:
        return tuple(Fraction(100) if word == "on" else Fraction(0) for word in words)
    return words
