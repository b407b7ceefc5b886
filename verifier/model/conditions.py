"""Conditions and events: from the tree's words to the job's, checked for the place where they stand."""

from __future__ import annotations

import enum
from fractions import Fraction
from typing import Literal, assert_never

from verifier.language import tree
from verifier.model import job
from verifier.model.job import DOOR_VALUES, ROOM_VALUES, Door, Point, PointKind, Room, Setting
from verifier.model.names import Names, RuleName, kind_of
from verifier.model.report import Report, did_you_mean, joined
from verifier.model.words import DAYS, condition_words
from verifier.source import Span


class Place(enum.Enum):
    """Where a condition or event stands: that decides what it may read."""

    HEAD = "the head of a rule"
    BODY = "the body of a rule"
    REQUIREMENT = "a requirement"
    ASSUMPTION = "an assumption"

    @property
    def in_rule(self) -> bool:
        """Whether only what the controller sees can be read."""
        return self in (Place.HEAD, Place.BODY)


# ---------------------------------------------------------------- subjects and values


def subject(name: tree.Name, names: Names, place: Place) -> Point | Door | Room | None:
    """The point, door or room that a name stands for, if it may be read at this place."""
    found = names.find(name)
    match found:
        case None:
            return None
        case RuleName():
            names.report.error(
                "wrong-kind",
                f"{name.text} is a rule: it can only be asked whether it is running",
                name.span,
                f"Write `{name.text} is running`, or as an event `{name.text} starts` or `{name.text} ends`.",
            )
            return None
        case Setting():
            names.report.error(
                "wrong-kind",
                f"{name.text} is a setting: it is no point and changes never",
                name.span,
                "Write the name of a point.",
            )
            return None
        case Door() | Room() if place.in_rule:
            _not_readable(name, found, names)
            return None
        case Point() if place is Place.ASSUMPTION and not found.kind.is_input:
            names.report.error(
                "assumes-own",
                f"an assumption cannot name {name.text}, {kind_of(found)}: the rules set it",
                name.span,
                "Assume what the surroundings do; what a lamp or flag does is for a requirement to say.",
            )
            return None
        case _:
            return found


def _not_readable(name: tree.Name, thing: Door | Room, names: Names) -> None:
    """A rule reads what only the surroundings know: say which points it can read."""
    match thing:
        case Door():
            points = [thing.raised_by, thing.lowered_by]
            points.extend([] if thing.moving_by is None else [thing.moving_by])
            message = (
                f"a rule cannot read the door {name.text}: the controller sees its points only"
            )
        case Room():
            points = list(thing.seen_by)
            message = (
                f"a rule cannot read the room {name.text}: the controller sees its detectors only"
            )
    hint = f"It can read {joined(points, 'and')}." if points else "Add a detector that sees it."
    names.report.error("not-readable", message, name.span, hint)


def atom(name: tree.Name, value: tree.Amount, names: Names, place: Place) -> job.Atom | None:
    """``SUBJECT is VALUE`` as an atom, or an error with the values that fit."""
    thing = subject(name, names, place)
    match thing:
        case None:
            return None
        case Point(kind=PointKind.BUTTON):
            names.report.error(
                "button-value",
                f"{name.text} is a button: it has no value, it is pressed",
                value.span,
                f"Write `{name.text} pressed` as an event; for a maintained input declare a switch.",
            )
            return None
        case Point(kind=PointKind.DIMMER):
            return _dimmer_atom(thing, value, names)
        case Point():
            fitting = thing.kind.values
        case Door():
            fitting = DOOR_VALUES
        case Room():
            fitting = ROOM_VALUES
        case _:
            assert_never(thing)
    if isinstance(value, tree.Name) and value.text in fitting:
        return job.Is(thing.name, value.text)
    _unknown_value(thing, value, fitting, names)
    return None


def _unknown_value(
    thing: Point | Door | Room, value: tree.Amount, fitting: tuple[str, ...], names: Names
) -> None:
    words = joined(fitting)
    names.report.error(
        "unknown-value",
        f"`{value.text}` is no value of {thing.name}, which is {kind_of(thing)}",
        value.span,
        f"It can be {words}.",
    )


def _dimmer_atom(point: Point, value: tree.Amount, names: Names) -> job.Level | None:
    if isinstance(value, tree.Name):
        match value.text:
            case "on":
                return job.Level(point.name, "above", Fraction(0))
            case "off":
                return job.Level(point.name, "at most", Fraction(0))
            case _ if not isinstance(names.lookup(value.text), Setting):
                names.report.error(
                    "unknown-value",
                    f"`{value.text}` is no value of {point.name}, which is a dimmer",
                    value.span,
                    "It can be `on`, `off` or a level such as `60 %`.",
                )
                return None
    percent = names.level(value, settable=False)
    return None if percent is None else job.Level(point.name, "equal", percent)


# ---------------------------------------------------------------- conditions


def condition(node: tree.Condition, names: Names, place: Place) -> job.Condition | None:
    """A condition of the job, or None if something in it is wrong."""
    match node:
        case tree.Is():
            return _is(node, names, place)
        case tree.Compare():
            return _compare(node, names, place)
        case tree.Stayed():
            return stayed(node, names, place)
        case tree.Sun():
            return job.Night() if node.phase == "night" else job.Not(job.Night())
        case tree.Between():
            return _between(node, names)
        case tree.TimedOut():
            if place is not Place.BODY:
                names.report.error(
                    "timed-out-outside",
                    "`timed out` can only be asked in the body of a rule",
                    node.span,
                    "It speaks of the last `wait until` of the run that asks.",
                )
                return None
            return job.TimedOut()
        case tree.Not():
            inner = condition(node.item, names, place)
            return None if inner is None else job.Not(inner)
        case tree.And() | tree.Or():
            return _several(node, names, place)
        case tree.Implies():
            return _implies(node, names, place)
        case tree.Group():
            return condition(node.item, names, place)
        case tree.OfEach():
            each_misplaced(node.quantifier, node.item.subject, node.span, names.report)
            return None
        case _:
            assert_never(node)


def each_misplaced(quantifier: str, subject: tree.Name, span: Span, report: Report) -> None:
    """Say that only a parameter that takes several can be asked so."""
    report.error(
        "each-misplaced",
        f"`{quantifier}` goes before a parameter of a standard requirement that takes several",
        span,
        f"Name each thing itself, joined by {'`and`' if quantifier == 'all of' else '`or`'}; "
        f"{subject.text} is not such a parameter.",
    )


def _several(node: tree.And | tree.Or, names: Names, place: Place) -> job.Condition | None:
    found = [condition(item, names, place) for item in node.items]
    items = tuple(item for item in found if item is not None)
    if len(items) < len(found):
        return None
    if isinstance(node, tree.And):
        return job.And(items)
    whole = job.Or(items)
    if any(isinstance(item, tree.And) for item in node.items):
        names.report.warning(
            "mixed-and-or",
            f"`and` binds before `or`: this is read as {condition_words(whole)}",
            node.span,
            "Put the parentheses in, to show that this is meant.",
        )
    return whole


def _implies(node: tree.Implies, names: Names, place: Place) -> job.Condition | None:
    if place.in_rule:
        names.report.error(
            "implies-in-rule",
            "`implies` can stand in requirements and assumptions only",
            node.span,
            "In a rule, write `not A or B`, or use `if A then`.",
        )
        return None
    left = condition(node.left, names, place)
    right = condition(node.right, names, place)
    return None if left is None or right is None else job.Implies(left, right)


def _is(node: tree.Is, names: Names, place: Place) -> job.Condition | None:
    if isinstance(names.lookup(node.subject.text), RuleName) and node.value.text == "running":
        rule = names.rule(node.subject)
        if place is Place.ASSUMPTION:
            names.report.error(
                "assumes-own",
                f"an assumption cannot name the rule {node.subject.text}",
                node.span,
                "Assume what the surroundings do; what rules do is for a requirement to say.",
            )
            return None
        return None if rule is None else job.Running(rule)
    return atom(node.subject, node.value, names, place)


def _compare(node: tree.Compare, names: Names, place: Place) -> job.Condition | None:
    thing = subject(node.subject, names, place)
    if thing is None:
        return None
    if not isinstance(thing, Point) or thing.kind is not PointKind.DIMMER:
        names.report.error(
            "wrong-kind",
            f"{node.subject.text} is {kind_of(thing)}: only a dimmer has a level to compare",
            node.span,
            f"Write `{node.subject.text} is {_some_value(thing)}`.",
        )
        return None
    percent = names.level(node.amount, settable=False)
    return None if percent is None else job.Level(thing.name, node.comparison, percent)


def _some_value(thing: Point | Door | Room) -> str:
    match thing:
        case Point():
            return thing.kind.values[-1] if thing.kind.values else "…"
        case Door():
            return DOOR_VALUES[0]
        case Room():
            return ROOM_VALUES[1]


def stayed(node: tree.Stayed, names: Names, place: Place) -> job.Stayed | None:
    """The timer of ``POINT has stayed VALUE for DURATION``."""
    found = atom(node.subject, node.value, names, place)
    seconds = names.duration(node.duration, above_zero=True)
    return None if found is None or seconds is None else job.Stayed(found, seconds)


def _between(node: tree.Between, names: Names) -> job.Condition | None:
    begin, end = names.clock(node.begin), names.clock(node.end)
    chosen = days(node.days, names)
    if begin is None or end is None or chosen is False:
        return None
    if begin == end:
        names.report.error(
            "empty-stretch",
            "`between` needs two different times",
            node.span,
            "From 22:00, up to, not including, 06:00 is `between 22:00 and 06:00`.",
        )
        return None
    return job.Between(begin, end, chosen)


def days(chosen: tuple[tree.Name, ...], names: Names) -> frozenset[int] | Literal[False] | None:
    """Days of the week by number, None for every day; False after an error."""
    if not chosen:
        return None
    known = True
    for day in chosen:
        if day.text not in DAYS:
            names.report.error(
                "unknown-value",
                f"`{day.text}` is no day of the week",
                day.span,
                did_you_mean(day.text.lower()[:3], DAYS, f"Days are {joined(DAYS, 'and')}."),
            )
            known = False
    return frozenset(DAYS.index(day.text) for day in chosen) if known else False


# ---------------------------------------------------------------- events


def event(node: tree.Event, names: Names, place: Place) -> job.Event | None:
    """An event of the job, or None if something in it is wrong."""
    match node:
        case tree.Becomes():
            found = atom(node.subject, node.value, names, place)
            return None if found is None else job.Becomes(found)
        case tree.NamedEvent():
            return _named_event(node, names, place)
        case tree.Stayed():
            timer = stayed(node, names, place)
            return None if timer is None else job.HasStayed(timer)
        case tree.WorldEvent():
            match node.words:
                case "night begins":
                    return job.NightBegins()
                case "day begins":
                    return job.DayBegins()
                case "power returns":
                    return job.PowerReturns()
                case _:
                    assert_never(node.words)
        case tree.AtClock():
            time = names.clock(node.time)
            chosen = days(node.days, names)
            return None if time is None or chosen is False else job.AtClock(time, chosen)
        case tree.AnyEvent():
            each_misplaced("any of", node.item.subject, node.span, names.report)
            return None
        case _:
            assert_never(node)


def _named_event(node: tree.NamedEvent, names: Names, place: Place) -> job.Event | None:
    name = node.subject
    match node.word:
        case "starts" | "ends":
            rule = names.rule(name)
            if rule is None:
                return None
            return job.RuleStarts(rule) if node.word == "starts" else job.RuleEnds(rule)
        case "pressed":
            button = names.point(name, PointKind.BUTTON)
            return None if button is None else job.Pressed(button.name)
        case "changes":
            thing = subject(name, names, place)
            if thing is None:
                return None
            if isinstance(thing, Point) and thing.kind is PointKind.BUTTON:
                names.report.error(
                    "button-value",
                    f"{name.text} is a button: it does not change, it is pressed",
                    node.span,
                    f"Write `{name.text} pressed`.",
                )
                return None
            return job.Changes(thing.name)
        case _:
            assert_never(node.word)
