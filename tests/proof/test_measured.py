"""What is measured is the exact figure: claimed it is proved, and refuted a little sooner."""

from __future__ import annotations

import os
from fractions import Fraction
from random import Random

import pytest

from tests.benchmarks.reading import job_of
from tests.proof.measured import claimed, timed_job
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"

SEEDS = (100, 120, 121, 122, 126, 127)


@pytest.mark.parametrize("seed", range(1_000) if LONG else SEEDS)
def test_what_is_measured_is_proved_and_a_little_less_is_refuted(seed: int) -> None:
    job = timed_job(Random(seed))
    try:
        found = list(claimed(job))
    except EndlessChainFound:
        pytest.skip("an endless chain")
    assert [differs for _, differs in found if differs] == []
    if not LONG:
        assert ("refuted", "") in found


QUEUE = """
button push
lamp light
rule turns
  at once 1, waiting {waiting}{policy}
  upon push pressed
  do
    light on
    wait 90 s
    {more}
    light off
end rule
require longest
  measure longest: light is on after last push pressed
end require
"""


@pytest.mark.parametrize(("waiting", "policy"), [(2, ""), (2, ", oldest gives way"), (4, "")])
@pytest.mark.parametrize(
    ("more", "body_s"),
    [
        ("", 90),
        ("wait 30 s", 120),
        ("if light is on then\n      wait 30 s\n      wait 20 s\n    end if", 140),
    ],
)
def test_those_that_wait_their_turn_are_measured(
    waiting: int, policy: str, more: str, body_s: int
) -> None:
    """By hand: after the last press one body runs, then each that waits, as long as all fit.

    Before, undecided at once where the body waits twice: the figure lay beyond what the zones told
    apart (found by the random jobs above).
    """
    job = job_of(QUEUE.format(waiting=waiting, policy=policy, more=more))
    verdict = decide(job, job.requirements[0], Budget(limit_s=60))
    assert isinstance(verdict, Answered)
    assert verdict.bound_s == Fraction((1 + waiting) * body_s)
