"""Slices with something missing or changed, by hand: the check names each."""

from __future__ import annotations

from dataclasses import replace

import pytest

from verifier.graph.slice import check_slice, slice_job
from verifier.model import check
from verifier.model.job import Is, Job, Repeat
from verifier.source import SourceFile, Sources

TEXT = """
limit up "Upper"
limit down "Lower"
button push "Push"
contact gate "Gate"
lamp light "Light" 10 W
flag armed "Armed"
door shutter "Shutter"
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
assume always (gate is open implies up is reached)
assume always (night implies gate is shut)
rule lit
  retriggerable
  upon push pressed provided gate is open
  do
    repeat
      light on
      wait 1 s
      light off
      wait 1 s
    until armed is yes
    end repeat
end rule
rule arms
  upon up becomes reached
  do
    armed yes
end rule
require dark
  never: light is on
end require
"""


def whole() -> Job:
    job, told = check(Sources((SourceFile("job.dusk", TEXT),)), "job")
    assert job is not None, told
    return job


def test_the_slice_as_it_is_passes() -> None:
    job = whole()
    assert check_slice(job, slice_job(job, job.requirements[0])) == ()


@pytest.mark.parametrize("number", range(2))
def test_an_assumption_on_what_the_slice_reads_is_missed(number: int) -> None:
    job = whole()
    sliced = slice_job(job, job.requirements[0])
    left = tuple(a for k, a in enumerate(sliced.assumptions) if k != number)
    assert len(left) == 1
    (told,) = check_slice(job, replace(sliced, assumptions=left))
    assert told.startswith("an assumption on ")


def test_a_rule_that_sets_what_the_slice_has_is_missed() -> None:
    job = whole()
    sliced = slice_job(job, job.requirements[0])
    less = replace(sliced, rules=tuple(r for r in sliced.rules if r.name != "arms"))
    assert "rule arms, which is not in the slice, sets armed" in check_slice(job, less)


def test_a_door_is_missed_whose_limit_stays() -> None:
    job = whole()
    less = replace(slice_job(job, job.requirements[0]), doors=())
    told = "up belongs to door shutter, which is not in the slice"
    assert told in check_slice(job, less)
    one = replace(less, points=tuple(p for p in less.points if p.name != "down"))
    assert told in check_slice(job, one)


def test_a_repeat_that_ends_otherwise_is_seen() -> None:
    job = whole()
    sliced = slice_job(job, job.requirements[0])
    lit, arms = sliced.rules
    (repeat,) = lit.body
    assert isinstance(repeat, Repeat)
    other = replace(repeat, until=Is("armed", "no"))
    wrong = replace(sliced, rules=(replace(lit, body=(other,)), arms))
    assert check_slice(job, wrong) == (
        "the body of rule lit differs by more than what is left out",
    )
    shorter = replace(repeat, body=repeat.body[1:])
    wrong = replace(sliced, rules=(replace(lit, body=(shorter,)), arms))
    assert check_slice(job, wrong) == (
        "the body of rule lit differs by more than what is left out",
    )
