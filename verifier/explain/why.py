"""Why a run breaks a requirement: the values and events at the instants that made it fail.

A form that speaks of durations becomes, on the instants of one run, a formula of linear temporal
logic: its windows are known there. The causes are those of :mod:`verifier.explain.causes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from verifier.explain.causes import Both, Either, Formula, Path, Value, causes, later
from verifier.explain.observed import Observed
from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AtMostTimes,
    Before,
    Condition,
    Event,
    Implies,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Not,
    Or,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
    atoms_and_leaves,
    conditions_and_events_of,
)


@dataclass(frozen=True, slots=True)
class Cause:
    """A value (``condition``, a leaf) or an event at an instant (``number``) that made it fail.

    ``true``: whether the leaf was true there. ``until`` is the last instant of the stretch in
    which it stayed so and mattered (the same as ``number`` for a moment).
    """

    number: int
    until: int
    leaf: Condition | None
    true: bool
    event: Event | None


@dataclass(frozen=True, slots=True)
class Why:
    """The causes in order of time, and ``since``: the instant at which the failing began to be due.

    That is when the promise was called on (the event, the begin of the stretch that is judged).
    """

    causes: tuple[Cause, ...]
    since: int


class _Reading:
    """Atoms of the path: leaves and events, numbered as they are met."""

    def __init__(self, seen: Observed) -> None:
        self.seen = seen
        self.leaves: list[Condition] = []
        self.events: list[Event] = []

    def condition(self, condition: Condition, k: int, *, wanted: bool = True) -> Formula:
        """A condition (or its denial) at instant ``k``, in negation normal form."""
        return later(self._normal(condition, wanted), k)

    def _normal(self, condition: Condition, wanted: bool) -> Formula:
        match condition:
            case Not(item):
                return self._normal(item, not wanted)
            case And(items):
                parts = tuple(self._normal(item, wanted) for item in items)
                return Both(parts) if wanted else Either(parts)
            case Or(items):
                parts = tuple(self._normal(item, wanted) for item in items)
                return Either(parts) if wanted else Both(parts)
            case Implies(left, right):
                parts = (self._normal(left, not wanted), self._normal(right, wanted))
                return Either(parts) if wanted else Both(parts)
            case _:
                if condition not in self.leaves:
                    self.leaves.append(condition)
                return Value(f"v{self.leaves.index(condition)}", wanted)

    def event(self, events: Iterable[Event], k: int, *, wanted: bool = True) -> Formula:
        """One of the events at instant ``k`` (or none of them)."""
        values = []
        for event in events:
            if event not in self.events:
                self.events.append(event)
            values.append(Value(f"e{self.events.index(event)}", wanted))
        return later(Either(tuple(values)) if wanted else Both(tuple(values)), k)

    def path(self) -> Path:
        seen = self.seen
        return tuple(
            frozenset(
                [f"v{n}" for n, leaf in enumerate(self.leaves) if seen.true(leaf, k)]
                + [f"e{n}" for n, event in enumerate(self.events) if seen.occurs(event, k)]
            )
            for k in range(seen.last + 1)
        )


def why(requirement: Requirement, seen: Observed) -> Why:
    """Why the run that was observed breaks a requirement."""
    reading = _Reading(seen)
    formula, since = _formula(requirement, seen, reading)
    path = reading.path()
    return Why(_told(reading, causes(formula, path)), since)


def at_fault(seen: Observed, condition: Condition, k: int, *, wanted: bool) -> tuple[Cause, ...]:
    """The leaves for which a condition is not as ``wanted`` at an instant."""
    reading = _Reading(seen)
    formula = reading.condition(condition, k, wanted=wanted)
    return _told(reading, causes(formula, reading.path()))


def _told(reading: _Reading, pairs: Iterable[tuple[int, str]]) -> tuple[Cause, ...]:
    """The causes, with values that stay the same from one instant to the next told once."""
    found: list[Cause] = []
    open_: dict[str, int] = {}
    for k, atom in sorted(pairs, key=lambda pair: (pair[0], pair[1])):
        number = int(atom[1:])
        if atom.startswith("e"):
            event = reading.events[number]
            if reading.seen.occurs(event, k):
                found.append(Cause(k, k, None, True, event))
            continue
        leaf = reading.leaves[number]
        true = reading.seen.true(leaf, k)
        last = open_.get(atom)
        if last is not None and found[last].until == k - 1 and found[last].true is true:
            found[last] = Cause(found[last].number, k, leaf, true, None)
            continue
        open_[atom] = len(found)
        found.append(Cause(k, k, leaf, true, None))
    return tuple(found)


# ---------------------------------------------------------------- form by form


def _formula(requirement: Requirement, seen: Observed, read: _Reading) -> tuple[Formula, int]:
    """The formula on this run's instants, and the instant from which the failing was due."""
    form, last = requirement.form, seen.last
    outside = _out_of_scope(requirement, read)
    match form:
        case Always(condition):
            return _stands(condition, requirement, seen, read, wanted=True)
        case Never(condition) | Possible(condition):
            return _stands(condition, requirement, seen, read, wanted=False)
        case WhenWithin(events, condition, within_s):
            a = _last_event(seen, events, seen.at_s[last] - within_s)
            window = [k for k in range(a, last + 1) if seen.at_s[k] <= seen.at_s[a] + within_s]
            comes = [read.condition(condition, k) for k in window]
            missing = read.event(events, a, wanted=False)
            return Either((missing, *(f for k in window for f in outside(k)), *comes)), a
        case WhenFor(events, condition, for_s):
            a = _last_event(seen, events, seen.at_s[last], after=seen.at_s[last] - for_s)
            missing = read.event(events, a, wanted=False)
            return Either((missing, *outside(a), read.condition(condition, last))), a
        case AfterLast(events, condition, within_s):
            a = _last_event(seen, events, seen.at_s[last])
            missing = read.event(events, a, wanted=False)
            again = [read.event(events, k) for k in range(a + 1, last + 1)]
            return Either((missing, *outside(last), *again, read.condition(condition, last))), a
        case Before(events, condition, for_s):
            begin = seen.at_s[last] - for_s
            window = [k for k in range(last) if seen.at_s[k + 1] > begin or seen.at_s[k] >= begin]
            was: Formula = Both(tuple(read.condition(condition, k) for k in window))
            if begin < 0:
                # It began less than that before.
                was = Either(())
            missing = read.event(events, last, wanted=False)
            return Either((missing, *outside(last), was)), window[0] if window else last
        case NoLonger(_, condition):
            a = _stretch(condition, requirement, seen, wanted=True)
            ends = [read.condition(condition, k, wanted=False) for k in range(a, last + 1)]
            return Either((*(f for k in (a, last) for f in outside(k)), *ends)), a
        case NoShorter(_, condition):
            end = max((k for k in range(1, last + 1) if _ends(seen, condition, k)), default=last)
            a = max((k for k in range(1, end) if _begins(seen, condition, k)), default=0)
            stays = read.condition(condition, end)
            never = read.condition(condition, a, wanted=False)
            return Either((never, *outside(end), stays)), a
        case AtMostTimes(_, in_s, events):
            counted = [
                k
                for k in range(last + 1)
                if seen.at_s[k] >= seen.at_s[last] - in_s and any(seen.occurs(e, k) for e in events)
            ]
            missing_ones = [read.event(events, k, wanted=False) for k in counted]
            return Either(tuple(missing_ones)), counted[0] if counted else last
        case LeadsTo(_, condition):
            a = _stretch(condition, requirement, seen, wanted=False)
            return read.condition(condition, last), a
        case MeasureLongest(condition, events):
            a = _last_event(seen, events, seen.at_s[last])
            missing = read.event(events, a, wanted=False)
            return Either((missing, read.condition(condition, last, wanted=False))), a
        case _:
            assert_never(form)


def _out_of_scope(requirement: Requirement, read: _Reading) -> Callable[[int], list[Formula]]:
    def outside(k: int) -> list[Formula]:
        scope = requirement.scope
        return [] if scope is None else [read.condition(scope, k, wanted=False)]

    return outside


def _stands(
    condition: Condition, requirement: Requirement, seen: Observed, read: _Reading, *, wanted: bool
) -> tuple[Formula, int]:
    """``always`` (or ``never``): what fails at the end, since it began to."""
    outside = _out_of_scope(requirement, read)
    last = seen.last
    a = _stretch(condition, requirement, seen, wanted=not wanted)
    first = a if requirement.allowing_s else last
    ways = [read.condition(condition, k, wanted=wanted) for k in dict.fromkeys((first, last))]
    return Either((*outside(last), *ways)), a


def _stretch(
    condition: Condition, requirement: Requirement, seen: Observed, *, wanted: bool
) -> int:
    """The first instant of the stretch at the end in which a condition is (not) so, in scope."""
    k = seen.last
    while (
        k
        and seen.true(condition, k - 1) is wanted
        and (requirement.scope is None or seen.true(requirement.scope, k - 1))
    ):
        k -= 1
    return k


def _begins(seen: Observed, condition: Condition, k: int) -> bool:
    return seen.true(condition, k) and not seen.true(condition, k - 1)


def _ends(seen: Observed, condition: Condition, k: int) -> bool:
    return not seen.true(condition, k) and seen.true(condition, k - 1)


def _last_event(
    seen: Observed,
    events: tuple[Event, ...],
    until: Fraction,
    after: Fraction | None = None,
) -> int:
    """The last instant up to a moment in which one of the events occurs; 0 if there is none.

    Where ``after`` is given: the first later than that, if there is one.
    """
    found = [
        k
        for k in range(seen.last + 1)
        if seen.at_s[k] <= until and any(seen.occurs(event, k) for event in events)
    ]
    inside = [k for k in found if after is not None and seen.at_s[k] > after]
    if inside:
        return inside[-1]
    return found[-1] if found else 0


def leaves_of(requirement: Requirement) -> tuple[Condition, ...]:
    """The leaves of all conditions that a requirement has."""
    conditions, _ = conditions_and_events_of(requirement.form)
    if requirement.scope is not None:
        conditions = (*conditions, requirement.scope)
    return tuple(dict.fromkeys(leaf for c in conditions for leaf in atoms_and_leaves(c)))
