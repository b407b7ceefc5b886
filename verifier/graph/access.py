"""Who reads and writes what: the names that conditions, events, statements and rules touch.

Besides the job's own names three pseudo-names stand for what all share: :data:`SUN`,
:data:`CLOCK` and :data:`POWER`. They contain a blank, so no name of a job is one of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import assert_never

from verifier.model.job import (
    AfterLast,
    Always,
    AssumeAlways,
    AssumeStays,
    Assumption,
    AtClock,
    AtMostTimes,
    Becomes,
    Before,
    Between,
    Cancel,
    Changes,
    Condition,
    DayBegins,
    Event,
    Fade,
    Form,
    HasStayed,
    If,
    Is,
    LeadsTo,
    Level,
    MeasureLongest,
    Never,
    Night,
    NightBegins,
    NoLonger,
    NoShorter,
    Possible,
    PowerReturns,
    Pressed,
    Put,
    Repeat,
    Requirement,
    Rule,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    WaitUntil,
    WhenFor,
    WhenWithin,
    atoms_and_leaves,
    statements_of,
)

SUN = "the sun"
CLOCK = "the clock"
POWER = "the power"
SHARED = frozenset({SUN, CLOCK, POWER})
"""What belongs to no name of the job and to every part of it."""


@dataclass(frozen=True, slots=True)
class Access:
    """What a rule touches, by name.

    ``triggers`` its events speak of, ``guards`` its ``provided`` conditions read, ``body`` the
    conditions in its body read; ``puts``, ``fades`` and ``cancels`` are its statements' targets.
    """

    triggers: frozenset[str]
    guards: frozenset[str]
    body: frozenset[str]
    puts: frozenset[str]
    fades: frozenset[str]
    cancels: frozenset[str]

    @property
    def reads(self) -> frozenset[str]:
        """All that the rule's behaviour depends on.

        A dimmer that it fades is one: whoever sets it ends the fade and lets the body go on.
        """
        return self.triggers | self.guards | self.body | self.fades

    @property
    def writes(self) -> frozenset[str]:
        """The points that it sets."""
        return self.puts | self.fades


def condition_names(condition: Condition | None) -> frozenset[str]:
    """The names that a condition reads (points, doors, rooms, rules, sun and clock)."""
    if condition is None:
        return frozenset()
    names: set[str] = set()
    for leaf in atoms_and_leaves(condition):
        match leaf:
            case Is(subject) | Level(subject):
                names.add(subject)
            case Stayed(atom):
                names.add(atom.subject)
            case Running(rule):
                names.add(rule)
            case Night():
                names.add(SUN)
            case Between():
                names.add(CLOCK)
            case _:
                pass  # `timed out` is the run's own
    return frozenset(names)


def event_name(event: Event) -> str:
    """The one name (point, door, room, rule, sun, clock or power) that an event speaks of."""
    match event:
        case Becomes(atom):
            return atom.subject
        case Changes(subject):
            return subject
        case Pressed(button):
            return button
        case HasStayed(timer):
            return timer.atom.subject
        case NightBegins() | DayBegins():
            return SUN
        case AtClock():
            return CLOCK
        case PowerReturns():
            return POWER
        case RuleStarts(rule) | RuleEnds(rule):
            return rule
        case _:
            assert_never(event)


def events_names(events: Iterable[Event]) -> frozenset[str]:
    """The names that several events speak of."""
    return frozenset(event_name(event) for event in events)


def body_conditions(rule: Rule) -> tuple[Condition, ...]:
    """Every condition that the body of a rule reads, in order of the text."""
    found: list[Condition] = []
    for statement in statements_of(rule.body):
        match statement:
            case If(branches):
                found.extend(branch.condition for branch in branches)
            case Repeat(_, until):
                found.append(until)
            case WaitUntil(condition):
                found.append(condition)
            case _:
                pass
    return tuple(found)


def rule_access(rule: Rule) -> Access:
    """What a rule reads, sets and cancels.

    Names only, never through other rules.
    """
    guards = condition_names(rule.provided)
    for trigger in rule.triggers:
        guards |= condition_names(trigger.guard)
    body: frozenset[str] = frozenset()
    for condition in body_conditions(rule):
        body |= condition_names(condition)
    statements = tuple(statements_of(rule.body))
    return Access(
        triggers=events_names(trigger.event for trigger in rule.triggers),
        guards=guards,
        body=body,
        puts=frozenset(s.point for s in statements if isinstance(s, Put)),
        fades=frozenset(s.dimmer for s in statements if isinstance(s, Fade)),
        cancels=frozenset(s.rule for s in statements if isinstance(s, Cancel)),
    )


def assumption_names(assumption: Assumption) -> frozenset[str]:
    """The names that an assumption ties together."""
    match assumption:
        case AssumeAlways(condition):
            return condition_names(condition)
        case AssumeStays(atom):
            return frozenset({atom.subject})
        case _:
            assert_never(assumption)


def form_names(form: Form) -> frozenset[str]:
    """The names that a form of requirement reads."""
    match form:
        case Always(condition) | Never(condition) | Possible(condition):
            return condition_names(condition)
        case NoLonger(_, condition) | NoShorter(_, condition):
            return condition_names(condition)
        case (
            WhenWithin(events, condition)
            | WhenFor(events, condition)
            | AfterLast(events, condition)
            | Before(events, condition)
            | MeasureLongest(condition, events)
        ):
            return events_names(events) | condition_names(condition)
        case AtMostTimes(_, _, events):
            return events_names(events)
        case LeadsTo(rule, condition):
            return condition_names(condition) | {rule}
        case _:
            assert_never(form)


def requirement_names(requirement: Requirement) -> frozenset[str]:
    """The names that a requirement reads, its scope's too."""
    return form_names(requirement.form) | condition_names(requirement.scope)


__all__ = [
    "CLOCK",
    "POWER",
    "SHARED",
    "SUN",
    "Access",
    "assumption_names",
    "body_conditions",
    "condition_names",
    "event_name",
    "events_names",
    "form_names",
    "requirement_names",
    "rule_access",
]
