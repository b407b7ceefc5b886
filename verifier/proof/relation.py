"""The relation of a system, path by path: what the certificate is checked on.

Built by driving the reference interpreter over unknown states, and by nothing of the engines.
A path is a cube of facts about the state before (what the variables may be, how far the clocks
have come) and an assignment: what each variable and clock is afterwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from verifier.simulate.instant import Commute, beginnings, outcomes
from verifier.simulate.system import System
from verifier.surroundings.state import FOREVER, Registers, each_way


@dataclass(frozen=True, slots=True)
class Cube:
    """Facts of a state: ``(variable, mask)`` and ``(clock, least position, greatest position)``."""

    values: tuple[tuple[int, int], ...]
    clocks: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Path:
    """One way of one happening.

    ``values`` are (variable, variable before or -1, bit); ``clocks`` (clock, clock before or -1
    for zero); what is not named stays.
    """

    happening: int
    before: Cube
    values: tuple[tuple[int, int, int], ...]
    clocks: tuple[tuple[int, int], ...]
    endless: bool


@dataclass(frozen=True, slots=True)
class Relation:
    """All paths of a system.

    ``starts`` are the ways in which a run begins (as paths from nowhere), ``bad`` the cubes in
    which the requirement fails.
    """

    system: System
    starts: tuple[Path, ...]
    paths: tuple[Path, ...]
    bad: tuple[Cube, ...]


def relation_of(
    system: System,
    commute: Commute | None = None,
    bad: Callable[[Registers], bool] | None = None,
) -> Relation:
    """The relation of a system; ``bad`` stands for the monitor's own failing states."""
    paths: list[Path] = []
    for number, happening in enumerate(system.happenings):
        for outcome in outcomes(system, system.fresh(), happening, commute):
            paths.append(path_from(system, number, outcome.registers, outcome.endless))
    starts = tuple(path_from(system, -1, reg, False) for reg in beginnings(system))
    return Relation(system, starts, tuple(paths), bad_cubes(system, bad))


def bad_cubes(system: System, bad: Callable[[Registers], bool] | None = None) -> tuple[Cube, ...]:
    """The cubes in which the requirement fails."""
    return tuple(
        cube_of(system, reg) for reg, fails in each_way(system.fresh(), bad or system.bad) if fails
    )


def cube_of(system: System, reg: Registers) -> Cube:
    """What registers have learnt of the state before."""
    variables = system.layout.variables
    return Cube(
        tuple((v, mask) for v, mask in enumerate(reg.facts) if mask != variables[v].every),
        tuple(
            (c, reg.at_least[c], reg.at_most[c])
            for c in range(len(reg.at_least))
            if reg.at_least[c] > 0 or reg.at_most[c] < FOREVER
        ),
    )


def path_from(system: System, happening: int, reg: Registers, endless: bool) -> Path:
    """A path as registers hold it."""
    values = []
    for variable, source in enumerate(reg.source):
        if source < 0:
            bit = reg.value[variable]
            settled = bit & system.layout.variables[variable].every
            assert settled or endless, "a passing value is settled"
            values.append((variable, -1, bit))
        elif source != variable:
            values.append((variable, source, 0))
    clocks = tuple((c, s) for c, s in enumerate(reg.clock_from) if s != c)
    return Path(happening, cube_of(system, reg), tuple(values), clocks, endless)
