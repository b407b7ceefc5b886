"""The prover against the exhaustive search, on random jobs: verdict, length of the shortest run,
moment of failure, exact bounds."""

from __future__ import annotations

import os
from collections import Counter
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, note, settings

from tests.outside.murphi_long import dusk_text
from tests.random_jobs import random_job, random_jobs
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job, LeadsTo, Policy, Requirement, statements_of
from verifier.proof.chain import Chain
from verifier.proof.decide import decide
from verifier.proof.proving import chain_task, suspects
from verifier.proof.question import Budget
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided
from verifier.simulate.explicit import EndlessChain, Found, TooLarge, search
from verifier.simulate.system import System
from verifier.source import SourceFile, Sources

CAP = 4_000

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"

SEEDS = range(1000, 3000) if LONG else range(1000, 1080)
"""Random jobs of the long and of the quick profile (see ``tests/conftest.py``)."""


@pytest.mark.parametrize("seed", SEEDS)
def test_the_prover_agrees_with_the_exhaustive_search(seed: int) -> None:
    open_because = agree(*random_job(Random(seed)))
    if open_because:
        pytest.skip(open_because)


@given(random_jobs())
@settings(max_examples=2_000 if LONG else 60)
def test_the_same_with_a_job_that_is_made_small_if_it_fails(made: tuple[Job, Requirement]) -> None:
    note(dusk_text(*made))
    agree(*made)


@pytest.mark.parametrize("seed", range(2_000 if LONG else 200))
def test_a_random_job_is_one_that_can_be_written(seed: int) -> None:
    text = dusk_text(*random_job(Random(seed)))
    job, told = check(Sources((SourceFile("job.dusk", text),)), "random")
    assert job is not None, (text, told)
    assert dusk_text(job, job.requirements[0]) == text


def test_random_jobs_are_a_useful_mix() -> None:
    """Neither all proved nor all refuted; every form, policy and kind of statement occurs."""
    forms: Counter[str] = Counter()
    policies: Counter[Policy] = Counter()
    statements: Counter[str] = Counter()
    for seed in range(1_000, 2_000):
        job, requirement = random_job(Random(seed))
        forms[type(requirement.form).__name__] += 1
        for rule in job.rules:
            policies[rule.policy] += 1
            statements.update(type(s).__name__ for s in statements_of(rule.body))
    assert len(forms) == 12
    assert min(forms.values()) > 40
    assert len(policies) == 6
    assert set(statements) == {"Put", "Wait", "WaitUntil", "If", "Repeat", "Cancel", "EndRun"}


def agree(job: Job, requirement: Requirement, cap: int = CAP) -> str:
    """Asserts that prover and search agree; why one of them did not answer, if that is so."""
    part = slice_job(job, requirement)
    try:
        found = search(part, requirement, cap)
    except TooLarge:
        return "more states than the cap of the exhaustive search"
    except EndlessChain:
        assert has_endless_chain(part)
        return ""
    verdict = decide(job, requirement, Budget(limit_s=30))
    if isinstance(verdict, Undecided):
        # For an endless chain that the slice has not: the whole job is in error, and says so.
        assert has_endless_chain(job)
        return f"undecided: {verdict.reason}"
    seconds = System(part, requirement).unit.seconds
    assert type(verdict).__name__.lower() == found.verdict
    match verdict:
        case Refuted(run) | Proved(_, run) if run is not None and found.happenings is not None:
            assert found.ticks is not None
            assert len(run.steps) == found.happenings
            moment = seconds(found.ticks) / 2
            # "Just after" a moment is half a unit later in ticks, or in several small steps more.
            late = seconds(1) if run.fails_just_after else 0
            assert run.fails_s <= moment <= run.fails_s + late
        case Answered(bound):
            assert bound == in_seconds(found, seconds)
        case Proved(vacuous=False, bound_s=bound) if isinstance(requirement.form, LeadsTo):
            assert bound == in_seconds(found, seconds)
        case _:
            pass
    return ""


def has_endless_chain(job: Job) -> bool:
    """Whether the whole job is in error, as is looked at before any requirement is judged."""
    chains = [chain_task(job, rule, 30.0) for rule in suspects(job)]
    return any(isinstance(chain, Chain) for chain in chains)


def in_seconds(found: Found, seconds: object) -> Fraction | str | None:
    """The bound that the search found, in seconds."""
    bound = found.bound_units
    if isinstance(bound, Fraction):
        assert callable(seconds)
        value: Fraction = seconds(bound)
        return value
    return bound
