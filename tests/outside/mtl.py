"""Metric temporal logic over timelines of settled instants, judged without a monitor.

Time is dense, and one moment may hold several settled instants in order ("hybrid" or
"super-dense" time: Maler, Manna, Pnueli, "From timed to hybrid systems", 1992). A position is a
moment together with the settled instant that was the last to come; every moment between two
instants is a position too. Operators and intervals are those of Koymans 1990 and Alur, Feder,
Henzinger 1996, with past operators.

A timeline is finite. What is so of a part of a run is read in two views (Eisner and others,
"Reasoning with temporal logic on truncated paths", 2003): the *weak* one gives what may still
come the benefit of the doubt, the *strong* one does not. A formula is broken at the first
moment at which even the weak view of what has passed is false.

Evaluation is by regions: all moments and constants are multiples of one unit; between two
multiples nothing changes truth, so that one sample of each open gap stands for all of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm
from typing import assert_never

# ---------------------------------------------------------------- timelines


@dataclass(frozen=True, slots=True)
class Settled:
    """A settled instant: its moment, what is true from then on, how often each event came in it."""

    at_s: Fraction
    true: frozenset[str]
    events: tuple[tuple[str, int], ...] = ()

    def times(self, event: str) -> int:
        """How often the event came in this instant."""
        return dict(self.events).get(event, 0)


@dataclass(frozen=True, slots=True)
class Timeline:
    """Settled instants in order, the first at 0; the state of the last one stays until ``end_s``."""

    instants: tuple[Settled, ...]
    end_s: Fraction


# ---------------------------------------------------------------- formulas


@dataclass(frozen=True, slots=True)
class Interval:
    """Distances from ``low`` to ``high`` (None: any)."""

    low: Fraction
    high: Fraction | None
    low_open: bool = False
    high_open: bool = False


ANY = Interval(Fraction(0), None)


def up_to(high: Fraction) -> Interval:
    """[0, high]."""
    return Interval(Fraction(0), high)


def below(high: Fraction) -> Interval:
    """[0, high)."""
    return Interval(Fraction(0), high, high_open=True)


def beyond(low: Fraction) -> Interval:
    """(low, for ever)."""
    return Interval(low, None, low_open=True)


@dataclass(frozen=True, slots=True)
class Yes:
    """True everywhere."""


@dataclass(frozen=True, slots=True)
class Start:
    """The first position of all."""


@dataclass(frozen=True, slots=True)
class State:
    """What is true of a settled state."""

    name: str


@dataclass(frozen=True, slots=True)
class Occurs:
    """The event came in the instant whose settled end this is."""

    name: str


@dataclass(frozen=True, slots=True)
class No:
    """Not."""

    item: Formula


@dataclass(frozen=True, slots=True)
class All:
    """And."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Some:
    """Or."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Until:
    """``right`` at a position in the interval, ``left`` at all from here up to just before it."""

    left: Formula
    right: Formula
    interval: Interval = ANY


@dataclass(frozen=True, slots=True)
class Since:
    """``right`` at a position back in the interval, ``left`` at all just after it up to here."""

    left: Formula
    right: Formula
    interval: Interval = ANY


@dataclass(frozen=True, slots=True)
class JustBefore:
    """At the position before this one (of an open gap: the same; at the start: false)."""

    item: Formula


@dataclass(frozen=True, slots=True)
class Counted:
    """The event came at least ``times`` times in the interval back from here, ``left`` all along.

    The counting modality of Hirshfeld and Rabinovich, "Logics for real time", 2004.
    """

    left: Formula
    event: str
    times: int
    interval: Interval


Formula = Yes | Start | State | Occurs | No | All | Some | Until | Since | JustBefore | Counted


def implies(left: Formula, right: Formula) -> Formula:
    """left → right."""
    return Some((No(left), right))


def always(item: Formula, interval: Interval = ANY) -> Formula:
    """G."""
    return No(Until(Yes(), No(item), interval))


def eventually(item: Formula, interval: Interval = ANY) -> Formula:
    """F."""
    return Until(Yes(), item, interval)


def weak_until(left: Formula, right: Formula) -> Formula:
    """left W right."""
    return No(Until(No(right), All((No(left), No(right)))))


def once(item: Formula, interval: Interval = ANY) -> Formula:
    """O: F into the past."""
    return Since(Yes(), item, interval)


def historically(item: Formula, interval: Interval = ANY) -> Formula:
    """H: G into the past."""
    return No(once(No(item), interval))


def constants(formula: Formula) -> Iterator[Fraction]:
    """Every duration in a formula."""
    match formula:
        case Yes() | Start() | State() | Occurs():
            return
        case No(item) | JustBefore(item):
            yield from constants(item)
        case All(items) | Some(items):
            for one in items:
                yield from constants(one)
        case Until(left, right, interval) | Since(left, right, interval):
            yield from constants(left)
            yield from constants(right)
            yield from (d for d in (interval.low, interval.high) if d)
        case Counted(left, _, _, interval):
            yield from constants(left)
            yield from (d for d in (interval.low, interval.high) if d)
        case _:
            assert_never(formula)


# ---------------------------------------------------------------- samples


@dataclass(frozen=True, slots=True)
class Sample:
    """A position, or all those of an open gap (``moment`` is then its middle).

    Moments are counted in half units. ``first``: the settled end of the instant itself.
    """

    moment: int
    instant: int
    first: bool

    @property
    def is_gap(self) -> bool:
        """Whether it stands for an open gap."""
        return self.moment % 2 == 1


def unit_of(timeline: Timeline, formula: Formula) -> Fraction:
    """The greatest time that all moments and constants are multiples of."""
    times = [timeline.end_s, *(i.at_s for i in timeline.instants), *constants(formula)]
    times = [t for t in times if t]
    scale = lcm(1, *(t.denominator for t in times))
    return Fraction(gcd(*(int(t * scale) for t in times)) or 1, scale)


def samples_of(timeline: Timeline, unit: Fraction) -> list[Sample]:
    """All positions of a timeline, region by region."""
    found: list[Sample] = []
    for number, instant in enumerate(timeline.instants):
        begins = int(instant.at_s / unit)
        last = number + 1 == len(timeline.instants)
        until = timeline.end_s if last else timeline.instants[number + 1].at_s
        found.append(Sample(2 * begins, number, True))
        found.extend(
            Sample(m, number, False) for m in range(2 * begins + 1, 2 * int(until / unit) + 1)
        )
    return found


# ---------------------------------------------------------------- truth


class Truth:
    """What is true at the first ``length`` samples of a timeline, seen weakly or strongly."""

    def __init__(
        self, timeline: Timeline, samples: list[Sample], length: int, unit: Fraction
    ) -> None:
        self.timeline = timeline
        self.samples = samples[:length]
        self.unit = unit
        self.known: dict[tuple[Formula, bool], list[bool]] = {}

    def of(self, formula: Formula, weak: bool) -> list[bool]:
        """The truth at each sample."""
        key = (formula, weak)
        if key not in self.known:
            self.known[key] = self._evaluated(formula, weak)
        return self.known[key]

    def _evaluated(self, formula: Formula, weak: bool) -> list[bool]:
        samples, instants = self.samples, self.timeline.instants
        match formula:
            case Yes():
                return [True] * len(samples)
            case Start():
                return [k == 0 for k in range(len(samples))]
            case State(name):
                return [name in instants[s.instant].true for s in samples]
            case Occurs(name):
                return [s.first and instants[s.instant].times(name) > 0 for s in samples]
            case No(item):
                return [not x for x in self.of(item, not weak)]
            case All(items):
                return [all(x) for x in zip(*(self.of(i, weak) for i in items), strict=True)]
            case Some(items):
                return [any(x) for x in zip(*(self.of(i, weak) for i in items), strict=True)]
            case JustBefore(item):
                inner = self.of(item, weak)
                return [
                    inner[k] if s.is_gap else k > 0 and inner[k - 1] for k, s in enumerate(samples)
                ]
            case Until(left, right, interval):
                return self._until(self.of(left, weak), self.of(right, weak), interval, weak)
            case Since(left, right, interval):
                return self._since(self.of(left, weak), self.of(right, weak), interval)
            case Counted(left, event, times, interval):
                return self._counted(self.of(left, weak), event, times, interval)
            case _:
                assert_never(formula)

    def _place(self, one: Sample, other: Sample, interval: Interval) -> int:
        """-1, 0, 1: the distance lies before, in, or beyond the interval.

        Two gaps lie at every distance around that of their middles: an open end touches them.
        """
        distance = abs(other.moment - one.moment)
        both = one.is_gap and other.is_gap
        low = 2 * int(interval.low / self.unit)
        if distance < low or (distance == low and interval.low_open and not both):
            return -1
        if interval.high is None:
            return 0
        high = 2 * int(interval.high / self.unit)
        if distance > high or (distance == high and interval.high_open and not both):
            return 1
        return 0

    def _until(
        self, left: list[bool], right: list[bool], interval: Interval, weak: bool
    ) -> list[bool]:
        samples = self.samples
        found = []
        for k, here in enumerate(samples):
            answer = weak
            for n in range(k, len(samples)):
                place = self._place(here, samples[n], interval)
                if place > 0:
                    answer = False
                    break
                if place == 0 and right[n]:
                    answer = True
                    break
                if not left[n]:
                    answer = False
                    break
            else:
                # The part ends inside the interval or before it: what comes may still do.
                answer = weak
            found.append(answer)
        return found

    def _since(self, left: list[bool], right: list[bool], interval: Interval) -> list[bool]:
        samples = self.samples
        found = []
        for k, here in enumerate(samples):
            answer = False
            for n in range(k, -1, -1):
                place = self._place(here, samples[n], interval)
                if place > 0:
                    break
                if place == 0 and right[n]:
                    answer = True
                    break
                if not left[n]:
                    break
            found.append(answer)
        return found

    def _counted(self, left: list[bool], event: str, times: int, interval: Interval) -> list[bool]:
        samples, instants = self.samples, self.timeline.instants
        found = []
        for k, here in enumerate(samples):
            count = 0
            for n in range(k, -1, -1):
                if self._place(here, samples[n], interval) > 0 or not left[n]:
                    break
                if samples[n].first:
                    count += instants[samples[n].instant].times(event)
                if count >= times:
                    break
            found.append(count >= times)
        return found


# ---------------------------------------------------------------- judgement


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """A moment, or just after it."""

    at_s: Fraction
    just_after: bool


def first_broken(formula: Formula, timeline: Timeline) -> Moment | None:
    """The moment at which the formula is first known to be broken; None: not in this timeline."""
    unit = unit_of(timeline, formula)
    samples = samples_of(timeline, unit)

    def broken(length: int) -> bool:
        return not Truth(timeline, samples, length, unit).of(formula, True)[0]

    if not broken(len(samples)):
        return None
    low, high = 1, len(samples)
    while low < high:  # once broken, it stays broken
        middle = (low + high) // 2
        if broken(middle):
            high = middle
        else:
            low = middle + 1
    last = samples[low - 1]
    return Moment(last.moment // 2 * unit, last.is_gap)


def first_true(formula: Formula, timeline: Timeline) -> Moment | None:
    """The first moment at which a formula about the past is true."""
    return first_broken(always(No(formula)), timeline)
