"""The part of a job that can matter to one requirement, and an independent check of it.

The slice is closed: every variable that a rule, the requirement or the surroundings of the
slice read (events too) is in it; no rule outside it sets, starts, ends or cancels anything in
it. What a kept rule sets or cancels and nothing in the slice reads is left out, the statement
with it: so the slice is a job of its own. A door or room comes whole. Power cuts, sun and
clock are shared by all slices.

The check works on field names found by reflection and shares no code with the construction.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import assert_never

from verifier.graph.access import (
    CLOCK,
    SHARED,
    SUN,
    assumption_names,
    requirement_names,
    rule_access,
)
from verifier.graph.recent import Recent
from verifier.model.job import (
    NAME_FIELDS,
    AtClock,
    Between,
    Cancel,
    DayBegins,
    Door,
    EndRun,
    Fade,
    Fault,
    If,
    Job,
    LeadsTo,
    Never,
    Night,
    NightBegins,
    Point,
    Put,
    Repeat,
    Requirement,
    Room,
    Rule,
    Running,
    Statement,
    Wait,
    WaitUntil,
    statements_of,
)

# ---------------------------------------------------------------- the cone


def cone_of_influence(job: Job, requirement: Requirement) -> frozenset[str]:
    """The name of every rule, point, door and room that can matter to a requirement.

    `leads to` speaks of states that may last, so with it every assumption matters.
    """
    return _closure(job, requirement) - SHARED


def slice_job(job: Job, requirement: Requirement, *, tied: bool = False) -> Job:
    """The job cut down to the cone of influence of one requirement, which alone it keeps.

    Before: all that was declared. After: the same in declared order, less what cannot matter.
    ``tied``: with all that assumptions speak of. Where states are left out of all runs, each is told
    by everything that is assumed of, so a slice with less could not tell it from another.
    What it costs grows with the slice, not with the job (the first slice of a job makes an index).
    """
    names = _closure(job, requirement, tied=tied)
    index = _indices.of(job)

    def kept(group: str) -> list[int]:
        places = index.places[group]
        return sorted(places[name] for name in names if name in places)

    touching = {k for name in names for k in index.assumptions.get(name, ())}
    failing = {k for name in names for k in index.faults.get(name, ())}
    return Job(
        name=job.name,
        site=job.site,
        points=tuple(job.points[k] for k in kept("points")),
        doors=tuple(job.doors[k] for k in kept("doors")),
        rooms=tuple(job.rooms[k] for k in kept("rooms")),
        rules=tuple(index.projected(k, names) for k in kept("rules")),
        assumptions=tuple(job.assumptions[k] for k in sorted(touching | index.shared)),
        faults=tuple(job.faults[k] for k in sorted(failing | index.everywhere)),
        requirements=(requirement,),
        years=job.years,
        seasons=job.seasons,
    )


def _closure(job: Job, requirement: Requirement, *, tied: bool = False) -> frozenset[str]:
    """The cone with the shared pseudo-names that it reads."""
    index = _indices.of(job)
    roots = requirement_names(requirement) | index.shared_names
    if tied or isinstance(requirement.form, LeadsTo):
        roots |= index.assumed
    found: set[str] = set()
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(index.needs.get(name, _NONE) - found)
    return frozenset(found)


_NONE: frozenset[str] = frozenset()


class _Index:
    """Where everything of a job stands, and what has to come with what: made once for a job."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.needs = {name: frozenset(wanted) for name, wanted in _needs(job).items()}
        groups: dict[str, tuple[Point | Door | Room | Rule, ...]] = {
            "points": job.points,
            "doors": job.doors,
            "rooms": job.rooms,
            "rules": job.rules,
        }
        self.places = {
            group: {item.name: k for k, item in enumerate(items)} for group, items in groups.items()
        }
        tied = [assumption_names(assumption) for assumption in job.assumptions]
        self.assumptions: dict[str, list[int]] = {}
        for k, names in enumerate(tied):
            for name in names:
                self.assumptions.setdefault(name, []).append(k)
        self.shared = {k for k, names in enumerate(tied) if names <= SHARED}
        self.shared_names = frozenset(name for k in self.shared for name in tied[k])
        self.assumed = frozenset(name for names in tied for name in names)
        self.faults: dict[str, list[int]] = {}
        for k, fault in enumerate(job.faults):
            if fault.subject is not None:
                self.faults.setdefault(fault.subject, []).append(k)
        self.everywhere = {k for k, fault in enumerate(job.faults) if fault.subject is None}
        self._targets = [access.puts | access.cancels for access in map(rule_access, job.rules)]
        self._projected: dict[tuple[int, frozenset[str]], Rule] = {}

    def projected(self, number: int, names: frozenset[str]) -> Rule:
        """A rule without what sets or cancels what is not in ``names``; the same object each time."""
        targets, rule = self._targets[number], self.job.rules[number]
        if targets <= names:
            return rule
        key = number, targets & names
        found = self._projected.get(key)
        if found is None:
            found = self._projected[key] = _project_rule(rule, names)
        return found


_indices = Recent(_Index, most=4)


def _needs(job: Job) -> dict[str, set[str]]:
    """For each name those that have to come with it, one step."""
    needs: dict[str, set[str]] = {}

    def need(names: Iterable[str], wanted: Iterable[str]) -> None:
        for name in names:
            needs.setdefault(name, set()).update(wanted)

    for rule in job.rules:
        access = rule_access(rule)
        need((rule.name,), access.reads)
        need(access.writes | access.cancels, (rule.name,))
    for door in job.doors:
        switches = {door.raised_by, door.lowered_by} | ({door.moving_by} - {None})
        parts = {str(name) for name in switches}
        need((door.name,), parts)
        need(parts, (door.name,))
    assumed: set[str] = set()
    for assumption in job.assumptions:
        tied = assumption_names(assumption)
        need(tied, tied)
        assumed |= tied
    for room in job.rooms:
        need((room.name,), (*room.entered_by, *room.seen_by))
        need(room.seen_by, (room.name,))
        # An assumption on people or on a detector can reach through to the ways in.
        if not assumed.isdisjoint((room.name, *room.seen_by)):
            need(room.entered_by, (room.name,))
    if job.site is not None and job.site.latitude_deg is not None:
        need((SUN, CLOCK), (SUN, CLOCK))
    return needs


def about_rule(job: Job, rule: str) -> Requirement:
    """A requirement in whose slice a rule is, and all that it depends on."""
    form = Never(Running(rule))
    return Requirement(f"about {rule}", "", None, form, Fraction(0), job.rule[rule].span)


# ---------------------------------------------------------------- projecting a rule


def _project_rule(rule: Rule, names: frozenset[str]) -> Rule:
    return replace(rule, body=_project_body(rule.body, names))


def _project_body(body: tuple[Statement, ...], names: frozenset[str]) -> tuple[Statement, ...]:
    """A body without the statements that set or cancel what is not in ``names``."""
    kept: list[Statement] = []
    for statement in body:
        match statement:
            case Put(point):
                if point in names:
                    kept.append(statement)
            case Cancel(rule):
                if rule in names:
                    kept.append(statement)
            case If(branches, otherwise):
                arms = tuple(replace(b, body=_project_body(b.body, names)) for b in branches)
                kept.append(
                    replace(statement, branches=arms, otherwise=_project_body(otherwise, names))
                )
            case Repeat(inner):
                kept.append(replace(statement, body=_project_body(inner, names)))
            case Fade() | Wait() | WaitUntil() | EndRun():
                kept.append(statement)
            case _:
                assert_never(statement)
    return tuple(kept)


# ---------------------------------------------------------------- the check


def check_slice(job: Job, sliced: Job) -> tuple[str, ...]:
    """What is wrong with ``sliced`` as a slice of ``job``, in words; empty: nothing.

    Judges by the text of both alone, whatever way the slice was made.
    """
    whole = _wholes.of(job)
    wrong: list[str] = []
    wrong.extend(_check_parts(whole, sliced))
    wrong.extend(_check_reads(whole, sliced))
    wrong.extend(_check_writers(whole, sliced))
    wrong.extend(_check_surroundings(whole, sliced))
    return tuple(wrong)


class _Whole:
    """A job as the check looks things up in it, by reflection alone: made once for a job."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.mentioned_by = _Mentioned()
        self.at: dict[str, dict[Hashable, list[int]]] = {}
        for title, items in _groups(job):
            places = self.at.setdefault(title, {})
            for k, item in enumerate(items):
                places.setdefault(item, []).append(k)
        self.rule_at = {rule.name: k for k, rule in enumerate(job.rules)}
        self.writers: dict[str, list[tuple[str, str]]] = {}
        for rule in job.rules:
            for statement in statements_of(rule.body):
                match statement:
                    case Put(target) | Fade(target):
                        self.writers.setdefault(target, []).append((rule.name, "sets"))
                    case Cancel(target):
                        self.writers.setdefault(target, []).append((rule.name, "cancels"))
                    case _:
                        pass
        self.mentioned = [frozenset(mentions(a)) for a in job.assumptions]
        self.assumed: dict[str, list[int]] = {}
        for k, tied in enumerate(self.mentioned):
            for name in tied:
                self.assumed.setdefault(name, []).append(k)
        self.by_shared = [k for k, tied in enumerate(self.mentioned) if tied <= SHARED]
        self.doors_of: dict[str, list[Door]] = {}
        for door in job.doors:
            for part in (door.raised_by, door.lowered_by, door.moving_by):
                if part is not None:
                    self.doors_of.setdefault(part, []).append(door)
        self.rooms_of: dict[str, list[Room]] = {}
        for room in job.rooms:
            inside = (room.name, *room.seen_by)
            bound = any(name in self.assumed for name in inside)
            for name in (*room.seen_by, *room.entered_by) if bound else room.seen_by:
                self.rooms_of.setdefault(name, []).append(room)
        self.faults_of: dict[str | None, list[Fault]] = {}
        for fault in job.faults:
            self.faults_of.setdefault(fault.subject, []).append(fault)

    def in_order(self, title: str, part: tuple[Hashable, ...]) -> bool:
        """Whether ``part`` is a subsequence of a group of the job."""
        last = -1
        for item in part:
            places = self.at[title].get(item, [])
            following = bisect_right(places, last)
            if following == len(places):
                return False
            last = places[following]
        return True


_wholes = Recent(_Whole)


def _groups(job: Job) -> tuple[tuple[str, tuple[Hashable, ...]], ...]:
    return (
        ("points", job.points),
        ("doors", job.doors),
        ("rooms", job.rooms),
        ("assumptions", job.assumptions),
        ("faults", job.faults),
        ("requirements", job.requirements),
    )


def _declared(job: Job) -> frozenset[str]:
    items: tuple[Point | Door | Room | Rule, ...] = (
        *job.points,
        *job.doors,
        *job.rooms,
        *job.rules,
    )
    return frozenset(item.name for item in items)


def _check_parts(whole: _Whole, sliced: Job) -> Iterator[str]:
    """Each part of the slice is the job's own, in declared order."""
    job = whole.job
    if sliced.site != job.site:
        yield "the slice has another site"
    if len(sliced.requirements) != 1:
        yield f"the slice has {len(sliced.requirements)} requirements, not one"
    for title, part in _groups(sliced):
        if not whole.in_order(title, part):
            yield f"the {title} of the slice are not those of the job, in declared order"
    places = [whole.rule_at.get(rule.name, -1) for rule in sliced.rules]
    if -1 in places or any(a >= b for a, b in pairwise(places)):
        yield "the rules of the slice are not those of the job, in declared order"
        return
    names = _declared(sliced)
    for place, rule in zip(places, sliced.rules, strict=True):
        original = job.rules[place]
        if original is rule:
            continue
        if replace(original, body=()) != replace(rule, body=()):
            yield f"rule {rule.name} has another head in the slice"
        if not _same_body(original.body, rule.body, names):
            yield f"the body of rule {rule.name} differs by more than what is left out"


def _same_body(
    whole: tuple[Statement, ...], part: tuple[Statement, ...], names: frozenset[str]
) -> bool:
    """Whether two bodies are equal but for settings and cancellings of names outside."""
    position = 0
    for statement in whole:
        if isinstance(statement, Put) and statement.point not in names:
            continue
        if isinstance(statement, Cancel) and statement.rule not in names:
            continue
        if position == len(part):
            return False
        if not _same_statement(statement, part[position], names):
            return False
        position += 1
    return position == len(part)


def _same_statement(whole: Statement, part: Statement, names: frozenset[str]) -> bool:
    if isinstance(whole, If) and isinstance(part, If):
        return (
            [b.condition for b in whole.branches] == [b.condition for b in part.branches]
            and all(
                _same_body(a.body, b.body, names)
                for a, b in zip(whole.branches, part.branches, strict=True)
            )
            and _same_body(whole.otherwise, part.otherwise, names)
        )
    if isinstance(whole, Repeat) and isinstance(part, Repeat):
        return whole.until == part.until and _same_body(whole.body, part.body, names)
    return whole == part


class _Mentioned:
    """The names that parts of a job speak of, each part looked through once."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[object, tuple[str, ...]]] = {}

    def of(self, part: object) -> tuple[str, ...]:
        """The names in a part; it is kept, so that its identity stays its own."""
        found = self._known.get(id(part))
        if found is None:
            found = self._known[id(part)] = (part, tuple(dict.fromkeys(mentions(part))))
        return found[1]


def mentions(value: object) -> Iterator[str]:
    """Every name that stands anywhere in a value, sun and clock too, by reflection."""
    if isinstance(value, tuple):
        for item in value:
            yield from mentions(item)
    elif is_dataclass(value):
        if isinstance(value, Night | NightBegins | DayBegins):
            yield SUN
        if isinstance(value, Between | AtClock):
            yield CLOCK
        for field in fields(value):
            inside = getattr(value, field.name)
            if field.name not in NAME_FIELDS:
                yield from mentions(inside)
            elif isinstance(inside, str):
                yield inside
            elif isinstance(inside, tuple):
                yield from inside


def _check_reads(whole: _Whole, sliced: Job) -> Iterator[str]:
    """All that anything in the slice speaks of is in the slice."""
    names = _declared(sliced)
    named: tuple[Door | Room | Rule | Requirement, ...] = (
        *sliced.doors,
        *sliced.rooms,
        *sliced.rules,
        *sliced.requirements,
    )
    parts: list[tuple[str, object]] = [(item.name, item) for item in named]
    parts += [("an assumption", a) for a in sliced.assumptions]
    parts += [("a fault", f) for f in sliced.faults]
    for title, part in parts:
        for name in whole.mentioned_by.of(part):
            if name not in names and name not in SHARED:
                yield f"{title} needs {name}, which is not in the slice"


def _check_writers(whole: _Whole, sliced: Job) -> Iterator[str]:
    """No rule outside sets or cancels anything in the slice."""
    names = _declared(sliced)
    for target in sorted(names):
        for rule, does in whole.writers.get(target, ()):
            if rule not in names:
                yield f"rule {rule}, which is not in the slice, {does} {target}"


def _check_surroundings(whole: _Whole, sliced: Job) -> Iterator[str]:
    """Doors and rooms are whole; every assumption and fault that touches the slice is in it."""
    names = _declared(sliced)
    for name in sorted(names):
        for door in whole.doors_of.get(name, ()):
            if door.name not in names:
                yield f"{name} belongs to door {door.name}, which is not in the slice"
        for room in whole.rooms_of.get(name, ()):
            if room.name not in names:
                yield f"{name} belongs to room {room.name}, which is not in the slice"
    touching = set(whole.by_shared)
    for name in _read_by(whole, sliced):
        touching.update(whole.assumed.get(name, ()))
    if any(isinstance(r.form, LeadsTo) for r in sliced.requirements):
        touching.update(range(len(whole.job.assumptions)))
    kept = frozenset(sliced.assumptions)
    for number in sorted(touching):
        if whole.job.assumptions[number] not in kept:
            yield f"an assumption on {_listed(whole.mentioned[number])} is not in the slice"
    faults = frozenset(sliced.faults)
    for subject in (None, *sorted(names)):
        for fault in whole.faults_of.get(subject, ()):
            if fault not in faults:
                yield f"a fault ({fault.kind.value}) is not in the slice"


def _read_by(whole: _Whole, sliced: Job) -> frozenset[str]:
    """The names in the slice, with sun and clock where it reads them."""
    job, mentioned = whole.job, whole.mentioned_by
    parts = (*sliced.rules, *sliced.requirements, *sliced.assumptions)
    shared = {name for part in parts for name in mentioned.of(part) if name in SHARED}
    if shared and job.site is not None and job.site.latitude_deg is not None:
        shared |= {SUN, CLOCK}
    return _declared(sliced) | shared


def _listed(names: frozenset[str]) -> str:
    return ", ".join(sorted(names))
