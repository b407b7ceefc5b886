"""Assumptions, faults and requirements."""

from __future__ import annotations

from fractions import Fraction
from typing import assert_never

from verifier.language import tree
from verifier.model import job
from verifier.model.conditions import Place, atom, condition, event
from verifier.model.job import Door, FaultKind, Point, PointKind
from verifier.model.names import Names, kind_of

TAKES_ALLOWING = ("always", "never", "when_for", "before", "no_longer", "no_shorter")
"""The forms that ``allowing`` may follow."""


def assumption(
    node: tree.AssumeCondition | tree.AssumeStays, names: Names
) -> job.Assumption | None:
    """An assumption about the surroundings."""
    match node:
        case tree.AssumeCondition():
            found = condition(node.condition, names, Place.ASSUMPTION)
            if found is None:
                return None
            return job.AssumeAlways(found if node.word == "always" else job.Not(found), node.span)
        case tree.AssumeStays():
            of = atom(node.subject, node.value, names, Place.ASSUMPTION)
            seconds = names.duration(node.duration, above_zero=True)
            if of is None or seconds is None:
                return None
            return job.AssumeStays(of, node.bound, seconds, node.span)
        case _:
            assert_never(node)


# ---------------------------------------------------------------- faults


def fault(node: tree.Fault, names: Names) -> job.Fault | None:
    """A considered fault."""
    kind = FaultKind(node.words)
    if node.subject is None:
        return job.Fault(kind, None, None, node.span)
    if kind is FaultKind.BOTH_LIMITS:
        return _both_limits(node, node.subject, names)
    point = names.point(
        node.subject, *(each for each in PointKind if each.is_input), wanted="input"
    )
    if point is None:
        return None
    within = None if node.within is None else names.duration(node.within, above_zero=True)
    if node.within is not None and within is None:
        return None
    if not _can_fail(kind, point, node, names):
        return None
    return job.Fault(kind, point.name, within, node.span)


def _both_limits(node: tree.Fault, subject: tree.Name, names: Names) -> job.Fault | None:
    found = names.find(subject, "door")
    if isinstance(found, Door):
        return job.Fault(FaultKind.BOTH_LIMITS, found.name, None, node.span)
    if found is not None:
        names.report.error(
            "wrong-kind",
            f"{subject.text} is {kind_of(found)}; a door is wanted here",
            subject.span,
            "Write the name of a door.",
        )
    return None


def _can_fail(kind: FaultKind, point: Point, node: tree.Fault, names: Names) -> bool:
    """Whether a point can have a fault, as it is declared."""
    if kind is FaultKind.LOST_REPORTS and not point.wireless:
        names.report.error(
            "fault-impossible",
            f"reports of {point.name} cannot be lost: it is not `wireless`",
            node.span,
            f"Write `wireless` after {point.name} where it is declared, or leave the fault out.",
        )
        return False
    if kind is FaultKind.BROKEN_WIRE and point.wired is None and point.broken_wire_reads is None:
        names.report.error(
            "fault-impossible",
            f"nothing says how {point.name} reads with a broken wire",
            node.span,
            "Write `wired normally open`, `wired normally closed` or `broken wire reads VALUE` where it "
            "is declared."
            if point.kind in (PointKind.CONTACT, PointKind.LIMIT, PointKind.SWITCH)
            else "Write `broken wire reads VALUE` where it is declared.",
        )
        return False
    return True


# ---------------------------------------------------------------- requirements


def requirement(node: tree.Requirement, name: str, names: Names) -> job.Requirement | None:
    """A requirement, or None if something in it is wrong."""
    label = node.label.text if node.label else ""
    return scoped(node.scoped, name, label, names)


def scoped(node: tree.ScopedForm, name: str, label: str, names: Names) -> job.Requirement | None:
    """A requirement from its form, scope and allowance."""
    span = node.span
    kind = node.form.kind
    scope = None if node.scope is None else condition(node.scope, names, Place.REQUIREMENT)
    found = _form(node.form, names)
    allowing: Fraction | None = Fraction(0)
    if node.allowing is not None:
        allowing = names.duration(node.allowing, above_zero=False)
        if kind not in TAKES_ALLOWING:
            names.report.error(
                "allowing-misplaced",
                "`allowing` cannot follow this form",
                node.allowing.span,
                "It follows `always`, `never`, `for at least`, `no longer than` and `no shorter than`; "
                "here, make the time of the form longer.",
            )
            return None
    if node.scope is not None and kind == "leads_to":
        names.report.error(
            "while-misplaced",
            "`while` cannot stand before `every trigger of`",
            node.scope.span,
            "Put the condition into what it leads to: `leads to (not A or B)`.",
        )
        return None
    if found is None or allowing is None or (node.scope is not None and scope is None):
        return None
    return job.Requirement(name, label, scope, found, allowing, span)


def _form(node: tree.Form, names: Names) -> job.Form | None:
    place = Place.REQUIREMENT
    happenings = tuple(event(each, names, place) for each in node.events)
    events = tuple(each for each in happenings if each is not None)
    holds = None if node.condition is None else condition(node.condition, names, place)
    seconds = None if node.amount is None else names.duration(node.amount, above_zero=False)
    rule = None if node.rule is None else names.rule(node.rule)
    times = None if node.count is None else names.count(node.count, 1, 1000, "the number of times")
    whole = (
        len(events) == len(happenings)
        and (node.condition is None or holds is not None)
        and (node.amount is None or seconds is not None)
        and (node.rule is None or rule is not None)
        and (node.count is None or times is not None)
    )
    if not whole:
        return None
    if node.kind == "at_most_times":
        if times is None or seconds is None:
            raise AssertionError("requirements: a form without its figures")
        return job.AtMostTimes(times, seconds, events)
    if holds is None:
        raise AssertionError("requirements: a form without its condition")
    return _form_of(node.kind, events, holds, seconds, rule)


def _form_of(
    kind: tree.FormKind,
    events: tuple[job.Event, ...],
    holds: job.Condition,
    seconds: Fraction | None,
    rule: str | None,
) -> job.Form:
    match kind:
        case "always":
            return job.Always(holds)
        case "never":
            return job.Never(holds)
        case "possible":
            return job.Possible(holds)
        case "measure":
            return job.MeasureLongest(holds, events)
        case "leads_to" if rule is not None:
            return job.LeadsTo(rule, holds)
        case _ if seconds is None:
            raise AssertionError("requirements: a form without its duration")
        case "when_within":
            return job.WhenWithin(events, holds, seconds)
        case "when_for":
            return job.WhenFor(events, holds, seconds)
        case "after_last":
            return job.AfterLast(events, holds, seconds)
        case "before":
            return job.Before(events, holds, seconds)
        case "no_longer":
            return job.NoLonger(seconds, holds)
        case "no_shorter":
            return job.NoShorter(seconds, holds)
        case _:
            raise AssertionError(f"requirements: no form for {kind}")
