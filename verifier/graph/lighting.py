"""What the structure shows about lamps: what turns them on, what turns them off, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.graph.access import event_name, rule_access
from verifier.graph.logic import implied
from verifier.graph.values import Structure
from verifier.model.job import (
    AssumeStays,
    Becomes,
    Changes,
    Event,
    Fade,
    HasStayed,
    Is,
    Job,
    Night,
    NightBegins,
    Point,
    Policy,
    Pressed,
    Put,
    Rule,
    Statement,
    Value,
    Wait,
    WaitUntil,
    statements_of,
)

Setting = Put | Fade


@dataclass(frozen=True, slots=True)
class Drive:
    """A statement by which a rule turns a lamp, dimmer or load on or off."""

    rule: Rule
    lamp: str
    lit: bool
    statement: Setting


def lighting_findings(structure: Structure) -> tuple[Diagnostic, ...]:
    """The findings about each lamp, dimmer and load, in declared order; then about rules."""
    job = structure.job
    alive = tuple(rule for rule in job.rules if rule.name in structure.alive)
    drives = tuple(drive for rule in alive for drive in drives_of(rule))
    by_lamp: dict[str, list[Drive]] = {}
    for drive in drives:
        by_lamp.setdefault(drive.lamp, []).append(drive)
    found: list[Diagnostic] = []
    for point in job.points:
        if point.kind.is_output:
            own = tuple(by_lamp.get(point.name, ()))
            found.extend(_never_off(point, own))
            found.extend(_two_drivers(point, own))
            found.extend(_outlives_guard(structure, point, own))
    whole = _Whole(job)
    for rule in alive:
        found.extend(_timed_from_occupied(whole, rule))
    return tuple(found)


class _Whole:
    """Who sets, stops, fails and is assumed what in a job, by name."""

    def __init__(self, job: Job) -> None:
        self.access = {rule.name: rule_access(rule) for rule in job.rules}
        self.touching: dict[str, list[str]] = {}
        """Rules that set a point or cancel a rule, by its name."""
        for name, access in self.access.items():
            for touched in access.writes | access.cancels:
                self.touching.setdefault(touched, []).append(name)
        self.failing = frozenset(fault.subject for fault in job.faults)
        self.staying: dict[str, list[AssumeStays]] = {}
        for assumption in job.assumptions:
            if isinstance(assumption, AssumeStays):
                self.staying.setdefault(assumption.atom.subject, []).append(assumption)


def drives_of(rule: Rule) -> tuple[Drive, ...]:
    """Every setting of a point in the body of a rule, in order of the text."""
    found: list[Drive] = []
    for statement in statements_of(rule.body):
        match statement:
            case Put(lamp, value):
                found.append(Drive(rule, lamp, is_lit(value), statement))
            case Fade(lamp, percent):
                found.append(Drive(rule, lamp, is_lit(percent), statement))
            case _:
                pass
    return tuple(found)


def is_lit(value: Value) -> bool:
    """Whether a lamp with this value gives light."""
    return value > 0 if isinstance(value, Fraction) else value == "on"


def _never_off(point: Point, own: tuple[Drive, ...]) -> Iterator[Diagnostic]:
    if own and all(drive.lit for drive in own) and not point.local_switch:
        yield Diagnostic(
            "never-turned-off",
            Severity.WARNING,
            f"{point.name} is turned on, and no rule turns it off",
            (Label(own[0].statement.span, "turned on here"), Label(point.span)),
            "Add the `off`: in the same rule after a wait, or in a rule of its own.",
        )


def _two_drivers(point: Point, own: tuple[Drive, ...]) -> Iterator[Diagnostic]:
    """A lamp that one rule turns on and another one off; all rules that set it are named."""
    first: dict[str, Drive] = {}
    for drive in own:
        first.setdefault(drive.rule.name, drive)
    lit = {drive.rule.name for drive in own if drive.lit}
    dark = {drive.rule.name for drive in own if not drive.lit}
    if lit and dark and len(lit | dark) > 1:
        yield Diagnostic(
            "two-drivers",
            Severity.NOTE,
            f"{point.name} is set by more than one rule: {', '.join(first)}",
            tuple(Label(drive.statement.span, f"by {name}") for name, drive in first.items()),
            "One rule's `off` may cut another's time short: have a requirement say what must hold.",
        )


# ---------------------------------------------------------------- timed from arrival


def _timed_from_occupied(whole: _Whole, rule: Rule) -> Iterator[Diagnostic]:
    """A light that is on for a fixed time from `becomes occupied`, with nothing to renew it.

    Not where the rule knows more of the detector (it becomes vacant, a guard or condition reads
    it), another rule that knows it sets the lamp or cancels the rule, or the job assumes that it
    is not occupied for longer than the light is on.
    """
    put = _on_wait_off(rule)
    if put is None:
        return
    for detector in _arrivals(rule):
        if not _renewed(whole, rule, put, detector) and not _ends_before(
            whole, rule, put, detector
        ):
            yield Diagnostic(
                "timed-from-occupied",
                Severity.NOTE,
                f"{_target(put)} is timed from the moment at which {detector} becomes occupied: it "
                "can go off while somebody is still seen",
                (Label(put.span),),
                f"Let the time begin when {detector} becomes vacant, or wait until it `has "
                "stayed vacant for` that long.",
            )


def _arrivals(rule: Rule) -> tuple[str, ...]:
    """The detectors that a rule knows by `becomes occupied` alone."""
    access = rule_access(rule)
    found: list[str] = []
    for trigger in rule.triggers:
        match trigger.event:
            case Becomes(Is(name, "occupied")) if name not in access.guards | access.body:
                events = [t.event for t in rule.triggers if event_name(t.event) == name]
                if all(event == trigger.event for event in events):
                    found.append(name)
            case _:
                pass
    return tuple(dict.fromkeys(found))


def _renewed(whole: _Whole, rule: Rule, put: Setting, detector: str) -> bool:
    """Whether another rule that knows the detector sets the lamp or stops the rule."""
    touching = (*whole.touching.get(_target(put), ()), *whole.touching.get(rule.name, ()))
    return any(name != rule.name and detector in whole.access[name].reads for name in touching)


def _ends_before(whole: _Whole, rule: Rule, put: Setting, detector: str) -> bool:
    """Whether the job assumes that the detector is vacant again when the light goes off.

    Only where each time that it becomes occupied the light's time begins anew.
    """
    if rule.policy != Policy(1, 0, True) or rule.provided is not None:
        return False
    if detector in whole.failing:
        return False  # a report that does not come renews nothing
    arrival = Becomes(Is(detector, "occupied"))
    if not any(t.event == arrival and t.guard is None for t in rule.triggers):
        return False
    before = rule.body[: next(n for n, s in enumerate(rule.body) if s is put)]
    lit_s = sum((_length_s(statement) for statement in before), Fraction(0))
    return any(
        a.atom == Is(detector, "occupied") and a.bound == "at most" and a.seconds <= lit_s
        for a in whole.staying.get(detector, ())
    )


def _length_s(statement: Statement) -> Fraction:
    """How long a statement takes at the least."""
    match statement:
        case Wait(seconds) | Fade(_, _, seconds):
            return seconds
        case _:
            return Fraction(0)


def _target(statement: Setting) -> str:
    return statement.point if isinstance(statement, Put) else statement.dimmer


def _on_wait_off(rule: Rule) -> Setting | None:
    """The statement that turns something off after it was turned on and a plain wait."""
    on: set[str] = set()
    waited = False
    for statement in rule.body:
        match statement:
            case Wait():
                waited = True
            case WaitUntil():
                return None
            case Put() | Fade():
                if _lights(statement):
                    on.add(_target(statement))
                elif waited and _target(statement) in on:
                    return statement
                waited = waited or isinstance(statement, Fade)
            case _:
                pass
    return None


def _lights(statement: Setting) -> bool:
    return is_lit(statement.value if isinstance(statement, Put) else statement.percent)


# ---------------------------------------------------------------- outlives its guard


def _outlives_guard(
    structure: Structure, point: Point, own: tuple[Drive, ...]
) -> Iterator[Diagnostic]:
    """A light that only the night turns on and only the surroundings turn off.

    Not where its own rule turns it off again, or time, sun or another rule's work may do so. A
    lamp that nothing turns off has a finding of its own.
    """
    lit = [drive for drive in own if drive.lit]
    dark = [drive for drive in own if not drive.lit]
    if not lit or not dark:
        return
    dark_rules = {drive.rule.name for drive in dark}
    if any(drive.rule.name in dark_rules for drive in lit):
        return
    by_night = all(_only_by_night(structure, drive.rule) for drive in lit)
    outside = all(_by_surroundings(structure.job, drive.rule) for drive in dark)
    if by_night and outside:
        yield Diagnostic(
            "outlives-guard",
            Severity.NOTE,
            f"{point.name} is turned on by night only, and can stay on when day begins",
            (
                Label(lit[0].statement.span, "turned on by night"),
                Label(dark[0].statement.span, "turned off only when this happens"),
            ),
            "Turn it off `upon day begins`, or after a wait.",
        )


def _only_by_night(structure: Structure, rule: Rule) -> bool:
    return all(
        implied(Night(), structure.guards_of(rule, trigger), structure.domains)
        for trigger in rule.triggers
    )


def _by_surroundings(job: Job, rule: Rule) -> bool:
    """Whether a rule is triggered only by what comes from outside and may never come."""
    return all(_from_outside(job, trigger.event) for trigger in rule.triggers)


def _from_outside(job: Job, event: Event) -> bool:
    match event:
        case Becomes() | Changes() | HasStayed() | Pressed():
            name = event_name(event)
            return name in job.point and job.point[name].kind.is_input
        case NightBegins():
            return True
        case _:
            return False
