"""Whose turn it is: many small tasks and a few hard ones share the workers fairly.

Order
    What is likely to be answered first comes first (:mod:`verifier.proof.weight`), so that something
    is seen soon. Where there are several workers half of them begin at the other end: what takes
    longest is not left to the last, when the other workers have nothing to do.

Rounds
    A task has a short time at first. If it needs more while one waits that had no more than that,
    it gives way: it is stopped, and comes again in the next round with more time. Up to half of the
    workers go on with what is hard, whoever waits. So what is small never waits behind what is hard,
    and the hard ones come on all the while. Where nobody waits nothing is stopped.

What it costs
    What is stopped begins anew, so its time up to then is lost: 1 s, then 8 s. Where one after the
    other has to be stopped none of them is small, so each stop makes the short time longer. To put
    a task to sleep would lose nothing, but the solvers' limits are read off the clock on the wall,
    which goes on: a proof would become an `undecided`.

All this decides when a task runs, never what comes of it: its limits begin anew each time.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace

FIRST_S = 1.0
"""Seconds of the first round, from a task's beginning."""

FURTHER = 8
"""How many times as long each further round is."""

LONGER = 1.5
"""How many times as long the first round becomes with each task that is stopped in it."""

NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class _Turn:
    """What is known of a task that runs: its round, and whether it is taken for hard.

    ``fixed``: it never gives way.
    """

    round: int
    hard: bool
    fixed: bool = False


class Turns:
    """The order of tasks, which are known by their numbers."""

    def __init__(
        self,
        first: Iterable[int],
        last: Iterable[int] = (),
        workers: int = 1,
        limit_s: float = 0.0,
    ) -> None:
        """``first``: what is likely to be answered first comes first; ``last``: if no other waits.

        ``limit_s`` is the tasks' own: none is stopped once it had half of it.
        """
        self.workers = workers
        self._limit_s = limit_s
        self._first_s = FIRST_S
        self._new = deque(first)
        self._last = deque(last)
        self._again: list[tuple[int, int, int]] = []
        """Round, order of arrival and number of those that were stopped."""
        self._stops = 0
        self._running: dict[int, _Turn] = {}

    def take(self) -> int | None:
        """The number of the task that begins next; None if none waits."""
        spare = self._hard_ones() < self.workers // 2
        if self._again and (spare or not self._new):
            round_, _, number = heapq.heappop(self._again)
            self._running[number] = _Turn(round_, True)
        elif self._new:
            number = self._new.pop() if spare else self._new.popleft()
            self._running[number] = _Turn(0, spare)
        elif self._last:
            number = self._last.popleft()
            self._running[number] = _Turn(0, False, fixed=True)
        else:
            return None
        return number

    def ended(self, number: int) -> None:
        """A task that ran has ended."""
        del self._running[number]

    def round_s(self, number: int) -> float:
        """After how many seconds from its beginning a running task is asked to give way."""
        turn = self._running[number]
        seconds = self._first_s * FURTHER**turn.round
        return NEVER if turn.fixed or 2 * seconds > self._limit_s else seconds

    def gives_way(self, number: int) -> bool:
        """Whether a task whose round is over is to be stopped, and comes again; else it goes on."""
        turn = self._running[number]
        others = self._hard_ones() - turn.hard
        waits = 0 if self._new else self._again[0][0] if self._again else None
        if waits is None or waits > turn.round or others < self.workers // 2:
            self._running[number] = replace(turn, round=turn.round + 1, hard=True)
            return False
        del self._running[number]
        if turn.round == 0:
            self._first_s *= LONGER
        self._stops += 1
        heapq.heappush(self._again, (turn.round + 1, self._stops, number))
        return True

    def only_before(self, number: int) -> None:
        """Forgets those that wait and have this number or a greater one."""
        self._new = deque(n for n in self._new if n < number)
        self._last = deque(n for n in self._last if n < number)
        self._again = [each for each in self._again if each[2] < number]
        heapq.heapify(self._again)

    def _hard_ones(self) -> int:
        return sum(turn.hard for turn in self._running.values())
