"""Replaying a run on the interpreter, in exact times: what may be shown as a failing case."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from verifier.simulate.instant import Outcome, outcomes
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.happenings import Happening
from verifier.surroundings.state import Registers, each_way


@dataclass(frozen=True, slots=True)
class Concrete:
    """A state in full: the bit of each variable and the time, in units, of each clock."""

    values: tuple[int, ...]
    clocks: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True)
class Replayed:
    """A step as it came out: the settled state after it, and the lines that acted."""

    state: Concrete
    because: tuple[Span, ...]


def position(units: Fraction) -> int:
    """The position (see ``surroundings.state``) of a time in units."""
    whole = units.numerator // units.denominator
    return 2 * whole + (0 if units.denominator == 1 else 1)


def registers_of(state: Concrete) -> Registers:
    """Registers that know the whole state."""
    positions = [position(x) for x in state.clocks]
    return Registers(list(state.values), positions, positions[:])


def passed(system: System, state: Concrete, units: Fraction) -> Concrete | None:
    """The state after so much time; None if something runs out before."""
    clocks = tuple(x + units for x in state.clocks)
    for bound in system.layout.bounds:
        if clocks[bound.clock] > bound.limit and all(state.values[v] & m for v, m in bound.when):
            return None
    return Concrete(state.values, clocks)


def concrete(outcome: Outcome, state: Concrete) -> Concrete:
    """The state at the end of an instant that began in ``state``."""
    reg = outcome.registers
    return Concrete(
        tuple(
            reg.facts[source] if source >= 0 else value
            for source, value in zip(reg.source, reg.value, strict=True)
        ),
        tuple(state.clocks[c] if c >= 0 else Fraction(0) for c in reg.clock_from),
    )


def happen(system: System, state: Concrete, happening: Happening) -> list[Replayed]:
    """Every settled state that a happening can end in from a concrete one."""
    return [
        Replayed(concrete(outcome, state), outcome.because)
        for outcome in outcomes(system, registers_of(state), happening)
        if not outcome.endless
    ]


def fails(system: System, state: Concrete, bad: Callable[[Registers], bool] | None = None) -> bool:
    """Whether the requirement is seen to fail in a concrete state."""
    return any(result for _, result in each_way(registers_of(state), bad or system.bad))


class DoesNotReplay(Exception):
    """A run that an engine found is not one that the interpreter has."""


def replay(
    system: System,
    start: Concrete,
    steps: list[tuple[Fraction, Happening, tuple[int, ...]]],
    end: Fraction | None = None,
    good: Callable[[Concrete], bool] | None = None,
) -> list[Replayed]:
    """The run step by step; each step is (moment in units, happening, values wanted afterwards).

    Two orders of one instant can end in the same values with other clocks, so each way is tried
    until one goes on up to ``end``, in a state that is ``good``. Raises: DoesNotReplay.
    """
    failed: set[tuple[int, Concrete]] = set()
    problem = ""
    found: list[Replayed] = []
    ways: list[Iterator[Replayed]] = []
    here, now = start, Fraction(0)
    while True:
        at = len(found)
        options: list[Replayed] = []
        if (at, here) not in failed:
            failed.add((at, here))
            if at == len(steps):
                last = here if end is None else passed(system, here, end - now)
                if last is not None and (good is None or good(last)):
                    return found
                problem = problem or "something runs out before the end of the run"
                if last is not None:
                    problem = "the run does not fail where it was said to"
            else:
                moment, happening, wanted = steps[at]
                later = passed(system, here, moment - now)
                if later is None:
                    problem = problem or f"something runs out before {happening.what}"
                else:
                    results = happen(system, later, happening)
                    options = [r for r in results if r.state.values == wanted]
                    if not options:
                        problem = problem or f"no order of {happening.what} ends as was claimed"
        ways.append(iter(options))
        while ways:
            following = next(ways[-1], None)
            if following is not None:
                break
            ways.pop()
            if found:
                found.pop()
        else:
            raise DoesNotReplay(problem)
        assert following is not None
        found.append(following)
        here, now = following.state, steps[len(found) - 1][0]
