"""Rules: heads, policies and bodies."""

from __future__ import annotations

from collections.abc import Iterator
from typing import assert_never

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.model import job
from verifier.model.conditions import Place, condition, event
from verifier.model.job import Door, Point, PointKind, Room, Setting
from verifier.model.names import Names, RuleName, kind_of
from verifier.model.points import dimmer_level
from verifier.model.report import joined

MOST_RUNS = 16
"""The largest N of ``at once N`` and M of ``waiting M``."""


def rule(node: tree.Rule, name: str, names: Names) -> job.Rule:
    """A rule; what is wrong in it is reported and left out."""
    triggers: list[job.Trigger] = []
    policies: list[tree.Policy] = []
    provided: list[tree.Provided] = []
    for line in node.head:
        match line:
            case tree.Policy():
                policies.append(line)
            case tree.Provided():
                provided.append(line)
            case tree.Upon():
                happening = event(line.event, names, Place.HEAD)
                guard = None if line.guard is None else condition(line.guard, names, Place.HEAD)
                if happening is not None:
                    triggers.append(job.Trigger(happening, guard, line.span))
    _check_head(node, policies, provided, names)
    _check_timed_out(node, names)
    return job.Rule(
        name=name,
        label=node.label.text if node.label else "",
        policy=_policy(node, policies, names),
        triggers=tuple(triggers),
        provided=condition(provided[0].condition, names, Place.HEAD) if provided else None,
        body=_body(node.body, names),
        span=node.name.span,
    )


def _check_head(
    node: tree.Rule, policies: list[tree.Policy], provided: list[tree.Provided], names: Names
) -> None:
    report = names.report
    if not any(isinstance(line, tree.Upon) for line in node.head):
        report.error(
            "no-upon",
            f"nothing triggers the rule {node.name.text}",
            node.name.span,
            "Write `upon EVENT` before its `do`.",
        )
    for second in policies[1:]:
        report.error(
            "given-twice",
            "a rule says once what a trigger does while it is running",
            second.span,
            "Take one of them out.",
            also=(Label(policies[0].span, "the first one"),),
        )
    for again in provided[1:]:
        report.error(
            "given-twice",
            "a rule has one `provided` for all its events",
            again.span,
            "Join the two conditions with `and`.",
            also=(Label(provided[0].span, "the first one"),),
        )
    if not node.body:
        report.warning(
            "empty-body",
            f"the rule {node.name.text} does nothing",
            node.name.span,
            "Write statements between `do` and `end rule`.",
        )
    if not policies and any(_rests(statement) for statement in _all_statements(node.body)):
        waiting = next(each for each in _all_statements(node.body) if _rests(each))
        report.error(
            "missing-policy",
            f"the rule {node.name.text} can wait, and does not say what a trigger does while it is running",
            node.name.span,
            "Write `retriggerable` (start anew), `non-retriggerable` (drop the trigger), or `at once N` "
            "(side by side) before its `upon`.",
            also=(Label(waiting.span, "it waits here"),),
        )


def _check_timed_out(node: tree.Rule, names: Names) -> None:
    """``timed out`` is always false where no ``wait until`` of the body has a time limit."""
    statements = tuple(_all_statements(node.body))
    if any(isinstance(each, tree.WaitUntil) and each.at_most is not None for each in statements):
        return
    for statement in statements:
        for leaf in _conditions_of(statement):
            if any(isinstance(part, tree.TimedOut) for part in _parts(leaf)):
                names.report.warning(
                    "never-timed-out",
                    f"`timed out` is never true in {node.name.text}: no `wait until` of it has a time limit",
                    next(part.span for part in _parts(leaf) if isinstance(part, tree.TimedOut)),
                    "Write `wait until CONDITION, at most 30 s` before it is asked.",
                )


def _conditions_of(statement: tree.Statement) -> tuple[tree.Condition, ...]:
    match statement:
        case tree.WaitUntil(condition):
            return (condition,)
        case tree.If(arms):
            return tuple(arm.condition for arm in arms)
        case tree.Repeat(_, until):
            return (until,)
        case _:
            return ()


def _parts(node: tree.Condition) -> Iterator[tree.Condition]:
    """The leaves of a condition, left to right."""
    match node:
        case tree.Not(item) | tree.Group(item):
            yield from _parts(item)
        case tree.And(items) | tree.Or(items):
            for item in items:
                yield from _parts(item)
        case tree.Implies(left, right):
            yield from _parts(left)
            yield from _parts(right)
        case _:
            yield node


def _rests(statement: tree.Statement) -> bool:
    return isinstance(statement, tree.Wait | tree.WaitUntil | tree.Fade)


def _all_statements(body: tuple[tree.Statement, ...]) -> Iterator[tree.Statement]:
    for statement in body:
        yield statement
        match statement:
            case tree.If(arms, otherwise):
                for arm in arms:
                    yield from _all_statements(arm.body)
                yield from _all_statements(otherwise or ())
            case tree.Repeat(inner):
                yield from _all_statements(inner)
            case _:
                pass


def _policy(node: tree.Rule, policies: list[tree.Policy], names: Names) -> job.Policy:
    if not policies:
        return job.Policy(1, 0, False)
    policy = policies[0]
    if policy.word == "retriggerable":
        return job.Policy(1, 0, True)
    if policy.word == "non-retriggerable" or policy.at_once is None:
        return job.Policy(1, 0, False)
    at_once = names.count(policy.at_once, 1, MOST_RUNS, "the number of runs at once")
    waiting = (
        0
        if policy.waiting is None
        else names.count(policy.waiting, 1, MOST_RUNS, "the number of triggers that wait")
    )
    return job.Policy(at_once or 1, waiting or 0, policy.oldest_gives_way)


# ---------------------------------------------------------------- bodies


def _body(body: tuple[tree.Statement, ...], names: Names) -> tuple[job.Statement, ...]:
    found = (_statement(statement, names) for statement in body)
    return tuple(statement for statement in found if statement is not None)


def _statement(node: tree.Statement, names: Names) -> job.Statement | None:
    match node:
        case tree.Put():
            return _put(node, names)
        case tree.Fade():
            return _fade(node, names)
        case tree.Wait():
            seconds = names.duration(node.duration, above_zero=True)
            return None if seconds is None else job.Wait(seconds, node.span)
        case tree.WaitUntil():
            until = condition(node.condition, names, Place.BODY)
            at_most = (
                None if node.at_most is None else names.duration(node.at_most, above_zero=True)
            )
            return None if until is None else job.WaitUntil(until, at_most, node.span)
        case tree.If():
            branches = tuple(_branch(arm, names) for arm in node.arms)
            otherwise = _body(node.otherwise or (), names)
            whole = tuple(branch for branch in branches if branch is not None)
            return job.If(whole, otherwise, node.span) if len(whole) == len(branches) else None
        case tree.Repeat():
            body = _body(node.body, names)
            until = condition(node.until, names, Place.BODY)
            return None if until is None else job.Repeat(body, until, node.span)
        case tree.Cancel():
            rule_name = names.rule(node.rule)
            return None if rule_name is None else job.Cancel(rule_name, node.span)
        case tree.EndRun():
            return job.EndRun(node.span)
        case _:
            assert_never(node)


def _branch(arm: tree.Arm, names: Names) -> job.Branch | None:
    read = condition(arm.condition, names, Place.BODY)
    body = _body(arm.body, names)
    return None if read is None else job.Branch(read, body, arm.span)


def _fade(node: tree.Fade, names: Names) -> job.Fade | None:
    dimmer = names.point(node.dimmer, PointKind.DIMMER)
    percent = dimmer_level(node.level, names)
    seconds = names.duration(node.over, above_zero=True)
    if dimmer is None or percent is None or seconds is None:
        return None
    return job.Fade(dimmer.name, percent, seconds, node.span)


_VERBS = {
    "toggle": "Write `if LAMP is on then LAMP off else LAMP on end if`, one statement a line.",
    "delay": "Write `wait DURATION`.",
    "sleep": "Write `wait DURATION`.",
    "pause": "Write `wait DURATION`.",
    "dim": "Write `DIMMER 60 %`, or `fade DIMMER to 60 % over 5 s`.",
    "start": "A rule starts by its own events; let both react to one flag.",
    "stop": "Write `cancel RULE`.",
}
"""Verbs that people bring along: they read as the name of a point."""


def _put(node: tree.Put, names: Names) -> job.Put | None:
    word = node.point.text
    if word in _VERBS and names.lookup(word) is None:
        names.report.error(
            "wording", f"`{word}` is no statement of the language", node.point.span, _VERBS[word]
        )
        return None
    thing = names.find(node.point)
    match thing:
        case None:
            return None
        case Point(kind=PointKind.DIMMER):
            percent = dimmer_level(node.value, names)
            return None if percent is None else job.Put(thing.name, percent, node.span)
        case Point() if thing.kind.is_output or thing.kind is PointKind.FLAG:
            fitting = thing.kind.values
            if isinstance(node.value, tree.Name) and node.value.text in fitting:
                return job.Put(thing.name, node.value.text, node.span)
            names.report.error(
                "unknown-value",
                f"{node.point.text}, {kind_of(thing)}, cannot be set to `{node.value.text}`",
                node.value.span,
                f"It can be set to {joined(fitting)}."
                + (" Only a dimmer has levels." if isinstance(node.value, tree.Figure) else ""),
            )
            return None
        case Point():
            names.report.error(
                "cannot-set",
                f"a rule cannot set {node.point.text}: {kind_of(thing)} is an input",
                node.span,
                "The surroundings set inputs; rules set lamps, dimmers, loads and flags.",
            )
            return None
        case Door() | Room() | RuleName() | Setting():
            names.report.error(
                "cannot-set",
                f"a rule cannot set {node.point.text}, which is {kind_of(thing)}",
                node.span,
                "Rules set lamps, dimmers, loads and flags."
                + (
                    f" To end its runs write `cancel {node.point.text}`."
                    if isinstance(thing, RuleName)
                    else ""
                ),
            )
            return None
        case _:
            assert_never(thing)
