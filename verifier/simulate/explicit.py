"""An exhaustive search over explicit states: slow, and sharing nothing with the prover's engines.

Time goes in ticks of half the job's unit; running out is a happening of its own, of no length.
All bounds of the model are closed, so whole units lose no run (Henzinger, Manna, Pnueli, "What
good are digital clocks?", 1992), and half units tell "at D" from "just after D". The search is
the oracle of the tests; a cap on the number of states keeps it bounded.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import Literal

from verifier.model.job import Job, LeadsTo, MeasureLongest, Possible, Requirement
from verifier.simulate.instant import beginnings, outcomes
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.system import System
from verifier.surroundings.happenings import QuietBegins
from verifier.surroundings.state import Registers, each_way

State = tuple[tuple[int, ...], tuple[int, ...]]
"""The bit of each variable and the position of each clock."""

TICK = -1


class TooLarge(Exception):
    """The search met more states than its cap."""


class EndlessChain(Exception):
    """A chain that never ends can be reached."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the search found.

    ``bound_units`` of a ``measure`` is exact, ``happenings``/``ticks`` are those of the shortest
    run to a failing (or, of ``possible``, the reached) state; None where there is none.
    """

    verdict: Literal["proved", "refuted", "answered"]
    happenings: int | None
    ticks: int | None
    bound_units: Fraction | Literal["unbounded"] | None
    states: int


def registers_of(state: State) -> Registers:
    """Registers that know the whole state."""
    return Registers(list(state[0]), list(state[1]), list(state[1]))


def state_of(system: System, reg: Registers) -> State:
    """The state that wholly known registers hold now, clocks that do not matter at zero."""
    values = tuple(
        reg.facts[source] if source >= 0 else value
        for source, value in zip(reg.source, reg.value, strict=True)
    )
    clocks = [reg.at_least[source] if source >= 0 else 0 for source in reg.clock_from]
    return values, tidied(system, values, clocks)


def tidied(system: System, values: tuple[int, ...], clocks: list[int]) -> tuple[int, ...]:
    """Clocks as far as they matter: zero where nothing compares them, capped beyond all constants."""
    layout = system.layout
    for clock, uses in enumerate(layout.uses):
        if any(all(values[v] & m for v, m in when) for when in uses):
            clocks[clock] = min(clocks[clock], 2 * layout.greatest[clock] + 1)
        else:
            clocks[clock] = 0
    return tuple(clocks)


def known_states(system: System, reg: Registers) -> Iterator[State]:
    """Every state that agrees with half-known registers (clocks known)."""
    free = [v for v, mask in enumerate(reg.facts) if mask & (mask - 1)]
    used = {source for source in reg.source if source >= 0}
    free = [v for v in free if v in used]
    choices = [
        [1 << i for i in range(reg.facts[v].bit_length()) if reg.facts[v] >> i & 1] for v in free
    ]
    for choice in product(*choices):
        copy = reg.copy()
        for variable, bit in zip(free, choice, strict=True):
            copy.facts[variable] = bit
        yield state_of(system, copy)


def starts(system: System) -> list[State]:
    """Every state in which a run can begin, each once."""
    seen: dict[State, None] = {}
    for reg in beginnings(system):
        for state in known_states(system, reg):
            seen.setdefault(state)
    return list(seen)


def can_tick(system: System, state: State) -> bool:
    """Whether half a unit of time can pass."""
    values, clocks = state
    return all(
        clocks[b.clock] + 1 <= 2 * b.limit or not all(values[v] & m for v, m in b.when)
        for b in system.layout.bounds
    )


def ticked(system: System, state: State, ticks: int = 1) -> State:
    """The state after so many half units of time."""
    return state[0], tidied(system, state[0], [position + ticks for position in state[1]])


class Space:
    """All states of a system that can be reached, and the steps between them."""

    def __init__(self, system: System, cap: int = 50_000) -> None:
        self.system = system
        self.number: dict[State, int] = {}
        self.states: list[State] = []
        self.steps: list[list[tuple[int, int]]] = []
        """(happening or TICK, target) of each state."""
        self.starts: list[int] = []
        for state in starts(system):
            self.starts.append(self._add(state, cap))
        at = 0
        while at < len(self.states):
            for happening, target in self._successors(self.states[at]):
                self.steps[at].append((happening, self._add(target, cap)))
            at += 1
        self._leave_out_blocked()

    def _add(self, state: State, cap: int) -> int:
        number = self.number.get(state)
        if number is None:
            if len(self.states) >= cap:
                raise TooLarge
            number = self.number[state] = len(self.states)
            self.states.append(state)
            self.steps.append([])
        return number

    def _successors(self, state: State) -> Iterator[tuple[int, State]]:
        if can_tick(self.system, state):
            yield TICK, ticked(self.system, state)
        for index, happening in enumerate(self.system.happenings):
            for outcome in outcomes(self.system, registers_of(state), happening):
                if outcome.endless:
                    raise EndlessChain
                yield index, state_of(self.system, outcome.registers)

    def _leave_out_blocked(self) -> None:
        """Leaves out the states from which time cannot go on for ever (15)."""
        graph_ = components(self.steps)
        lives = [False] * len(self.states)
        for component in graph_:  # successors come first
            inside = set(component)
            goes_on = any(
                (target in inside and happening == TICK) or lives[target]
                for number in component
                for happening, target in self.steps[number]
            )
            for number in component:
                lives[number] = goes_on
        self.lives = lives
        self.steps = [
            [(h, t) for h, t in steps if lives[t]] if lives[number] else []
            for number, steps in enumerate(self.steps)
        ]
        self.starts = [number for number in self.starts if lives[number]]

    def bad(self, number: int) -> bool:
        """Whether the requirement is seen to fail in a state."""
        reg = registers_of(self.states[number])
        return any(result for _, result in each_way(reg, self.system.bad))

    def shortest_bad(self) -> tuple[int, int] | None:
        """Happenings and ticks of the shortest, then earliest, run to a failing state."""
        best: dict[int, tuple[int, int]] = dict.fromkeys(self.starts, (0, 0))
        heap = [(0, 0, number) for number in self.starts]
        heapq.heapify(heap)
        while heap:
            happenings, ticks, number = heapq.heappop(heap)
            if best[number] < (happenings, ticks):
                continue
            if self.bad(number):
                return happenings, ticks
            for step, target in self.steps[number]:
                cost = (happenings, ticks + 1) if step == TICK else (happenings + 1, ticks)
                if target not in best or cost < best[target]:
                    best[target] = cost
                    heapq.heappush(heap, (*cost, target))
        return None

    def reachable(self) -> set[int]:
        """The states that runs come to."""
        seen = set(self.starts)
        todo = list(self.starts)
        while todo:
            for _, target in self.steps[todo.pop()]:
                if target not in seen:
                    seen.add(target)
                    todo.append(target)
        return seen


def components(steps: list[list[tuple[int, int]]]) -> list[list[int]]:
    """Strongly connected components, successors before predecessors (Tarjan 1972, no recursion)."""
    order: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    on_stack: set[int] = set()
    found: list[list[int]] = []
    for root in range(len(steps)):
        if root in order:
            continue
        work = [(root, 0)]
        while work:
            node, at = work.pop()
            if at == 0:
                order[node] = low[node] = len(order)
                stack.append(node)
                on_stack.add(node)
            pushed = False
            for i in range(at, len(steps[node])):
                target = steps[node][i][1]
                if target not in order:
                    work.append((node, i + 1))
                    work.append((target, 0))
                    pushed = True
                    break
                if target in on_stack:
                    low[node] = min(low[node], order[target])
            if pushed:
                continue
            if low[node] == order[node]:
                component: list[int] = []
                while True:
                    top = stack.pop()
                    on_stack.discard(top)
                    component.append(top)
                    if top == node:
                        break
                found.append(component)
            if work:
                parent = work[-1][0]
                low[parent] = min(low[parent], low[node])
    return found


def search(job: Job, requirement: Requirement, cap: int = 50_000) -> Found:
    """The verdict of an exhaustive search.

    Raises: TooLarge; EndlessChain.
    """
    system = System(job, requirement)
    space = Space(system, cap)
    match requirement.form:
        case MeasureLongest():
            return _measure(space)
        case LeadsTo():
            return _leads_to(space)
        case form:
            cost = space.shortest_bad()
            reached = cost is not None
            holds = reached if isinstance(form, Possible) else not reached
            happenings, ticks = cost if cost is not None else (None, None)
            return Found(
                "proved" if holds else "refuted", happenings, ticks, None, len(space.states)
            )


def _leads_to(space: Space) -> Found:
    system = space.system
    monitor = system.monitor
    assert isinstance(monitor, LeadsToMonitor)
    reachable = space.reachable()
    quiet = {n for n in reachable if space.states[n][0][monitor.phase] == 4}
    false = {
        n
        for n in quiet
        if any(not holds for _, holds in each_way(registers_of(space.states[n]), monitor.holds))
    }
    inside = [
        [(h, t) for h, t in steps if t in quiet] if n in quiet else []
        for n, steps in enumerate(space.steps)
    ]
    for component in components(inside):
        members = set(component)
        cycles = any(h == TICK and t in members for n in component for h, t in inside[n])
        if cycles and members & false:
            return Found("refuted", None, None, None, len(space.states))
    ends = {
        t
        for n in reachable
        for h, t in space.steps[n]
        if h >= 0 and isinstance(system.happenings[h], QuietBegins)
    }
    longest = _longest(inside, ends, false)
    bound = None if longest is None else Fraction((longest + 1) // 2)
    return Found(
        "proved", None, None, bound if bound is not None else Fraction(0), len(space.states)
    )


def _measure(space: Space) -> Found:
    system = space.system
    monitor = system.monitor
    assert isinstance(monitor, MeasureMonitor)
    measured = {
        n
        for n in space.reachable()
        if any(m for _, m in each_way(registers_of(space.states[n]), monitor.measured))
    }
    if not measured:
        return Found("answered", None, None, None, len(space.states))
    # Steps on which the clock since the last E goes on.
    fresh: set[int] = set()
    inside: list[list[tuple[int, int]]] = []
    reachable = space.reachable()
    for n, steps in enumerate(space.steps):
        kept = []
        if n in reachable:
            for h, t in steps:
                if h == TICK:
                    kept.append((h, t))
                elif _restarts(space, n, h, t):
                    fresh.add(t)
                else:
                    kept.append((h, t))
        inside.append(kept)
    towards = _backward(inside, measured)
    inside = [
        [(h, t) for h, t in steps if t in towards] if n in towards else []
        for n, steps in enumerate(inside)
    ]
    for component in components(inside):
        members = set(component)
        if any(h == TICK and t in members for n in component for h, t in inside[n]):
            return Found("answered", None, None, "unbounded", len(space.states))
    longest = _longest(inside, fresh & towards, measured)
    assert longest is not None
    return Found("answered", None, None, Fraction((longest + 1) // 2), len(space.states))


def _restarts(space: Space, number: int, happening: int, target: int) -> bool:
    """Whether the step restarts the clock since the last E."""
    system = space.system
    monitor = system.monitor
    assert isinstance(monitor, MeasureMonitor)
    for outcome in outcomes(
        system, registers_of(space.states[number]), system.happenings[happening]
    ):
        if (
            state_of(system, outcome.registers) == space.states[target]
            and outcome.registers.clock_from[monitor.since] < 0
        ):
            return True
    return False


def _backward(steps: list[list[tuple[int, int]]], goals: set[int]) -> set[int]:
    before: list[list[int]] = [[] for _ in steps]
    for n, outgoing in enumerate(steps):
        for _, t in outgoing:
            before[t].append(n)
    seen, todo = set(goals), list(goals)
    while todo:
        for n in before[todo.pop()]:
            if n not in seen:
                seen.add(n)
                todo.append(n)
    return seen


def _longest(steps: list[list[tuple[int, int]]], sources: set[int], goals: set[int]) -> int | None:
    """Most ticks from a source to a goal, where no cycle on the way has a tick."""
    towards = _backward(steps, goals)
    best: dict[int, int] = {}
    for component in reversed(components(steps)):
        # All steps inside a component take no time: the best of one is the best of all.
        value = max(
            (best[n] for n in component if n in best),
            default=-1,
        )
        if any(n in sources for n in component):
            value = max(value, 0)
        if value < 0:
            continue
        for n in component:
            best[n] = value
        for n in component:
            if n not in towards:
                continue
            for h, t in steps[n]:
                best[t] = max(best.get(t, -1), value + (1 if h == TICK else 0))
    reached = [best[n] for n in goals if n in best]
    return max(reached) if reached else None
