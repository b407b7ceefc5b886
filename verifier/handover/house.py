"""How the lights of a house behave, in ten lines for the people who live or work in it.

A line for each lamp: what brings it on, from the rules; how soon it is off once all is at rest, by
proof. Then what a power cut leaves, and what was promised and holds for every case, in the words
that it was promised in.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from verifier.explain.figures import listed, rounded
from verifier.explain.mending import good
from verifier.explain.naming import Named, named
from verifier.explain.plain_words import plain_condition, plain_event
from verifier.handover.at_most import Asked, proved_tails, questions
from verifier.handover.live import Live
from verifier.handover.year import year_of
from verifier.model.job import (
    And,
    AtClock,
    Condition,
    DayBegins,
    Fade,
    Is,
    Job,
    MeasureLongest,
    NightBegins,
    Point,
    PointKind,
    PowerReturns,
    Put,
    Rule,
    atoms_and_leaves,
    statements_of,
)
from verifier.model.used import NightHours, Usage, Use
from verifier.proof.verdict import Proved, Verdict
from verifier.source import NOWHERE

MOST_LINES = 10
"""So much fits on a sheet beside the switch."""

MOST_PROMISES_KEPT = 3
"""Lines that are kept for what was promised, where there is as much."""


@dataclass(frozen=True, slots=True)
class House:
    """The page: a title, its lines (what of, sentences), promises, and how many more there are."""

    title: str
    lines: tuple[tuple[str, str], ...]
    promises: tuple[str, ...]
    more_lamps: int
    more_promises: int


def house(
    job: Job,
    verdicts: dict[str, Verdict],
    limit_s: float,
    workers: int,
    on_answer: Callable[[str], None],
) -> House:
    """The page of a job with its verdicts."""
    every = _everything_used(job)
    live = Live(every)
    asked = questions(every, year_of(every, job.years[0]), live)
    tails = proved_tails(every, asked, limit_s, workers, on_answer)
    of_output = {each.output: each for each in asked}
    lines: list[tuple[str, str]] = []
    for point in job.points:
        if point.kind.is_output:
            about = of_output.get(point.name)
            sentences = _lamp(job, live, point, about, tails.get(point.name))
            if sentences:
                lines.append((_title(named(job, point.name)), sentences))
    room = MOST_LINES - 1
    promises = [
        requirement.label
        for requirement in job.requirements
        if requirement.label and isinstance(v := verdicts.get(requirement.name), Proved) and good(v)
    ]
    lamps = max(room - min(len(promises), MOST_PROMISES_KEPT), 1)
    kept = lines[:lamps]
    power = _after_power_cut(job)
    shown = [*kept, ("After a power cut", power)] if power else kept
    promised = promises[: MOST_LINES - len(shown)]
    return House(
        f"How the lights of {job.site.name if job.site else job.name} behave",
        tuple(shown),
        tuple(promised),
        len(lines) - len(kept),
        len(promises) - len(promised),
    )


def _everything_used(job: Job) -> Job:
    """The job with a usage that moves every input: so the prover counts on all of them."""
    uses = []
    for point in job.points:
        if not point.kind.is_input or point.name in job.door_of_point:
            continue
        values = point.kind.values
        value = None if not values else values[0] if point.starts == values[1] else values[1]
        lasts = None if value is None else Fraction(60)
        uses.append(Use(point.name, value, lasts, Fraction(1), None, None, None, "", point.span))
    for door in job.doors:
        value = "lowered" if door.starts == "raised" else "raised"
        uses.append(
            Use(door.name, value, Fraction(60), Fraction(1), None, None, None, "", door.span)
        )
    sun = job.site is not None and job.site.latitude_deg is not None
    night = None if sun else NightHours(18 * 3600, 6 * 3600, "", NOWHERE)
    return replace(job, usage=Usage((), tuple(uses), night=night))


# ---------------------------------------------------------------- one lamp


def _title(name: Named) -> str:
    words = name.words.removeprefix("the ").strip("“”").replace("_", " ")
    return words[:1].upper() + words[1:]


def _lamp(job: Job, live: Live, point: Point, asked: Asked | None, tail: Fraction | None) -> str:
    """What brings it on and off; empty if no rule has to do with it."""
    writers = live.writers(point.name)
    rules = [rule for rule in writers if _brings_on(rule, point.name)]
    if not rules:
        return ""
    plural = named(job, point.name).plural
    who, they = ("They", "they") if plural else ("It", "it")
    comes, goes, stays, is_ = (
        ("come", "go", "stay", "are") if plural else ("comes", "goes", "stays", "is")
    )
    parts = [f"{who} {comes} on {reasons}."] if (reasons := _all_reasons(job, live, rules)) else []
    if any(_dims_before_off(rule, point.name) for rule in rules):
        parts.append("Before the dark there is less light.")
    calm = _calm(job, asked)
    if calm is None:
        ending = [rule for rule in writers if rule not in rules]
        off = _all_reasons(job, live, ending)
        parts.append(f"{who} {goes} off {off}." if off else f"{who} {goes} off by the clock.")
    elif tail is None:
        parts.append(
            f"How long {they} {stays} on is up to whoever uses {'them' if plural else 'it'}."
        )
    else:
        parts.append(
            f"Once {calm}, {they} {is_} off {f'within {_time(tail)}' if tail else 'at once'}."
        )
    if point.local_switch:
        parts.append(f"Switched on by hand at the lamp {they} may stay on.")
    return " ".join(parts)


def _all_reasons(job: Job, live: Live, rules: list[Rule]) -> str:
    """What sets any of the rules off, at most two of it told; empty if nothing does."""
    reasons = list(dict.fromkeys(r for rule in rules for r in _reasons(job, live, rule)))
    if len(reasons) > 3:
        reasons = [*reasons[:2], "in some other cases"]
    return ", or ".join(reasons)


def _calm(job: Job, asked: Asked | None) -> str | None:
    """What being at rest means for a lamp, in words; None if clock and sun alone rule it."""
    if asked is None or not isinstance(asked.requirement.form, MeasureLongest):
        return None
    events = asked.requirement.form.events
    if all(isinstance(event, AtClock | NightBegins | DayBegins) for event in events):
        return None
    scope = asked.requirement.scope
    leaves = () if scope is None else tuple(atoms_and_leaves(scope))
    cells = {
        leaf.value
        for leaf in leaves
        if isinstance(leaf, Is) and job.point[leaf.subject].kind is PointKind.PHOTOCELL
    }
    return "".join(f"it is {value} and " for value in sorted(cells)) + "all is quiet"


def _time(seconds: Fraction) -> str:
    """A time as people say it: the units spelt out."""
    words = {"h": "hours", "min": "minutes", "s": "seconds", "ms": "thousandths of a second"}
    pieces = rounded(seconds).split(" ")
    said = [words.get(piece, piece) for piece in pieces]
    for k, piece in enumerate(said[:-1]):
        if piece == "1" and said[k + 1].endswith("s"):
            said[k + 1] = said[k + 1].removesuffix("s")
    return " ".join(said)


def _brings_on(rule: Rule, output: str) -> bool:
    return any(
        (isinstance(s, Put) and s.point == output and s.value not in ("off", Fraction(0)))
        or (isinstance(s, Fade) and s.dimmer == output and s.percent > 0)
        for s in statements_of(rule.body)
    )


def _dims_before_off(rule: Rule, output: str) -> bool:
    """Whether the levels that a rule sets go down step by step before the last, which is off."""
    levels = [
        s.value
        for s in statements_of(rule.body)
        if isinstance(s, Put) and s.point == output and isinstance(s.value, Fraction)
    ]
    falls = all(a > b for a, b in pairwise(levels))
    return len(levels) > 2 and falls and levels[-1] == 0


def _reasons(job: Job, live: Live, rule: Rule) -> list[str]:
    """The events that set a rule off, each with what has to be so, in plain words."""
    found = []
    for trigger in rule.triggers:
        if isinstance(trigger.event, PowerReturns):
            continue
        guard = live.guard(rule, trigger)
        if guard is False:
            continue
        words = f"when {plain_event(trigger.event, job)}"
        words = re.sub(r"\b(has|have) now ", r"\1 ", words)
        if not isinstance(guard, bool):
            words += f" while {plain_condition(_flat(guard), job)}"
        found.append(words.replace("_", " "))
    return found


def _flat(condition: Condition) -> Condition:
    """A condition without an `and` of one."""
    if isinstance(condition, And) and len(condition.items) == 1:
        return condition.items[0]
    return condition


# ---------------------------------------------------------------- all of them


def _after_power_cut(job: Job) -> str:
    """What the lamps do when the power comes back, those that do alike together."""
    alike: dict[str, list[str]] = {}
    for point in job.points:
        if point.kind in (PointKind.LAMP, PointKind.DIMMER, PointKind.LOAD):
            alike.setdefault(point.power_return, []).append(
                named(job, point.name).words.replace("_", " ")
            )
    words = {"off": "stay off", "on": "come on", "last": "come back as they were"}
    if len(alike) == 1:
        (how,) = alike
        return f"All of them {words[how]}." if len(alike[how]) > 1 else ""
    parts = []
    for how, names in sorted(alike.items(), key=lambda each: len(each[1])):
        one = len(names) == 1 and not names[0].endswith("s")
        said = {"off": "stays off", "on": "comes on", "last": "comes back as it was"}[how]
        parts.append(f"{listed(tuple(names))} {said if one else words[how]}")
    text = "; ".join([*parts[:-1], f"all others {words[max(alike, key=lambda h: len(alike[h]))]}"])
    return f"{text[:1].upper()}{text[1:]}."
