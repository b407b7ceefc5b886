"""The lessons: what their pages say comes out, keys are right, challenges can be met and failed."""

from __future__ import annotations

import functools
import json
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.teach.pack import CHALLENGES, LESSONS, plain
from verifier.diagnostics import Severity
from verifier.front import command
from verifier.front.lesson_files import lesson_of, own_lessons, shelf_of
from verifier.front.lesson_values import hint_values
from verifier.model.words import duration, requirement_words
from verifier.pipeline import Question, checked, prove, with_structure_findings
from verifier.proof.verdict import Answered, Proved, Refuted, Verdict
from verifier.simulate.script_play import play
from verifier.source import SourceFile, Sources
from verifier.teach.answers import lane_text
from verifier.teach.challenge import hint, judge, with_solution
from verifier.teach.hidden import unpacked
from verifier.teach.lesson import Choose, Figure, FormShown, Lesson, Listing, Predict, Word
from verifier.teach.questions import true_lane

NAMES = sorted(path.name for path in LESSONS.iterdir() if path.is_dir())
CHALLENGED = [name for name in NAMES if (LESSONS / name / "challenge.packed").is_file()]


@functools.cache
def lesson(name: str) -> Lesson:
    found, problems = lesson_of(LESSONS, name)
    assert problems == ()
    assert found is not None
    return found


def said(verdict: Verdict) -> str:
    match verdict:
        case Proved(vacuous=True):
            return "vacuous"
        case Proved():
            return "proved"
        case Refuted():
            return "refuted"
        case Answered(bound, _):
            return f"answered {bound if isinstance(bound, str) else duration(bound or Fraction(0))}"
        case _:
            return "undecided"


def test_the_lessons_of_a_checkout_are_those_of_specs() -> None:
    assert own_lessons() == LESSONS
    shelf = shelf_of(LESSONS)
    assert shelf.diagnostics == ()
    assert [outline.name for outline in shelf.outlines] == NAMES
    assert all(name[:2] == f"{n:02}" for n, name in enumerate(NAMES, 1))


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_proves_as_its_head_says(name: str) -> None:
    """Every requirement of its own job has its verdict in the head, and the other way round."""
    if not lesson(name).jobs:
        assert lesson(name).outline.verdicts == ()
        return
    files = Sources(lesson(name).job("").files)
    found = prove(files, name, Question(time_limit_s=Fraction(30)), lambda *_: None)
    assert not found.rejected, found.findings
    assert [(r.name, said(v)) for r, v, _ in found.verdicts] == list(lesson(name).outline.verdicts)


@pytest.mark.parametrize("name", NAMES)
def test_the_key_of_each_lane_is_what_the_interpreter_says(name: str) -> None:
    """In every order of what happens at one moment: a question has one right answer.

    Changes lie seconds apart, so that they can be drawn.
    """
    for question in lesson(name).questions:
        if isinstance(question, Predict):
            job = lesson(name).job(question.job).job
            lane = true_lane(job, question)
            assert question.key is not None
            assert lane_text(question.key) == lane_text(lane), question.ask
            assert all(b[0] - a[0] >= 1 for a, b in pairwise(lane))
            played = play(job, question.script, every_order=True)
            assert played.impossible == ()
            assert question.script.lines[0].at_s > 0, "the start is to be drawn, too"
            assert played.differs is None or question.thing not in dict(played.differs.values)


@pytest.mark.parametrize("name", NAMES)
def test_what_a_question_claims_is_what_the_prover_says(name: str) -> None:
    for question in lesson(name).questions:
        if not isinstance(question, Word | Figure | Choose):
            continue
        for claim in question.claims:
            files = lesson(name).job(question.job).files
            asked = Question((), (claim.form,), Fraction(30))
            found = prove(Sources(files), name, asked, lambda *_: None)
            assert not found.rejected, found.findings
            want = claim.verdict if claim.bound_s is None else f"answered {duration(claim.bound_s)}"
            assert [said(v) for _, v, _ in found.verdicts] == [want], claim.form


def files_of(name: str, which: str) -> tuple[SourceFile, ...]:
    text = (CHALLENGES / name / f"{which}.dusk").read_text(encoding="utf-8")
    return (SourceFile("job.dusk", text),)


@pytest.mark.parametrize("name", CHALLENGED)
def test_a_challenge_is_passed_by_its_solution_and_not_by_a_near_miss(name: str) -> None:
    good = judge(lesson(name), with_solution(lesson(name)))
    assert good.wrong == ()
    assert good.passed, [(p.name, p.came) for p in good.parts if p.came != "kept"] or good.moved
    near = judge(lesson(name), files_of(name, "near-miss"))
    assert near.wrong == ()
    assert near.moved == ()
    assert not near.passed
    kept = [part for part in near.parts if part.came == "kept"]
    assert kept, "a near-miss keeps something"
    hints = [hint(near, step).words for step in (1, 2, 3)]
    assert len(set(hints)) == 3
    part = hint(near, 3).part
    assert part is not None
    drawn = hint_values(name, hint(near, 3))["story"]
    assert (drawn is None) == (part.run is None), "a run is drawn, whoever asked for what it breaks"
    if part.hidden is not None:
        assert requirement_words(part.hidden) not in json.dumps(drawn)


@pytest.mark.parametrize("name", CHALLENGED)
def test_the_start_of_a_challenge_does_not_pass(name: str) -> None:
    challenge = lesson(name).challenge
    assert challenge is not None
    assert not judge(lesson(name), lesson(name).job(challenge.job).files).passed


@pytest.mark.parametrize("name", CHALLENGED)
def test_what_is_packed_is_what_the_plain_texts_say(name: str) -> None:
    """If it is not: `python -m tests.teach.pack`."""
    text = (LESSONS / name / "challenge.packed").read_text(encoding="utf-8")
    hidden = plain(CHALLENGES / name)
    assert unpacked(text) == hidden
    for line in hidden.solution.splitlines():
        assert len(line) < 12 or line not in text


def changed(name: str, was: str, now: str) -> tuple[SourceFile, ...]:
    """The solution of a lesson with one thing changed."""
    (file,) = with_solution(lesson(name))
    assert was in file.text
    return (SourceFile(file.name, file.text.replace(was, now)),)


def test_a_name_that_was_asked_for_and_is_gone_is_told() -> None:
    """A rule has another name, an output too: nothing is judged, and it is said why."""
    renamed = judge(
        lesson("06-triggers-and-guards"), changed("06-triggers-and-guards", "walk", "go")
    )
    assert (renamed.parts, renamed.wrong, renamed.passed) == ((), (), False)
    assert "walk" in renamed.moved[0]
    moved = judge(lesson("01-first-rule"), changed("01-first-rule", "porch_light", "light"))
    assert moved.moved == ("the points: leave them as given",)
    assert not moved.passed


def test_rules_that_go_round_for_ever_are_told_and_not_judged() -> None:
    endless = """
rule a
  upon porch_light becomes on
  do
    porch_light off
end rule
rule b
  upon porch_light becomes off
  do
    porch_light on
end rule
"""
    (file,) = with_solution(lesson("01-first-rule"))
    found = judge(lesson("01-first-rule"), (SourceFile(file.name, file.text + endless),))
    assert [each.code for each in found.wrong] == ["endless-chain"]
    assert "go round" in hint(found, 1).words or "endless" in hint(found, 1).words


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.data())
def test_whatever_is_handed_in_is_judged_or_told(data: st.DataObject) -> None:
    """Lines of the solution left out, doubled, taken from elsewhere: never a crash, and hints come."""
    name = data.draw(st.sampled_from(["01-first-rule", "03-one-requirement", "16-fades"]))
    (file,) = with_solution(lesson(name))
    lines = file.text.splitlines()
    edited = data.draw(st.lists(st.sampled_from(lines), max_size=3))
    for line in edited:
        at = data.draw(st.integers(0, len(lines) - 1))
        lines[at : at + data.draw(st.integers(0, 1))] = [line][: data.draw(st.integers(0, 1))]
    judged = judge(lesson(name), (SourceFile("job.dusk", "\n".join(lines)),))
    assert judged.parts or judged.wrong or judged.moved
    assert all(hint(judged, step).words for step in (1, 2, 3))


def test_every_plain_challenge_belongs_to_a_lesson() -> None:
    assert sorted(path.name for path in CHALLENGES.iterdir()) == CHALLENGED


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_is_whole(name: str) -> None:
    one = lesson(name)
    assert 2 <= len(one.outline.aims) <= 5
    assert 10 <= one.outline.minutes <= 45
    assert len(one.questions) == one.outline.questions >= 2
    assert any(isinstance(q, Predict) for q in one.questions) or not one.jobs or one.challenge


def test_the_failing_case_of_its_lesson_is_the_real_output(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """If it has changed for the better, put the new output into the lesson."""
    monkeypatch.setenv("COLUMNS", "90")
    folder = str(LESSONS / "02-failing-case")
    command.run(["prove", folder, "--only", "five_minutes", "--no-cache"])
    out = capsys.readouterr().out
    shown = [b.text for b in lesson("02-failing-case").blocks if isinstance(b, Listing)]
    (case,) = [text for text in shown if text.startswith("✗ REFUTED")]
    assert case in out


@pytest.mark.parametrize("name", NAMES)
def test_no_rules_of_a_lesson_have_a_warning(name: str) -> None:
    """Its faults are found by promises; what a learner is warned of would give them away."""
    for job in lesson(name).jobs:
        if not job.job.rules:
            continue
        found = with_structure_findings(checked(Sources(job.files), name), job.job).findings
        assert [f.code for f in found if f.severity is not Severity.NOTE] == []


def test_the_lesson_on_forms_shows_every_form() -> None:
    shown = " ".join(
        b.form for b in lesson("03-one-requirement").blocks if isinstance(b, FormShown)
    )
    words = (
        *("always:", "never:", "within", "for at least", "after last", "before ", "no longer than"),
        *("no shorter than", "at most 2 times", "leads to", "possible:", "measure longest"),
        *("allowing", "while "),
    )
    assert [word for word in words if word not in shown] == []


def test_no_lesson_names_a_path_or_a_product() -> None:
    for path in Path(LESSONS).rglob("lesson.md"):
        text = path.read_text(encoding="utf-8")
        assert "/home" not in text
        assert "http" not in text
