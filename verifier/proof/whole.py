"""Replaying a slice's run on the whole job: the last check before ``refuted`` is said.

On all of it that the slice can have to do with, that is (:mod:`verifier.proof.beside`).
As it comes, first (:mod:`verifier.proof.replayer`). Where that does not do, because something
outside the slice had to happen before it was due (people leave before nothing outside changes any
more, a door sets out in time to arrive), what may be put in is searched, with the fewest
happenings first.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain, islice

from verifier.model.job import Job, Requirement
from verifier.proof.beside import beside
from verifier.proof.planned import Line, Lines
from verifier.proof.replayer import Here, Planned, Replayer
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import (
    Concrete,
    DoesNotReplay,
    happen,
    passed,
    position,
)
from verifier.simulate.system import Excluded, System
from verifier.surroundings.happenings import (
    CalendarTurns,
    Happening,
    LevelReached,
)
from verifier.surroundings.state import FOREVER, Registers

MOST_TRIED = 20_000
"""Happenings that are tried before the search for what to put in gives up (some seconds)."""

MOST_STARTS = 32
"""Ways to begin outside the slice that are tried."""


def replay_on_whole(
    job: Job,
    requirement: Requirement,
    part: System,
    start: tuple[int, ...],
    steps: list[Planned],
    end: Fraction,
    without: tuple[Excluded, ...] = (),
    begins_s: Fraction | None = None,
) -> None:
    """Replays the run of a slice on the whole job up to the moment ``end``.

    ``begins_s`` is when it begins by the calendar, if the slice reads one. Raises: DoesNotReplay.
    """
    asked = (
        replace(job, requirements=(requirement,)) if without else beside(job, requirement, part.job)
    )
    replayer = Replayer(asked, requirement, part, without)
    try:
        replayer.run(start, steps, end, begins_s)
    except DoesNotReplay as as_it_comes:
        if not _Ahead(replayer, steps, end).finds(start):
            raise DoesNotReplay(str(as_it_comes)) from as_it_comes


@dataclass(frozen=True, slots=True)
class _Node:
    """How far the search has come: the slice's next step, and what the calendar and fades know."""

    here: Here
    step: int
    turns: int
    lines: dict[str, Line]
    part_waits: bool = False


class _Ahead:
    """The search for what to put in outside the slice: fewest happenings first, then farthest on.

    Something is put in as soon as it is possible (after what came last), at the moments of the
    slice's own steps, and when it is due.
    """

    def __init__(self, replayer: Replayer, steps: list[Planned], end: Fraction) -> None:
        self.replayer = replayer
        self.whole = replayer.whole
        self.steps = steps
        self.moments = [at * replayer.scale for at, _, _ in steps]
        self.moments.append(end * replayer.scale)
        self.others = [
            h for h in replayer.others if not isinstance(h, CalendarTurns | LevelReached)
        ]
        self.tried = 0

    def finds(self, start: tuple[int, ...]) -> bool:
        """Whether the run goes through to its end with something put in."""
        replayer = self.replayer
        queue: list[tuple[int, int, Fraction, int, _Node]] = []
        number = 0
        replayer.dates.done = 0
        for begun in islice(replayer.starts(start), MOST_STARTS):
            lines = Lines(self.whole, begun)
            node = _Node(Here(begun, Fraction(0)), 0, 0, dict(lines.lines))
            queue.append((min(number, 1), 0, Fraction(0), number, node))
            number += 1
        heapq.heapify(queue)
        seen: set[tuple[object, ...]] = set()
        while queue and self.tried < MOST_TRIED:
            put_in, _, _, _, node = heapq.heappop(queue)
            if node.step == len(self.steps) and node.here.now == self.moments[-1]:
                return True
            key = (node.here, node.step, node.turns, node.part_waits)
            if key in seen:
                continue
            seen.add(key)
            for more, following in chain(self._own(node), self._put_in(node)):
                number += 1
                now = following.here.now
                heapq.heappush(queue, (put_in + more, -following.step, -now, number, following))
        return False

    def _own(self, node: _Node) -> Iterator[tuple[int, _Node]]:
        """The slice's next step, what is bound to happen now, or time that passes up to the next."""
        here, goal = node.here, self.moments[node.step]
        if here.now == goal and node.step < len(self.steps):
            _, happening, wanted = self.steps[node.step]
            self._at(node)
            for own in self.replayer.same_as(here, happening):
                for state in self._results(here, own):
                    if self.replayer.agrees(state.values, wanted):
                        yield from self._after(node, own, state, 0, wanted)
        self._at(node)
        planned = self.replayer.following(here)
        if planned is not None and planned.at == here.now:
            kept = self.replayer.kept(here.state)
            for state in self._results(here, planned.happening):
                if self.replayer.kept(state) == kept:
                    yield from self._after(node, planned.happening, state, 0)
        until = self._until(node)
        wait = self.replayer.wait(here.state)
        if wait is not None:
            until = min(until, here.now + wait)
        if until > here.now:
            later = passed(self.whole, here.state, until - here.now)
            if later is not None:
                yield 0, replace(node, here=Here(later, until))

    def _put_in(self, node: _Node) -> Iterator[tuple[int, _Node]]:
        """What may happen outside the slice now, or as soon as it can."""
        here, until = node.here, self._until(node)
        kept = self.replayer.kept(here.state)
        for happening in self.others:
            for wait in self._waits(here.state, happening):
                later = passed(self.whole, here.state, wait)
                if later is None or here.now + wait > until:
                    continue
                at = Here(later, here.now + wait)
                for state in self._results(at, happening):
                    if self.replayer.kept(state) == kept:
                        yield from self._after(replace(node, here=at), happening, state, 1)

    def _waits(self, state: Concrete, happening: Happening) -> list[Fraction]:
        """After how long a happening is possible at the earliest, on each way that it can go."""
        self.tried += 1
        begin = [position(clock) for clock in state.clocks]
        reg = Registers(list(state.values), begin, [FOREVER] * len(begin))
        found: dict[Fraction, None] = {}
        for outcome in outcomes(self.whole, reg, happening):
            if not outcome.endless:
                least = outcome.registers.at_least
                waits = [
                    Fraction(asked, 2) - clock
                    for asked, clock, old in zip(least, state.clocks, begin, strict=True)
                    if asked > old
                ]
                found.setdefault(max(waits, default=Fraction(0)))
        return list(found)

    def _results(self, here: Here, happening: Happening) -> list[Concrete]:
        self.tried += 1
        return [result.state for result in happen(self.whole, here.state, happening)]

    def _after(
        self,
        node: _Node,
        happening: Happening,
        state: Concrete,
        put_in: int,
        wanted: tuple[int, ...] | None = None,
    ) -> Iterator[tuple[int, _Node]]:
        self._at(node)
        replayer = self.replayer
        try:
            here = replayer.after(node.here, happening, state, wanted)
        except DoesNotReplay:
            return
        step = node.step if wanted is None else node.step + 1
        lines = dict(replayer.lines.lines)
        yield put_in, _Node(here, step, replayer.dates.done, lines, replayer.part_waits)

    def _until(self, node: _Node) -> Fraction:
        """The moment up to which nothing of the slice, the calendar or a fade happens."""
        self._at(node)
        planned = self.replayer.following(node.here)
        goal = self.moments[node.step]
        return goal if planned is None else min(goal, planned.at)

    def _at(self, node: _Node) -> None:
        """Lets calendar and fades stand where they stood at a node."""
        self.replayer.dates.done = node.turns
        self.replayer.lines.lines = dict(node.lines)
        self.replayer.part_waits = node.part_waits
