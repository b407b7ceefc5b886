"""A run that was found on a slice, replayed on the whole job: what has to happen outside it is put in.

"Its waits run out, its bounds have to be kept", and some of it has to happen before it is due.
"""

from __future__ import annotations

from random import Random

import pytest

from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job
from verifier.proof import whole
from verifier.proof.decide import decide
from verifier.proof.question import Budget
from verifier.proof.verdict import Refuted, RunNotOnTheWhole, Undecided
from verifier.simulate.explicit import search
from verifier.source import SourceFile, Sources

LIGHT = """
button push "Push-button"
lamp light "Light" 10 W
rule lit
  retriggerable
  upon push pressed
  do
    light on
    wait 30 s
    light off
end rule
"""

# The shutter sets out in time, long before anything is due: it may not stay away from the top.
SETS_OUT = (
    LIGHT
    + """
limit up "Upper limit"
limit down "Lower limit"
door shutter "Shutter"
  raised by up
  lowered by down
  travel 10 s to 12 s
  starts lowered
end door
assume up stays clear at most 15 s
require asked
  never: light has stayed on for 25 s
end require
"""
)

# Whoever is in the room at the start has to leave, or to be seen, before all is quiet for good.
LEAVES = (
    LIGHT
    + """
detector pir "Detector"
room hall "Hall"
  seen by pir
  still at most 4 min
  starts peopled
end room
require asked
  every trigger of lit leads to light is on
end require
"""
)

# Nobody can leave but by the door, so it has to be opened first, and to be shut again in time.
LEAVES_BY_THE_DOOR = (
    LIGHT
    + """
contact way "Door" starts shut
detector pir "Detector"
room hall "Hall"
  entered by way
  seen by pir
  still at most 4 min
  starts peopled
end room
assume way stays open at most 20 s
require asked
  every trigger of lit leads to light is on
end require
"""
)

JOBS = {
    "a door sets out in time": SETS_OUT,
    "people leave before the quiet": LEAVES,
    "a door is opened for them and shut": LEAVES_BY_THE_DOOR,
}


def job_of(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


@pytest.mark.parametrize("name", JOBS)
def test_what_has_to_happen_outside_the_slice_is_looked_for_ahead(name: str) -> None:
    job = job_of(JOBS[name])
    (requirement,) = job.requirements
    assert len(slice_job(job, requirement).points) < len(job.points)
    verdict = decide(job, requirement, Budget(limit_s=30))
    assert isinstance(verdict, Refuted), verdict
    assert verdict.run is not None
    assert "shutter" not in str(verdict.run.steps), "the run that is told is the slice's"


@pytest.mark.parametrize("seed", [1471, 2261])
def test_random_jobs_that_need_a_look_ahead_are_refuted(seed: int) -> None:
    """The two of 12,000 (9,344 with a slice of their own) that greed alone left undecided."""
    job, requirement = random_job(Random(seed))
    assert search(slice_job(job, requirement), requirement).verdict == "refuted"
    assert isinstance(decide(job, requirement, Budget(limit_s=30)), Refuted)


@pytest.mark.parametrize("name", JOBS)
def test_without_the_look_ahead_they_stay_undecided(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So it is the look ahead that the tests above are about."""
    monkeypatch.setattr(whole, "MOST_TRIED", 0)
    job = job_of(JOBS[name])
    verdict = decide(job, job.requirements[0], Budget(limit_s=30))
    assert isinstance(verdict, Undecided)
    assert isinstance(verdict.reason, RunNotOnTheWhole)


# Each press sets off a chain that never ends, and only the whole job has it.
NO_WAY = (
    LIGHT
    + """
lamp one "One" 10 W
lamp other "Other" 10 W
rule swings
  upon push pressed
  upon other becomes on
  do
    one off
    other off
    one on
end rule
rule swings_back
  upon one becomes on
  do
    other on
end rule
require asked
  never: light has stayed on for 25 s
end require
"""
)


def test_what_cannot_be_on_the_whole_is_not_refuted() -> None:
    """The job is in error for its chain; no run that the whole job has not is ever shown."""
    job = job_of(NO_WAY)
    assert search(slice_job(job, job.requirements[0]), job.requirements[0]).verdict == "refuted"
    verdict = decide(job, job.requirements[0], Budget(limit_s=30))
    assert isinstance(verdict, Undecided)
    assert isinstance(verdict.reason, RunNotOnTheWhole)


def test_the_search_is_bounded_by_what_it_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted, not timed: a busy machine gives the same answer."""
    tried: list[int] = []
    honest = whole._Ahead.finds

    def finds(self: whole._Ahead, start: tuple[int, ...]) -> bool:
        found = honest(self, start)
        tried.append(self.tried)
        return found

    monkeypatch.setattr(whole._Ahead, "finds", finds)
    for _ in range(2):
        decide(job_of(LEAVES_BY_THE_DOOR), job_of(LEAVES_BY_THE_DOOR).requirements[0])
    assert tried
    assert tried[0] == tried[1] <= whole.MOST_TRIED
