"""Playback: a run comes out again as it was, on its job; on a changed one what follows, follows."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from tests.explain.jobs import draft, job_of, judged, run_of
from tests.random_jobs import random_job
from tests.random_more import random_more
from verifier.explain.blame import with_rule
from verifier.explain.explained import explained, failing_run
from verifier.explain.playback import Case, Impossible, Occurs, Played, case_on, play
from verifier.model.job import LeadsTo, MeasureLongest
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound

DRAFTS = ("boathouse", "stair", "dock", "path")


@pytest.mark.parametrize("name", DRAFTS)
def test_every_failing_case_of_the_drafts_comes_out_again(name: str) -> None:
    result = draft(name)
    assert result.job is not None
    for requirement, verdict, _ in result.verdicts:
        run = failing_run(verdict)
        if run is None:
            continue
        played = play(result.job, requirement, case_on(result.job, requirement, run))
        assert isinstance(played, Played), requirement.name
        assert [s.happening.what for s in played.steps] == [s.what for s in run.steps]
        assert [s.at_s for s in played.steps] == [s.at_s for s in run.steps]
        assert [s.because for s in played.steps] == [s.because for s in run.steps]
        assert played.fails is not None
        if not run.rests and run.cycle_from is None:
            assert played.fails == run.end_s


@pytest.mark.parametrize("seed", range(40))
def test_failing_cases_of_random_jobs_have_a_story(seed: int) -> None:
    rng = Random(seed)
    job, requirement = random_job(rng) if seed % 2 else random_more(rng)
    try:
        verdict = decide(job, requirement, Budget(limit_s=20))
    except EndlessChainFound:
        return
    run = failing_run(verdict)
    if run is None:
        return
    told = explained(job, requirement, verdict)
    assert told.story is not None
    assert told.story.played.fails is not None
    if not isinstance(requirement.form, LeadsTo | MeasureLongest):
        assert told.story.played.fails == run.end_s


LAMP = """
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
require two
  when gate becomes open: yard is on for at least 2 min
end require
"""


def test_a_case_on_a_job_without_its_rule_shows_what_the_rule_did() -> None:
    job, requirement, verdict = judged(LAMP, "two")
    case = case_on(job, requirement, run_of(verdict))
    without = with_rule(job, replace(job.rules[0], triggers=()))
    played = play(without, requirement, case, "fails")
    assert isinstance(played, Played)
    assert played.fails == (Fraction(0), False)


def test_what_cannot_happen_is_said() -> None:
    job, requirement, verdict = judged(LAMP, "two")
    case = case_on(job, requirement, run_of(verdict))
    twice = replace(case, occurs=(*case.occurs, Occurs(Fraction(5), "gate becomes open")))
    played = play(job, requirement, twice)
    assert isinstance(played, Impossible)
    assert "gate becomes open" in played.why


def test_what_runs_out_happens_when_it_is_due() -> None:
    job = job_of(LAMP.replace("2 min\nend require", "30 s\nend require"))
    requirement = job.requirement["two"]
    from verifier.explain.playback import Case

    case = Case((("gate", "shut"),), (Occurs(Fraction(3), "gate becomes open"),), Fraction(100))
    played = play(job, requirement, case)
    assert isinstance(played, Played)
    assert [(s.at_s, s.happening.what) for s in played.steps] == [
        (Fraction(3), "gate becomes open"),
        (Fraction(63), "a wait of light runs out"),
    ]
    assert played.fails is None


def test_what_is_mended_at_the_very_moment_at_which_time_is_up_is_kept() -> None:
    """Within 5 s: the lamp that comes on at 5 s, after something else of that moment, is in time."""
    job = job_of(
        """
button push "Push"
contact gate "Gate" starts shut
lamp light "Light"
rule on
  upon gate becomes open
  do
    light on
end rule
require soon
  when push pressed: light is on within 5 s
end require
"""
    )
    occurs = (
        Occurs(Fraction(1), "push pressed"),
        Occurs(Fraction(6), "push pressed"),
        Occurs(Fraction(6), "gate becomes open"),
    )
    start = (("gate", "shut"), ("light", "off"), ("on", "idle"))
    requirement = job.requirement["soon"]
    for until, kept in ((Fraction(6), True), (Fraction(60), True)):
        played = play(job, requirement, Case(start, occurs, until))
        assert isinstance(played, Played)
        assert played.keeps is kept
    late = play(job, requirement, Case(start, occurs[:2], Fraction(7)))
    assert isinstance(late, Played)
    assert late.fails == (Fraction(6), True)
