"""Conditions over values that are not known: three-valued evaluation and satisfiability.

Everything is decided by trying values: of a point its words, of a dimmer one level for each
stretch between the levels that are compared, of the clock one moment for each stretch between
the times that are named. No solver.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import assert_never

from verifier.model.job import (
    DOOR_VALUES,
    ROOM_VALUES,
    And,
    Atom,
    Between,
    Condition,
    Implies,
    Is,
    Job,
    Level,
    Night,
    Not,
    Or,
    PointKind,
    Running,
    Stayed,
    TimedOut,
    Value,
    atoms_and_leaves,
)

DAY_S = 86400
FULL = Fraction(100)

Variable = tuple[str, str] | Stayed
"""``("value", NAME)``, ``("running", RULE)``, ``("sun", "")``, ``("clock", "")``,
``("timed out", "")``, or a timer, of which only being true or false is known."""

Candidate = Value | bool | tuple[int, int]
Known = Mapping[Variable, Candidate]

BUDGET = 4096
"""Evaluations after which a set of conditions counts as satisfiable."""


@dataclass(frozen=True)
class Domains:
    """The values that each name of a job may have.

    ``allowed`` narrows a point's values, ``runs`` those of ``RULE is running``; a name that is
    not in them is free.
    """

    job: Job
    allowed: Mapping[str, tuple[Value, ...]] = field(default_factory=dict)
    runs: Mapping[str, tuple[bool, ...]] = field(default_factory=dict)


def atom_holds(atom: Atom, value: Value) -> bool:
    """Whether an atom is true of a value of its subject."""
    match atom:
        case Is(_, word):
            return value == word
        case Level():
            return isinstance(value, Fraction) and atom.holds_of(value)
        case _:
            assert_never(atom)


def in_between(between: Between, day: int, second: int) -> bool:
    """Whether a moment lies in a ``between``: from the first time, up to the second.

    >>> night_shift = Between(79200, 21600, frozenset({5}))
    >>> in_between(night_shift, 6, 7200), in_between(night_shift, 5, 7200)
    (True, False)
    """
    wraps = between.to_s <= between.from_s
    if between.from_s <= second and (wraps or second < between.to_s):
        begun = day
    elif wraps and second < between.to_s:
        begun = (day - 1) % 7
    else:
        return False
    return between.days is None or begun in between.days


def negated(condition: Condition) -> Condition:
    """The opposite of a condition, without a double ``not``."""
    return condition.item if isinstance(condition, Not) else Not(condition)


def evaluate(condition: Condition, leaf: Callable[[Condition], bool | None]) -> bool | None:
    """What a condition is if ``leaf`` says what its leaves are; None: that does not decide it."""
    match condition:
        case Not(item):
            inside = evaluate(item, leaf)
            return None if inside is None else not inside
        case And(items):
            results = [evaluate(item, leaf) for item in items]
            return False if False in results else None if None in results else True
        case Or(items):
            results = [evaluate(item, leaf) for item in items]
            return True if True in results else None if None in results else False
        case Implies(left, right):
            return evaluate(Or((Not(left), right)), leaf)
        case _:
            return leaf(condition)


def simplified(condition: Condition, leaf: Callable[[Condition], bool | None]) -> Condition | bool:
    """The condition with the leaves that are known taken out; unchanged if none is known."""
    if all(leaf(item) is None for item in atoms_and_leaves(condition)):
        return condition
    decided = evaluate(condition, leaf)
    if decided is not None:
        return decided
    match condition:
        case Not(item):
            inside = simplified(item, leaf)
            return (not inside) if isinstance(inside, bool) else negated(inside)
        case And(items) | Or(items):
            rest = tuple(
                part
                for part in (simplified(item, leaf) for item in items)
                if not isinstance(part, bool)
            )
            if len(rest) == 1:
                return rest[0]
            return And(rest) if isinstance(condition, And) else Or(rest)
        case Implies(left, right):
            return simplified(Or((Not(left), right)), leaf)
        case _:
            return condition


# ---------------------------------------------------------------- satisfiability


def satisfiable(conditions: Iterable[Condition], domains: Domains) -> bool:
    """Whether some values make all the conditions true at one moment.

    A search that takes more than :data:`BUDGET` steps ends in True.
    """
    goals = tuple(dict.fromkeys(conditions))
    leaves = tuple(dict.fromkeys(leaf for goal in goals for leaf in atoms_and_leaves(goal)))
    search = _Search(goals, leaves, domains)
    return search.run({})


def implied(condition: Condition, by: Iterable[Condition], domains: Domains) -> bool:
    """Whether a condition is true whenever all of ``by`` are."""
    return not satisfiable((*by, negated(condition)), domains)


@dataclass
class _Search:
    goals: tuple[Condition, ...]
    leaves: tuple[Condition, ...]
    domains: Domains
    steps: int = 0

    def run(self, known: dict[Variable, Candidate]) -> bool:
        self.steps += 1
        if self.steps > BUDGET:
            return True
        undecided = False
        for goal in self.goals:
            result = evaluate(goal, lambda leaf: leaf_value(leaf, known))
            if result is False:
                return False
            undecided = undecided or result is None
        timers = [t for t in known if isinstance(t, Stayed) and known[t] is True]
        open_variables = [
            variable
            for leaf in self.leaves
            if (variable := variable_of(leaf)) not in known and undecided
        ] + [subject for t in timers if (subject := ("value", t.atom.subject)) not in known]
        if not open_variables:
            return True
        variable = open_variables[0]
        for candidate in self._candidates(variable):
            tried = {**known, variable: candidate}
            if _timers_agree(tried) and self.run(tried):
                return True
        return False

    def _candidates(self, variable: Variable) -> tuple[Candidate, ...]:
        if isinstance(variable, Stayed):
            return (True, False)
        kind, name = variable
        match kind:
            case "value":
                return _values(name, self.leaves, self.domains)
            case "clock":
                return _moments(self.leaves)
            case "running":
                return self.domains.runs.get(name, (True, False))
            case _:
                return (True, False)


def variable_of(leaf: Condition) -> Variable:
    """The variable that decides a leaf."""
    match leaf:
        case Is(subject) | Level(subject):
            return ("value", subject)
        case Stayed():
            return leaf
        case Night():
            return ("sun", "")
        case Between():
            return ("clock", "")
        case Running(rule):
            return ("running", rule)
        case TimedOut():
            return ("timed out", "")
        case Not() | And() | Or() | Implies():
            raise AssertionError(f"logic: not a leaf: {leaf}")
        case _:
            assert_never(leaf)


def leaf_value(leaf: Condition, known: Known) -> bool | None:
    """What a leaf is under what is known; None: not known."""
    candidate = known.get(variable_of(leaf))
    if candidate is None or isinstance(candidate, bool):
        return candidate
    if isinstance(leaf, Is | Level) and not isinstance(candidate, tuple):
        return atom_holds(leaf, candidate)
    if isinstance(leaf, Between) and isinstance(candidate, tuple):
        return in_between(leaf, *candidate)
    raise AssertionError(f"logic: {candidate} is no value for {leaf}")


def _timers_agree(known: Mapping[Variable, Candidate]) -> bool:
    """A timer that has run out has its value now, and so has every shorter one of the same."""
    timers = [variable for variable in known if isinstance(variable, Stayed)]
    for timer in timers:
        if known[timer] is True:
            value = known.get(("value", timer.atom.subject))
            if isinstance(value, str | Fraction) and not atom_holds(timer.atom, value):
                return False
            for other in timers:
                shorter = other.atom == timer.atom and other.for_s <= timer.for_s
                if shorter and known[other] is False:
                    return False
    return True


def _values(name: str, leaves: tuple[Condition, ...], domains: Domains) -> tuple[Value, ...]:
    job = domains.job
    if name in domains.allowed:
        return domains.allowed[name]
    if name in job.door:
        return DOOR_VALUES
    if name in job.room:
        return ROOM_VALUES
    point = job.point.get(name)
    if point is None or point.kind is not PointKind.DIMMER:
        return () if point is None else point.kind.values
    atoms = [leaf.atom if isinstance(leaf, Stayed) else leaf for leaf in leaves]
    named = {atom.percent for atom in atoms if isinstance(atom, Level) and atom.subject == name}
    marks = sorted({Fraction(0), FULL} | {p for p in named if 0 <= p <= FULL})
    between = [(low + high) / 2 for low, high in itertools.pairwise(marks)]
    return tuple(sorted((*marks, *between)))


def _moments(leaves: tuple[Condition, ...]) -> tuple[tuple[int, int], ...]:
    times = {0}
    on_days = False
    for leaf in leaves:
        if isinstance(leaf, Between):
            times |= {leaf.from_s % DAY_S, leaf.to_s % DAY_S}
            on_days = on_days or leaf.days is not None
    return tuple((day, time) for day in range(7 if on_days else 1) for time in sorted(times))
