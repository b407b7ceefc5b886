"""What goes on for ever is found among few states in ticks, and no search outlives its time."""

from __future__ import annotations

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of
from verifier.model.job import Job
from verifier.proof import lasting
from verifier.proof.decide import decide
from verifier.proof.lasting import _Graph
from verifier.proof.moves import TooLarge
from verifier.proof.question import Budget
from verifier.proof.verdict import Answered
from verifier.simulate.explicit import starts
from verifier.simulate.system import System


def shared(size: int) -> Job:
    """A light that stays on for as long as some detector sees somebody, asked about one of them."""
    text = FAMILY["polite"].job(size)
    form = "measure longest: light is on after last motion_1 becomes occupied"
    return job_of(f"{text}require asked\n  {form}\nend require\n")


def test_a_search_for_a_cycle_ends_with_its_time() -> None:
    job = shared(3)
    system = System(job, job.requirement["asked"])
    with pytest.raises(TooLarge):
        _Graph(system, starts(system)[0], lambda _: True, 0.0)


def test_a_cycle_of_one_input_alone_is_found_where_all_have_too_many_states(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Before, with four detectors it was undecided, after 82 s of a limit of 20 s."""
    monkeypatch.setattr(lasting, "MOST_TICKED", 3_000)
    job = shared(3)
    found = decide(job, job.requirement["asked"], Budget(limit_s=60))
    assert isinstance(found, Answered)
    assert found.bound_s == "unbounded"
    assert found.run is not None
    assert found.run.cycle_from is not None
    around = found.run.steps[found.run.cycle_from :]
    moved = {step.what.partition(" becomes ")[0] for step in around if " becomes " in step.what}
    assert len(moved) == 1
    assert moved != {"motion_1"}
