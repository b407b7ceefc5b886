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
        "None of the 2 happenings outside can just be left out: then it goes well, or something "
        "else has to happen instead."
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


STORE = """
contact door
button push
lamp store
rule store_light
  retriggerable
  upon push pressed
  do
    store on
    wait 10 min
    if door is shut then
      store off
    end if
end rule
require off
  after last push pressed: store is off within 15 min
end require
require asked
  always: door is open implies store is on
  allowing 5 s
end require
require short
  at most 1 times in 1 min: store becomes on
end require
"""


def test_an_input_that_keeps_still_and_matters_is_told() -> None:
    # It is the open door by which the lamp stays on; it never changes in this case.
    story = told(STORE, "off").story
    assert story is not None
    assert "door open" in story.start
    assert "door" in [lane.subject for lane in story.diagram.lanes]
    assert "door" not in story.anything


def test_what_is_so_from_the_start_is_told_as_that() -> None:
    story = told(STORE, "asked").story
    assert story is not None
    assert story.title == (
        "Just after 5 s store is off, although door is open (for more than 5 s by then; 5 s is "
        "allowed)."
    )
    assert "it begins so" in story.ends


PUMP = """
switch float_high
load pump
lamp warn
rule pumping
  upon float_high becomes on
  do
    pump on
end rule
rule warning
  non-retriggerable
  upon pump has stayed on for 10 s
  do
    repeat
      warn on
      wait 1 s
      warn off
      wait 1 s
    until pump is off
    end repeat
end rule
require rest
  every trigger of warning leads to warn is off
end require
"""


def test_what_goes_round_is_told_by_its_own_instants() -> None:
    story = told(PUMP, "rest").story
    assert story is not None
    cycle = story.diagram.cycle_from
    assert cycle is not None
    assert f"Instants {cycle} to {len(story.moments)} come again and again" in story.ends
    first, last = story.moments[cycle - 1], story.moments[-1]
    assert first.changes != last.changes
    # One instant before the part that comes again the same was so as at its end.
    assert story.played.states[cycle - 1].values == story.played.states[-1].values


HATCH = """
contact hatch starts shut
button all_off
lamp lane
rule hatch_rule
  retriggerable
  upon hatch becomes open
  do
    lane on
    wait until hatch is shut
    lane off
end rule
rule off_rule
  upon all_off pressed
  do
    lane off
end rule
require off
  every trigger of hatch_rule leads to lane is off
end require
require rare
  at most 1 times in 1 min: lane becomes on
end require
"""


def test_a_lamp_that_stays_on_is_told_to_be_on() -> None:
    story = told(HATCH, "off").story
    assert story is not None
    assert story.title == "hatch_rule was triggered, and in the end lane is on, for good."


def test_the_case_that_goes_well_is_one_in_which_something_is_asked() -> None:
    contrast = told(HATCH, "off").contrast
    assert contrast is not None
    assert contrast.words == (
        "Had “hatch becomes shut” come as well, at 5 s, it would have gone well."
    )


def test_a_happening_is_moved_beyond_the_figure_of_the_requirement() -> None:
    contrast = told(HATCH, "rare").contrast
    assert contrast is not None
    assert "later, at 1 min 1 s" in contrast.words
