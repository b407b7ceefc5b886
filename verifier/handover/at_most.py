"""How long an output can be on in a year at most: proved bounds times how often things happen.

For each output the prover is asked: while every input is at rest, how long is it on, at most, after
the last moment that sets something off? Call the answer B. Then at any moment at which the output
is on, some input is away from rest, or one of those moments was less than B ago, whatever else
has happened. So it is on no longer than all stretches away from rest, and B for each moment, come
to. How often these are is stated by the usage; the rest is proved, for runs of any length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from verifier.handover.live import Live
from verifier.handover.pattern import lasts_s, times_a_year, travel_s
from verifier.handover.simulated import plain_job
from verifier.handover.year import Year
from verifier.model.job import (
    And,
    AtClock,
    Becomes,
    Between,
    Condition,
    DayBegins,
    Event,
    Is,
    Job,
    Level,
    MeasureLongest,
    Night,
    NightBegins,
    Point,
    PointKind,
    Pressed,
    Requirement,
    Rule,
    atoms_and_leaves,
    read_by_rule,
)
from verifier.model.words import event_words
from verifier.surroundings.calendar import DAY_S


@dataclass(frozen=True, slots=True)
class AtMost:
    """A bound: seconds on in a year; ``tail_s`` was proved after each of ``moments`` (how many, words)."""

    on_s: Fraction
    tail_s: Fraction
    away_s: Fraction
    moments: tuple[tuple[str, Fraction], ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of the prover for one output, and what is counted with the answer."""

    output: str
    requirement: Requirement
    away_s: Fraction
    moments: tuple[tuple[str, Fraction], ...]


def questions(job: Job, year: Year, live: Live) -> tuple[Asked, ...]:
    """One question for each output that a live rule sets."""
    found = (_question(job, year, live, point) for point in job.points if point.kind.is_output)
    return tuple(each for each in found if each is not None)


def at_most(
    job: Job, year: Year, live: Live, limit_s: float, workers: int, on_answer: Callable[[str], None]
) -> dict[str, AtMost]:
    """The bounds that could be proved, by output."""
    asked = questions(job, year, live)
    tails = proved_tails(job, asked, limit_s, workers, on_answer)
    found: dict[str, AtMost] = {}
    for each in asked:
        tail = tails.get(each.output)
        if tail is not None:
            times = sum((count for _, count in each.moments), Fraction(0))
            on = min(each.away_s + times * tail, Fraction(year.days * DAY_S))
            found[each.output] = AtMost(on, tail, each.away_s, each.moments)
    return found


def proved_tails(
    job: Job,
    asked: tuple[Asked, ...],
    limit_s: float,
    workers: int,
    on_answer: Callable[[str], None],
) -> dict[str, Fraction]:
    """For each output the longest time after the last moment, while all is at rest, at which it is on.

    Only where the prover has one; ``on_answer`` hears each output as it is done.
    """
    from verifier.proof import ProofOptions, prove_job
    from verifier.proof.verdict import Answered

    if not asked:
        return {}
    options = ProofOptions(
        time_limit_s=limit_s, workers=workers, certificates=False, structure=False
    )
    requirements = tuple(each.requirement for each in asked)
    judged = prove_job(
        plain_job(job), requirements, options, lambda requirement, *_: on_answer(requirement.name)
    )
    found: dict[str, Fraction] = {}
    for each, (_, verdict, _) in zip(asked, judged.verdicts, strict=True):
        if isinstance(verdict, Answered) and verdict.bound_s != "unbounded":
            bound = verdict.bound_s
            found[each.output] = Fraction(0) if bound is None else Fraction(bound)
    return found


def _question(job: Job, year: Year, live: Live, output: Point) -> Asked | None:
    rules = _cone(live, output.name)
    if not rules or (output.starts is not None and output.starts not in ("off", Fraction(0))):
        return None
    subjects = _subjects(job, rules)
    scope: list[Condition] = []
    events: list[Event] = []
    moments: list[tuple[str, Fraction]] = []
    away = Fraction(0)
    uses = () if job.usage is None else job.usage.uses
    for name in subjects:
        times = sum(
            (times_a_year(u, year) for u in uses if _moves(job, u.subject, name)), Fraction(0)
        )
        event: Event
        if job.point[name].kind is PointKind.BUTTON:
            event = Pressed(name)
        else:
            rest, stretches = _rest(job, live, name)
            scope.append(Is(name, rest))
            event = Becomes(Is(name, rest))
            times *= stretches
            away += sum(
                (
                    times_a_year(use, year) * _away_s(job, use.subject, name, lasts_s(job, use))
                    for use in uses
                    if _moves(job, use.subject, name)
                ),
                Fraction(0),
            )
        if times:
            events.append(event)
            moments.append((event_words(event), times))
    for event, times in _of_the_clock(rules, year):
        events.append(event)
        moments.append((event_words(event), times))
    if not events:
        return None
    lit: Condition = (
        Level(output.name, "above", Fraction(0))
        if output.kind is PointKind.DIMMER
        else Is(output.name, "on")
    )
    when = None if not scope else scope[0] if len(scope) == 1 else And(tuple(scope))
    form = MeasureLongest(lit, tuple(events))
    requirement = Requirement(output.name, "", when, form, Fraction(0), output.span)
    return Asked(output.name, requirement, away, tuple(moments))


def _cone(live: Live, output: str) -> list[Rule]:
    """The live rules that can have to do with an output, in declared order."""
    from verifier.graph.access import rule_access

    names = {output}
    while True:
        more = set(names)
        for rule in live.rules:
            access = rule_access(rule)
            if rule.name in names or names & (access.writes | access.cancels):
                more |= {rule.name} | access.reads
        if more == names:
            return [rule for rule in live.rules if rule.name in names]
        names = more


def _subjects(job: Job, rules: list[Rule]) -> list[str]:
    """The inputs that the rules read, in declared order."""
    from verifier.graph.access import rule_access

    read = {name for rule in rules for name in rule_access(rule).reads}
    return [p.name for p in job.points if p.name in read and p.kind.is_input]


def _moves(job: Job, subject: str, point: str) -> bool:
    """Whether a use of a subject, an input or a door, moves a point."""
    door = job.door_of_point.get(point)
    return subject == point if door is None else subject == door.name


def _rest(job: Job, live: Live, point: str) -> tuple[str, int]:
    """The value of a point at rest, and how often it comes back to it in one use."""
    door = job.door_of_point.get(point)
    if door is None:
        return live.rest[point], 1
    if point == door.moving_by:
        return "off", 2
    at_rest = door.lowered_by if live.rest[door.name] == "lowered" else door.raised_by
    return ("reached" if point == at_rest else "clear"), 1


def _away_s(job: Job, subject: str, point: str, lasting: Fraction) -> Fraction:
    """How long one use keeps a point away from rest."""
    door = job.door.get(subject)
    if door is None:
        return lasting
    ways = 2 * travel_s(job, subject)
    if point == door.moving_by:
        return ways
    return lasting if _is_at_rest(job, subject, point) else lasting - ways


def _is_at_rest(job: Job, subject: str, point: str) -> bool:
    """Whether a limit is the one at which its door stands when nobody uses it."""
    from verifier.handover.simulated import resting

    door = job.door[subject]
    return point == (door.lowered_by if resting(job)[subject] == "lowered" else door.raised_by)


def _of_the_clock(rules: list[Rule], year: Year) -> list[tuple[Event, Fraction]]:
    """What comes of itself: night and day, and times of the clock, with how often in a year."""
    conditions: list[Condition] = []
    events: list[Event] = []
    for rule in rules:
        found = read_by_rule(rule)
        conditions.extend(found[0])
        events.extend(found[1])
    leaves = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
    counted: dict[Event, Fraction] = {}
    sun = any(isinstance(leaf, Night) for leaf in leaves)
    if sun or any(isinstance(e, NightBegins | DayBegins) for e in events):
        turns = () if year.nights is None else year.nights.turns
        inside = [to_night for at, to_night in turns if 0 <= at < year.days * DAY_S]
        counted[NightBegins()] = Fraction(sum(inside))
        counted[DayBegins()] = Fraction(len(inside) - sum(inside))
    clocks = [e for e in events if isinstance(e, AtClock)]
    for leaf in leaves:
        if isinstance(leaf, Between):
            clocks += [AtClock(leaf.from_s, None), AtClock(leaf.to_s, None)]
    for event in clocks:
        counted[event] = Fraction(
            sum(
                1
                for d in range(year.days)
                if event.days is None or year.day_of_week(d) in event.days
            )
        )
    return list(counted.items())
