"""Invariants from Spacer, checked again by both solvers on texts made here."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from verifier.model import check
from verifier.proof.certificate import _Maker
from verifier.proof.relation import Relation, relation_of
from verifier.proof.solvers import Answer, check_with_cvc5, check_with_z3
from verifier.proof.spacer import (
    TransitionSystem,
    find_invariant,
    invariant_by_spacer,
    invariant_task,
)
from verifier.proof.workers import Finished, Pool
from verifier.simulate.system import System
from verifier.source import SourceFile, Sources

LAMP = TransitionSystem(
    variables=(("on", "Bool"), ("waited", "Real"), ("lit", "Real")),
    initial="(and (not on) (= waited 0.0) (= lit 0.0))",
    transitions=(
        "(and (not on) on_next (= waited_next 0.0) (= lit_next 0.0))",
        "(and on on_next (= waited_next 0.0) (= lit_next lit) (<= lit 120.0))",
        "(and on (>= d 0.0) (<= (+ waited d) 60.0) on_next"
        " (= waited_next (+ waited d)) (= lit_next (+ lit d)))",
        "(and on (= waited 60.0) (not on_next) (= waited_next waited) (= lit_next lit))",
        "(and (not on) (>= d 0.0) (not on_next) (= waited_next waited) (= lit_next (+ lit d)))",
    ),
    bad="(and on (> lit 180.0))",
    choices=(("d", "Real"),),
)
"""A lamp that a detector lights for 60 s, and that is retriggered up to 120 s after it was lit."""


def texts(system: TransitionSystem, invariant: str) -> list[str]:
    """What an invariant has to satisfy, as one question each; all must be unsatisfiable."""
    names = [name for name, _ in system.variables]
    head = "(set-logic QF_LRA)\n" + "".join(
        f"(declare-const {name} {sort})(declare-const {name}_next {sort})\n"
        for name, sort in system.variables
    )
    head += "".join(f"(declare-const {name} {sort})\n" for name, sort in system.choices)
    parameters = " ".join(f"({name} {sort})" for name, sort in system.variables)
    head += f"(define-fun holds ({parameters}) Bool {invariant})\n"
    here = f"(holds {' '.join(names)})"
    there = f"(holds {' '.join(f'{name}_next' for name in names)})"
    step = f"(or {' '.join(system.transitions)})"
    claims = [
        f"(and {system.initial} (not {here}))",
        f"(and {here} {step} (not {there}))",
        f"(and {here} {system.bad})",
    ]
    return [f"{head}(assert {claim})\n(check-sat)\n" for claim in claims]


def assert_proves(system: TransitionSystem, invariant: str | None) -> None:
    assert invariant is not None
    assert "\n" not in invariant
    for text in texts(system, invariant):
        assert check_with_z3(text, 10.0) is Answer.UNSAT
        assert check_with_cvc5(text, 10.0) is Answer.UNSAT


@pytest.mark.parametrize(
    "lemmas",
    [
        (),
        ("(>= waited 0.0)", "(<= waited 60.0)"),
        ("(=> on (<= lit (+ waited 120.0)))", "(=> on (<= waited 60.0))", "(>= waited 0.0)"),
    ],
)
def test_an_invariant_is_found_and_both_solvers_accept_it(lemmas: tuple[str, ...]) -> None:
    found = find_invariant(LAMP, lemmas, 20.0)
    assert_proves(LAMP, found)
    assert found is not None
    assert all(lemma in found for lemma in lemmas)


def test_one_second_less_has_no_invariant() -> None:
    assert find_invariant(replace(LAMP, bad="(and on (> lit 179.0))"), (), 20.0) is None


def test_lemmas_that_are_not_inductive_prove_nothing() -> None:
    assert find_invariant(LAMP, ("(<= lit 100.0)",), 20.0) is None
    assert find_invariant(LAMP, ("false",), 20.0) is None


def test_names_with_dots_are_quoted_both_ways() -> None:
    system = TransitionSystem(
        variables=(("floor_1.clock", "Real"),),
        initial="(= |floor_1.clock| 0.0)",
        transitions=("(and (< |floor_1.clock| 5.0) (= |floor_1.clock_next| 5.0))",),
        bad="(> |floor_1.clock| 5.0)",
    )
    found = find_invariant(system, (), 20.0)
    assert found is not None
    head = "(set-logic QF_LRA)(declare-const |floor_1.clock| Real)"
    for answer in (check_with_z3, check_with_cvc5):
        assert answer(f"{head}(assert (not {found}))(check-sat)", 10.0) is Answer.SAT
        assert (
            answer(f"{head}(assert {found})(assert {system.bad})(check-sat)", 10.0) is Answer.UNSAT
        )


@pytest.mark.parametrize(
    "system",
    [
        replace(LAMP, bad="(and on"),
        replace(LAMP, initial="nothing_known"),
        replace(LAMP, bad="on) (assert on"),
        replace(LAMP, choices=(("on", "Bool"),)),
    ],
)
def test_what_cannot_be_read_is_refused(system: TransitionSystem) -> None:
    with pytest.raises(ValueError, match=r"cannot read|not one term|same name"):
        find_invariant(system, (), 5.0)


def test_it_runs_as_a_task() -> None:
    with Pool(1) as pool:
        (done,) = pool.run([invariant_task(7, LAMP, (), 30.0)])
    assert done.id == 7
    assert isinstance(done.outcome, Finished)
    assert_proves(LAMP, done.outcome.value)


TWO_RULES = """
detector motion "PIR in the hall"
button push "Push-button"
lamp light "Hall light" 40 W
rule walk
  retriggerable
  upon motion becomes occupied
  do
    light on
    wait 60 s
    light off
end rule
rule press
  non-retriggerable
  upon push pressed
  do
    light on
    wait 30 s
    light off
end rule
require dark
  after last motion becomes occupied or push pressed: light is off within BOUND
end require
"""


def relation_with(bound: str) -> Relation:
    job, findings = check(
        Sources((SourceFile("hall.dusk", TWO_RULES.replace("BOUND", bound)),)), "hall"
    )
    assert job is not None, findings
    return relation_of(System(job, job.requirement["dark"]))


class _OfText(_Maker):
    """A certificate's texts for an invariant that is a text already."""

    def __init__(self, relation: Relation, invariant: str) -> None:
        super().__init__(relation, ())
        self.holds.append(invariant)
        self.after = re.sub(r"\|([^|]+)\|", r"|\1'|", invariant)

    def broken(self) -> str:
        return f"(or {super().broken()} (not {self.after}))"


def test_a_job_of_two_rules_has_an_invariant_and_its_certificate_holds() -> None:
    relation = relation_with("60 s")
    found = invariant_by_spacer(relation, 60.0)
    assert found is not None
    maker = _OfText(relation, found)
    for text in (
        maker.initial(),
        maker.kept(),
        maker.kept_in_time(),
        maker.implies(),
        maker.alive(),
        maker.cover(),
        maker.chain(),
    ):
        assert check_with_z3(text, 10.0) is Answer.UNSAT
        assert check_with_cvc5(text, 10.0) is Answer.UNSAT


def test_the_same_job_with_a_second_less_has_none() -> None:
    assert invariant_by_spacer(relation_with("59 s"), 60.0) is None
