"""What is wrong, or worth a look, in the structure of a job's rules, without any proof.

Only what the graph shows for certain is a warning; what may well be meant is a note.
"""

from __future__ import annotations

from collections.abc import Iterator

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.graph.access import (
    assumption_names,
    condition_names,
    requirement_names,
    rule_access,
)
from verifier.graph.branches import BranchCondition, branch_conditions
from verifier.graph.calendar_findings import calendar_findings
from verifier.graph.flow import flow_of
from verifier.graph.lighting import lighting_findings
from verifier.graph.logic import Domains, implied, satisfiable
from verifier.graph.twins import twins_of
from verifier.graph.values import Structure, structure_of
from verifier.model.job import (
    If,
    Job,
    Not,
    PowerReturns,
    Put,
    Repeat,
    Rule,
    Running,
    Statement,
    WaitUntil,
    can_wait,
    statements_of,
)
from verifier.model.words import event_words, policy_words, words


def findings(job: Job) -> tuple[Diagnostic, ...]:
    """What the structure of a job's rules shows, in order of the text."""
    twins = twins_of(job)
    found = twins.told_of_all(_findings(twins.firsts))
    if found is None:
        found = _findings(job)
    return tuple(sorted(found, key=lambda d: (d.labels[0].span.file, d.labels[0].span.start)))


def _findings(job: Job) -> list[Diagnostic]:
    structure = structure_of(job)
    return [
        *_never_fires(job, structure),
        *_events(job, structure),
        *branch_findings(job, branch_conditions(job), structure.domains),
        *_never_reached(job, structure),
        *_waits(job),
        *_unused(job),
        *_waiting_triggers(job),
        *lighting_findings(structure),
        *calendar_findings(job),
    ]


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
                "Look at what would have to change: a flag that nobody sets, an output that no rule "
                "drives, a guard that contradicts its event.",
                Label(rule.span),
            )


def _events(job: Job, structure: Structure) -> Iterator[Diagnostic]:
    """Events that never happen, of rules that others can trigger."""
    for rule in job.rules:
        for trigger in rule.triggers:
            if rule.name not in structure.alive or structure.event_can_happen(trigger.event):
                continue
            said = event_words(trigger.event)
            if isinstance(trigger.event, PowerReturns):
                yield _note(
                    "power-cuts-not-considered",
                    f"`{said}` never happens: power cuts are not considered",
                    "Write `consider power cuts`, so that what this line does is proved too.",
                    Label(trigger.span),
                )
            else:
                yield _warning(
                    "event-never-happens",
                    f"`{said}` never happens: nothing can bring it about",
                    "Let something set what the line waits for, or take the line out.",
                    Label(trigger.span),
                )


def _never_reached(job: Job, structure: Structure) -> Iterator[Diagnostic]:
    for rule in job.rules:
        for statement in flow_of(rule).dead if rule.name in structure.alive else ():
            yield _warning(
                "statement-never-reached",
                f"`{words(statement)}` is never reached: the run has ended before it",
                "Move it in front of what ends the run, or take it out.",
                Label(statement.span),
            )


def branch_findings(
    job: Job, every: tuple[BranchCondition, ...], domains: Domains | None = None
) -> Iterator[Diagnostic]:
    """What is told of guards and branches that cannot be true, or not false.

    With ``domains`` what is known is known by structure; without, by proof, for all runs.
    """
    open_guards = {b.rule for b in every if b.kind == "provided" and b.can_be_false}
    for branch in every:
        if not branch.reached or not branch.exact:
            continue
        if branch.kind == "wait until":
            # By structure it is known as it is when the run comes there; it may come true later.
            never = not (
                satisfiable((branch.condition,), domains) if domains else branch.can_be_true
            )
            if never:
                yield from _always_false(branch, words(branch.condition), _limit_at(job, branch))
            continue
        needed = branch.kind == "provided" and branch.rule in open_guards
        if needed and branch.can_be_true:
            continue  # it is there for another of the rule's events
        said = words(branch.condition)
        if not branch.can_be_true:
            yield from _always_false(branch, said)
        elif not branch.can_be_false and branch.kind in ("provided", "upon", "if", "elsif"):
            yield _note(
                "guard-always-true",
                f"`{said}` is always true where it is read here",
                "Leave it out, or look whether another condition was meant.",
                Label(branch.span),
            )


def _limit_at(job: Job, branch: BranchCondition) -> bool:
    """Whether a wait has an ``at most``."""
    return any(
        isinstance(s, WaitUntil) and s.span == branch.span and s.at_most_s is not None
        for s in statements_of(job.rule[branch.rule].body)
    )


def _always_false(
    branch: BranchCondition, said: str, limited: bool = False
) -> Iterator[Diagnostic]:
    match branch.kind:
        case "wait until":
            what = "this wait always times out" if limited else "the run waits here for ever"
            hint = "Wait for something that can happen"
            yield _warning(
                "wait-without-way-out",
                f"nothing can ever make `{said}` true: {what}",
                f"{hint}." if limited else f"{hint}, or add `, at most …` and say what then.",
                Label(branch.span),
            )
        case "until":
            yield _warning(
                "wait-without-way-out",
                f"nothing can ever make `{said}` true: the `repeat` goes round for ever",
                "Repeat until something that can happen.",
                Label(branch.span),
            )
        case "if" | "elsif":
            yield _warning(
                "branch-never-reached",
                f"`{said}` is never true where it is read here: its branch is never reached",
                "Take the branch out, or look whether another condition was meant.",
                Label(branch.span),
            )
        case _:
            yield _warning(
                "guard-always-false",
                f"`{said}` is never true when this event happens",
                "Take the line out, or look whether another condition was meant.",
                Label(branch.span),
            )


def _waits(job: Job) -> Iterator[Diagnostic]:
    """Waits on the surroundings alone, without a limit, with something still to put off behind."""
    limits = frozenset(name for d in job.doors for name in (d.raised_by, d.lowered_by))
    for rule in job.rules:
        yield from _waits_in(limits, rule.body)


def _waits_in(limits: frozenset[str], body: tuple[Statement, ...]) -> Iterator[Diagnostic]:
    for place, statement in enumerate(body):
        match statement:
            case WaitUntil(condition, None, span):
                doors = condition_names(condition) & limits
                behind = any(isinstance(s, Put) for s in statements_of(body[place + 1 :]))
                if doors and behind:
                    yield _note(
                        "wait-without-limit",
                        f"`{words(condition)}` may never come true: a door can stop part way",
                        "Add `, at most …`, and what to do when it has `timed out`.",
                        Label(span),
                    )
            case If(branches, otherwise):
                for branch in branches:
                    yield from _waits_in(limits, branch.body)
                yield from _waits_in(limits, otherwise)
            case Repeat(inner):
                yield from _waits_in(limits, inner)
            case _:
                pass


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
                "Use it in a rule or a requirement, or take it out.",
                Label(point.span),
            )


def _waiting_triggers(job: Job) -> Iterator[Diagnostic]:
    for rule in job.rules:
        if not rule.policy.waiting:
            continue
        if not can_wait(rule):
            why = "its body has no wait, so no run is ever in the way"
        elif _starts_alone(job, rule):
            why = "its guard asks that it is not running"
        else:
            continue
        yield _warning(
            "waiting-never-needed",
            f"triggers of {rule.name} never wait: {why}",
            f"Leave `{policy_words(rule.policy)}` out."
            if not can_wait(rule)
            else "Leave the waiting out, or the part of the guard.",
            Label(rule.span),
        )


def _starts_alone(job: Job, rule: Rule) -> bool:
    """Whether a trigger that comes while the rule is running always finds its guard false."""
    guards = [
        tuple(guard for guard in (rule.provided, trigger.guard) if guard is not None)
        for trigger in rule.triggers
    ]
    return all(implied(Not(Running(rule.name)), guard, Domains(job)) for guard in guards)
