"""A relation given to Spacer: what comes back is a lemma that both solvers accept."""

from __future__ import annotations

import pytest

from tests.proof.test_evidence import the_job
from verifier.proof.decide import Budget, Question, _bounds, check_certificate
from verifier.proof.spacing import lemma_by_spacer


def test_an_invariant_from_spacer_makes_a_certificate() -> None:
    job = the_job()
    question = Question(job, job.requirement["dark_after"], Budget())
    lemma = lemma_by_spacer(question.relation, 20)
    assert lemma is not None
    certificate = check_certificate(question.relation, (lemma, *_bounds(question)), 20)
    assert certificate.checked_by == ("z3", "cvc5")


@pytest.mark.parametrize("name", ["too_soon", "orders"])
def test_spacer_has_no_lemma_for_what_fails(name: str) -> None:
    job = the_job()
    question = Question(job, job.requirement[name], Budget())
    assert lemma_by_spacer(question.relation, 20) is None
