"""Conditions and events in plain words, as clauses of a sentence."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from typing import assert_never

from verifier.explain.figures import listed
from verifier.explain.naming import named
from verifier.model.job import (
    And,
    AtClock,
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
    Level,
    Night,
    NightBegins,
    Not,
    Or,
    PointKind,
    PowerReturns,
    Pressed,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    TimedOut,
)
from verifier.model.words import clock_time, duration, level

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

_OTHER = {
    "open": "shut", "shut": "open", "reached": "clear", "clear": "reached",
    "occupied": "vacant", "vacant": "occupied", "on": "off", "off": "on",
    "bright": "dark", "dark": "bright", "yes": "no", "no": "yes",
    "peopled": "empty", "empty": "peopled",
}  # fmt: skip
_DENIED = {"above": "at most", "at most": "above", "below": "at least", "at least": "below"}


# ---------------------------------------------------------------- conditions


def plain_condition(condition: Condition, job: Job) -> str:
    """A condition as a clause: ``it is night and the roller shutter is moving``."""
    return _clause(condition, job, wanted=True)


def plain_denial(condition: Condition, job: Job) -> str:
    """That a condition is not so, as a clause."""
    return _clause(condition, job, wanted=False)


def _clause(condition: Condition, job: Job, *, wanted: bool) -> str:
    match condition:
        case Not(item):
            return _clause(item, job, wanted=not wanted)
        case And(items):
            return _joined(items, job, wanted=wanted, every=wanted)
        case Or(items):
            return _joined(items, job, wanted=wanted, every=not wanted)
        case Implies(left, right) if wanted:
            first = _inner(left, job, wanted=True, every=None)
            return f"if {first}, then {_inner(right, job, wanted=True, every=None)}"
        case Implies(left, right):
            first = _inner(left, job, wanted=True, every=True)
            return f"{first} and yet {_inner(right, job, wanted=False, every=True)}"
        case _:
            return _leaf(condition, job, wanted=wanted)


def _joined(items: tuple[Condition, ...], job: Job, *, wanted: bool, every: bool) -> str:
    parts = tuple(_inner(item, job, wanted=wanted, every=every) for item in items)
    if every:
        return listed(parts, "and")
    all_of = "both" if len(parts) == 2 else "several"
    return f"{listed(parts, 'or')} (or {all_of})"


def _inner(condition: Condition, job: Job, *, wanted: bool, every: bool | None) -> str:
    """A clause inside another, in parentheses where it would be read otherwise without them."""
    text = _clause(condition, job, wanted=wanted)
    while isinstance(condition, Not):
        condition, wanted = condition.item, not wanted
    match condition:
        case And():
            kind: bool | None = wanted
        case Or():
            kind = not wanted
        case Implies():
            return f"({text})"
        case _:
            return text
    return text if kind is every else f"({text})"


def _leaf(leaf: Condition, job: Job, *, wanted: bool) -> str:
    match leaf:
        case Is(subject, value):
            if wanted:
                return _is(subject, value, job)
            if value in _OTHER:
                return _is(subject, _OTHER[value], job)
            return f"{named(job, subject).verb('is', 'are')} not {_door(value)}"
        case Level(subject, comparison, percent):
            if comparison == "equal" and not wanted:
                return f"{named(job, subject).verb('is', 'are')} not at exactly {level(percent)}"
            said = comparison if wanted else _DENIED[comparison]
            name = named(job, subject).verb("is", "are")
            return f"{name} {_level(said, percent)}"
        case Stayed(atom, for_s):
            been = _been(atom.subject, _atom_value(atom, job), job)
            if wanted:
                return f"{been} without a break for at least {duration(for_s)}"
            return f"it is not so that {been} without a break for at least {duration(for_s)}"
        case Night():
            return "it is night" if wanted else "it is day"
        case Between(from_s, to_s, days):
            denied = "" if wanted else "not "
            began = "" if days is None else f" (begun on a {_days(days)})"
            return f"it is {denied}between {clock_time(from_s)} and {clock_time(to_s)}{began}"
        case Running(rule):
            return f"{named(job, rule).words} is {'' if wanted else 'not '}running"
        case TimedOut():
            return f"the last wait has {'' if wanted else 'not '}timed out"
        case Not() | And() | Or() | Implies():
            return _clause(leaf, job, wanted=wanted)
        case _:
            assert_never(leaf)


def _is(subject: str, value: str, job: Job) -> str:
    name = named(job, subject)
    if subject in job.room:
        who = "somebody is" if value == "peopled" else "nobody is"
        return f"{who} in {name.words}"
    if subject in job.door:
        return f"{name.verb('is', 'are')} {_door(value)}"
    match job.point[subject].kind:
        case PointKind.DETECTOR:
            return f"{name.verb('sees', 'see')} {'somebody' if value == 'occupied' else 'nobody'}"
        case PointKind.PHOTOCELL:
            return f"{name.verb('reads', 'read')} {value}"
        case PointKind.FLAG:
            return f"{name.words} says {value}"
        case _:
            return f"{name.verb('is', 'are')} {value}"


def _door(value: str) -> str:
    return {"raised": "fully up", "lowered": "fully down", "stopped": "stopped part way"}.get(
        value, value
    )


def _level(comparison: str, percent: Fraction) -> str:
    match comparison:
        case "above" if percent == 0:
            return "on (at any level)"
        case "at most" if percent == 0:
            return "off"
        case "equal":
            return "off" if percent == 0 else f"at exactly {level(percent)}"
        case "at least" if percent == 100:
            return "at full light (100 %)"
        case "at least":
            return f"at {level(percent)} or more"
        case "at most":
            return f"at {level(percent)} or less (or off)"
        case "above":
            return f"above {level(percent)}"
        case _:
            return f"below {level(percent)} (or off)"


def _atom_value(atom: Is | Level, job: Job) -> str:
    """What an atom says of its subject, to stand after ``has been``."""
    if isinstance(atom, Level):
        return _level(atom.comparison, atom.percent)
    if atom.subject in job.door:
        return _door(atom.value)
    return atom.value


def _been(subject: str, value: str, job: Job) -> str:
    """That a point has been so: ``the photocell has read dark``."""
    name = named(job, subject)
    if subject in job.room:
        return f"{'somebody' if value == 'peopled' else 'nobody'} has been in {name.words}"
    kind = job.point[subject].kind if subject in job.point else None
    match kind:
        case PointKind.DETECTOR:
            who = "somebody" if value == "occupied" else "nobody"
            return f"{name.verb('has', 'have')} seen {who}"
        case PointKind.PHOTOCELL:
            return f"{name.verb('has', 'have')} read {value}"
        case PointKind.FLAG:
            return f"{name.words} has said {value}"
        case _:
            return f"{name.verb('has', 'have')} been {value}"


def _days(days: Iterable[int]) -> str:
    return listed(tuple(_DAYS[day] for day in sorted(days)), "or")


# ---------------------------------------------------------------- events


def plain_event(event: Event, job: Job) -> str:
    """An event as a clause: ``the side door opens``."""
    match event:
        case Becomes(atom):
            return _becomes(atom, job)
        case Changes(subject):
            return _changes(subject, job)
        case Pressed(button):
            return f"{named(job, button).verb('is', 'are')} pressed"
        case HasStayed(timer):
            been = _been(timer.atom.subject, _atom_value(timer.atom, job), job)
            now = re.sub(r"\b(has|have) ", r"\1 now ", been, count=1)
            return f"{now} for {duration(timer.for_s)} without a break"
        case NightBegins():
            return "night begins"
        case DayBegins():
            return "day begins"
        case AtClock(time_s, days):
            on = "" if days is None else f" on a {_days(days)}"
            return f"it gets {clock_time(time_s)}{on}"
        case PowerReturns():
            return "power returns after a cut"
        case RuleStarts(rule):
            return f"{named(job, rule).words} starts"
        case RuleEnds(rule):
            return f"{named(job, rule).words} ends"
        case _:
            assert_never(event)


def plain_events(events: Iterable[Event], job: Job) -> str:
    """Several events joined by ``or``."""
    return listed(tuple(plain_event(event, job) for event in events), "or")


def _becomes(atom: Is | Level, job: Job) -> str:
    name = named(job, atom.subject)
    if isinstance(atom, Level):
        match atom.comparison, atom.percent:
            case "above", percent if percent == 0:
                return name.verb("comes on", "come on")
            case (("at most" | "equal"), percent) if percent == 0:
                return name.verb("goes off", "go off")
            case (("at least" | "equal"), percent):
                return f"{name.verb('comes', 'come')} to be {_level(atom.comparison, percent)}"
            case _:
                return f"{name.verb('goes', 'go')} {_level(atom.comparison, atom.percent)}"
    value = atom.value
    if atom.subject in job.room:
        if value == "peopled":
            return f"somebody comes into {name.words}, which was empty"
        return f"the last person leaves {name.words}"
    if atom.subject in job.door:
        said = {
            "raised": name.verb("gets fully up", "get fully up"),
            "lowered": name.verb("gets fully down", "get fully down"),
            "moving": name.verb("starts to move", "start to move"),
            "stopped": name.verb("stops part way", "stop part way"),
        }
        return said[value]
    match job.point[atom.subject].kind:
        case PointKind.CONTACT:
            return name.verb(*{"open": ("opens", "open"), "shut": ("shuts", "shut")}[value])
        case PointKind.LIMIT:
            return f"{name.verb('becomes', 'become')} {value}"
        case PointKind.DETECTOR:
            who = "starts to see somebody" if value == "occupied" else "sees nobody any more"
            return f"{name.words} {who}"
        case PointKind.PHOTOCELL:
            return f"{name.verb('turns', 'turn')} {value}"
        case PointKind.FLAG:
            return f"{name.words} turns to {value}"
        case _:
            return name.verb(*{"on": ("comes on", "come on"), "off": ("goes off", "go off")}[value])


def _changes(subject: str, job: Job) -> str:
    name = named(job, subject)
    if subject in job.room:
        return f"somebody comes into {name.words}, which was empty, or the last person leaves it"
    if subject in job.door:
        return f"{name.verb('starts', 'start')} to move, stops, or gets fully up or down"
    kind = job.point[subject].kind
    if kind is PointKind.DIMMER:
        return f"{name.verb('changes its', 'change their')} level (on and off, too)"
    first, second = kind.values
    one = _becomes(Is(subject, second), job)
    other = _becomes(Is(subject, first), job).removeprefix(f"{name.words} ")
    return f"{one} or {other}"
