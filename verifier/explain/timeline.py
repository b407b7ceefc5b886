"""Timelines made up beforehand: named things through time, and what a requirement sees of them.

A timeline knows no rules and no controller: it says what is so from when on. What follows by
itself (a "has stayed … for" runs out, the clock comes to a time) is put in between. From it come
the settled instants of one requirement: whether its condition and its scope are so, and how often
its events occur.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.drawn import SUN
from verifier.model.job import (
    And,
    AtClock,
    Atom,
    Becomes,
    Between,
    Changes,
    Condition,
    DayBegins,
    Event,
    HasStayed,
    Implies,
    Is,
    Job,
    LeadsTo,
    Level,
    Night,
    NightBegins,
    Not,
    Or,
    Requirement,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    TimedOut,
    Value,
    atoms_and_leaves,
    conditions_and_events_of,
    read_by_requirement,
)

DAY_S = 86_400
Values = Mapping[str, Value]

IDLE, RUNNING = "idle", "running"


@dataclass(frozen=True, slots=True)
class Step:
    """At ``at_s`` some things change to new values, and some things happen that leave no value."""

    at_s: Fraction
    changes: tuple[tuple[str, Value], ...]
    happens: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Timeline:
    """What is so at the start, then step by step; the last state stays until ``end_s``.

    ``begins_s`` are seconds since Monday, 0:00; None where no clock matters.
    """

    start: tuple[tuple[str, Value], ...]
    steps: tuple[Step, ...]
    end_s: Fraction
    begins_s: int | None = None

    def of(self, subject: str) -> tuple[tuple[Fraction, Value], ...]:
        """One thing through time: (from when on, its value)."""
        found = [(Fraction(0), value) for name, value in self.start if name == subject]
        for step in self.steps:
            found.extend((step.at_s, value) for name, value in step.changes if name == subject)
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Settled:
    """A settled instant as a requirement sees it.

    ``holds`` and ``inside``: its condition and its scope; ``count``: occurrences of its events;
    ``handled``: whether its rule was set going; ``ran_out`` are the timers and ``times`` the times
    of the clock that came by themselves.
    """

    at_s: Fraction
    values: Values
    step: Step | None
    holds: bool
    inside: bool
    count: int
    handled: bool
    ran_out: tuple[Stayed, ...]
    clock_s: int | None


# ---------------------------------------------------------------- what is named


def subjects_of(job: Job, requirement: Requirement) -> tuple[str, ...]:
    """The things with a value that a requirement names, in declared order, the sun before rules.

    A door's own limit or switch that is named beside its door goes with the door.
    """
    conditions, events = read_by_requirement(requirement)
    wanted: set[str] = set()
    for condition in conditions:
        for leaf in atoms_and_leaves(condition):
            wanted |= _subjects_of_leaf(leaf)
    for event in events:
        match event:
            case Becomes(atom) | HasStayed(Stayed(atom)):
                wanted.add(atom.subject)
            case Changes(subject):
                wanted.add(subject)
            case NightBegins() | DayBegins():
                wanted.add(SUN)
            case RuleStarts(rule) | RuleEnds(rule):
                wanted.add(rule)
            case _:
                pass
    if isinstance(requirement.form, LeadsTo):
        wanted.add(requirement.form.rule)
    order = [*job.door, *job.room, *job.point, SUN, *job.rule]
    found = [name for name in order if name in wanted]
    return tuple(
        n for n in found if n not in job.door_of_point or job.door_of_point[n].name not in wanted
    )


def _subjects_of_leaf(leaf: Condition) -> set[str]:
    match leaf:
        case Is(subject) | Level(subject) | Stayed(Is(subject) | Level(subject)):
            return {subject}
        case Night():
            return {SUN}
        case Running(rule):
            return {rule}
        case _:
            return set()


def clock_times(requirement: Requirement) -> tuple[int, ...]:
    """The times of the clock that a requirement reads, in seconds since midnight; empty: none."""
    conditions, events = read_by_requirement(requirement)
    found = {event.time_s for event in events if isinstance(event, AtClock)}
    for condition in conditions:
        for leaf in atoms_and_leaves(condition):
            if isinstance(leaf, Between):
                found |= {leaf.from_s, leaf.to_s}
    return tuple(sorted(found))


def timers_of(requirement: Requirement) -> tuple[Stayed, ...]:
    """The timers that a requirement reads, in order of the text."""
    conditions, events = read_by_requirement(requirement)
    found = [leaf for c in conditions for leaf in atoms_and_leaves(c) if isinstance(leaf, Stayed)]
    found += [event.timer for event in events if isinstance(event, HasStayed)]
    return tuple(dict.fromkeys(found))


# ---------------------------------------------------------------- what is so


def atom_holds(job: Job, atom: Atom, values: Values) -> bool:
    """Whether an atom is so; of a door's own switch, by where the door is."""
    value = value_of(job, atom.subject, values)
    if isinstance(atom, Is):
        return value == atom.value
    assert isinstance(value, Fraction)
    return atom.holds_of(value)


def value_of(job: Job, subject: str, values: Values) -> Value:
    """The value of a thing; of a door's own switch that is not told apart, by its door's."""
    if subject in values:
        return values[subject]
    door = job.door_of_point[subject]
    where = {door.raised_by: "raised", door.lowered_by: "lowered"}.get(subject, "moving")
    at_rest, other = job.point[subject].kind.values
    return other if values[door.name] == where else at_rest


def is_so(
    job: Job,
    condition: Condition,
    values: Values,
    since: Mapping[Stayed, Fraction | None],
    at_s: Fraction,
    clock_s: Fraction | None,
) -> bool:
    """Whether a condition is so; ``since`` is from when on each timer's atom has been so."""
    match condition:
        case Is() | Level():
            return atom_holds(job, condition, values)
        case Stayed(_, for_s):
            from_s = since[condition]
            return from_s is not None and at_s - from_s >= for_s
        case Night():
            return values[SUN] == "night"
        case Between(from_s, to_s, days):
            assert clock_s is not None
            return _between(clock_s, from_s, to_s, days)
        case Running(rule):
            return values[rule] == RUNNING
        case TimedOut():
            return False
        case Not(item):
            return not is_so(job, item, values, since, at_s, clock_s)
        case And(items):
            return all(is_so(job, item, values, since, at_s, clock_s) for item in items)
        case Or(items):
            return any(is_so(job, item, values, since, at_s, clock_s) for item in items)
        case Implies(left, right):
            return not is_so(job, left, values, since, at_s, clock_s) or is_so(
                job, right, values, since, at_s, clock_s
            )


def _between(clock_s: Fraction, from_s: int, to_s: int, days: frozenset[int] | None) -> bool:
    day, time = divmod(clock_s, DAY_S)
    begun = int(day) % 7
    if from_s <= to_s:
        inside = from_s <= time < to_s
    else:
        inside = time >= from_s or time < to_s
        if time < to_s:
            begun = (begun - 1) % 7
    return inside and (days is None or begun in days)


def occurrences(
    job: Job,
    events: tuple[Event, ...],
    before: Values,
    after: Values,
    happens: tuple[Event, ...],
    ran_out: tuple[Stayed, ...],
    clock_s: Fraction | None,
) -> int:
    """How many changes of an instant are one of the events; a change counts once."""
    count = sum(event in events for event in happens)
    count += sum(HasStayed(timer) in events for timer in ran_out)
    for name in after:
        if before[name] != after[name]:
            count += any(_is_change(job, event, name, before, after) for event in events)
    if clock_s is not None:
        time, day = clock_s % DAY_S, int(clock_s // DAY_S) % 7
        count += any(
            isinstance(event, AtClock)
            and event.time_s == time
            and (event.days is None or day in event.days)
            for event in events
        )
    return count


def _is_change(job: Job, event: Event, name: str, before: Values, after: Values) -> bool:
    match event:
        case Becomes(atom):
            if _carrier(job, atom.subject, after) != name:
                return False
            return atom_holds(job, atom, after) and not atom_holds(job, atom, before)
        case Changes(subject):
            if _carrier(job, subject, after) != name:
                return False
            return value_of(job, subject, before) != value_of(job, subject, after)
        case NightBegins():
            return name == SUN and after[SUN] == "night"
        case DayBegins():
            return name == SUN and after[SUN] == "day"
        case RuleStarts(rule):
            return name == rule and after[rule] == RUNNING
        case RuleEnds(rule):
            return name == rule and after[rule] == IDLE
        case _:
            return False


def _carrier(job: Job, subject: str, values: Values) -> str:
    """The thing whose change is a change of the subject: of a door's own switch its door."""
    return subject if subject in values else job.door_of_point[subject].name


# ---------------------------------------------------------------- instants


def settled_instants(job: Job, requirement: Requirement, line: Timeline) -> tuple[Settled, ...]:
    """The settled instants of a timeline as the requirement sees them, the start first."""
    return tuple(_Seen(job, requirement, line).instants())


class _Seen:
    def __init__(self, job: Job, requirement: Requirement, line: Timeline) -> None:
        self.job, self.requirement, self.line = job, requirement, line
        conditions, self.events = conditions_and_events_of(requirement.form)
        self.condition = conditions[0] if conditions else None
        self.rule = requirement.form.rule if isinstance(requirement.form, LeadsTo) else None
        self.timers = timers_of(requirement)
        self.times = clock_times(requirement)

    def instants(self) -> Iterator[Settled]:
        values: dict[str, Value] = dict(self.line.start)
        since: dict[Stayed, Fraction | None] = {
            t: Fraction(0) if atom_holds(self.job, t.atom, values) else None for t in self.timers
        }
        yield self._settled(Fraction(0), values, values, since, None, ())
        now = Fraction(0)
        for step in (*self.line.steps, None):
            until = self.line.end_s if step is None else step.at_s
            while True:
                due = self._next(now, since)
                if due is None or due > until or (due == until and self._meets(step, due, since)):
                    break
                out = self._out(due, since)
                yield self._settled(due, values, values, since, None, out)
                now = due
            if step is None:
                return
            out = self._out(step.at_s, since) if step.at_s > now else ()
            after = {**values, **dict(step.changes)}
            for timer in self.timers:
                so = atom_holds(self.job, timer.atom, after)
                if not so:
                    since[timer] = None
                elif since[timer] is None:
                    since[timer] = step.at_s
            first = step.at_s > now
            yield self._settled(step.at_s, values, after, since, step, out, first=first)
            values, now = after, step.at_s

    def _next(self, now: Fraction, since: Mapping[Stayed, Fraction | None]) -> Fraction | None:
        """When something comes by itself next."""
        due = [
            begun + timer.for_s
            for timer, begun in since.items()
            if begun is not None and begun + timer.for_s > now
        ]
        if self.line.begins_s is not None:
            clock = self.line.begins_s + now
            due += [now + ((time - clock) % DAY_S or DAY_S) for time in self.times]
        return min(due, default=None)

    def _out(self, at: Fraction, since: Mapping[Stayed, Fraction | None]) -> tuple[Stayed, ...]:
        return tuple(t for t, b in since.items() if b is not None and b + t.for_s == at)

    def _meets(
        self, step: Step | None, due: Fraction, since: Mapping[Stayed, Fraction | None]
    ) -> bool:
        """Whether a step of that moment is taken as one instant with what comes by itself."""
        if step is None:
            return False
        changed = {name for name, _ in step.changes}
        return not any(timer.atom.subject in changed for timer in self._out(due, since))

    def _settled(
        self,
        at: Fraction,
        before: Values,
        after: Values,
        since: Mapping[Stayed, Fraction | None],
        step: Step | None,
        out: tuple[Stayed, ...],
        *,
        first: bool = True,
    ) -> Settled:
        begins = self.line.begins_s
        clock = None if begins is None else begins + at
        happens = () if step is None else step.happens
        held = True
        if self.condition is not None:
            held = is_so(self.job, self.condition, after, since, at, clock)
        scope = self.requirement.scope
        inside = scope is None or is_so(self.job, scope, after, since, at, clock)
        came = clock if first and at else None
        count = occurrences(self.job, self.events, before, after, happens, out, came)
        rule = self.rule
        handled = rule is not None and before[rule] == IDLE and after[rule] == RUNNING
        told = None
        if came is not None and came % DAY_S in self.times:
            told = int(came)
        return Settled(at, dict(after), step, held, inside, count, handled, out, told)
