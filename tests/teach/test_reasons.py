"""Why a thing is so at a moment of a script, worked out by hand; and where to look in a failing case."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.explain.jobs import job_of, judged, run_of
from tests.teach.test_lessons import NAMES, lesson
from verifier.model.job import Job
from verifier.simulate.script import Script, parse_script
from verifier.source import SourceFile, Span
from verifier.teach.lesson import Predict
from verifier.teach.questions import true_lane
from verifier.teach.reasons import rules_to_look_at, why_so

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


def lines(text: str, spans: tuple[Span, ...]) -> list[str]:
    return [text[span.start : span.end] for span in spans]


def test_where_a_thing_changes_the_reason_is_the_line_that_acted() -> None:
    """The trigger at 2 min finds its guard false and is dropped: the run of 10 s goes to its end."""
    job = job_of(WALK)
    reason = why_so(job, script_of(job, SCRIPT), "light", Fraction(190))
    assert lines(WALK, reason.lines) == ["wait 3 min"]
    assert reason.words == (
        "At 3 min 10 s walk has waited 3 min: walk went on and ended, and light is off."
    )
    assert reason.rules == ("walk",)


def test_where_it_does_not_change_the_reason_is_what_the_rules_did_instead() -> None:
    job = job_of(WALK)
    reason = why_so(job, script_of(job, SCRIPT), "light", Fraction(120))
    assert reason.words.startswith("Nothing changes light there.")
    assert "walk did not run: `away is off` was not true" in reason.words
    assert "walk waits 3 min, and has 1 min 10 s left" in reason.words
    assert lines(WALK, reason.lines) == ["upon pir becomes occupied", "wait 3 min"]


def test_where_no_rule_was_set_off_it_says_so() -> None:
    job = job_of(WALK)
    reason = why_so(job, script_of(job, "at 5 s away becomes on"), "light", Fraction(5))
    assert reason.words == (
        "Nothing changes light there. No rule that sets light has been set off up to there."
    )


CLOCK = """
lamp light "Light"
rule evening
  upon at 22:30
  do
    light on
end rule
rule morning
  upon at 06:00
  do
    light off
end rule
require r
  never: light is on and light is off
end require
"""


def test_a_script_by_the_clock_begins_at_the_first_time_that_the_job_reads() -> None:
    """At 06:00 it begins, so 22:30 is 16 h 30 min later."""
    job = job_of(CLOCK)
    script = script_of(job, "at 1 h expect light is off\nuntil 20 h")
    reason = why_so(job, script, "light", Fraction(16 * 3600 + 1800))
    assert lines(CLOCK, reason.lines) == ["upon at 22:30"]
    assert "light is on" in reason.words


POWER = """
contact gate "Gate" starts shut
lamp light "Light" on power return last
consider power cuts
rule store
  non-retriggerable
  upon gate becomes open
  do
    light on
    wait until gate is shut
    light off
end rule
require r
  never: light is on and gate is shut
end require
"""


def test_a_run_that_was_lost_is_the_reason_why_nothing_comes() -> None:
    job = job_of(POWER)
    text = "at 10 s gate becomes open\nat 20 s power fails and returns\nat 30 s gate becomes shut"
    reason = why_so(job, script_of(job, text), "light", Fraction(30))
    assert reason.words == (
        "Nothing changes light there. At 20 s power fails and returns: store is idle."
    )


@pytest.mark.parametrize("seconds", [0, 10, 130, 360])
def test_a_reason_is_told_at_every_moment(seconds: int) -> None:
    job = job_of(WALK)
    assert why_so(job, script_of(job, SCRIPT), "light", Fraction(seconds)).words


def test_the_rule_that_one_change_would_mend_is_the_one_to_look_at() -> None:
    job, requirement, verdict = judged(WALK, "not_long")
    assert rules_to_look_at(job, requirement, run_of(verdict)) == ("walk",)


@pytest.mark.parametrize("name", NAMES)
def test_every_change_in_the_questions_of_a_lesson_has_a_reason_with_its_line(name: str) -> None:
    for question in lesson(name).questions:
        if isinstance(question, Predict):
            job = lesson(name).job(question.job).job
            for at_s, value in true_lane(job, question)[1:]:
                reason = why_so(job, question.script, question.thing, at_s)
                assert reason.lines, (question.ask, at_s)
                assert reason.words.endswith(f"{question.thing} is {value}.")
