"""Certificates made anew from the rules alone, of every meaning case that is proved."""

from __future__ import annotations

from random import Random

import pytest

from tests.meaning.test_meaning import claims, expected, job_of
from tests.random_jobs import random_job
from verifier.model import check
from verifier.proof.checker import check_texts, texts_anew
from verifier.proof.decide import decide
from verifier.proof.verdict import Answered, Proved, Refuted
from verifier.source import SourceFile, Sources

CERTIFIED = [
    (case, name)
    for case, name in claims()
    if isinstance(expected(case)[name], list) or expected(case)[name].startswith("proved")
]


@pytest.mark.parametrize(("case", "name"), CERTIFIED)
def test_a_certificate_made_anew_from_its_rules_is_accepted(case: str, name: str) -> None:
    job, _ = job_of(case)
    assert job is not None
    verdict = decide(job, job.requirement[name])
    assert isinstance(verdict, Proved | Refuted | Answered)
    if verdict.certificate is None:
        assert isinstance(verdict, Proved | Answered)
        told = verdict.witness if isinstance(verdict, Proved) else verdict.run
        assert told is not None, "shown by a run"
        return
    texts = texts_anew(job, job.requirement[name], verdict.certificate)
    assert [n for n, _ in texts] == [n for n, _ in verdict.certificate.texts]
    check_texts(texts, 30)


# The first door may not stay open for longer, and not be shut before the other is open.
ONE_AFTER_THE_OTHER = """
contact first "First door" starts open
contact second "Second door" starts shut
assume first stays open at most 5 s
assume always (first is open or second is open)
require one_is_open
  always: first is open or second is open
end require
"""


def test_a_certificate_that_takes_two_steps_to_be_alive_is_made_anew() -> None:
    job, _ = check(Sources((SourceFile("job.dusk", ONE_AFTER_THE_OTHER),)), "job")
    assert job is not None
    verdict = decide(job, job.requirements[0])
    assert isinstance(verdict, Proved)
    assert verdict.certificate is not None
    assert verdict.certificate.alive == "two steps"
    check_texts(texts_anew(job, job.requirements[0], verdict.certificate), 30)


@pytest.mark.parametrize(
    ("seed", "alive", "rounds"),
    [(355, "own bounds", 0), (1284, "own bounds", 0), (389, "one step", 1), (1734, "one step", 1)],
)
def test_rare_certificates_are_made_anew(seed: int, alive: str, rounds: int) -> None:
    job, requirement = random_job(Random(seed))
    verdict = decide(job, requirement)
    assert isinstance(verdict, Proved | Refuted | Answered)
    certificate = verdict.certificate
    assert certificate is not None
    assert (certificate.alive, len(certificate.left_out)) == (alive, rounds)
    check_texts(texts_anew(job, requirement, certificate), 30)
