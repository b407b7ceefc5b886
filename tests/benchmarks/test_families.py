"""The families: each job keeps its promise, each twin breaks it, at sizes that take a moment."""

from __future__ import annotations

import pytest

from tests.benchmarks.families import FAMILIES, FAMILY, Family
from tests.benchmarks.reading import job_of
from verifier.graph.slice import slice_job
from verifier.proof.decide import decide
from verifier.proof.question import Budget
from verifier.proof.verdict import Proved, Refuted
from verifier.simulate.explicit import search

families = pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)


@families
@pytest.mark.parametrize("more", [0, 1])
def test_a_small_job_is_proved_and_comes_into_play(family: Family, more: int) -> None:
    job = job_of(family.job(family.least + more))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)
    assert not verdict.vacuous
    assert verdict.certificate is not None
    assert verdict.certificate.checked_by == ("z3", "cvc5")


@families
@pytest.mark.parametrize("more", [0, 1])
def test_its_twin_fails_at_the_bound_that_it_does_not_allow(family: Family, more: int) -> None:
    size = family.least + more
    job = job_of(family.twin(size))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert verdict.run.fails_s == family.bound_of(size) + family.sharper


@pytest.mark.parametrize(
    ("name", "size"), [("corridor", 1), ("waiting", 1), ("at_once", 1), ("starts", 1), ("chain", 1)]
)
def test_the_exhaustive_search_says_the_same(name: str, size: int) -> None:
    family = FAMILY[name]
    for text, verdict in ((family.job(size), "proved"), (family.twin(size), "refuted")):
        job = job_of(text)
        requirement = job.requirement["promise"]
        assert search(slice_job(job, requirement), requirement, 20_000).verdict == verdict


@families
def test_larger_sizes_are_larger_jobs(family: Family) -> None:
    before = 0
    for size in family.sizes:
        assert size >= family.least
        text = family.job(size)
        job_of(text)
        assert len(text) >= before
        before = len(text)
