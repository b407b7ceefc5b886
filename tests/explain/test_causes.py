"""Causes: the published algorithm on its worked formula, and on runs of jobs."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from verifier.explain.causes import (
    Both,
    Either,
    Formula,
    Globally,
    Next,
    Path,
    Until,
    Value,
    causes,
    holds,
)

# The formula of the worked example of Beer, Ben-David, Chockler, Orni and Trefler, "Explaining
# Counterexamples Using Causality" (CAV 2009):
#   G((not START and not STATUS_VALID and END) -> X(not START U (STATUS_VALID and READY)))
# The formula is quoted from memory; the paths are ours, the expected sets worked out by hand from
# the paper's definition of the algorithm.
WORKED = Globally(
    Either(
        (
            Value("START"),
            Value("STATUS_VALID"),
            Value("END", False),
            Next(Until(Value("START", False), Both((Value("STATUS_VALID"), Value("READY"))))),
        )
    )
)


def path(*positions: str) -> Path:
    return tuple(frozenset(p.split()) for p in positions)


def test_a_start_before_the_status_is_valid_is_a_cause_with_all_that_asked_for_it() -> None:
    run = path("START", "", "END", "START", "STATUS_VALID READY")
    assert not holds(WORKED, run)
    assert causes(WORKED, run) == {
        (2, "START"),
        (2, "STATUS_VALID"),
        (2, "END"),
        (3, "STATUS_VALID"),
        (3, "READY"),
        (3, "START"),
    }


def test_a_status_that_is_valid_without_being_ready_leaves_only_ready_as_a_cause() -> None:
    run = path("END", "STATUS_VALID START")
    assert causes(WORKED, run) == {
        (0, "START"),
        (0, "STATUS_VALID"),
        (0, "END"),
        (1, "READY"),
        (1, "START"),
    }


def test_what_waits_to_the_end_of_the_path_is_a_cause_at_each_position() -> None:
    run = path("END", "", "")
    found = causes(WORKED, run)
    assert {(1, "STATUS_VALID"), (2, "STATUS_VALID"), (1, "READY"), (2, "READY")} <= found
    assert (1, "START") not in found


def test_only_the_first_failing_position_of_globally_counts() -> None:
    run = path("a", "", "a", "")
    assert causes(Globally(Value("a")), run) == {(1, "a")}


def test_a_formula_that_holds_has_no_causes() -> None:
    run = path("START", "END", "STATUS_VALID READY")
    assert holds(WORKED, run)
    assert causes(WORKED, run) == frozenset()


def formulas() -> st.SearchStrategy[Formula]:
    leaves = st.builds(Value, st.sampled_from("abc"), st.booleans())

    def larger(inner: st.SearchStrategy[Formula]) -> st.SearchStrategy[Formula]:
        several = st.lists(inner, min_size=1, max_size=3).map(tuple)
        return st.one_of(
            st.builds(Both, several),
            st.builds(Either, several),
            st.builds(Next, inner),
            st.builds(Globally, inner),
            st.builds(Until, inner, inner),
        )

    return st.recursive(leaves, larger, max_leaves=8)


PATHS = st.lists(st.frozensets(st.sampled_from("abc")), min_size=1, max_size=5).map(tuple)


@given(formulas(), PATHS)
def test_turning_all_causes_round_makes_a_failing_formula_hold_or_shows_others(
    formula: Formula, run: Path
) -> None:
    """A formula without open ends that fails has causes; what is no cause does not matter for them.

    Changing every value that is not a cause, one at a time, leaves a value that is critical now
    critical: so at least the causes are there (the algorithm over-approximates, Beer and others).
    """
    found = causes(formula, run)
    if holds(formula, run):
        assert not found
        return
    critical = {
        (k, atom)
        for k in range(len(run))
        for atom in "abc"
        if holds(formula, (*run[:k], run[k] ^ {atom}, *run[k + 1 :]))
    }
    assert critical <= found


@given(formulas(), PATHS)
def test_a_cause_is_a_value_that_the_formula_reads_on_the_path(formula: Formula, run: Path) -> None:
    assert all(0 <= k < len(run) and atom in "abc" for k, atom in causes(formula, run))
