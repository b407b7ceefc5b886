"""Predictions graded by the interpreter, with the reason; hints from a failing case."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.explain.jobs import job_of, judged, run_of
from verifier.model.job import Job
from verifier.simulate.script import Script, parse_script
from verifier.source import SourceFile, Span
from verifier.teach.grading import CannotAsk, Lane, graded_lane, hints_of, lane_of, why_so

WALK = """
detector pir "PIR"
switch away "Away"
lamp light "Light"
rule walk
  retriggerable
  upon pir becomes occupied
  provided away is off
  do
    light on
    wait 3 min
    light off
end rule
require not_long
  no longer than 3 min: light is on
end require
"""

SCRIPT = """
starts pir vacant, away off
at 10 s pir becomes occupied
at 20 s pir becomes vacant
at 1 min away becomes on
at 2 min pir becomes occupied
until 6 min
"""


def script_of(job: Job, text: str) -> Script:
    script, problems = parse_script(SourceFile("walk.run", text), job)
    assert script is not None, problems
    return script


def lane(*pairs: tuple[int, str]) -> Lane:
    return tuple((Fraction(at), value) for at, value in pairs)


def lines(text: str, spans: tuple[Span, ...]) -> list[str]:
    return [text[span.start : span.end] for span in spans]


RIGHT = lane((0, "off"), (10, "on"), (190, "off"))


def test_the_lane_of_a_script_is_what_the_contract_says() -> None:
    """The trigger at 2 min finds its guard false and is dropped: the run of 10 s goes to its end."""
    job = job_of(WALK)
    script = script_of(job, SCRIPT)
    assert lane_of(job, script, "light") == RIGHT
    assert graded_lane(job, script, "light", RIGHT).right


def test_a_lane_that_is_late_differs_first_where_the_wait_ran_out() -> None:
    job = job_of(WALK)
    drawn = lane((0, "off"), (10, "on"), (300, "off"))
    graded = graded_lane(job, script_of(job, SCRIPT), "light", drawn)
    difference = graded.difference
    assert difference is not None
    assert (difference.at_s, difference.drawn, difference.is_so) == (Fraction(190), "on", "off")
    assert difference.words == (
        "Right up to there; from 3 min 10 s on you have “on”, and it is “off”."
    )
    assert lines(WALK, difference.reason.lines) == ["wait 3 min"]
    assert difference.reason.words == (
        "At 3 min 10 s walk has waited 3 min: walk went on and ended, and light is off."
    )


def test_a_change_that_does_not_come_is_answered_with_what_the_rules_did_instead() -> None:
    job = job_of(WALK)
    drawn = lane((0, "off"), (10, "on"), (120, "off"))
    difference = graded_lane(job, script_of(job, SCRIPT), "light", drawn).difference
    assert difference is not None
    assert (difference.at_s, difference.is_so) == (Fraction(120), "on")
    said = difference.reason.words
    assert "walk did not run: `away is off` was not true" in said
    assert "walk waits 3 min, and has 1 min 10 s left" in said
    assert lines(WALK, difference.reason.lines) == ["upon pir becomes occupied", "wait 3 min"]


def test_where_no_rule_was_set_off_it_says_so() -> None:
    job = job_of(WALK)
    reason = why_so(job, script_of(job, "at 5 s away becomes on"), "light", Fraction(5))
    assert reason.words == (
        "Nothing changes light there. No rule that sets light has been set off up to there."
    )


def test_a_change_drawn_nearby_counts_within_the_tolerance_alone() -> None:
    job = job_of(WALK)
    script = script_of(job, SCRIPT)
    near = lane((0, "off"), (11, "on"), (188, "off"))
    assert graded_lane(job, script, "light", near, Fraction(2)).right
    short = graded_lane(job, script, "light", near, Fraction(1))
    assert short.difference is not None
    assert short.difference.at_s == 188
    swapped = lane((0, "off"), (10, "on"), (11, "off"), (12, "on"), (190, "off"))
    assert not graded_lane(job, script, "light", swapped, Fraction(1, 2)).right


def test_a_lane_that_is_longer_than_the_script_is_judged_up_to_its_end() -> None:
    job = job_of(WALK)
    longer = (*RIGHT, (Fraction(600), "on"))
    assert graded_lane(job, script_of(job, SCRIPT), "light", longer).right


def test_a_lane_says_first_how_it_begins() -> None:
    job = job_of(WALK)
    with pytest.raises(ValueError, match="how it begins"):
        graded_lane(job, script_of(job, SCRIPT), "light", lane((10, "on")))


def test_what_hangs_on_the_order_cannot_be_asked() -> None:
    job = job_of(
        'button p "P"\nlamp l "L"\nrule a\n upon p pressed\n do\n  l on\nend rule\n'
        "rule b\n upon p pressed\n do\n  l off\nend rule\nrequire r\n never: l is on\nend require\n"
    )
    with pytest.raises(CannotAsk, match="the order of handling makes a difference to l at 1 s"):
        lane_of(job, script_of(job, "at 1 s p pressed"), "l")
    with pytest.raises(CannotAsk, match="nothing that is called x"):
        lane_of(job, script_of(job, "at 1 s p pressed"), "x")


def test_three_hints_tell_more_and_more_of_the_learners_own_case() -> None:
    job, requirement, verdict = judged(WALK, "not_long")
    run = run_of(verdict)
    where, when, how = hints_of(job, requirement, run)
    assert [where.step, when.step, how.step] == [1, 2, 3]
    assert "walk" in where.words
    assert lines(WALK, where.lines) == ["walk"]
    assert "3 min" in when.words
    assert "3 min" not in where.words
    assert (where.run, when.run, how.run) == (None, None, run)
    assert "becomes occupied" in how.words


def test_a_case_in_which_no_rule_acts_asks_which_rule_ought_to() -> None:
    text = WALK + "require lit\n when pir becomes occupied: light is on within 1 s\nend require\n"
    job, requirement, verdict = judged(text, "lit")
    where, _, _ = hints_of(job, requirement, run_of(verdict))
    assert where.words.startswith(("Look at", "In the case that breaks it no rule acts."))
