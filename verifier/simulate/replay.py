"""Replaying a run on the interpreter, in exact times: what may be shown as a failing case."""

from __future__ import annotations

from collections.abc import Callable
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
) -> list[Replayed]:
    """The run step by step; each step is (moment in units, happening, values wanted afterwards).

    Raises: DoesNotReplay.
    """
    state, now = start, Fraction(0)
    found: list[Replayed] = []
    for at, happening, wanted in steps:
        later = passed(system, state, at - now)
        if later is None:
            raise DoesNotReplay(f"something runs out before {happening.what}")
        for result in happen(system, later, happening):
            if result.state.values == wanted:
                found.append(result)
                state, now = result.state, at
                break
        else:
            raise DoesNotReplay(f"no order of {happening.what} ends as was claimed")
    return found
