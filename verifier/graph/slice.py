"""The part of a job that can matter to one requirement, and an independent check of it.

The slice is closed: every variable that a rule, the requirement or the surroundings of the
slice read (events too) is in it; no rule outside it sets, starts, ends or cancels anything in
it. What a kept rule sets or cancels and nothing in the slice reads is left out, the statement
with it: so the slice is a job of its own. A door or room comes whole. Power cuts, sun and
clock are shared by all slices.

The check works on field names found by reflection and shares no code with the construction.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import assert_never

from verifier.graph.access import (
    CLOCK,
    SHARED,
    SUN,
    assumption_names,
    requirement_names,
    rule_access,
)
from verifier.model.job import (
    Assumption,
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
    Night,
    NightBegins,
    Point,
    Put,
    Repeat,
    Requirement,
    Room,
    Rule,
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


def slice_job(job: Job, requirement: Requirement) -> Job:
    """The job cut down to the cone of influence of one requirement, which alone it keeps.

    Before: all that was declared. After: the same in declared order, less what cannot matter.
    """
    names = _closure(job, requirement)
    return Job(
        name=job.name,
        site=job.site,
        points=tuple(p for p in job.points if p.name in names),
        doors=tuple(d for d in job.doors if d.name in names),
        rooms=tuple(r for r in job.rooms if r.name in names),
        rules=tuple(_project_rule(r, names) for r in job.rules if r.name in names),
        assumptions=tuple(a for a in job.assumptions if _keeps_assumption(a, names)),
        faults=tuple(f for f in job.faults if f.subject is None or f.subject in names),
        requirements=(requirement,),
        years=job.years,
        seasons=job.seasons,
    )


def _keeps_assumption(assumption: Assumption, names: frozenset[str]) -> bool:
    tied = assumption_names(assumption)
    return bool(tied & names) or tied <= SHARED


def _closure(job: Job, requirement: Requirement) -> frozenset[str]:
    """The cone with the shared pseudo-names that it reads."""
    needs = _needs(job)
    roots = set(requirement_names(requirement))
    everything = isinstance(requirement.form, LeadsTo)
    for assumption in job.assumptions:
        tied = assumption_names(assumption)
        if everything or tied <= SHARED:
            roots |= tied
    found: set[str] = set()
    waiting = sorted(roots)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(sorted(needs.get(name, frozenset()) - found))
    return frozenset(found)


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
    for room in job.rooms:
        need((room.name,), (*room.entered_by, *room.seen_by))
        need(room.seen_by, (room.name,))
        if _assumption_binds(job, room):
            need(room.entered_by, (room.name,))
    for assumption in job.assumptions:
        tied = assumption_names(assumption)
        need(tied, tied)
    if job.site is not None and job.site.latitude_deg is not None:
        need((SUN, CLOCK), (SUN, CLOCK))
    return needs


def _assumption_binds(job: Job, room: Room) -> bool:
    """Whether an assumption on people or on a detector can reach through to the ways in."""
    seen = frozenset((room.name, *room.seen_by))
    return any(assumption_names(assumption) & seen for assumption in job.assumptions)


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

_NAME_FIELDS = frozenset(
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


def check_slice(job: Job, sliced: Job) -> tuple[str, ...]:
    """What is wrong with ``sliced`` as a slice of ``job``, in words; empty: nothing.

    Judges by the text of both alone, whatever way the slice was made.
    """
    wrong: list[str] = []
    wrong.extend(_check_parts(job, sliced))
    wrong.extend(_check_reads(sliced))
    wrong.extend(_check_writers(job, sliced))
    wrong.extend(_check_surroundings(job, sliced))
    return tuple(wrong)


def _declared(job: Job) -> frozenset[str]:
    items: tuple[Point | Door | Room | Rule, ...] = (
        *job.points,
        *job.doors,
        *job.rooms,
        *job.rules,
    )
    return frozenset(item.name for item in items)


def _check_parts(job: Job, sliced: Job) -> Iterator[str]:
    """Each part of the slice is the job's own, in declared order."""
    if sliced.site != job.site:
        yield "the slice has another site"
    if len(sliced.requirements) != 1:
        yield f"the slice has {len(sliced.requirements)} requirements, not one"
    groups: tuple[tuple[str, tuple[object, ...], tuple[object, ...]], ...] = (
        ("points", job.points, sliced.points),
        ("doors", job.doors, sliced.doors),
        ("rooms", job.rooms, sliced.rooms),
        ("assumptions", job.assumptions, sliced.assumptions),
        ("faults", job.faults, sliced.faults),
        ("requirements", job.requirements, sliced.requirements),
    )
    for title, whole, part in groups:
        if not _in_order(whole, part):
            yield f"the {title} of the slice are not those of the job, in declared order"
    if not _in_order(tuple(r.name for r in job.rules), tuple(r.name for r in sliced.rules)):
        yield "the rules of the slice are not those of the job, in declared order"
        return
    names = _declared(sliced)
    for rule in sliced.rules:
        original = job.rule[rule.name]
        if replace(original, body=()) != replace(rule, body=()):
            yield f"rule {rule.name} has another head in the slice"
        if not _same_body(original.body, rule.body, names):
            yield f"the body of rule {rule.name} differs by more than what is left out"


def _in_order(whole: tuple[object, ...], part: tuple[object, ...]) -> bool:
    """Whether ``part`` is a subsequence of ``whole``."""
    rest = iter(whole)
    return all(any(item == other for other in rest) for item in part)


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


def _mentions(value: object) -> Iterator[str]:
    """Every name that stands anywhere in a value, sun and clock too, by reflection."""
    if isinstance(value, tuple):
        for item in value:
            yield from _mentions(item)
    elif is_dataclass(value):
        if isinstance(value, Night | NightBegins | DayBegins):
            yield SUN
        if isinstance(value, Between | AtClock):
            yield CLOCK
        for field in fields(value):
            inside = getattr(value, field.name)
            if field.name not in _NAME_FIELDS:
                yield from _mentions(inside)
            elif isinstance(inside, str):
                yield inside
            elif isinstance(inside, tuple):
                yield from inside


def _check_reads(sliced: Job) -> Iterator[str]:
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
        for name in dict.fromkeys(_mentions(part)):
            if name not in names and name not in SHARED:
                yield f"{title} needs {name}, which is not in the slice"


def _check_writers(job: Job, sliced: Job) -> Iterator[str]:
    """No rule outside sets or cancels anything in the slice."""
    names = _declared(sliced)
    for rule in job.rules:
        if rule.name in names:
            continue
        for statement in statements_of(rule.body):
            match statement:
                case Put(target) | Fade(target):
                    if target in names:
                        yield f"rule {rule.name}, which is not in the slice, sets {target}"
                case Cancel(target):
                    if target in names:
                        yield f"rule {rule.name}, which is not in the slice, cancels {target}"
                case _:
                    pass


def _check_surroundings(job: Job, sliced: Job) -> Iterator[str]:
    """Doors and rooms are whole; every assumption and fault that touches the slice is in it."""
    names = _declared(sliced)
    for door in job.doors:
        touched = [n for n in (door.raised_by, door.lowered_by, door.moving_by) if n in names]
        if touched and door.name not in names:
            yield f"{touched[0]} belongs to door {door.name}, which is not in the slice"
    assumed = [frozenset(_mentions(a)) for a in job.assumptions]
    for room in job.rooms:
        inside = {room.name, *room.seen_by}
        bound = any(tied & inside for tied in assumed)
        touching = (*room.seen_by, *room.entered_by) if bound else room.seen_by
        touched = [n for n in touching if n in names]
        if touched and room.name not in names:
            yield f"{touched[0]} belongs to room {room.name}, which is not in the slice"
    read = _read_by(job, sliced)
    everything = any(isinstance(r.form, LeadsTo) for r in sliced.requirements)
    for assumption, tied in zip(job.assumptions, assumed, strict=True):
        touches = everything or bool(tied & read) or tied <= SHARED
        if touches and assumption not in sliced.assumptions:
            yield f"an assumption on {_listed(tied)} is not in the slice"
    for fault in job.faults:
        if _fault_touches(fault, names) and fault not in sliced.faults:
            yield f"a fault ({fault.kind.value}) is not in the slice"


def _read_by(job: Job, sliced: Job) -> frozenset[str]:
    """The names in the slice, with sun and clock where it reads them."""
    parts = (sliced.rules, sliced.requirements, sliced.assumptions)
    shared = {name for part in parts for name in _mentions(part) if name in SHARED}
    if shared and job.site is not None and job.site.latitude_deg is not None:
        shared |= {SUN, CLOCK}
    return _declared(sliced) | shared


def _fault_touches(fault: Fault, names: frozenset[str]) -> bool:
    return fault.subject is None or fault.subject in names


def _listed(names: frozenset[str]) -> str:
    return ", ".join(sorted(names))
