"""A made-up run as a timing diagram: its time counted from where the requirement comes into play."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.diagram import Bar, Diagram, Instant, Kind, Lane
from verifier.explain.drawn import SUN
from verifier.explain.example import Example
from verifier.explain.figures import rounded
from verifier.explain.naming import named, value_words
from verifier.explain.plain_words import plain_event
from verifier.explain.timeline import DAY_S, RUNNING, Settled, Values
from verifier.model.job import (
    AtMostTimes,
    Becomes,
    Before,
    Event,
    HasStayed,
    Is,
    Job,
    Level,
    NoShorter,
    PointKind,
    Requirement,
    Value,
    WhenFor,
)
from verifier.model.words import level


@dataclass(frozen=True, slots=True)
class _Shown:
    """An instant of the diagram: the state from it on, and what happens at it."""

    at_s: Fraction
    just_after: bool
    values: Values
    words: str


def example_diagram(job: Job, requirement: Requirement, example: Example) -> Diagram:
    """The diagram of an example; moments are counted from when the requirement comes into play."""
    shown = _shown_instants(job, requirement, example)
    names = tuple(shown[0].values)
    lanes = [_lane(job, name, shown) for name in _ordered(job, names)]
    lanes.append(_claim(example, shown))
    zero = example.due_s if example.span is None else example.span.from_s
    instants = tuple(
        Instant(each.at_s - zero, each.just_after, _axis(example, each, zero), each.words)
        for each in shown
    )
    return Diagram(
        example.caption, instants, tuple(lanes), _bars(requirement, example, shown, lanes)
    )


def _axis(example: Example, each: _Shown, zero: Fraction) -> str:
    """What stands below an instant: the time of the clock, or how long before."""
    begins = example.found.line.begins_s
    if begins is not None:
        at = begins + each.at_s
        whole = int(at % DAY_S)
        seconds = at % 60
        text = f"{whole // 3600:02}:{whole // 60 % 60:02}"
        if seconds:
            text += f":{whole % 60:02}"
        return f"just after {text}" if each.just_after else text
    if each.at_s < zero:
        return "before" if not each.at_s else f"{rounded(zero - each.at_s)} before"
    return ""


# ---------------------------------------------------------------- instants


def _shown_instants(job: Job, requirement: Requirement, example: Example) -> tuple[_Shown, ...]:
    found: list[_Shown] = []
    for instant in example.found.instants:
        words = _words(job, requirement, found[-1].values if found else instant.values, instant)
        if not found or words:
            found.append(_Shown(instant.at_s, False, instant.values, words))
    for at_s, just_after, words in _between(requirement, example):
        if any(e.at_s == at_s and (not just_after or e.just_after) for e in found):
            continue
        place = sum(e.at_s <= at_s for e in found)
        found.insert(place, _Shown(at_s, just_after, found[place - 1].values, words))
    return tuple(found)


def _between(requirement: Requirement, example: Example) -> list[tuple[Fraction, bool, str]]:
    """Moments at which nothing happens, and yet something is decided."""
    moments: list[tuple[Fraction, bool, str]] = []
    broken, span = example.found.broken, example.span
    if example.kind == "breaks" and broken is not None:
        moments.append((*broken, "the promise is broken"))
    elif span is not None and example.kind == "keeps" and _at_least(requirement):
        moments.append((span.from_s + span.for_s, False, "the time is over"))
    end = example.found.line.end_s
    return [m for m in moments if m[0] <= end]


def _at_least(requirement: Requirement) -> bool:
    """Whether the requirement asks for a least time, which is over at some moment."""
    return isinstance(requirement.form, WhenFor | Before | NoShorter | AtMostTimes)


def _words(job: Job, requirement: Requirement, before: Values, instant: Settled) -> str:
    """What happens at an instant, in plain words."""
    if instant.step is None and instant.at_s == 0:
        return ""
    said: list[str] = []
    if instant.clock_s is not None:
        whole = instant.clock_s % DAY_S
        said.append(f"it gets {whole // 3600:02}:{whole // 60 % 60:02}")
    said.extend(plain_event(HasStayed(timer), job) for timer in instant.ran_out)
    if instant.step is not None:
        said.extend(plain_event(event, job) for event in instant.step.happens)
        changes = [(n, v) for n, v in instant.step.changes if before[n] != v]
        order = {name: place for place, name in enumerate(_ordered(job, tuple(before)))}
        for name, value in sorted(changes, key=lambda change: order[change[0]]):
            said.append(_change(job, name, value))
    return "; ".join(said)


def _change(job: Job, name: str, value: Value) -> str:
    if name == SUN:
        return f"{value} begins"
    if name in job.rule:
        rule = named(job, name).words
        return f"{rule} is set going" if value == RUNNING else f"{rule} ends"
    event: Event
    if isinstance(value, Fraction):
        if value and value != 100:
            return f"{named(job, name).verb('goes', 'go')} to {level(value)}"
        if value:
            return f"{named(job, name).verb('goes', 'go')} to full light"
        event = Becomes(Level(name, "at most", Fraction(0)))
    else:
        event = Becomes(Is(name, value))
    return plain_event(event, job)


# ---------------------------------------------------------------- lanes


def _ordered(job: Job, names: tuple[str, ...]) -> list[str]:
    rank = {"outside": 0, "rule": 1, "output": 2, "claim": 3}
    return sorted(names, key=lambda name: rank[_kind(job, name)])


def _kind(job: Job, name: str) -> Kind:
    if name in job.rule:
        return "rule"
    point = job.point.get(name)
    if point is not None and (point.kind.is_output or point.kind is PointKind.FLAG):
        return "output"
    return "outside"


def _lane(job: Job, name: str, shown: tuple[_Shown, ...]) -> Lane:
    values = tuple(each.values[name] for each in shown)
    label = "Night or day"
    for things in (job.points, job.doors, job.rooms, job.rules):
        for thing in things:
            if thing.name == name:
                label = thing.label or name
    heights = tuple(_height(job, name, value) for value in values)
    return Lane(name, label, _kind(job, name), tuple(_value(job, name, v) for v in values), heights)


def _value(job: Job, name: str, value: Value) -> str:
    if isinstance(value, Fraction):
        return "off" if value == 0 else level(value)
    return value_words(job, name, value)


def _height(job: Job, name: str, value: Value) -> Fraction | None:
    if isinstance(value, Fraction):
        return value / 100
    if name in job.door:
        return None
    if name == SUN:
        return Fraction(value == "night")
    if name in job.room:
        return Fraction(value == "peopled")
    if name in job.rule:
        return Fraction(value == RUNNING)
    return Fraction(job.point[name].kind.values.index(value))


def _claim(example: Example, shown: tuple[_Shown, ...]) -> Lane:
    """The requirement's own lane."""
    ends = {"keeps": "kept", "breaks": "broken", "reaches": "so", "asks": "measured"}
    called = {"keeps": "called on", "breaks": "called on", "reaches": "", "asks": "measured"}
    values = []
    for k, each in enumerate(shown):
        last = k + 1 == len(shown)
        if example.kind == "breaks":
            assert example.found.broken is not None
            at_s, just_after = example.found.broken
            over = (each.at_s, each.just_after) >= (at_s, just_after)
            values.append("broken" if over else "called on" if each.at_s >= example.due_s else "")
        elif last and example.kind != "asks":
            values.append(ends[example.kind])
        elif last:
            values.append("")
        else:
            values.append(called[example.kind] if each.at_s >= example.due_s else "")
    return Lane("", "the promise", "claim", tuple(values), (None,) * len(shown))


def _bars(
    requirement: Requirement, example: Example, shown: tuple[_Shown, ...], lanes: list[Lane]
) -> tuple[Bar, ...]:
    """The time that counts, below the requirement's lane."""
    span = example.span
    if span is None:
        return ()
    begin = next((k for k, each in enumerate(shown) if each.at_s >= span.from_s), None)
    over = span.from_s + span.for_s
    if begin is None:
        return ()
    inside = [k for k, each in enumerate(shown) if begin < k and each.at_s <= over]
    if not inside:
        return ()
    end = inside[-1]
    gone = shown[end].at_s - span.from_s
    left = max(Fraction(0), 1 - gone / span.for_s) if span.for_s else Fraction(0)
    return (Bar(len(lanes) - 1, begin, end, left, span.words),)
