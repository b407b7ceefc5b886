"""Which values made a requirement fail, and when: causes in the sense of Halpern and Pearl, on a run.

The algorithm is that of I. Beer, S. Ben-David, H. Chockler, A. Orni and R. Trefler, "Explaining
Counterexamples Using Causality" (CAV 2009; Formal Methods in System Design 40, 2012): a formula of
linear temporal logic in negation normal form, a finite path on which it fails, and the set of pairs
(position, variable) whose values make it fail; an over-approximation of the causes, in one pass.
What is true of a part has no cause; of an "or" that fails both sides are causes; of "globally" only
the first position that fails.
"""

from __future__ import annotations

from dataclasses import dataclass

Atom = str
Path = tuple[frozenset[Atom], ...]
"""The atoms that are true at each position."""

Causes = frozenset[tuple[int, Atom]]
"""Pairs (position, atom)."""

_NONE: Causes = frozenset()


@dataclass(frozen=True, slots=True)
class Value:
    """An atom is true, or (``wanted`` False) it is not."""

    atom: Atom
    wanted: bool = True


@dataclass(frozen=True, slots=True)
class Both:
    """All of them; of none: true."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Either:
    """One of them at least; of none: false."""

    items: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Next:
    """It holds at the next position, which there is."""

    item: Formula


@dataclass(frozen=True, slots=True)
class Globally:
    """It holds at this and every later position."""

    item: Formula


@dataclass(frozen=True, slots=True)
class Until:
    """``right`` holds at some position from here on, ``left`` at all before it."""

    left: Formula
    right: Formula


Formula = Value | Both | Either | Next | Globally | Until


def holds(formula: Formula, path: Path, at: int = 0) -> bool:
    """Whether a formula holds on a finite path: what is still open at its end does not.

    >>> p = (frozenset({"a"}), frozenset())
    >>> holds(Globally(Value("a")), p), holds(Until(Value("a"), Value("b", False)), p)
    (False, True)
    """
    match formula:
        case Value(atom, wanted):
            return (atom in path[at]) is wanted
        case Both(items):
            return all(holds(item, path, at) for item in items)
        case Either(items):
            return any(holds(item, path, at) for item in items)
        case Next(item):
            return at + 1 < len(path) and holds(item, path, at + 1)
        case Globally(item):
            return all(holds(item, path, k) for k in range(at, len(path)))
        case Until(left, right):
            for k in range(at, len(path)):
                if holds(right, path, k):
                    return True
                if not holds(left, path, k):
                    return False
            return False


def causes(formula: Formula, path: Path, at: int = 0) -> Causes:
    """The pairs (position, atom) that make the formula fail; none of a formula that holds.

    >>> p = (frozenset({"a"}), frozenset({"b"}))
    >>> sorted(causes(Globally(Value("a")), p))
    [(1, 'a')]
    """
    if holds(formula, path, at):
        return _NONE
    match formula:
        case Value(atom):
            return frozenset({(at, atom)})
        case Both(items) | Either(items):
            return _NONE.union(*(causes(item, path, at) for item in items))
        case Next(item):
            return causes(item, path, at + 1) if at + 1 < len(path) else _NONE
        case Globally(item):
            first = next(k for k in range(at, len(path)) if not holds(item, path, k))
            return causes(item, path, first)
        case Until(left, right):
            found = causes(right, path, at)
            if not holds(left, path, at):
                return found | causes(left, path, at)
            if at + 1 < len(path):
                return found | causes(formula, path, at + 1)
            return found


def later(formula: Formula, steps: int) -> Formula:
    """The formula so many positions later."""
    for _ in range(steps):
        formula = Next(formula)
    return formula
