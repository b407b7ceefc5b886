"""Answers at the edge: what is right is not marked wrong for how it is written, nor the other way round.

What a lane has to be is worked out by hand from the rules of each job.
"""

from __future__ import annotations

import pytest

from tests.explain.jobs import job_of
from tests.teach.test_lessons import lesson
from verifier.model.job import Job
from verifier.simulate.script import parse_script
from verifier.source import SourceFile, Span
from verifier.teach.answers import read_lane
from verifier.teach.challenge import judge, with_solution
from verifier.teach.lesson import Predict
from verifier.teach.lessons import read_lesson
from verifier.teach.questions import lane_graded

LEVELS = """\
button push
dimmer strip
lamp light
rule dims
  retriggerable
  upon push pressed
  do
    strip 60 %
    light on
    wait 10 s
    strip 100 %
    light off
    wait 10 s
    strip 7.5 %
    wait 10 s
    strip off
end rule
require never_mind
  possible: light is on
end require
"""


def asked(job: Job, thing: str, script: str) -> Predict:
    read, problems = parse_script(SourceFile("walk.run", script), job)
    assert read is not None, problems
    return Predict("", "", thing, read, (), None, "", Span("walk.run", 0, 0))


@pytest.mark.parametrize(
    ("thing", "until", "given", "right"),
    [
        ("strip", "1 min", "off; 5 s 60 %; 15 s 100 %; 25 s 7.5 %; 35 s off", True),
        ("strip", "1 min", "Off; 5 s 60%; 15 s 100%; 25 s 7.50 %; 35 s 0 %", True),
        ("strip", "1 min", "off; 5 s 60 %; 15 s 100 %; 25 s 7.4 %; 35 s off", False),
        ("strip", "1 min", "off; 5 s on; 15 s 100 %; 25 s 7.5 %; 35 s off", False),
        ("light", "1 min", "off; 5 s ON; 15 s is off", True),
        ("light", "1 min", "off; 5 s on; 5 s on; 10 s on; 15 s off", True),
        ("light", "1 min", "off; 5 s on; 15 s off; 61 s on", True),
        # What comes at the very end of the lane has no length: it may be drawn or left out.
        ("light", "15 s", "off; 5 s on", True),
        ("light", "15 s", "off; 5 s on; 15 s off", True),
        ("light", "15 s", "off; 5 s on; 14 s off", False),
        ("light", "14 s", "off; 5 s on; 14 s off", False),
        ("light", "5 s", "off", True),
    ],
)
def test_a_lane_is_graded_by_what_it_says(thing: str, until: str, given: str, right: bool) -> None:
    job = job_of(LEVELS)
    question = asked(job, thing, f"at 5 s push pressed\nuntil {until}\n")
    assert lane_graded(job, question, read_lane(given)).right is right


HEAD = "title: One\nminutes: 5\naims:\n- One thing\n\n# Text\n\n```question\nkind: predict\n"

TWO = """\
button push
lamp light
rule one
  upon push pressed
  do
    light on
end rule
rule two
  upon push pressed
  do
    light off
end rule
"""

SITE = (
    TWO
    + """\
site "Somewhere"
  latitude 52 deg
  longitude 0 deg
  timezone "Europe/London"
end site
rule dusk
  upon night begins
  do
    light on
end rule
"""
)


@pytest.mark.parametrize(
    ("job", "thing", "said"),
    [
        (TWO, "light", "several right answers"),
        (TWO, "push", "no value to be drawn"),
        (SITE, "light", "rules its clock and sun"),
    ],
)
def test_a_question_without_one_right_answer_is_no_question(
    job: str, thing: str, said: str
) -> None:
    """A teacher is told when the lesson is read, and no learner is marked wrong for it."""
    text = (
        f"{HEAD}ask: What?\nthing: {thing}\nscript:\n  at 5 s push pressed\n  until 1 min\n"
        "why: So.\n```\n"
    )
    files = {"lesson.md": SourceFile("lesson.md", text), "job.dusk": SourceFile("job.dusk", job)}
    read, problems = read_lesson("one", files)
    assert read is None
    assert len(problems) == 1
    assert said in problems[0].message


def test_a_requirement_of_one_s_own_may_be_called_what_a_hidden_one_is_called() -> None:
    one = lesson("01-first-rule")
    (solution,) = with_solution(one)
    for name in ("wanted_open", "wanted_shut"):
        own = f"{solution.text}\nrequire {name}\n  never: porch_light is on\nend require\n"
        came = judge(one, (SourceFile("job.dusk", own),))
        assert (came.passed, came.moved, came.wrong) == (True, (), ())
        assert len(came.parts) == 3
