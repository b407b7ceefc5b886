"""The exhaustive search once more, with ticks in which nothing new can happen taken together.

States and ticks are those of :mod:`verifier.simulate.explicit`, all clocks known, every happening
by the same concrete execution. Two things make a millisecond beside minutes bearable:

- A *stretch* is a state with all that it becomes by time alone. The interpreter reads clocks
  through ``Registers.reached`` only, so what it did in one state it does in every state of the
  stretch in which the same questions get the same answers: :class:`Asking` notes them.
- What has been found to fail is shown to be part of a run by going on from it for ever (15);
  nothing else needs the states from which surroundings cannot go on, as leaving them in can
  only make more states fail.

Every state is visited; the order (ends of stretches first) decides only how soon one that fails
is found.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from verifier.model.job import Job, LeadsTo, MeasureLongest, Possible, Requirement
from verifier.simulate.explicit import EndlessChain, State, TooLarge, starts
from verifier.simulate.instant import outcomes
from verifier.simulate.system import System
from verifier.surroundings.state import FOREVER, Registers, each_way


class Unclear(Exception):
    """States fail, and none of them was seen to go on for ever."""


Values = tuple[int, ...]
Clocks = tuple[int, ...]


class Asking(Registers):
    """Known registers that note what was asked of the clocks: between ``low`` and ``high`` all
    answers stay as they were."""

    __slots__ = ("high", "low")
    low: list[int]
    high: list[int]

    @classmethod
    def of(cls, values: Values, clocks: Clocks) -> Asking:
        """Registers that know the state."""
        new = cls(list(values), list(clocks), list(clocks))
        new.low = [0] * len(clocks)
        new.high = [FOREVER] * len(clocks)
        return new

    def copy(self) -> Asking:
        """A copy that notes in the same place."""
        plain = super().copy()
        new = Asking(plain.facts, plain.at_least, plain.at_most)
        new.source, new.value, new.clock_from = plain.source, plain.value, plain.clock_from
        new.low, new.high = self.low, self.high
        return new

    def reached(self, clock: int, position: int) -> bool:
        """Whether the clock stands there or later, noted."""
        answer = super().reached(clock, position)
        source = self.clock_from[clock]
        if source >= 0:
            if answer:
                self.low[source] = max(self.low[source], position)
            else:
                self.high[source] = min(self.high[source], position - 1)
        return answer


@dataclass(frozen=True, slots=True)
class Answer:
    """What can happen, and whether the claim fails, while all clocks are in between."""

    low: list[int]
    high: list[int]
    ends: tuple[tuple[Values, tuple[int, ...]], ...]
    """Values afterwards, and the clock whose time each clock has then (below 0: none)."""
    fails: bool


@dataclass(frozen=True, slots=True)
class Family:
    """The states that one end of an instant gives, begun at each of some moments of a stretch."""

    values: Values
    clocks: tuple[int | None, ...]
    """Where each clock stands if begun at moment 0; None where it is reset or does not matter."""
    first: int
    last: int


@dataclass(slots=True)
class Search:
    """All states of a system, stretch by stretch."""

    system: System
    answers: dict[Values, list[Answer]] = field(default_factory=dict)
    caps: dict[Values, tuple[int, ...]] = field(default_factory=dict)
    seen: set[State] = field(default_factory=set)

    def fails(self, cap: int) -> bool:
        """Whether some run comes to a state that fails.

        Raises: TooLarge; EndlessChain; Unclear.
        """
        near: deque[State] = deque(self.new(starts(self.system)))
        rest: list[Iterator[State]] = []
        unclear = False
        while near or rest:
            if not near:
                near.extend(self.new(next_of(rest)))
                continue
            values, clocks = near.popleft()
            if len(self.seen) > cap:
                raise TooLarge
            for moment, last, answer in self.moments(values, clocks):
                at = tuple(c + moment for c in clocks)
                if answer.fails:
                    # What can be reached from a later moment of this part, its first reaches too.
                    if self.goes_on((values, self.tidy(values, at))):
                        return True
                    unclear = True
                for family in self.families(clocks, moment, last, answer):
                    near.extend(self.new(members(family, ends_of(family))))
                    if family.last - family.first > 1:
                        rest.append(members(family, range(family.first + 1, family.last)))
        if unclear:
            raise Unclear
        return False

    def new(self, states: Iterator[State] | list[State]) -> Iterator[State]:
        """Those of the states that were not met before."""
        for values, clocks in states:
            state = (values, self.tidy(values, clocks))
            if state not in self.seen:
                self.seen.add(state)
                yield state

    def matter(self, values: Values) -> tuple[int, ...]:
        """How far each clock matters: 0 where nothing compares it."""
        caps = self.caps.get(values)
        if caps is None:
            layout = self.system.layout
            caps = self.caps[values] = tuple(
                2 * layout.greatest[clock] + 1
                if any(all(values[v] & m for v, m in when) for when in uses)
                else 0
                for clock, uses in enumerate(layout.uses)
            )
        return caps

    def tidy(self, values: Values, clocks: Clocks) -> Clocks:
        """Clocks as far as they matter."""
        return tuple(map(min, clocks, self.matter(values)))

    def length(self, values: Values, clocks: Clocks) -> int | None:
        """Ticks that can pass; None: any number."""
        left = [
            2 * bound.limit - clocks[bound.clock]
            for bound in self.system.layout.bounds
            if all(values[v] & m for v, m in bound.when)
        ]
        return max(0, min(left)) if left else None

    def moments(self, values: Values, clocks: Clocks) -> Iterator[tuple[int, int, Answer]]:
        """(first, last, answer) of each part of a stretch in which all answers are the same.

        It ends when time can pass no further, or when no clock matters any more.
        """
        end = max(
            (cap - clock for cap, clock in zip(self.matter(values), clocks, strict=True)), default=0
        )
        length = self.length(values, clocks)
        end = max(0, end) if length is None else min(max(0, end), length)
        at = 0
        while at <= end:
            now = tuple(c + at for c in clocks)
            answer = self.answer(values, now)
            last = min([end, *(at + h - c for h, c in zip(answer.high, now, strict=True))])
            yield at, last, answer
            at = last + 1

    def answer(self, values: Values, clocks: Clocks) -> Answer:
        """What can happen in a state, executed once for all that answer the same."""
        known = self.answers.setdefault(values, [])
        for answer in known:
            if all(map(int.__le__, answer.low, clocks)) and all(
                map(int.__le__, clocks, answer.high)
            ):
                return answer
        reg = Asking.of(values, clocks)
        ends: dict[tuple[Values, tuple[int, ...]], None] = {}
        for happening in self.system.happenings:
            for outcome in outcomes(self.system, reg, happening):
                if outcome.endless:
                    raise EndlessChain
                after = outcome.registers
                ends.setdefault(
                    (
                        tuple(after.known(v) for v in range(len(values))),
                        tuple(after.clock_from),
                    )
                )
        fails = any(result for _, result in each_way(reg, self.system.bad))
        known.append(Answer(reg.low, reg.high, tuple(ends), fails))
        return known[-1]

    def families(self, clocks: Clocks, first: int, last: int, answer: Answer) -> Iterator[Family]:
        """What each end of an instant gives at the moments from ``first`` to ``last``."""
        for values, sources in answer.ends:
            caps = self.matter(values)
            kept = tuple(
                clocks[source] if source >= 0 and cap else None
                for source, cap in zip(sources, caps, strict=True)
            )
            family = Family(values, kept, first, last)
            yield family if self.spread(family, caps) else replace(family, last=first)

    def spread(self, family: Family, caps: Clocks) -> bool:
        """Whether more of the family is needed than its first member.

        Not if every clock that matters goes on in it: the others then are what time makes of
        the first. Not if none does: they are all the same.
        """
        moving = [
            kept is not None and kept + family.first < cap
            for kept, cap in zip(family.clocks, caps, strict=True)
        ]
        if not any(moving):
            return False
        if any(cap and kept is None for kept, cap in zip(family.clocks, caps, strict=True)):
            return True
        (first,) = members(family, (family.first,))
        length = self.length(*first)
        return length is not None and length < family.last - family.first

    def goes_on(self, state: State) -> bool:
        """Whether time is seen to go on for ever from a state: without limit, or round and round."""
        path: dict[State, int] = {}
        done: set[State] = set()
        todo: list[tuple[State, int, bool]] = [(state, 0, False)]
        while todo:
            at, ticks, leaving = todo.pop()
            if leaving:
                del path[at]
                continue
            if at in path:
                if ticks > path[at]:
                    return True
                continue
            if at in done:
                continue
            done.add(at)
            path[at] = ticks
            todo.append((at, 0, True))
            values, clocks = at
            if self.length(values, clocks) is None:
                return True
            for moment, last, answer in self.moments(values, clocks):
                for family in self.families(clocks, moment, last, answer):
                    for begun in ends_of(family):
                        (found,) = members(family, (begun,))
                        todo.append(((found[0], self.tidy(*found)), ticks + begun, False))
        return False


def ends_of(family: Family) -> tuple[int, ...]:
    """The first and the last moment of a family."""
    return (family.first,) if family.first == family.last else (family.first, family.last)


def members(family: Family, moments: range | tuple[int, ...]) -> Iterator[State]:
    """The states of a family at some of its moments."""
    for moment in moments:
        yield family.values, tuple(0 if c is None else c + moment for c in family.clocks)


def next_of(rest: list[Iterator[State]]) -> Iterator[State]:
    """One more state of what was put off, where there is one."""
    for state in rest[-1]:
        yield state
        return
    rest.pop()


def search(job: Job, requirement: Requirement, cap: int) -> Literal["proved", "refuted"]:
    """The verdict on a claim (not of ``leads to`` and ``measure``).

    Raises: TooLarge; EndlessChain; Unclear.
    """
    assert not isinstance(requirement.form, LeadsTo | MeasureLongest)
    fails = Search(System(job, requirement)).fails(cap)
    return "proved" if fails == isinstance(requirement.form, Possible) else "refuted"
