"""Stories: what is said of a failing case is what happened in it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.explain.jobs import draft, judged, told
from verifier.explain.explained import explained, failing_run
from verifier.explain.playback import Played, play
from verifier.simulate.seen import seen_values

FAILING = tuple(
    (name, requirement.name)
    for name in ("boathouse", "stair", "dock", "path")
    for requirement, verdict, _ in draft(name).verdicts
    if failing_run(verdict) is not None
)

TITLES = {
    "moving_light": "At 5 s bay_lights is off, although night begins and shutter is moving.",
    "walk_in_lit": "side_door becomes open at 1 min 45 s, and only 30 s later bay_lights goes off "
    "(1 min was promised).",
    "bay_off": "shutter_light was triggered, and in the end bay_lights is on, for good.",
    "leave_lit": "key_switch becomes on at 0 s, and right after that porch_light is off.",
    "porch_off": "power returns for the last time at 5 s, and more than 2 min later porch_light "
    "is on.",
    "bench_seen": "At 5 min bench_strip goes below 100 %, although bench_motion is occupied.",
    "blink_late": "At 10 min beacon becomes on, but before that it had not been so for 10 min "
    "that side_door is open.",
    "porch_tail": "power returns for the last time at 5 s, and porch_light is on for ever after.",
}


@pytest.mark.parametrize("name", TITLES)
def test_the_title_says_what_goes_wrong_and_when(name: str) -> None:
    story = told("boathouse", name).story
    assert story is not None
    assert story.title == TITLES[name]


@pytest.mark.parametrize(("draft_name", "name"), FAILING)
def test_every_failing_requirement_has_story_causes_and_contrast_or_blame(
    draft_name: str, name: str
) -> None:
    each = told(draft_name, name)
    assert each.story is not None
    assert each.story.causes
    assert each.story.title.endswith(".")
    assert len({c.letter for c in each.story.causes}) == len(each.story.causes)


@pytest.mark.parametrize("name", [n for d, n in FAILING if d == "boathouse"])
def test_every_failing_requirement_of_the_boathouse_has_a_contrast_that_goes_well(
    name: str,
) -> None:
    each = told("boathouse", name)
    job = draft("boathouse").job
    assert job is not None
    assert each.contrast is not None
    assert each.contrast.words.endswith(("gone well.", "goes well."))
    kept = play(job, each.requirement, each.contrast.case, "keeps")
    assert isinstance(kept, Played)
    assert kept.fails is None


@pytest.mark.parametrize("name", [n for d, n in FAILING if d == "boathouse"])
def test_blame_is_a_change_with_which_the_case_goes_well(name: str) -> None:
    each = told("boathouse", name)
    rules = {blame.rule for blame in each.blames}
    job = draft("boathouse").job
    assert job is not None
    assert rules <= set(job.rule)
    if name not in ("bench_seen",):  # there the lamp would be off without its rule
        assert rules


@pytest.mark.parametrize("name", [n for d, n in FAILING if d == "boathouse"])
def test_the_boathouse_cases_have_no_happening_too_many(name: str) -> None:
    story = told("boathouse", name).story
    assert story is not None
    assert story.least


def test_the_picture_shows_what_the_interpreter_saw() -> None:
    story = told("boathouse", "walk_in_lit").story
    assert story is not None
    seen = [seen_values(story.played.system, state) for state in story.played.states]
    lanes = {lane.subject: lane.values for lane in story.diagram.lanes}
    assert lanes["bay_lights"] == tuple(v["bay_lights"] for v in seen)
    assert lanes["walk_in"] == tuple(v["walk_in"] for v in seen)
    assert lanes[""] == ("", "", "", "called on", "broken")


def test_times_that_run_down_are_drawn_from_where_they_begin_to_where_they_end() -> None:
    story = told("boathouse", "walk_in_lit").story
    assert story is not None
    lanes = [lane.subject for lane in story.diagram.lanes]
    bars = {(lanes[b.lane], b.begin, b.end, b.left) for b in story.diagram.bars}
    assert bars == {
        ("shutter_light", 2, 4, Fraction(0)),
        ("walk_in", 3, 4, Fraction(1, 2)),
    }


def test_the_order_of_two_rules_in_one_instant_is_told() -> None:
    story = told("boathouse", "leave_lit").story
    assert story is not None
    assert [r.rule for r in story.moments[0].reactions] == ["last_out", "lock_up"]
    assert any("last_out, then lock_up act on it" in c.because for c in story.causes)


def test_inputs_that_have_no_part_could_be_anything() -> None:
    story = told("boathouse", "walk_in_lit").story
    assert story is not None
    assert {"bench_motion", "room_pir", "wall_push", "changing"} <= set(story.anything)
    assert "side_door" not in story.anything


NEVER_ENDS = """
contact gate starts shut
lamp eye
rule blink
  retriggerable
  upon gate becomes open
  do
    repeat
      eye on
      wait 1 s
      eye off
      wait 1 s
    until gate is shut
    end repeat
end rule
require rest
  every trigger of blink leads to eye is off
end require
"""


def test_what_goes_round_for_ever_is_bracketed_and_said() -> None:
    job, requirement, verdict = judged(NEVER_ENDS, "rest")
    story = explained(job, requirement, verdict).story
    assert story is not None
    assert story.diagram.cycle_from is not None
    assert "goes round for ever" in story.title
    assert "goes round for ever" in story.ends


ORDER = """
contact gate starts shut
lamp yard
lamp lane
rule a
  upon gate becomes open
  do
    yard on
end rule
require one
  at most 2 times in 1 min: gate changes
end require
require standing
  never: yard has stayed on for 30 s
end require
"""


def test_each_of_several_occurrences_is_a_cause() -> None:
    job, requirement, verdict = judged(ORDER, "one")
    story = explained(job, requirement, verdict).story
    assert story is not None
    assert [c.words for c in story.causes] == ["gate changes"] * 3


def test_a_timer_that_runs_out_is_an_instant_of_the_story() -> None:
    job, requirement, verdict = judged(ORDER, "standing")
    story = explained(job, requirement, verdict).story
    assert story is not None
    assert story.moments[-1].what == "yard has been on for 30 s"


FLICKER = """
button push
lamp yard
rule light
  upon push pressed
  do
    yard on
end rule
rule dark
  upon yard becomes on
  do
    yard off
end rule
require lit
  when yard becomes on: yard is on for at least 1 s
end require
"""


def test_what_comes_and_goes_in_one_moment_is_not_told_of_another() -> None:
    job, requirement, verdict = judged(FLICKER, "lit")
    story = explained(job, requirement, verdict).story
    assert story is not None
    assert story.title == "At 0 s the promise is broken, by what happens in one moment."
