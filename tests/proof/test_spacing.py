"""A relation given to Spacer: what comes back is a lemma that both solvers accept."""

from __future__ import annotations

import pytest

from tests.proof.test_evidence import the_job
from verifier.proof.checker import check_certificate
from verifier.proof.formula import Quoted
from verifier.proof.lemmas import bound_lemmas
from verifier.proof.question import Budget, Question
from verifier.proof.spacer import invariant_by_spacer


def test_an_invariant_from_spacer_makes_a_certificate() -> None:
    job = the_job()
    question = Question(job, job.requirement["dark_after"], Budget())
    lemma = invariant_by_spacer(question.relation, 20)
    assert lemma is not None
    certificate = check_certificate(
        question.relation, (Quoted(lemma), *bound_lemmas(question.system)), 20
    )
    assert certificate.checked_by == ("z3", "cvc5")


@pytest.mark.parametrize("name", ["too_soon", "orders"])
def test_spacer_has_no_lemma_for_what_fails(name: str) -> None:
    job = the_job()
    question = Question(job, job.requirement[name], Budget())
    assert invariant_by_spacer(question.relation, 20) is None
