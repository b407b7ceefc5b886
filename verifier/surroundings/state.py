"""What a state is made of, and registers that hold what is known of one.

A state gives a value to each *variable* (finitely many values, counted from 0) and to each
*clock* (a time since something happened). Values are kept as bit masks: a variable whose mask
has one bit is known, one with more bits may still be any of these.

:class:`Registers` is the one thing that the meaning of a job is written against. The same code
runs on a state that is wholly known (the concrete run, the explicit search), on one whose
values are known and whose clocks are not (zones), and on one of which nothing is known (the
certificate). What cannot be told from what is known *forks*: :func:`each_way` runs the same
code once for each answer.

Clocks are compared with whole multiples of the job's time unit. A moment is a *position*:
``2 k`` is exactly k units, ``2 k + 1`` lies between k and k + 1. So ``x >= k`` is
``position >= 2 k`` and ``x > k`` is ``position >= 2 k + 1``; nothing else is ever asked.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from typing import TypeVar

FOREVER = 1 << 60
"""A position that no clock comes to."""

ZERO = -1
"""The source of a clock that was set to zero, and of a variable that was set to a known value."""


class Blocked(Exception):
    """What was tried is not possible in this state: the path is given up."""


class EndlessBody(Exception):
    """A body goes round with no time passing and nothing changing."""


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable and its values; ``passing`` are bits of values that no settled state has."""

    name: str
    values: tuple[Hashable, ...]
    passing: int = 0

    @property
    def every(self) -> int:
        """The mask of all values that a settled state can have."""
        return ((1 << len(self.values)) - 1) & ~self.passing

    def bit(self, value: Hashable) -> int:
        """The mask of one value."""
        return 1 << self.values.index(value)


Due = tuple[int, int, int, int]
"""``(variable, mask, clock, limit)``: while the variable is in the mask, it is due at the limit."""


@dataclass(frozen=True, slots=True)
class Bound:
    """While every ``(variable, mask)`` of ``when`` holds, the clock does not pass ``limit`` (units).

    ``outside`` says that the surroundings set it, not the controller. What is ``first``
    (variable, mask, clock, limit: due at that limit) comes before what ends the bound.
    """

    clock: int
    when: tuple[tuple[int, int], ...]
    limit: int
    outside: bool
    first: tuple[Due, ...] = ()


class Layout:
    """The variables, clocks and bounds of a job with its monitor; filled while it is built."""

    def __init__(self) -> None:
        self.variables: list[Variable] = []
        self.clocks: list[str] = []
        self.index: dict[str, int] = {}
        self.clock_index: dict[str, int] = {}
        self.bounds: list[Bound] = []
        self.uses: list[list[tuple[tuple[int, int], ...]]] = []
        self.greatest: list[int] = []

    def add(self, name: str, values: tuple[Hashable, ...], passing: int = 0) -> int:
        """A new variable's index."""
        assert name not in self.index, name
        self.index[name] = len(self.variables)
        self.variables.append(Variable(name, values, passing))
        return len(self.variables) - 1

    def clock(self, name: str) -> int:
        """The index of the clock of that name, made if it is not there."""
        if name not in self.clock_index:
            self.clock_index[name] = len(self.clocks)
            self.clocks.append(name)
            self.uses.append([])
            self.greatest.append(0)
        return self.clock_index[name]

    def bound(
        self,
        clock: int,
        when: tuple[tuple[int, int], ...],
        limit: int,
        *,
        outside: bool,
        first: tuple[Due, ...] = (),
    ) -> None:
        """Adds a bound (and that the clock matters while it holds)."""
        self.bounds.append(Bound(clock, when, limit, outside, first))
        self.compared(clock, limit, when)

    def compared(self, clock: int, limit: int, when: tuple[tuple[int, int], ...]) -> None:
        """Notes that the clock may be compared with ``limit`` before its next reset while ``when``."""
        self.greatest[clock] = max(self.greatest[clock], limit)
        self.uses[clock].append(when)


class Registers:
    """What is known of a state before a happening (facts) and of the state now (values)."""

    __slots__ = ("at_least", "at_most", "clock_from", "facts", "source", "trail", "turn", "value")

    def __init__(self, facts: list[int], at_least: list[int], at_most: list[int]) -> None:
        self.facts = facts
        """Mask of each variable's value *before*."""
        self.at_least = at_least
        """Least position of each clock *before*."""
        self.at_most = at_most
        """Greatest position of each clock *before*."""
        self.source = list(range(len(facts)))
        """The variable whose value before this one has now; ZERO: the known ``value``."""
        self.value = [0] * len(facts)
        self.clock_from = list(range(len(at_least)))
        """The clock whose time before this one has now; ZERO: no time."""
        self.trail: list[bool] = []
        self.turn = 0

    def copy(self) -> Registers:
        """Registers that can be changed without changing these."""
        new = Registers.__new__(Registers)
        new.facts = self.facts[:]
        new.at_least = self.at_least[:]
        new.at_most = self.at_most[:]
        new.source = self.source[:]
        new.value = self.value[:]
        new.clock_from = self.clock_from[:]
        new.trail = []
        new.turn = 0
        return new

    def key(self) -> tuple[object, ...]:
        """A value by which registers are compared."""
        return (
            tuple(self.facts),
            tuple(self.source),
            tuple(self.value),
            tuple(self.clock_from),
            tuple(self.at_least),
            tuple(self.at_most),
        )

    def decide(self) -> bool:
        """Both answers, one after the other (see :func:`each_way`)."""
        if self.turn == len(self.trail):
            self.trail.append(True)
        answer = self.trail[self.turn]
        self.turn += 1
        return answer

    def known(self, variable: int) -> int:
        """The mask of what the variable may be now."""
        source = self.source[variable]
        return self.facts[source] if source >= 0 else self.value[variable]

    def test(self, variable: int, mask: int) -> bool:
        """Whether the variable's value is one of ``mask``; forks where both may be."""
        source = self.source[variable]
        known = self.facts[source] if source >= 0 else self.value[variable]
        inside = known & mask
        if inside == known:
            return True
        if not inside:
            return False
        if self.decide():
            self.facts[source] = inside
            return True
        self.facts[source] = known & ~mask
        return False

    def put(self, variable: int, bit: int) -> None:
        """Gives the variable the value of ``bit``."""
        self.source[variable] = ZERO
        self.value[variable] = bit

    def take(self, variable: int, other: int) -> None:
        """Gives the variable the value that ``other`` has now."""
        self.source[variable] = self.source[other]
        self.value[variable] = self.value[other]

    def restart(self, clock: int) -> None:
        """Sets a clock to zero."""
        self.clock_from[clock] = ZERO

    def take_clock(self, clock: int, other: int) -> None:
        """Gives the clock the time that ``other`` shows now."""
        self.clock_from[clock] = self.clock_from[other]

    def reached(self, clock: int, position: int) -> bool:
        """Whether the clock stands at ``position`` or later; forks where both may be."""
        source = self.clock_from[clock]
        if source < 0:
            return position <= 0
        if self.at_least[source] >= position:
            return True
        if self.at_most[source] < position:
            return False
        if self.decide():
            self.at_least[source] = position
            return True
        self.at_most[source] = position - 1
        return False

    def require(self, holds: bool) -> None:
        """Gives the path up unless ``holds``."""
        if not holds:
            raise Blocked


Result = TypeVar("Result")


def each_way(
    registers: Registers, act: Callable[[Registers], Result]
) -> Iterator[tuple[Registers, Result]]:
    """Runs ``act`` on a copy of the registers once for each way of answering what is not known.

    Yields the registers afterwards and what ``act`` gave back; ways that are blocked are left out.
    """
    trail: list[bool] = []
    while True:
        copy = registers.copy()
        copy.trail = trail
        try:
            result = act(copy)
        except Blocked:
            pass
        else:
            taken = copy.trail
            copy.trail = []
            copy.turn = 0
            yield copy, result
            trail = taken
        while trail and not trail[-1]:
            trail.pop()
        if not trail:
            return
        trail = [*trail[:-1], False]
