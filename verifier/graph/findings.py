"""What is wrong, or worth a look, in the structure of a job's rules, without any proof.

Only what the graph shows for certain is a warning; what may well be meant is a note.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.graph.access import (
    SUN,
    assumption_names,
    condition_names,
    event_name,
    requirement_names,
    rule_access,
)
from verifier.graph.branches import BranchCondition, branch_conditions
from verifier.graph.logic import satisfiable
from verifier.graph.values import Structure, structure_of
from verifier.model.job import (
    Becomes,
    Changes,
    DayBegins,
    HasStayed,
    If,
    Is,
    Job,
    Point,
    Put,
    Repeat,
    Rule,
    Statement,
    Wait,
    WaitUntil,
    can_wait,
    statements_of,
)
from verifier.model.words import words


def findings(job: Job) -> tuple[Diagnostic, ...]:
    """What the structure of a job's rules shows, in order of the text."""
    structure = structure_of(job)
    found = [
        *_never_fires(job, structure),
        *_branches(job, structure),
        *_waits(job),
        *_outputs(job, structure),
        *_unused(job),
        *_timed_from_occupied(job),
        *_outlives_guard(job),
        *_waiting_triggers(job),
    ]
    return tuple(sorted(found, key=lambda d: (d.labels[0].span.file, d.labels[0].span.start)))


def _warning(code: str, message: str, hint: str, *labels: Label) -> Diagnostic:
    return Diagnostic(code, Severity.WARNING, message, labels, hint)


def _note(code: str, message: str, hint: str, *labels: Label) -> Diagnostic:
    return Diagnostic(code, Severity.NOTE, message, labels, hint)


def _never_fires(job: Job, structure: Structure) -> Iterator[Diagnostic]:
    for rule in job.rules:
        if rule.name not in structure.alive:
            yield _warning(
                "rule-never-fires",
                f"rule {rule.name} can never fire: none of its events can happen with its guard true",
                "look at what would have to change: a flag that nobody sets, an output that no rule "
                "drives, a guard that contradicts its event",
                Label(rule.span),
            )


def _branches(job: Job, structure: Structure) -> Iterator[Diagnostic]:
    every = branch_conditions(job, structure)
    for branch in every:
        if not branch.reached or not branch.exact:
            continue
        if branch.kind == "wait until":
            # It is read when the run comes there; later it may still come true.
            if not satisfiable((branch.condition,), structure.domains):
                yield from _always_false(branch, words(branch.condition))
            continue
        needed = branch.kind == "provided" and any(
            other.can_be_false
            for other in every
            if other.kind == "provided" and other.rule == branch.rule
        )
        if needed and branch.can_be_true:
            continue  # it is there for another of the rule's events
        said = words(branch.condition)
        if not branch.can_be_true:
            yield from _always_false(branch, said)
        elif not branch.can_be_false and branch.kind in ("provided", "upon", "if", "elsif"):
            yield _note(
                "guard-always-true",
                f"`{said}` is always true where it is read here",
                "leave it out, or look whether another condition was meant",
                Label(branch.span),
            )


def _always_false(branch: BranchCondition, said: str) -> Iterator[Diagnostic]:
    match branch.kind:
        case "wait until":
            yield _warning(
                "wait-without-way-out",
                f"nothing can ever make `{said}` true: the run waits here for ever",
                "wait for something that can happen, or add `, at most …` and say what then",
                Label(branch.span),
            )
        case "until":
            yield _warning(
                "wait-without-way-out",
                f"nothing can ever make `{said}` true: the `repeat` goes round for ever",
                "repeat until something that can happen",
                Label(branch.span),
            )
        case "if" | "elsif":
            yield _warning(
                "branch-never-reached",
                f"`{said}` is never true where it is read here: its branch is never reached",
                "take the branch out, or look whether another condition was meant",
                Label(branch.span),
            )
        case _:
            yield _warning(
                "guard-always-false",
                f"`{said}` is never true when this event happens",
                "take the line out, or look whether another condition was meant",
                Label(branch.span),
            )


def _waits(job: Job) -> Iterator[Diagnostic]:
    """Waits on the surroundings alone, without a limit, with something still to put off behind."""
    for rule in job.rules:
        yield from _waits_in(job, rule, rule.body)


def _waits_in(job: Job, rule: Rule, body: tuple[Statement, ...]) -> Iterator[Diagnostic]:
    for place, statement in enumerate(body):
        match statement:
            case WaitUntil(condition, None, span):
                names = condition_names(condition)
                limits = {n for d in job.doors for n in (d.raised_by, d.lowered_by)}
                doors = names & limits
                behind = any(isinstance(s, Put) for s in statements_of(body[place + 1 :]))
                if doors and behind:
                    yield _note(
                        "wait-without-limit",
                        f"`{words(condition)}` may never come true: a door can stop part way",
                        "add `, at most …`, and what to do when it has `timed out`",
                        Label(span),
                    )
            case If(branches, otherwise):
                for branch in branches:
                    yield from _waits_in(job, rule, branch.body)
                yield from _waits_in(job, rule, otherwise)
            case Repeat(inner):
                yield from _waits_in(job, rule, inner)
            case _:
                pass


def _puts(job: Job, point: Point, structure: Structure) -> list[tuple[Rule, Put]]:
    return [
        (rule, statement)
        for rule in job.rules
        if rule.name in structure.alive
        for statement in statements_of(rule.body)
        if isinstance(statement, Put) and statement.point == point.name
    ]


def _is_off(statement: Put) -> bool:
    return statement.value == "off" or statement.value == Fraction(0)


def _outputs(job: Job, structure: Structure) -> Iterator[Diagnostic]:
    for point in job.points:
        if not point.kind.is_output:
            continue
        puts = _puts(job, point, structure)
        on = [put for _, put in puts if not _is_off(put)]
        if on and not any(_is_off(put) for _, put in puts) and not point.local_switch:
            yield _warning(
                "never-turned-off",
                f"{point.name} is turned on, and no rule turns it off",
                "add the `off`: in the same rule after a wait, or in a rule of its own",
                Label(on[0].span, "turned on here"),
                Label(point.span),
            )
        rules = list(dict.fromkeys(rule.name for rule, _ in puts))
        if len(rules) > 1:
            first = [next(put for rule, put in puts if rule.name == name) for name in rules]
            yield _note(
                "two-drivers",
                f"{point.name} is set by more than one rule: {', '.join(rules)}",
                "one rule's `off` may cut another's time short: have a requirement say what must hold",
                *(Label(put.span, f"by {name}") for name, put in zip(rules, first, strict=True)),
            )


def _unused(job: Job) -> Iterator[Diagnostic]:
    used: set[str] = set()
    for rule in job.rules:
        access = rule_access(rule)
        used |= access.reads | access.writes
    for door in job.doors:
        used |= {door.raised_by, door.lowered_by, door.moving_by or ""}
    for room in job.rooms:
        used |= {*room.entered_by, *room.seen_by}
    for assumption in job.assumptions:
        used |= assumption_names(assumption)
    for requirement in job.requirements:
        used |= requirement_names(requirement)
    for point in job.points:
        if point.name not in used:
            yield _warning(
                "point-unused",
                f"{point.name} is declared, and nothing uses it",
                "use it in a rule or a requirement, or take it out",
                Label(point.span),
            )


def _timed_from_occupied(job: Job) -> Iterator[Diagnostic]:
    for rule in job.rules:
        seen = [
            trigger.event.atom.subject
            for trigger in rule.triggers
            if isinstance(trigger.event, Becomes)
            and isinstance(trigger.event.atom, Is)
            and trigger.event.atom.value == "occupied"
        ]
        others = {
            event_name(trigger.event)
            for trigger in rule.triggers
            if isinstance(trigger.event, Changes | HasStayed)
        }
        inside = rule_access(rule).body
        for detector in seen:
            put = _on_wait_off(rule)
            if put is not None and detector not in others and detector not in inside:
                yield _note(
                    "timed-from-occupied",
                    f"{put.point} is timed from the moment at which {detector} becomes occupied: it "
                    "can go off while somebody is still seen",
                    f"let the time begin when {detector} becomes vacant, or wait until it `has "
                    "stayed vacant for` that long",
                    Label(put.span),
                )


def _on_wait_off(rule: Rule) -> Put | None:
    """The statement that turns something off after it was turned on and a plain wait."""
    on: set[str] = set()
    waited = False
    for statement in rule.body:
        match statement:
            case Put(point) if not _is_off(statement):
                on.add(point)
            case Wait():
                waited = True
            case WaitUntil():
                return None
            case Put(point) if waited and point in on:
                return statement
            case _:
                pass
    return None


def _outlives_guard(job: Job) -> Iterator[Diagnostic]:
    off_by_day = {
        statement.point
        for rule in job.rules
        if any(isinstance(trigger.event, DayBegins) for trigger in rule.triggers)
        for statement in statements_of(rule.body)
        if isinstance(statement, Put) and _is_off(statement)
    }
    for rule in job.rules:
        if SUN not in condition_names(rule.provided):
            continue
        left: dict[str, Put] = {}
        for statement in statements_of(rule.body):
            if isinstance(statement, Put) and job.point[statement.point].kind.is_output:
                if _is_off(statement):
                    left.pop(statement.point, None)
                else:
                    left[statement.point] = statement
        for name, put in left.items():
            if name not in off_by_day:
                yield _note(
                    "outlives-guard",
                    f"{name} is turned on by night only, and stays on when day begins",
                    "turn it off `upon day begins`, or after a wait",
                    Label(put.span),
                )


def _waiting_triggers(job: Job) -> Iterator[Diagnostic]:
    for rule in job.rules:
        if rule.policy.waiting and not can_wait(rule):
            yield _warning(
                "waiting-never-needed",
                f"triggers of {rule.name} never wait: its body has no wait, so no run is ever in the way",
                "leave the policy out",
                Label(rule.span),
            )
