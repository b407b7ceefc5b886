"""How long an output is on in a year on average, by formula, where its rule is simple enough.

With N moments a day that know nothing of each other (a Poisson process, rate l) three shapes of rule
have a formula:

- a run of D from a press that each press begins anew: on unless D passed without a press,
  1 - exp(-l D);
- on until somebody has not been seen for D: on unless a stay S and D passed without anybody coming,
  1 - exp(-l (S + D));
- a run of D during which presses do nothing: l (1 - p) starts in a second, each on for D; with l
  the same all day the part of the time that it is on is p = l D / (1 + l D).

Where the rate changes with the hour, or a trigger counts by night alone, l D stands for the mean
number of moments in the last D; the first two are then added up over the year exactly, piece by
piece, the third in steps of half a minute.

Source: the first is the chance of no event in an interval of a Poisson process, the second that of
an empty system with infinitely many servers (M/G/infinity), the third that of the one server of
Erlang's loss formula (M/G/1/1), all textbook results, quoted from memory.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil, exp
from typing import Literal

from verifier.handover.live import Live
from verifier.handover.pattern import lasts_s, window
from verifier.handover.year import Year
from verifier.model.job import (
    Becomes,
    Is,
    Job,
    Night,
    Not,
    Point,
    Pressed,
    Put,
    Rule,
    Statement,
    Stayed,
    Wait,
    WaitUntil,
)
from verifier.model.used import Use
from verifier.surroundings.calendar import DAY_S

STEP_S = 30
"""The step in which a run that presses do not prolong is added up."""

Shape = Literal["prolonged", "until unseen", "run to its end"]
Counts = Literal["always", "night", "day"]


@dataclass(frozen=True, slots=True)
class Expected:
    """What an output does in a year on average: seconds on, and seconds of full light."""

    on_s: float
    full_s: float
    shape: Shape


@dataclass(frozen=True, slots=True)
class Stage:
    """A level that is kept from one second to another after the last reason (or the start)."""

    begin_s: float
    end_s: float
    level: float


@dataclass(frozen=True, slots=True)
class Stream:
    """Moments by a rate a second, piece by piece: (from, to, rate); ``lasting_s`` of each of them."""

    pieces: tuple[tuple[float, float, float], ...]
    lasting_s: float


def expected(job: Job, year: Year, live: Live, output: Point) -> Expected | None:
    """The mean of a year by formula; None where the rules of the output have no shape of these."""
    begins_on = output.starts is not None and output.starts not in ("off", Fraction(0))
    if begins_on or (job.site is not None and job.site.reaction_s):
        return None
    writers = live.writers(output.name)
    if not writers:
        return Expected(0.0, 0.0, "prolonged")
    rule = writers[0]
    if len(writers) > 1 or live.cancelled(rule.name):
        return None
    body = _stages(rule.body, output.name)
    if body is None:
        return None
    unseen, stages = body
    streams = _streams(job, year, live, rule, unseen)
    if streams is None:
        return None
    prolonged = (rule.policy.at_once, rule.policy.waiting, rule.policy.oldest_gives_way)
    span = float(year.days * DAY_S)
    if unseen is not None:
        if prolonged != (1, 0, True) and not (prolonged == (1, 0, False) and len(stages) == 1):
            return None
        return _since_last(streams, stages, span, "until unseen")
    if prolonged == (1, 0, True):
        return _since_last(streams, stages, span, "prolonged")
    if prolonged == (1, 0, False):
        return _to_the_end(streams, stages, span)
    return None


# ---------------------------------------------------------------- the shape of a rule


def _stages(
    body: tuple[Statement, ...], output: str
) -> tuple[Stayed | None, tuple[Stage, ...]] | None:
    """The levels of an output along a body without choices; with what its first wait waits for.

    None unless the output is set before the first wait and off at the end.
    """
    unseen: Stayed | None = None
    stages: list[Stage] = []
    level: Fraction | None = None
    now = Fraction(0)
    for statement in body:
        lasting: Fraction | None = None
        match statement:
            case Put(name, value):
                if name == output:
                    level = _level(value)
            case Wait(for_s):
                lasting = for_s
            case WaitUntil(Stayed() as until, None) if not stages:
                unseen, lasting = until, until.for_s
            case _:
                return None
        if lasting is not None:
            if level is None:
                return None
            stages.append(Stage(float(now), float(now + lasting), float(level)))
            now += lasting
    return (unseen, tuple(stages)) if level == 0 and stages else None


def _level(value: str | Fraction) -> Fraction:
    if isinstance(value, str):
        return Fraction(100 if value == "on" else 0)
    return value


def _streams(
    job: Job, year: Year, live: Live, rule: Rule, unseen: Stayed | None
) -> list[Stream] | None:
    """What sets a rule off, as streams of moments; None if that is more than the formulas know."""
    found: list[Stream] = []
    for trigger in live.triggers(rule):
        guard = live.guard(rule, trigger)
        if guard is False:
            continue
        match trigger.event, unseen:
            case Pressed(subject), None:
                pass
            case Becomes(Is(subject, value)), Stayed(Is(watched, away)):
                if subject != watched or live.rest.get(subject) != away or value == away:
                    return None
                if guard is not True or subject not in job.point:
                    return None
            case _:
                return None
        counts = _counts(guard)
        if counts is None:
            return None
        assert job.usage is not None
        found.extend(
            _stream(job, year, use, counts) for use in job.usage.uses if use.subject == subject
        )
    return found


def _counts(guard: object) -> Counts | None:
    match guard:
        case True:
            return "always"
        case Night():
            return "night"
        case Not(Night()):
            return "day"
        case _:
            return None


def _stream(job: Job, year: Year, use: Use, counts: Counts) -> Stream:
    begin, end = window(use)
    rate = float(use.times) / (end - begin)
    pieces: list[tuple[float, float, float]] = []
    for day in range(-1, year.days):
        if use.days is not None and year.day_of_week(day) not in use.days:
            continue
        first, last = day * DAY_S + begin, day * DAY_S + end
        if counts == "always":
            pieces.append((first, last, rate))
            continue
        assert year.nights is not None
        marks = [first, *(at for at, _ in year.nights.turns if first < at < last), last]
        pieces.extend(
            (a, b, rate)
            for a, b in pairwise(marks)
            if year.nights.is_night(a) == (counts == "night")
        )
    return Stream(tuple(pieces), float(lasts_s(job, use)))


# ---------------------------------------------------------------- adding up


class _Mean:
    """The mean number of moments of a stream up to a moment."""

    def __init__(self, stream: Stream) -> None:
        edges = sorted({edge for a, b, _ in stream.pieces for edge in (a, b)})
        rates = [0.0] * len(edges)
        place = {edge: k for k, edge in enumerate(edges)}
        for a, b, rate in stream.pieces:
            for k in range(place[a], place[b]):
                rates[k] += rate
        self.edges, self.rates = edges, rates
        steps = [rate * (b - a) for rate, (a, b) in zip(rates, pairwise(edges), strict=False)]
        self.counts = [0.0, *accumulate(steps)]

    def up_to(self, at: float) -> float:
        """The mean number of moments before ``at``."""
        k = bisect_right(self.edges, at) - 1
        if k < 0:
            return 0.0
        return self.counts[k] + self.rates[k] * (at - self.edges[k])


def _since_last(
    streams: list[Stream], stages: tuple[Stage, ...], span: float, shape: Shape
) -> Expected:
    """A run that each moment begins anew: what counts is how long ago the last one was."""
    means = [_Mean(stream) for stream in streams]
    lasting = [stream.lasting_s for stream in streams]
    without = [span - _nothing(means, lasting, stage.end_s, span) for stage in stages]
    on, full, before = 0.0, 0.0, 0.0
    for stage, until in zip(stages, without, strict=True):
        on += until - before if stage.level else 0.0
        full += (until - before) * stage.level / 100
        before = until
    return Expected(on, full, shape)


def _nothing(means: list[_Mean], lasting: list[float], since_s: float, span: float) -> float:
    """The seconds of a year at which nothing has happened for so long, on average."""
    edges = {0.0, span}
    for mean, stay in zip(means, lasting, strict=True):
        for edge in mean.edges:
            edges.update(x for x in (edge, edge + since_s + stay) if 0 < x < span)
    total = 0.0
    here: float | None = None
    for a, b in pairwise(sorted(edges)):
        first = _recent(means, lasting, since_s, a) if here is None else here
        last = _recent(means, lasting, since_s, b)
        slope = last - first
        total += (b - a) * exp(-first) * (_mean_of_exp(slope))
        here = last
    return total


def _mean_of_exp(slope: float) -> float:
    """The mean of exp(-slope x) for x from 0 to 1."""
    return 1 - slope / 2 + slope * slope / 6 if abs(slope) < 1e-5 else (1 - exp(-slope)) / slope


def _recent(means: list[_Mean], lasting: list[float], since_s: float, at: float) -> float:
    """How many moments, on average, are recent enough to be felt."""
    return sum(
        mean.up_to(at) - mean.up_to(at - since_s - stay)
        for mean, stay in zip(means, lasting, strict=True)
    )


def _to_the_end(streams: list[Stream], stages: tuple[Stage, ...], span: float) -> Expected:
    """A run during which moments do nothing: how often one begins, times what each comes to."""
    means = [_Mean(stream) for stream in streams]
    length = stages[-1].end_s
    back = max(1, ceil(length / STEP_S))
    step = length / back
    lead = ceil(DAY_S / step)
    starts: list[float] = []
    running, total = 0.0, 0.0
    before = sum(mean.up_to(-lead * step) for mean in means)
    for k in range(lead + round(span / step)):
        coming = sum(mean.up_to((k + 1 - lead) * step) for mean in means)
        came = coming - before
        before = coming
        leaving = starts[k - back] if k >= back else 0.0
        # Of what begins and ends in this step, half is there already when the mean moment comes.
        begun = came * (1 - running + leaving / 2) / (1 + came / 2)
        starts.append(begun)
        running += begun - leaving
        total += begun if k >= lead else 0.0
    on = sum(stage.end_s - stage.begin_s for stage in stages if stage.level)
    full = sum((stage.end_s - stage.begin_s) * stage.level / 100 for stage in stages)
    return Expected(total * on, total * full, "run to its end")
