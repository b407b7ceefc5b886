"""What is said of a failing case is true: tried on the interpreter, for as long as it looks ahead."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.explain.jobs import judged
from verifier.explain.explained import Explained, explained
from verifier.explain.playback import Case, Impossible, Played, play

GATE = """
limit  up
limit  down
switch run
lamp   light 60 W
door gate
  raised by up
  lowered by down
  moving by run
  travel 10 s to 15 s
end door
rule lit
  retriggerable
  upon run becomes on provided night
  do
    light on
    wait until up is reached
    wait 30 s
    light off
end rule
require dark
  every trigger of lit leads to light is off
end require
require long
  no longer than 5 min: light is on
end require
"""


def told(text: str, name: str) -> Explained:
    job, requirement, verdict = judged(text, name)
    return explained(job, requirement, verdict)


def test_a_case_that_stops_half_way_is_not_one_that_goes_well() -> None:
    # A gate that has set out arrives within 15 s: what comes after that was not looked at.
    each = told(GATE, "long")
    assert each.contrast is not None
    assert "gate starts" not in each.contrast.words
    assert each.contrast.played.keeps


@pytest.mark.parametrize("name", ["dark", "long"])
def test_what_would_have_to_happen_instead_is_not_passed_over(name: str) -> None:
    # Without "gate stops part way" it arrives at the bottom, and the light burns all the same.
    story = told(GATE, name).story
    assert story is not None
    assert story.needs == (
        "None of the 2 happenings outside can just be left out: something else would have to happen."
    )


def test_a_playback_says_how_far_it_goes() -> None:
    job, requirement, verdict = judged(GATE, "long")
    story = explained(job, requirement, verdict).story
    assert story is not None
    fewer = play(job, requirement, _cut(story.case, 1), "fails")
    assert isinstance(fewer, Played)
    assert fewer.fails is None
    assert not fewer.whole
    job, requirement, verdict = judged(GATE, "dark")
    lasting = play(job, requirement, _cut(story.case, 1), "fails")
    assert isinstance(lasting, Impossible)
    assert lasting.awaits


def _cut(case: Case, number: int) -> Case:
    return replace(case, occurs=case.occurs[:number])
