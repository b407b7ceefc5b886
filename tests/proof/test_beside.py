"""What a run of a slice is replayed beside: all that it can have to do with, and no more."""

from __future__ import annotations

from random import Random

import pytest

from tests.benchmarks.buildings import building
from tests.benchmarks.reading import job_of
from tests.random_jobs import random_job
from verifier.graph.access import SHARED
from verifier.graph.slice import mentions, slice_job
from verifier.model.job import Job
from verifier.proof.beside import beside
from verifier.proof.decide import decide
from verifier.proof.question import Budget
from verifier.proof.verdict import Refuted

LATER = """
detector far "PIR" {holds}
lamp yard "Yard light" 9 W
rule yard_on
  retriggerable
  upon far becomes occupied
  do
    yard on
    wait 40 s
    yard off
end rule
"""

HERE = """
button push "Push-button"
lamp light "Light" 9 W
lamp sign "Sign" 9 W
rule lit
  retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
rule shown "what depends on the light, and does nothing to it"
  upon light becomes on
  do
    sign on
end rule
require soon
  after last push pressed: light is off within 59 s
end require
"""


def kept(text: str) -> tuple[str, ...]:
    """The rules that the requirement of a job is replayed beside."""
    job = job_of(text)
    requirement = job.requirements[0]
    return tuple(rule.name for rule in beside(job, requirement, slice_job(job, requirement)).rules)


def named(job: Job) -> set[str]:
    return {*job.point, *job.door, *job.room, *job.rule}


def test_what_depends_on_the_slice_is_played_and_what_shares_no_name_with_it_is_not() -> None:
    assert kept(HERE + LATER.format(holds="holds 8 s")) == ("lit", "shown")


@pytest.mark.parametrize(
    "more",
    [
        "room yard_room\n  seen by far\n  still at most 5 min\nend room",
        "assume far stays occupied at most 5 min",
        "consider bounce of far up to 5 ms",
        "consider far stuck",
        "rule both\n  upon far becomes occupied provided light is on\n  do\n    sign off\nend rule",
        'site "Yard"\n  reaction within 200 ms\nend site',
    ],
)
def test_what_may_be_due_outside_or_is_tied_to_the_slice_is_played(more: str) -> None:
    assert {"lit", "shown", "yard_on"} <= set(kept(HERE + LATER.format(holds="") + more + "\n"))


def test_a_power_cut_is_considered_of_what_is_played() -> None:
    job = job_of(HERE + LATER.format(holds="") + "consider power cuts\n")
    requirement = job.requirements[0]
    assert beside(job, requirement, slice_job(job, requirement)).faults == job.faults


def test_nothing_that_is_left_out_speaks_of_anything_that_is_played() -> None:
    smaller = 0
    for seed in range(400):
        job, _ = random_job(Random(seed))
        for requirement in job.requirements:
            part = slice_job(job, requirement)
            played = beside(job, requirement, part)
            assert played.requirements == (requirement,)
            assert named(part) <= named(played)
            assert set(part.assumptions) <= set(played.assumptions)
            names = named(played)
            for thing in (*job.rules, *job.doors, *job.rooms, *job.faults, *job.assumptions):
                said = set(mentions(thing)) - SHARED
                said |= {name for name in [getattr(thing, "name", None)] if name in job.rule}
                assert said <= names or said.isdisjoint(names)
            smaller += len(names) < len(named(job))
    assert smaller > 50


def test_a_room_is_replayed_beside_its_own_rules_however_many_rooms_there_are() -> None:
    for rooms in (1, 5):
        job = job_of(building(4, rooms))
        requirement = job.requirement["room_3_0.here_off"]
        played = beside(job, requirement, slice_job(job, requirement))
        assert [rule.name for rule in played.rules] == [
            "room_3_0.here_up",
            "room_3_0.here_down",
            "room_3_0.here_dark",
        ]


def test_a_promise_that_fails_in_a_room_of_a_building_fails_at_its_bound() -> None:
    text = building(4, 3).replace("is off within 165 s", "is off within 164 s")
    job = job_of(text)
    verdict = decide(job, job.requirement["room_3_2.here_off"], Budget(limit_s=60))
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert verdict.run.fails_s == 164
