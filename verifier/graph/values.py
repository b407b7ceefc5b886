"""What each point can ever be and which rules can ever fire, by structure alone.

A least fixed point: at first a point has its start and nothing fires; a rule that can fire under
the values so far adds what it sets. So two rules that only wait for each other never fire.
Assumptions are left aside: more can happen than really does, never less.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
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
    Fade,
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
    set_by,
    statements_of,
)


@dataclass(frozen=True)
class Structure:
    """What can happen by structure: values of points (a name left out is free), firing rules.

    ``runs`` has for each rule whether it can be running, and whether it can be idle.
    """

    job: Job
    values: Mapping[str, tuple[Value, ...]]
    runs: Mapping[str, tuple[bool, ...]]
    alive: Set[str]

    @cached_property
    def domains(self) -> Domains:
        """The values and run states that conditions can meet."""
        return Domains(self.job, self.values, self.runs)

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
    firing = frozenset(_firing(job))
    fires = [rule for rule in job.rules if rule.name in firing]
    runs = {rule.name: _runs(rule, rule.name in firing) for rule in job.rules}
    return Structure(job, _values(job, fires), runs, firing)


def _firing(job: Job) -> set[str]:
    """The rules that can fire: each is looked at again only when a name that it looks at grows."""
    firing: set[str] = set()
    values = _values(job, ())
    runs = {rule.name: _runs(rule, False) for rule in job.rules}
    structure = Structure(job, values, runs, firing)
    looking: dict[str, list[Rule]] = {}
    for rule in job.rules:
        access = rule_access(rule)
        for name in access.triggers | access.guards:
            looking.setdefault(name, []).append(rule)
    waiting = list(reversed(job.rules))
    while waiting:
        rule = waiting.pop()
        if rule.name in firing or not any(
            structure.trigger_can_fire(rule, trigger) for trigger in rule.triggers
        ):
            continue
        firing.add(rule.name)
        runs[rule.name] = _runs(rule, True)
        for name in (rule.name, *_grown(values, rule)):
            waiting.extend(other for other in looking.get(name, ()) if other.name not in firing)
    return firing


def _runs(rule: Rule, fires: bool) -> tuple[bool, ...]:
    return (True, False) if fires and can_wait(rule) else (False,)


def _grown(values: dict[str, tuple[Value, ...]], rule: Rule) -> list[str]:
    """The points that can be more once a rule fires; its settings are added to ``values``."""
    grown: list[str] = []
    for statement in statements_of(rule.body):
        name = set_by(statement)
        if name not in values:
            continue
        if isinstance(statement, Fade):
            del values[name]
            grown.append(name)
        elif isinstance(statement, Put) and statement.value not in values[name]:
            values[name] = (*values[name], statement.value)
            grown.append(name)
    return grown


_structures = Recent(_structure_of)


def start_value(point: Point) -> Value:
    """The value that an output or a flag starts with."""
    if point.starts is not None:
        return point.starts
    return Fraction(0) if point.kind is PointKind.DIMMER else point.kind.values[0]


def _values(job: Job, firing: Iterable[Rule]) -> dict[str, tuple[Value, ...]]:
    """The values of each output and flag that is not free, where these rules fire."""
    settings: dict[str, list[Value]] = {}
    faded: set[str] = set()
    for rule in firing:
        for statement in statements_of(rule.body):
            match statement:
                case Put(name, value):
                    settings.setdefault(name, []).append(value)
                case Fade(dimmer):
                    faded.add(dimmer)
                case _:
                    pass
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
