"""Random jobs put together from two or three, under other names, with one thing that ties them.

A single random job is nearly its own slice, so it says little of what is cut away, of what is
alike, or of what is kept. :mod:`tests.proof.composites` judges these in several ways.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from random import Random
from typing import Any

from tests.random_jobs import Maker, point
from tests.random_more import with_fades, with_reaction
from verifier.model.job import (
    NAME_FIELDS,
    AssumeAlways,
    AssumeStays,
    Assumption,
    Atom,
    Becomes,
    Cancel,
    Changes,
    Fault,
    FaultKind,
    Implies,
    Is,
    Job,
    Level,
    Night,
    Not,
    Or,
    Point,
    PointKind,
    Policy,
    PowerReturns,
    Put,
    Room,
    Rule,
    RuleStarts,
    Statement,
    Trigger,
    Wait,
)
from verifier.source import NOWHERE

# ---------------------------------------------------------------- jobs


def renamed(value: Any, prefix: str, names: frozenset[str]) -> Any:
    """A part of a job with ``prefix`` before each of ``names``, by reflection.

    Of a value such as `room` nothing becomes a name: names stand in fields of their own.
    """
    if isinstance(value, tuple):
        return tuple(renamed(item, prefix, names) for item in value)
    if not is_dataclass(value):
        return value
    inside: dict[str, Any] = {}
    for field in fields(value):
        held = getattr(value, field.name)
        if field.name not in NAME_FIELDS and field.name not in {"name", "label"}:
            inside[field.name] = renamed(held, prefix, names)
        elif isinstance(held, tuple):
            inside[field.name] = tuple(prefix + one if one in names else one for one in held)
        else:
            inside[field.name] = prefix + held if held in names else held
    kind: Any = type(value)
    return kind(**inside)


def composite(rng: Random) -> tuple[Job, str]:
    """A job of two or three parts, with a requirement for each and one of all; what ties them."""
    alike = rng.random() < 0.25
    seeds = [rng.randrange(10**9) for _ in range(2 + (rng.random() < 0.25))]
    if alike:
        seeds = [seeds[0]] * len(seeds)
    # What is alike stands under prefixes as of a typical, so that it can be seen to be twins.
    prefixes = ("a.", "b.", "c.") if alike else ("a_", "b_", "c_")
    parts: list[Job] = []
    for seed, prefix in zip(seeds, prefixes, strict=False):
        part, _ = Maker(Random(seed), size=1).job()
        names = frozenset({*part.point, *part.door, *part.room, *part.rule, "claim"})
        parts.append(renamed(part, prefix, names))
    faults = [fault for part in parts for fault in part.faults]
    job = Job(
        "composite",
        None,
        tuple(point for part in parts for point in part.points),
        tuple(door for part in parts for door in part.doors),
        tuple(room for part in parts for room in part.rooms),
        tuple(rule for part in parts for rule in part.rules),
        tuple(assumption for part in parts for assumption in part.assumptions),
        tuple(faults[:1]),
        tuple(requirement for part in parts for requirement in part.requirements),
    )
    what = rng.choice(list(JOINTS))
    job = JOINTS[what](rng, job, parts)
    if rng.random() < 0.3:
        job = shuffled(rng, job)
    return job, f"alike, {what}" if alike else what


def shuffled(rng: Random, job: Job) -> Job:
    """The job declared in another order."""

    def mixed(items: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(rng.sample(items, len(items)))

    return replace(
        job, points=mixed(job.points), rules=mixed(job.rules), assumptions=mixed(job.assumptions)
    )


def _inputs(part: Job) -> list[Point]:
    free = (p for p in part.points if p.kind.is_input and p.kind is not PointKind.BUTTON)
    return [p for p in free if p.name not in part.door_of_point]


def _outputs(part: Job) -> list[Point]:
    return [p for p in part.points if not p.kind.is_input]


def _set(rng: Random, point: Point) -> Statement:
    if point.kind is PointKind.DIMMER:
        return Put(point.name, Fraction(rng.choice((0, 100))), NOWHERE)
    return Put(point.name, rng.choice(point.kind.values), NOWHERE)


def _atom(rng: Random, point: Point) -> Atom:
    if point.kind is PointKind.DIMMER:
        return Level(point.name, rng.choice(("above", "at most")), Fraction(0))
    return Is(point.name, rng.choice(point.kind.values))


def _nothing(rng: Random, job: Job, parts: list[Job]) -> Job:
    return job


def _assumed(rng: Random, job: Job, parts: list[Job]) -> Job:
    """Inputs of two parts that never go together."""
    one, other = (_inputs(part) for part in parts[:2])
    if not one or not other:
        return job
    items = (_atom(rng, rng.choice(one)), _atom(rng, rng.choice(other)))
    condition = Implies(*items) if rng.random() < 0.5 else Or(items)
    return replace(job, assumptions=(*job.assumptions, AssumeAlways(condition, NOWHERE)))


def _by_the_sun(rng: Random, job: Job, parts: list[Job]) -> Job:
    """Inputs of two parts that have to do with each other through night and day alone."""
    found: list[Assumption] = []
    for number, part in enumerate(parts):
        inputs = _inputs(part)
        if inputs:
            sun = Night() if number % 2 == 0 else Not(Night())
            atom = _atom(rng, rng.choice(inputs))
            found.append(AssumeAlways(Implies(atom, sun), NOWHERE))
    return replace(job, assumptions=(*job.assumptions, *found))


def _sun_is_bound(rng: Random, job: Job, parts: list[Job]) -> Job:
    """A part's input that follows the sun, both ways, and an assumption on how long it stays."""
    inputs = _inputs(parts[0])
    if not inputs:
        return job
    chosen = rng.choice(inputs)
    first, second = (Is(chosen.name, word) for word in chosen.kind.values)
    both: tuple[Assumption, ...] = (
        AssumeAlways(Implies(first, Night()), NOWHERE),
        AssumeAlways(Implies(second, Not(Night())), NOWHERE),
        AssumeStays(first, rng.choice(("at least", "at most")), Fraction(2), NOWHERE),
    )
    return replace(job, assumptions=(*job.assumptions, *both[: 1 + rng.randrange(3)]))


def _power(rng: Random, job: Job, parts: list[Job]) -> Job:
    """Power cuts, and a rule of the last part that answers them."""
    rule = Rule(
        "back", "", Policy(1, 0, True), (Trigger(PowerReturns(), None, NOWHERE),), None,
        (_set(rng, rng.choice(_outputs(parts[-1]))),), NOWHERE,
    )  # fmt: skip
    cut = Fault(FaultKind.POWER_CUTS, None, None, NOWHERE)
    return replace(job, faults=(cut,), rules=(*job.rules, rule))


def _bridge(rng: Random, job: Job, parts: list[Job]) -> Job:
    """A rule that is set off by one part and acts on another."""
    source, target = rng.sample(parts, 2)
    read = rng.choice(_outputs(source))
    event: Any = rng.choice(
        (
            Becomes(_atom(rng, read)) if read.kind is not PointKind.DIMMER else Changes(read.name),
            RuleStarts(source.rules[0].name),
        )
    )
    body: tuple[Statement, ...] = (_set(rng, rng.choice(_outputs(target))),)
    if rng.random() < 0.4:
        body = (Wait(Fraction(1), NOWHERE), *body)
    if rng.random() < 0.3:
        body = (*body, Cancel(target.rules[0].name, NOWHERE))
    guard = _atom(rng, rng.choice(_outputs(target))) if rng.random() < 0.3 else None
    rule = Rule(
        "bridge", "", Policy(1, 0, rng.random() < 0.5), (Trigger(event, guard, NOWHERE),), None,
        body, NOWHERE,
    )  # fmt: skip
    at = rng.randrange(len(job.rules) + 1)
    return replace(job, rules=(*job.rules[:at], rule, *job.rules[at:]))


def _watcher(rng: Random, job: Job, parts: list[Job]) -> Job:
    """A rule that only looks: two parts decide what it does to a lamp of its own."""
    reads = [rng.choice(_outputs(part)) for part in parts[:2]]
    rule = Rule(
        "watch", "", Policy(1, 0, True), (Trigger(Changes(reads[0].name), None, NOWHERE),),
        _atom(rng, reads[1]), (Put("sign", "on", NOWHERE), Wait(Fraction(2), NOWHERE),
                               Put("sign", "off", NOWHERE)), NOWHERE,
    )  # fmt: skip
    return replace(
        job, points=(*job.points, point("sign", PointKind.LAMP)), rules=(rule, *job.rules)
    )


def _one_switch(rng: Random, job: Job, parts: list[Job]) -> Job:
    """One input of two parts is one and the same."""
    one, other = (_inputs(part) for part in parts[:2])
    pairs = [(p, q) for p in one for q in other if p.kind is q.kind]
    if not pairs:
        return job
    kept, gone = rng.choice(pairs)

    def same(value: Any) -> Any:
        if isinstance(value, tuple):
            return tuple(dict.fromkeys(same(item) for item in value))
        if value == gone.name:
            return kept.name
        if not is_dataclass(value):
            return value
        kind: Any = type(value)
        return kind(**{field.name: same(getattr(value, field.name)) for field in fields(value)})

    return replace(
        job,
        points=tuple(p for p in job.points if p.name != gone.name),
        rooms=tuple(same(room) for room in job.rooms),
        rules=tuple(_bodies(rule, same) for rule in job.rules),
        assumptions=tuple(same(one) for one in job.assumptions),
        requirements=tuple(same(one) for one in job.requirements),
    )


def _bodies(rule: Rule, same: Any) -> Rule:
    """A rule whose statements may be said twice, so they are not made one."""
    head: Rule = same(replace(rule, body=()))
    return replace(head, body=tuple(same(statement) for statement in rule.body))


def _a_room(rng: Random, job: Job, parts: list[Job]) -> Job:
    """A room that is entered in one part and seen in another."""
    ways = [p.name for p in _inputs(parts[0]) if p.kind is PointKind.CONTACT]
    seen = [p.name for p in _inputs(parts[1]) if p.kind is PointKind.DETECTOR]
    if not seen:
        return job
    still = Fraction(2) if rng.random() < 0.6 else None
    noticed = Fraction(1) if rng.random() < 0.5 else still
    room = Room("hall", "", tuple(ways[:1]), tuple(seen[:1]), still, noticed, None, NOWHERE)
    return replace(job, rooms=(*job.rooms, room))


def _reaction(rng: Random, job: Job, parts: list[Job]) -> Job:
    return with_reaction(rng, job)


def _faded(rng: Random, job: Job, parts: list[Job]) -> Job:
    return with_fades(rng, _bridge(rng, job, parts))


def _faulty(rng: Random, job: Job, parts: list[Job]) -> Job:
    """A fault of an input of the first part, and something that ties it to the second."""
    inputs = _inputs(parts[0])
    if not inputs:
        return job
    chosen = rng.choice(inputs)
    kind = rng.choice(
        (FaultKind.LOST_REPORTS, FaultKind.STUCK, FaultKind.BOUNCE, FaultKind.BROKEN_WIRE)
    )
    within = Fraction(1) if kind is FaultKind.BOUNCE else None
    faulty = replace(chosen, wireless=True, broken_wire_reads=rng.choice(chosen.kind.values))
    job = replace(
        job,
        points=tuple(faulty if p.name == chosen.name else p for p in job.points),
        faults=(*job.faults, Fault(kind, chosen.name, within, NOWHERE)),
    )
    return rng.choice((_assumed, _by_the_sun, _bridge, _nothing))(rng, job, parts)


JOINTS: dict[str, Any] = {
    "nothing": _nothing,
    "assumed together": _assumed,
    "by the sun": _by_the_sun,
    "the sun is bound": _sun_is_bound,
    "power cuts": _power,
    "a bridge": _bridge,
    "a watcher": _watcher,
    "one input": _one_switch,
    "a room": _a_room,
    "reaction": _reaction,
    "fades": _faded,
    "a fault": _faulty,
}
"""What ties the parts."""


def edited(rng: Random, job: Job) -> Job:
    """The job after an edit: another figure, order, start, or a rule less."""
    kind = rng.randrange(5)
    if kind == 0:
        return shuffled(rng, job)
    if kind == 1:
        point = rng.choice([p for p in job.points if not p.kind.is_input])
        starts: Any = Fraction(100) if point.kind is PointKind.DIMMER else point.kind.values[1]
        return replace(
            job,
            points=tuple(
                replace(p, starts=None if p.starts else starts) if p is point else p
                for p in job.points
            ),
        )
    if kind == 2 and job.assumptions:
        return replace(job, assumptions=job.assumptions[:-1])
    number = rng.randrange(len(job.rules))
    rule = job.rules[number]
    if kind == 3:
        waits = [k for k, s in enumerate(rule.body) if isinstance(s, Wait)]
        if waits:
            at = rng.choice(waits)
            wait = rule.body[at]
            assert isinstance(wait, Wait)
            longer = replace(wait, for_s=wait.for_s + 1)
            body = (*rule.body[:at], longer, *rule.body[at + 1 :])
        else:
            body = (*rule.body, *(s for s in rule.body if isinstance(s, Put)))
        changed = replace(rule, body=body)
    else:
        changed = replace(rule, policy=replace(rule.policy, oldest_gives_way=False))
    return replace(job, rules=(*job.rules[:number], changed, *job.rules[number + 1 :]))
