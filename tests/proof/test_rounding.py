"""Moments to tell a run with: usual ones, and the run that was found all the same."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from tests.proof.test_evidence import the_job
from tests.random_jobs import random_job
from verifier.model import check
from verifier.model.job import Job
from verifier.proof.decide import decide
from verifier.proof.engines import Breaks, holds_or_breaks
from verifier.proof.question import Budget, Question
from verifier.proof.rounding import USUAL_S, rounded
from verifier.proof.timing import moments_of
from verifier.proof.verdict import Refuted
from verifier.source import SourceFile, Sources

GATE = """
contact gate starts shut
lamp yard
rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 1 min
    yard off
end rule
require kept
  when gate becomes open: yard is on for at least 2 min
end require
require quick
  never: gate has stayed open for 20 ms
end require
assume gate stays open at most 30 ms
"""


def job_of(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def refuted(text: str, name: str) -> Refuted:
    job = job_of(text)
    verdict = decide(job, job.requirement[name], Budget())
    assert isinstance(verdict, Refuted)
    return verdict


def test_what_happens_outside_is_told_at_moments_with_a_usual_while_between() -> None:
    verdict = refuted(GATE.replace("assume gate stays open at most 30 ms\n", ""), "kept")
    assert verdict.run is not None
    at = [step.at_s for step in verdict.run.steps]
    assert at[0] == 0
    assert at[-1] == 60
    assert verdict.run.end_s == (Fraction(60), False)


def test_what_has_to_be_quick_is_quick() -> None:
    verdict = refuted(GATE, "quick")
    assert verdict.run is not None
    assert verdict.run.end_s[0] == Fraction(20, 1000)


def test_the_earliest_moments_stay_beside_the_usual_ones() -> None:
    text = """
contact gate starts shut
lamp yard
rule light
  upon gate becomes open
  do
    yard on
end rule
require once
  at most 1 times in 1 min: gate becomes open
end require
"""
    verdict = refuted(text, "once")
    assert verdict.run is not None
    assert [step.earliest_s for step in verdict.run.steps] == [0, 0, 0]
    assert [step.at_s for step in verdict.run.steps] == [0, 5, 10]


def test_usual_moments_keep_to_every_difference() -> None:
    job = the_job()
    question = Question(job, job.requirement["too_soon"], Budget())
    found = holds_or_breaks(question)
    assert isinstance(found, Breaks)
    told = rounded(question.moves, found.timeline)
    at, end = moments_of(told)
    nodes = [Fraction(0), *at, end]
    for a, b, units, small in told.edges:
        assert nodes[b] - nodes[a] >= units
        assert not small or nodes[b] - nodes[a] > units


@pytest.mark.parametrize("while_s", USUAL_S)
def test_usual_whiles_are_whole_seconds(while_s: Fraction) -> None:
    assert while_s.denominator == 1


def test_moments_between_two_ticks_that_lead_into_no_cycle_are_not_told() -> None:
    """Random job 3482: the cycle is found in ticks, and the usual moments did not replay into it."""
    job, requirement = random_job(Random(3482))
    verdict = decide(job, requirement, Budget())
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert verdict.run.cycle_from is not None
