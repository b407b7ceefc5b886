"""The prover against the exhaustive search, on random jobs: verdict, length of the shortest run,
moment of failure, exact bounds."""

from __future__ import annotations

import os
from fractions import Fraction
from random import Random

import pytest

from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model.job import LeadsTo
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted
from verifier.simulate.explicit import EndlessChain, Found, TooLarge, search
from verifier.simulate.system import System

CAP = 4_000

SEEDS = range(1000, 3000) if os.environ.get("DUSKPROOF_PROFILE") == "long" else range(1000, 1080)
"""Random jobs of the long and of the quick profile (see ``tests/conftest.py``)."""


@pytest.mark.parametrize("seed", SEEDS)
def test_the_prover_agrees_with_the_exhaustive_search(seed: int) -> None:
    job, requirement = random_job(Random(seed))
    part = slice_job(job, requirement)
    try:
        found = search(part, requirement, CAP)
    except TooLarge:
        pytest.skip("more states than the cap of the exhaustive search")
    except EndlessChain:
        with pytest.raises(EndlessChainFound):
            decide(job, requirement, Budget(limit_s=30))
        return
    verdict = decide(job, requirement, Budget(limit_s=30))
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


def in_seconds(found: Found, seconds: object) -> Fraction | str | None:
    """The bound that the search found, in seconds."""
    bound = found.bound_units
    if isinstance(bound, Fraction):
        assert callable(seconds)
        value: Fraction = seconds(bound)
        return value
    return bound
