"""The start at which everything is at rest."""

from __future__ import annotations

from fractions import Fraction

from verifier.simulate.replay import Concrete
from verifier.simulate.system import System
from verifier.surroundings.state import Registers, each_way
from verifier.surroundings.world import LOWERED


def at_rest(system: System, reg: Registers) -> Concrete | None:
    """The start in which everything is at rest as far as ``reg`` leaves it free; None if there is none.

    Doors are lowered if they may be; of another variable the first value is the one at rest.
    """
    doors = set(system.world.of_door.values())
    for begun, _ in each_way(reg, system.begin):
        values = []
        for variable, source in enumerate(begun.source):
            mask = begun.facts[source] if source >= 0 else begun.value[variable]
            rest = LOWERED if variable in doors and mask & LOWERED else mask & -mask
            values.append(rest)
        if all(value & fact for value, fact in zip(values, reg.facts, strict=True)):
            return Concrete(tuple(values), (Fraction(0),) * len(system.layout.clocks))
    return None
