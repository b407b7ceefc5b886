"""Slices taken apart: what the parts say is checked on the whole slice, and what fails is not proved."""

from __future__ import annotations

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of
from verifier.proof.decide import decide
from verifier.proof.evidence import certified
from verifier.proof.question import Budget, Question
from verifier.proof.split import Stuck, split_lemmas
from verifier.proof.verdict import Proved, Refuted


def asked(text: str) -> Question:
    job = job_of(text)
    return Question(job, job.requirement["promise"], Budget(limit_s=60))


@pytest.mark.parametrize(
    ("family", "size"),
    [
        ("timers", 1),
        ("timers", 6),
        ("timers", 12),
        ("corridor", 8),
        ("polite", 4),
        ("chain", 5),
        ("waiting", 2),
        ("at_once", 3),
        ("hall", 10),
        ("hall", 14),
    ],
)
def test_the_parts_lemmas_are_a_certificate_of_the_whole_slice(family: str, size: int) -> None:
    question = asked(FAMILY[family].job(size))
    lemmas = split_lemmas(question.relation)
    assert not isinstance(lemmas, Stuck)
    assert certified(question, lemmas).checked_by == ("z3", "cvc5")


@pytest.mark.parametrize(
    ("family", "size", "rule"),
    [
        ("timers", 3, "timer_3"),
        ("corridor", 3, "walk_1"),
        ("polite", 3, "share_3"),
        ("chain", 3, "pass_3"),
        ("at_once", 3, "glow"),
        ("hall", 10, "keep_on"),
    ],
)
def test_of_a_promise_that_fails_the_parts_prove_nothing(family: str, size: int, rule: str) -> None:
    assert split_lemmas(asked(FAMILY[family].twin(size)).relation) == Stuck(rule)


def test_many_unequal_timers_are_proved_by_parts() -> None:
    job = job_of(FAMILY["timers"].job(12))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)
    assert verdict.method == "parts"
    assert verdict.certificate is not None
    assert len(verdict.certificate.lemmas) <= 14
    assert not verdict.vacuous


def test_a_hall_of_twenty_rules_is_proved_and_its_twin_refuted_in_one_step() -> None:
    family = FAMILY["hall"]
    for text, expected in ((family.job(20), Proved), (family.twin(20), Refuted)):
        job = job_of(text)
        verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
        assert isinstance(verdict, expected)
