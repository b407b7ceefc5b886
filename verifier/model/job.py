"""The checked job: names, units and types resolved, nothing half-filled.

Everything behind this module works on these values and never on text. Units: every
duration is an exact :class:`~fractions.Fraction` of seconds, every level an exact
``Fraction`` of per cent (0 to 100), every power of watts, every angle of degrees, every
clock time an ``int`` of seconds since midnight.

Values of points are the contract's own words (``"open"``, ``"on"``, …); the value of a
dimmer is its level as a ``Fraction`` (0 is off, 100 is full).
"""

from __future__ import annotations

import enum
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Literal

from verifier.model.used import Usage
from verifier.source import Span

Value = str | Fraction
"""A word of the contract, or a level in per cent."""


class PointKind(enum.Enum):
    """The kinds of point; the value is the keyword that declares one."""

    CONTACT = "contact"
    LIMIT = "limit"
    DETECTOR = "detector"
    BUTTON = "button"
    SWITCH = "switch"
    PHOTOCELL = "photocell"
    LAMP = "lamp"
    DIMMER = "dimmer"
    LOAD = "load"
    FLAG = "flag"

    @property
    def values(self) -> tuple[str, ...]:
        """The two words that a point of this kind can be; the one at rest first.

        A button has none; of a dimmer, ``off`` and ``on`` are the words (its values are levels).
        """
        return _VALUES[self]

    @property
    def is_input(self) -> bool:
        """Whether the surroundings set it."""
        return self in _INPUTS

    @property
    def is_output(self) -> bool:
        """Whether it is a lamp, dimmer or load."""
        return self in (PointKind.LAMP, PointKind.DIMMER, PointKind.LOAD)


_VALUES: dict[PointKind, tuple[str, ...]] = {
    PointKind.CONTACT: ("shut", "open"),
    PointKind.LIMIT: ("clear", "reached"),
    PointKind.DETECTOR: ("vacant", "occupied"),
    PointKind.BUTTON: (),
    PointKind.SWITCH: ("off", "on"),
    PointKind.PHOTOCELL: ("bright", "dark"),
    PointKind.LAMP: ("off", "on"),
    PointKind.DIMMER: ("off", "on"),
    PointKind.LOAD: ("off", "on"),
    PointKind.FLAG: ("no", "yes"),
}
_INPUTS = frozenset(
    {
        PointKind.CONTACT,
        PointKind.LIMIT,
        PointKind.DETECTOR,
        PointKind.BUTTON,
        PointKind.SWITCH,
        PointKind.PHOTOCELL,
    }
)

DOOR_VALUES = ("raised", "lowered", "moving", "stopped")
ROOM_VALUES = ("empty", "peopled")


# ---------------------------------------------------------------- what there is


@dataclass(frozen=True, slots=True)
class Site:
    """Where the job stands. Latitude, longitude and timezone come together or not at all."""

    name: str
    latitude_deg: Fraction | None
    longitude_deg: Fraction | None
    timezone: str | None
    night_below_deg: Fraction
    reaction_s: Fraction
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the job.

    ``starts`` is None where the author wrote none: an input then starts with any value,
    an output off, a flag ``no``. For a dimmer it is a level.
    """

    name: str
    label: str
    kind: PointKind
    starts: Value | None
    power_w: Fraction | None
    holds_s: Fraction | None
    rearm_s: Fraction | None
    wired: Literal["normally open", "normally closed"] | None
    broken_wire_reads: str | None
    wireless: bool
    local_switch: bool
    power_return: Literal["off", "on", "last"]
    retained: bool
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Door:
    """A door driven between two limit switches; ``starts`` None: at rest at either limit."""

    name: str
    label: str
    raised_by: str
    lowered_by: str
    moving_by: str | None
    travel_least_s: Fraction
    travel_most_s: Fraction
    starts: Literal["raised", "lowered", "anywhere"] | None
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Room:
    """A room with people.

    ``entered_by`` names contacts and doors (empty: people come and go at any time),
    ``seen_by`` detectors. ``noticed_s`` is None only if neither it nor ``still_s`` was written
    (a missing ``noticed within`` is filled in from ``still at most``).
    """

    name: str
    label: str
    entered_by: tuple[str, ...]
    seen_by: tuple[str, ...]
    still_s: Fraction | None
    noticed_s: Fraction | None
    starts: Literal["peopled", "empty"] | None
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Setting:
    """A named figure. Units as everywhere in a job: seconds, per cent, seconds since midnight."""

    name: str
    kind: Literal["duration", "level", "clock time"]
    value: Fraction
    span: Span = field(compare=False)


# ---------------------------------------------------------------- conditions


@dataclass(frozen=True, slots=True)
class Is:
    """``SUBJECT is VALUE`` of a point (not a dimmer), a door or a room."""

    subject: str
    value: str


@dataclass(frozen=True, slots=True)
class Level:
    """A dimmer's level compared with a figure.

    ``D is on`` is ``above 0``, ``D is off`` is ``at most 0``; ``D is 60 %`` is ``equal 60``.
    """

    subject: str
    comparison: Literal["above", "below", "at least", "at most", "equal"]
    percent: Fraction

    def holds_of(self, percent: Fraction) -> bool:
        """Whether a dimmer at ``percent`` satisfies the comparison."""
        match self.comparison:
            case "above":
                return percent > self.percent
            case "below":
                return percent < self.percent
            case "at least":
                return percent >= self.percent
            case "at most":
                return percent <= self.percent
            case "equal":
                return percent == self.percent


Atom = Is | Level
"""What is so of one point, door or room at a moment."""


@dataclass(frozen=True, slots=True)
class Stayed:
    """``POINT has stayed VALUE for D``: the timer of (atom, D) has run out."""

    atom: Atom
    for_s: Fraction


@dataclass(frozen=True, slots=True)
class Night:
    """``night``; ``day`` is ``Not(Night())``."""


@dataclass(frozen=True, slots=True)
class Between:
    """``between T and U [on DAYS]``: from T, up to, not including, U.

    ``days`` are 0 (Monday) to 6, those on which it begins; None: every day.
    """

    from_s: int
    to_s: int
    days: frozenset[int] | None


@dataclass(frozen=True, slots=True)
class Running:
    """``RULE is running``."""

    rule: str


@dataclass(frozen=True, slots=True)
class TimedOut:
    """``timed out``, of the run's last ``wait until``. Only in a rule's body."""


@dataclass(frozen=True, slots=True)
class Not:
    """``not C``."""

    item: Condition


@dataclass(frozen=True, slots=True)
class And:
    """``A and B and …``; two items or more."""

    items: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Or:
    """``A or B or …``; two items or more."""

    items: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Implies:
    """``A implies B``; in requirements and assumptions only."""

    left: Condition
    right: Condition


Condition = Is | Level | Stayed | Night | Between | Running | TimedOut | Not | And | Or | Implies


# ---------------------------------------------------------------- events


@dataclass(frozen=True, slots=True)
class Becomes:
    """``SUBJECT becomes VALUE``: the atom turns true by a change of its subject."""

    atom: Atom


@dataclass(frozen=True, slots=True)
class Changes:
    """``POINT changes`` (doors and rooms too, in requirements)."""

    subject: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """``BUTTON pressed``."""

    button: str


@dataclass(frozen=True, slots=True)
class HasStayed:
    """``POINT has stayed VALUE for D`` as an event: its timer runs out."""

    timer: Stayed


@dataclass(frozen=True, slots=True)
class NightBegins:
    """``night begins``."""


@dataclass(frozen=True, slots=True)
class DayBegins:
    """``day begins``."""


@dataclass(frozen=True, slots=True)
class AtClock:
    """``at T [on DAYS]``; days as in :class:`Between`."""

    time_s: int
    days: frozenset[int] | None


@dataclass(frozen=True, slots=True)
class PowerReturns:
    """``power returns``."""


@dataclass(frozen=True, slots=True)
class RuleStarts:
    """``RULE starts``."""

    rule: str


@dataclass(frozen=True, slots=True)
class RuleEnds:
    """``RULE ends``."""

    rule: str


Event = (
    Becomes
    | Changes
    | Pressed
    | HasStayed
    | NightBegins
    | DayBegins
    | AtClock
    | PowerReturns
    | RuleStarts
    | RuleEnds
)


# ---------------------------------------------------------------- statements and rules


@dataclass(frozen=True, slots=True)
class Put:
    """``LAMP on``, ``DIMMER 60 %``, ``FLAG yes``: set a point. Of a dimmer, ``value`` is a level."""

    point: str
    value: Value
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Fade:
    """``fade DIMMER to L over D``."""

    dimmer: str
    percent: Fraction
    over_s: Fraction
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Wait:
    """``wait D``; D above 0."""

    for_s: Fraction
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class WaitUntil:
    """``wait until C[, at most D]``."""

    condition: Condition
    at_most_s: Fraction | None
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Branch:
    """One ``if``/``elsif`` arm."""

    condition: Condition
    body: tuple[Statement, ...]
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class If:
    """``if … elsif … else … end if``; ``otherwise`` is empty where there is no ``else``."""

    branches: tuple[Branch, ...]
    otherwise: tuple[Statement, ...]
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Repeat:
    """``repeat … until C end repeat``: body first, then the condition is read."""

    body: tuple[Statement, ...]
    until: Condition
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Cancel:
    """``cancel RULE``."""

    rule: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class EndRun:
    """``end run``."""

    span: Span = field(compare=False)


Statement = Put | Fade | Wait | WaitUntil | If | Repeat | Cancel | EndRun


@dataclass(frozen=True, slots=True)
class Policy:
    """What a trigger does while the rule is running.

    ``retriggerable`` is (1, 0, True), ``non-retriggerable`` (1, 0, False). A rule whose body
    cannot wait, with nothing written, has (1, 0, False).
    """

    at_once: int
    waiting: int
    oldest_gives_way: bool


@dataclass(frozen=True, slots=True)
class Trigger:
    """One ``upon EVENT [provided C]`` line."""

    event: Event
    guard: Condition | None
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule; ``provided`` is None where there is none."""

    name: str
    label: str
    policy: Policy
    triggers: tuple[Trigger, ...]
    provided: Condition | None
    body: tuple[Statement, ...]
    span: Span = field(compare=False)


# ---------------------------------------------------------------- assumptions and faults


@dataclass(frozen=True, slots=True)
class AssumeAlways:
    """``assume always (C)``; ``assume never (C)`` is of ``Not(C)``."""

    condition: Condition
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class AssumeStays:
    """``assume SUBJECT stays VALUE at least | at most D``."""

    atom: Atom
    bound: Literal["at least", "at most"]
    seconds: Fraction
    span: Span = field(compare=False)


Assumption = AssumeAlways | AssumeStays


class FaultKind(enum.Enum):
    """The kinds of fault, named as the contract writes them."""

    POWER_CUTS = "power cuts"
    LOST_REPORTS = "lost reports"
    BOUNCE = "bounce"
    STUCK = "stuck"
    BROKEN_WIRE = "broken wire"
    BOTH_LIMITS = "both limits reached"


@dataclass(frozen=True, slots=True)
class Fault:
    """``consider …``. ``subject`` is a point or door (None of power cuts), ``within_s`` of bounce only."""

    kind: FaultKind
    subject: str | None
    within_s: Fraction | None
    span: Span = field(compare=False)


# ---------------------------------------------------------------- requirements


@dataclass(frozen=True, slots=True)
class Always:
    """``always: C``."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class Never:
    """``never: C``."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class WhenWithin:
    """``when E: C within D`` (events joined by ``or``)."""

    events: tuple[Event, ...]
    condition: Condition
    within_s: Fraction


@dataclass(frozen=True, slots=True)
class WhenFor:
    """``when E: C for at least D``."""

    events: tuple[Event, ...]
    condition: Condition
    for_s: Fraction


@dataclass(frozen=True, slots=True)
class AfterLast:
    """``after last E: C within D``."""

    events: tuple[Event, ...]
    condition: Condition
    within_s: Fraction


@dataclass(frozen=True, slots=True)
class Before:
    """``before E: C for at least D``."""

    events: tuple[Event, ...]
    condition: Condition
    for_s: Fraction


@dataclass(frozen=True, slots=True)
class NoLonger:
    """``no longer than D: C``."""

    most_s: Fraction
    condition: Condition


@dataclass(frozen=True, slots=True)
class NoShorter:
    """``no shorter than D: C``."""

    least_s: Fraction
    condition: Condition


@dataclass(frozen=True, slots=True)
class AtMostTimes:
    """``at most N times in D: E``."""

    times: int
    in_s: Fraction
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class LeadsTo:
    """``every trigger of R leads to C``."""

    rule: str
    condition: Condition


@dataclass(frozen=True, slots=True)
class Possible:
    """``possible: C``."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class MeasureLongest:
    """``measure longest: C after last E``."""

    condition: Condition
    events: tuple[Event, ...]


Form = (
    Always
    | Never
    | WhenWithin
    | WhenFor
    | AfterLast
    | Before
    | NoLonger
    | NoShorter
    | AtMostTimes
    | LeadsTo
    | Possible
    | MeasureLongest
)


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement. ``scope`` is the C of ``while C:``; ``allowing_s`` 0 where none is written.

    ``standard`` names the standard requirement that it is a claim of, empty if it is none.
    """

    name: str
    label: str
    scope: Condition | None
    form: Form
    allowing_s: Fraction
    span: Span = field(compare=False)
    standard: str = field(default="", compare=False)


# ---------------------------------------------------------------- the whole


@dataclass(frozen=True)
class Job:
    """A checked job; every tuple in declared order (files by name, then by place)."""

    name: str
    site: Site | None
    points: tuple[Point, ...]
    doors: tuple[Door, ...]
    rooms: tuple[Room, ...]
    rules: tuple[Rule, ...]
    assumptions: tuple[Assumption, ...]
    faults: tuple[Fault, ...]
    requirements: tuple[Requirement, ...]
    settings: tuple[Setting, ...] = ()
    years: tuple[int, int] = (2026, 2055)
    """First and last year for which a job with a site is proved."""
    seasons: int = 1
    """Into how many parts of the year its calendar is told apart (see ``surroundings.calendar``)."""
    usage: Usage | None = None
    """How the house is used, for sums of energy; no rule, requirement or slice knows of it."""

    @cached_property
    def point(self) -> dict[str, Point]:
        """Points by name."""
        return {p.name: p for p in self.points}

    @cached_property
    def door(self) -> dict[str, Door]:
        """Doors by name."""
        return {d.name: d for d in self.doors}

    @cached_property
    def room(self) -> dict[str, Room]:
        """Rooms by name."""
        return {r.name: r for r in self.rooms}

    @cached_property
    def rule(self) -> dict[str, Rule]:
        """Rules by name."""
        return {r.name: r for r in self.rules}

    @cached_property
    def requirement(self) -> dict[str, Requirement]:
        """Requirements by name."""
        return {r.name: r for r in self.requirements}

    @cached_property
    def door_of_point(self) -> dict[str, Door]:
        """The door that sets a limit or a motor's switch, by the name of the point."""
        found: dict[str, Door] = {}
        for door in self.doors:
            for name in (door.raised_by, door.lowered_by, door.moving_by):
                if name is not None:
                    found[name] = door
        return found

    @cached_property
    def kinds_of_fault(self) -> frozenset[FaultKind]:
        """The kinds of fault that are considered."""
        return frozenset(fault.kind for fault in self.faults)

    def considers(self, kind: FaultKind) -> bool:
        """Whether a fault of this kind is considered."""
        return kind in self.kinds_of_fault


NAME_FIELDS = frozenset(
    {
        "subject",
        "button",
        "point",
        "dimmer",
        "rule",
        "raised_by",
        "lowered_by",
        "moving_by",
        "entered_by",
        "seen_by",
    }
)
"""The fields by which what stands in a job speaks of its points, doors, rooms and rules."""

LABEL_FIELDS = frozenset({"label", "standard"})
"""The fields that only people read."""


# ---------------------------------------------------------------- walking


def atoms_and_leaves(condition: Condition) -> Iterator[Condition]:
    """The leaves of a condition (everything but not, and, or, implies), left to right."""
    match condition:
        case Not(item):
            yield from atoms_and_leaves(item)
        case And(items) | Or(items):
            for item in items:
                yield from atoms_and_leaves(item)
        case Implies(left, right):
            yield from atoms_and_leaves(left)
            yield from atoms_and_leaves(right)
        case _:
            yield condition


def statements_of(body: tuple[Statement, ...]) -> Iterator[Statement]:
    """Every statement of a body, nested ones too, in order of the text."""
    for statement in body:
        yield statement
        match statement:
            case If(branches, otherwise):
                for branch in branches:
                    yield from statements_of(branch.body)
                yield from statements_of(otherwise)
            case Repeat(inner):
                yield from statements_of(inner)
            case _:
                pass


def can_wait(rule: Rule) -> bool:
    """Whether a run of the rule can rest: its body has a wait, a wait until or a fade."""
    return any(isinstance(s, Wait | WaitUntil | Fade) for s in statements_of(rule.body))


def set_by(statement: Statement) -> str:
    """The point that a statement sets or fades; empty if it sets none."""
    match statement:
        case Put(point):
            return point
        case Fade(dimmer):
            return dimmer
        case _:
            return ""


def conditions_and_events_of(form: Form) -> tuple[tuple[Condition, ...], tuple[Event, ...]]:
    """The conditions and events that a requirement form names."""
    match form:
        case Always(c) | Never(c) | NoLonger(_, c) | NoShorter(_, c) | LeadsTo(_, c) | Possible(c):
            return (c,), ()
        case WhenWithin(events, c) | WhenFor(events, c) | AfterLast(events, c) | Before(events, c):
            return (c,), events
        case MeasureLongest(c, events):
            return (c,), events
        case AtMostTimes(_, _, events):
            return (), events


def read_by_rule(rule: Rule) -> tuple[tuple[Condition, ...], tuple[Event, ...]]:
    """Every condition and event that a rule reads, in order of the text."""
    conditions: list[Condition] = []
    for trigger in rule.triggers:
        if trigger.guard is not None:
            conditions.append(trigger.guard)
    if rule.provided is not None:
        conditions.append(rule.provided)
    for statement in statements_of(rule.body):
        match statement:
            case WaitUntil(condition):
                conditions.append(condition)
            case If(branches):
                conditions.extend(branch.condition for branch in branches)
            case Repeat(_, until):
                conditions.append(until)
            case _:
                pass
    return tuple(conditions), tuple(trigger.event for trigger in rule.triggers)


def read_by_requirement(
    requirement: Requirement,
) -> tuple[tuple[Condition, ...], tuple[Event, ...]]:
    """Every condition and event that a requirement reads."""
    conditions, events = conditions_and_events_of(requirement.form)
    if requirement.scope is not None:
        conditions = (*conditions, requirement.scope)
    return conditions, events


def read_by(job: Job) -> tuple[tuple[Condition, ...], tuple[Event, ...]]:
    """Every condition and event that the job's rules, assumptions and requirements read."""
    conditions: list[Condition] = []
    events: list[Event] = []
    for rule in job.rules:
        found = read_by_rule(rule)
        conditions.extend(found[0])
        events.extend(found[1])
    for assumption in job.assumptions:
        if isinstance(assumption, AssumeAlways):
            conditions.append(assumption.condition)
    for requirement in job.requirements:
        found = read_by_requirement(requirement)
        conditions.extend(found[0])
        events.extend(found[1])
    return tuple(conditions), tuple(events)
