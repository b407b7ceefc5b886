"""Satisfiability without a solver: against trying out everything."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.graph.concrete import Valuation
from tests.graph.jobs import conditions, job, jobs, point
from verifier.graph import logic
from verifier.graph.logic import Domains, implied, in_between, satisfiable
from verifier.model.job import (
    And,
    Between,
    Condition,
    Is,
    Job,
    Level,
    Not,
    Or,
    PointKind,
    Running,
    Stayed,
    Value,
    atoms_and_leaves,
)

LEVELS = tuple(Fraction(level) for level in (0, 25, 50, 75, 100))
"""One level for each stretch between those that the random conditions compare (0 and 50 %)."""


def everything(whole: Job, leaves: tuple[Condition, ...]) -> Iterator[Valuation]:
    """Every valuation of what the leaves read."""
    timers = [leaf for leaf in leaves if isinstance(leaf, Stayed)]
    atoms = [*(leaf for leaf in leaves if isinstance(leaf, Is | Level)), *(t.atom for t in timers)]
    names = list(dict.fromkeys(atom.subject for atom in atoms))
    runs = list(dict.fromkeys(leaf.rule for leaf in leaves if isinstance(leaf, Running)))
    choices: list[tuple[Value, ...]] = [
        LEVELS if whole.point[name].kind is PointKind.DIMMER else whole.point[name].kind.values
        for name in names
    ]
    clock = any(isinstance(leaf, Between) for leaf in leaves)
    moments = itertools.product(range(7), (0, 6 * 3600, 22 * 3600)) if clock else [(0, 0)]
    for moment, night in itertools.product(list(moments), (True, False)):
        for values in itertools.product(*choices):
            for bits in itertools.product((True, False), repeat=len(timers) + len(runs)):
                stayed = {t for t, bit in zip(timers, bits, strict=False) if bit}
                running = {r for r, bit in zip(runs, bits[len(timers) :], strict=True) if bit}
                found = Valuation(
                    dict(zip(names, values, strict=True)), stayed, running, night, *moment
                )
                if all(found.holds(timer.atom) for timer in stayed):
                    yield found


@given(jobs(), st.lists(conditions, min_size=1, max_size=3))
def test_a_set_of_conditions_is_satisfiable_if_and_only_if_some_valuation_makes_all_true(
    whole: Job, goals: list[Condition]
) -> None:
    leaves = tuple(dict.fromkeys(leaf for goal in goals for leaf in atoms_and_leaves(goal)))
    truth = any(all(v.holds(goal) for goal in goals) for v in everything(whole, leaves))
    assert satisfiable(goals, Domains(whole)) == truth


@given(jobs(), conditions, conditions)
def test_a_condition_is_implied_if_and_only_if_no_valuation_parts_the_two(
    whole: Job, given_: Condition, wanted: Condition
) -> None:
    leaves = tuple(dict.fromkeys([*atoms_and_leaves(given_), *atoms_and_leaves(wanted)]))
    parted = any(v.holds(given_) and not v.holds(wanted) for v in everything(whole, leaves))
    assert implied(wanted, (given_,), Domains(whole)) == (not parted)


GATE = job((point(PointKind.CONTACT, "gate"), point(PointKind.FLAG, "armed")), ())


def test_narrowed_values_and_runs_are_kept_to() -> None:
    narrow = Domains(GATE, {"armed": ("no",)}, {"walk": (False,)})
    assert not satisfiable((Is("armed", "yes"),), narrow)
    assert not satisfiable((Running("walk"),), narrow)
    assert satisfiable((Running("walk"), Is("armed", "yes")), Domains(GATE))


def test_a_longer_stay_includes_a_shorter_one() -> None:
    short, long = (Stayed(Is("gate", "open"), Fraction(s)) for s in (10, 60))
    assert implied(short, (long,), Domains(GATE))
    assert not implied(long, (short,), Domains(GATE))


def test_two_stretches_of_the_clock_that_never_meet_exclude_each_other() -> None:
    night, noon = Between(79200, 21600, None), Between(43200, 46800, None)
    assert not satisfiable((night, noon), Domains(GATE))
    assert satisfiable((Not(night), noon), Domains(GATE))


def test_a_stretch_on_a_day_is_one_of_the_day_on_which_it_begins() -> None:
    # Source: language.md, Conditions: "the day on which it begins"; case 74 (Sunday 02:00).
    saturday = Between(79200, 21600, frozenset({5}))
    assert in_between(saturday, 6, 7200)
    assert not in_between(saturday, 5, 7200)
    assert in_between(saturday, 5, 79200)
    assert not in_between(saturday, 6, 21600)


def test_a_search_that_is_too_long_counts_as_satisfiable(monkeypatch: pytest.MonkeyPatch) -> None:
    flags = [point(PointKind.FLAG, f"f{n}") for n in range(7)]
    ring = [
        Or((And((Is(a.name, "yes"), Is(b.name, "no"))), And((Is(a.name, "no"), Is(b.name, "yes")))))
        for a, b in itertools.pairwise([*flags, flags[0]])
    ]  # seven in a ring, each unlike the next one: not possible, and seen only at the end
    assert not satisfiable(ring, Domains(job(tuple(flags), ())))
    monkeypatch.setattr(logic, "BUDGET", 5)
    assert satisfiable(ring, Domains(job(tuple(flags), ())))
