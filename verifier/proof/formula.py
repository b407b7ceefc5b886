"""Formulas over a system's state, and how they are written in SMT-LIB.

Before: ``Within(3, 0b10)``; after: ``|bay_lights|``. A variable with two values is one Bool (true:
the second value), one with more is a Bool for each value, clocks are Reals in units of time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from verifier.model.job import (
    And as AndC,
)
from verifier.model.job import (
    Between,
    Condition,
    Implies,
    Is,
    Level,
    Night,
    Not,
    Running,
    Stayed,
)
from verifier.model.job import (
    Or as OrC,
)
from verifier.proof.relation import Cube
from verifier.simulate.system import IDLE, System
from verifier.surroundings.state import FOREVER, Layout
from verifier.surroundings.world import TRUE


@dataclass(frozen=True, slots=True)
class Within:
    """The variable's value is one of ``mask``."""

    variable: int
    mask: int


@dataclass(frozen=True, slots=True)
class Compare:
    """``x_i - x_j`` keeps ``bound``; clocks are numbered from 1, 0 is the constant zero.

    ``bound``: ``2 * c + 1`` says "at most c", ``2 * c`` "less than c", ``NO_BOUND`` nothing.
    """

    i: int
    j: int
    bound: int


@dataclass(frozen=True, slots=True)
class OneValue:
    """The variable has exactly one value."""

    variable: int


@dataclass(frozen=True, slots=True)
class All:
    """Every item holds."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Either:
    """Some item holds."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class No:
    """The item does not hold."""

    item: Formula


@dataclass(frozen=True, slots=True)
class Quoted:
    """A formula as SMT-LIB text over the quoted names of the state."""

    text: str


Formula = Within | Compare | OneValue | All | Either | No | Quoted

NO_BOUND = 1 << 60
"""Larger than any bound that clocks of a job can have."""

YES = All(())
NEVER = Either(())


def all_of(items: Iterable[Formula]) -> Formula:
    """The conjunction, flattened and folded."""
    found: list[Formula] = []
    for item in items:
        if isinstance(item, All):
            found.extend(item.items)
        elif item == NEVER:
            return NEVER
        else:
            found.append(item)
    return found[0] if len(found) == 1 else All(tuple(found))


def any_of(items: Iterable[Formula]) -> Formula:
    """The disjunction, flattened and folded."""
    found: list[Formula] = []
    for item in items:
        if isinstance(item, Either):
            found.extend(item.items)
        elif item == YES:
            return YES
        else:
            found.append(item)
    return found[0] if len(found) == 1 else Either(tuple(found))


def within(layout: Layout, variable: int, mask: int) -> Formula:
    """The variable's value is one of ``mask``, folded where that is always or never so."""
    every = layout.variables[variable].every
    if mask & every == every:
        return YES
    if not mask & every:
        return NEVER
    return Within(variable, mask & every)


def at_least(clock: int, position: int) -> Formula:
    """The clock (of the layout) stands at ``position`` or later."""
    return YES if position <= 0 else Compare(0, clock + 1, 1 - position)


def at_latest(clock: int, position: int) -> Formula:
    """The clock stands at ``position`` or before."""
    return Compare(clock + 1, 0, position + 1)


def of_cube(cube: Cube) -> Formula:
    """The facts of a cube."""
    items: list[Formula] = [Within(v, m) for v, m in cube.values]
    for clock, low, high in cube.clocks:
        if low > 0:
            items.append(at_least(clock, low))
        if high < FOREVER:
            items.append(at_latest(clock, high))
    return all_of(items)


def of_condition(
    system: System, condition: Condition, truth: bool, put: dict[int, int] | None = None
) -> Formula:
    """A condition of the job as a formula; ``put`` gives variables that are known (bit)."""
    layout, known = system.layout, put or {}

    def leaf(variable: int, mask: int) -> Formula:
        if variable in known:
            return YES if known[variable] & mask else NEVER
        return within(layout, variable, mask)

    match condition:
        case Is() | Level():
            return leaf(*system.world.locate(condition, truth))
        case Not(item):
            inner = of_condition(system, item, truth, put)
            if inner == YES:
                return NEVER
            return YES if inner == NEVER else No(inner)
        case AndC(items):
            return all_of(of_condition(system, item, truth, put) for item in items)
        case OrC(items):
            return any_of(of_condition(system, item, truth, put) for item in items)
        case Implies(left, right):
            return any_of(
                (
                    of_condition(system, Not(left), truth, put),
                    of_condition(system, right, truth, put),
                )
            )
        case Stayed():
            return leaf(system.timer(condition, truth).ran_out, TRUE)
        case Night():
            return leaf(*system.world.night_at())
        case Between():
            return leaf(*system.world.between_at(condition))
        case Running(rule):
            return any_of(
                leaf(slot, layout.variables[slot].every & ~IDLE)
                for slot in system.slots[system.rule_index[rule]]
            )
        case _:
            raise NotImplementedError(condition)


class Writer:
    """Writes formulas over the state (``mark`` "") or the state afterwards (``mark`` "'")."""

    def __init__(self, system: System) -> None:
        layout = system.layout
        self.layout = layout
        self.clocks = [c for c, uses in enumerate(layout.uses) if uses]
        self.used = set(self.clocks)
        self.late, self.late_at = "", ""
        """Clocks of the state ``late_at`` are read after the time that passes in it (unrolling)."""
        self._within: dict[tuple[int, int, str], str] = {}
        self._values: list[list[str]] = []
        for variable in layout.variables:
            if len(variable.values) == 2 and not variable.passing:
                self._values.append([variable.name])
            else:
                self._values.append(
                    [
                        f"{variable.name} = {value}"
                        for i, value in enumerate(variable.values)
                        if variable.every >> i & 1
                    ]
                )
        self.index = [
            [i for i in range(len(v.values)) if v.every >> i & 1] for v in layout.variables
        ]

    def is_flag(self, variable: int) -> bool:
        """Whether the variable is one Bool."""
        return len(self.index[variable]) == 2 and len(self._values[variable]) == 1

    def bools(self, mark: str = "") -> list[str]:
        """Every Bool's name."""
        return [f"|{name}{mark}|" for names in self._values for name in names]

    def reals(self, mark: str = "") -> list[str]:
        """Every Real's name."""
        return [self.clock(c, mark) for c in self.clocks]

    def clock(self, clock: int, mark: str = "") -> str:
        """A clock's name."""
        return f"|{self.layout.clocks[clock]}{mark}{self.late if mark == self.late_at else ''}|"

    def names(self, variable: int, mark: str = "") -> list[str]:
        """The Bools of a variable."""
        return [f"|{name}{mark}|" for name in self._values[variable]]

    def mask_of(self, variable: int, mark: str, is_true: Callable[[str], bool]) -> int:
        """The mask of a variable's values, told by which of its Bools (names unquoted) are true."""
        names, index = self.names(variable, mark), self.index[variable]
        true = [is_true(name.strip("|")) for name in names]
        if self.is_flag(variable):
            return 1 << index[1 if true[0] else 0]
        return sum(1 << i for i, t in zip(index, true, strict=True) if t)

    def within(self, variable: int, mask: int, mark: str = "") -> str:
        """``variable in mask``."""
        key = (variable, mask, mark)
        known = self._within.get(key)
        if known is None:
            known = self._within[key] = self._written(variable, mask, mark)
        return known

    def _written(self, variable: int, mask: int, mark: str) -> str:
        names, index = self.names(variable, mark), self.index[variable]
        if self.is_flag(variable):
            second = bool(mask >> index[1] & 1)
            first = bool(mask >> index[0] & 1)
            if first and second:
                return "true"
            if not first and not second:
                return "false"
            return names[0] if second else f"(not {names[0]})"
        chosen = [n for n, i in zip(names, index, strict=True) if mask >> i & 1]
        others = [n for n, i in zip(names, index, strict=True) if not mask >> i & 1]
        if not others:
            return "true"
        if len(chosen) <= len(others):
            return _join("or", chosen)
        return f"(not {_join('or', others)})"

    def compare(self, i: int, j: int, bound: int, mark: str = "") -> str:
        """``x_i - x_j`` against a bound."""
        if bound >= NO_BOUND:
            return "true"
        value = bound >> 1
        sign = "<=" if bound & 1 else "<"
        if (i and i - 1 not in self.used) or (j and j - 1 not in self.used):
            return "true"
        if j == 0:
            return f"({sign} {self.clock(i - 1, mark)} {number(value)})"
        if i == 0:
            flipped = ">=" if bound & 1 else ">"
            return f"({flipped} {self.clock(j - 1, mark)} {number(-value)})"
        return f"({sign} (- {self.clock(i - 1, mark)} {self.clock(j - 1, mark)}) {number(value)})"

    def formula(self, formula: Formula, mark: str = "") -> str:
        """Any formula."""
        match formula:
            case Within(variable, mask):
                return self.within(variable, mask, mark)
            case Compare(i, j, bound):
                return self.compare(i, j, bound, mark)
            case OneValue(variable):
                return self.one_value(variable, mark)
            case All(items):
                return _join("and", [self.formula(item, mark) for item in items])
            case Either(items):
                return _join("or", [self.formula(item, mark) for item in items])
            case No(item):
                return f"(not {self.formula(item, mark)})"
            case Quoted(text):
                return re.sub(r"\|([^|]*)\|", lambda m: f"|{m.group(1)}{mark}|", text)

    def one_value(self, variable: int, mark: str = "") -> str:
        """Exactly one of a variable's Bools is true."""
        names = self.names(variable, mark)
        if self.is_flag(variable):
            return "true"
        pairs = [f"(not (and {a} {b}))" for k, a in enumerate(names) for b in names[k + 1 :]]
        return _join("and", [_join("or", names), *pairs])

    def assigned(self, variable: int, source: int, bit: int, now: str = "", then: str = "'") -> str:
        """``variable' = bit``, or the value that ``source`` had."""
        after = self.names(variable, then)
        index = self.index[variable]
        if source < 0:
            if self.is_flag(variable):
                return after[0] if bit >> index[1] & 1 else f"(not {after[0]})"
            return _join(
                "and",
                [n if bit >> i & 1 else f"(not {n})" for n, i in zip(after, index, strict=True)],
            )
        if source == variable or self.index[source] == index:
            before = self.names(source, now)
            return _join("and", [f"(= {a} {b})" for a, b in zip(after, before, strict=True)])
        # Variables of the same values, some of which never stand in a settled state.
        if self.is_flag(variable):
            return f"(= {after[0]} {self.within(source, 1 << index[1], now)})"
        parts = []
        for name, i in zip(after, index, strict=True):
            parts.append(f"(= {name} {self.within(source, 1 << i, now)})")
        return _join("and", parts)


def number(value: int) -> str:
    """A whole number as SMT-LIB writes a Real."""
    return f"{value}.0" if value >= 0 else f"(- {-value}.0)"


def _join(word: str, parts: list[str]) -> str:
    if not parts:
        return "true" if word == "and" else "false"
    if len(parts) == 1:
        return parts[0]
    return f"({word} {' '.join(parts)})"
