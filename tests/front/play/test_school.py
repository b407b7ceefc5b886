"""Lessons on the page, over a real socket: list, text, answers, challenges and hints."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.front.play.served import Page, served
from verifier.front.lesson_files import lesson_of, own_lessons, shelf_of
from verifier.front.lesson_values import lesson_values
from verifier.front.play.limits import Limits
from verifier.front.play.messages import AskHint, TryChallenge
from verifier.front.play.orders import Setup
from verifier.front.play.school import School
from verifier.pipeline import Keeping
from verifier.source import Sources
from verifier.teach.challenge import with_solution
from verifier.teach.lesson import Choose, Figure, Lesson, Predict, Word
from verifier.teach.questions import right_text

OWN = own_lessons()
NAMES = [outline.name for outline in shelf_of(OWN).outlines]


def lesson(name: str) -> Lesson:
    found, problems = lesson_of(OWN, name)
    assert found is not None, problems
    return found


def opened(page: Page, name: str) -> dict[str, Any]:
    page.say("lesson", name=name)
    return page.until("lesson")


def test_the_lessons_are_listed_in_their_order(page: Page) -> None:
    page.say("lessons")
    told = page.until("lessons")
    assert [each["name"] for each in told["lessons"]] == NAMES
    assert told["wrong"] == []
    assert all(each["aims"] and each["minutes"] > 0 for each in told["lessons"])


@pytest.mark.parametrize("name", NAMES)
def test_nothing_that_a_challenge_is_graded_by_is_told(name: str) -> None:
    one = lesson(name)
    told = json.dumps(lesson_values(one), ensure_ascii=False)
    if one.challenge is None:
        return
    hidden = one.challenge.hidden
    texts = [hidden.requirements, hidden.solution, *(v.rules for v in hidden.variants)]
    assert [
        text for text in texts if text and json.dumps(text, ensure_ascii=False)[1:-1] in told
    ] == []
    for question in one.questions:
        if not isinstance(question, Predict):
            assert question.why not in told


@pytest.mark.parametrize("name", NAMES)
def test_the_blocks_of_a_lesson_show_each_question_once(name: str) -> None:
    told = lesson_values(lesson(name))
    asked = [block["number"] for block in told["blocks"] if block["kind"] == "question"]
    assert asked == [question["number"] for question in told["questions"]]
    assert all(name.endswith(".dusk") and "/" not in name for name in told["files"])


@pytest.mark.parametrize("name", NAMES[:4])
def test_the_right_answers_are_right_and_odd_ones_are_not(page: Page, name: str) -> None:
    one = lesson(name)
    for number, question in enumerate(one.questions, 1):
        right = right_text(one, question)
        if isinstance(question, Choose):
            right = str(question.right + 1)
        page.say("answer", lesson=name, question=str(number), answer=right)
        graded = page.until("graded")
        assert (graded["question"], graded["right"]) == (str(number), True)
        assert graded["why"] == question.why
        page.say("answer", lesson=name, question=number, answer="certainly not this; nor that")
        graded = page.until("graded")
        if isinstance(question, Word):
            assert graded["right"] in (False, None)
        elif isinstance(question, Figure | Predict | Choose):
            assert graded["right"] is None
            assert graded["words"]


def test_a_wrong_lane_is_told_with_the_line_that_acted(page: Page) -> None:
    name = NAMES[0]
    files = opened(page, name)["files"]
    page.say("text", version=1, files=files)
    one = lesson(name)
    number = next(k for k, q in enumerate(one.questions, 1) if isinstance(q, Predict))
    page.say("answer", lesson=name, question=number, answer="off")
    graded = page.until("graded")
    assert graded["right"] is False
    assert graded["right_lane"][0] == {"from_s": "0", "value": "off"}
    assert graded["differs_s"] == graded["right_lane"][1]["from_s"]
    lit = [files[line["file"]][line["from"] : line["to"]] for line in graded["lines"]]
    assert any(text.startswith("upon ") for text in lit)
    changed = {file: f"# My own.\n{text}" for file, text in files.items()}
    page.say("text", version=2, files=changed)
    page.say("answer", lesson=name, question=number, answer="off")
    assert page.until("graded")["lines"] == []  # they would be the wrong ones


def test_a_challenge_is_judged_and_hinted_at_and_passed(page: Page) -> None:
    name = NAMES[0]
    files = opened(page, name)["files"]
    page.say("hint", lesson=name, step=1)
    assert "hand them in first" in page.until("error")["words"]
    page.say("challenge", lesson=name, files=files)
    graded = page.until("graded")
    assert (graded["question"], graded["passed"]) == (None, False)
    assert any(part["came"] != "kept" for part in graded["parts"])
    hints = []
    for step in (1, 2, 3):
        page.say("hint", lesson=name, step=step)
        hints.append(page.until("hint"))
    assert [each["step"] for each in hints] == [1, 2, 3]
    assert len({each["words"] for each in hints}) == 3
    solution = {file.name: file.text for file in with_solution(lesson(name))}
    page.say("challenge", lesson=name, files=solution)
    assert page.until("graded")["passed"] is True


def test_no_hint_speaks_of_what_was_handed_in_before() -> None:
    """Judging the second answer is cut short: the first one's hints are gone with it."""
    setup = Setup("made", Limits(), (2027, 2056), Keeping(None, None))
    school, one = School(setup), lesson(NAMES[0])
    first = tuple((f.name, f.text) for f in one.job("").files)
    nothing = Sources(())
    assert school.answer(TryChallenge(NAMES[0], first), nothing)["passed"] is False
    assert school.answer(AskHint(NAMES[0], 2), nothing)["kind"] == "hint"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("verifier.front.play.school.judge", interrupted)
        with pytest.raises(KeyboardInterrupt):
            school.answer(TryChallenge(NAMES[0], (("job.dusk", "lamp other\n"),)), nothing)
    assert "hand them in first" in school.answer(AskHint(NAMES[0], 2), nothing)["words"]


def interrupted(*_: object) -> None:
    raise KeyboardInterrupt


def test_what_is_handed_in_with_a_mistake_is_told_with_its_line(page: Page) -> None:
    page.say("challenge", lesson=NAMES[0], files={"job.dusk": "# nothing\nlamp 12\n"})
    graded = page.until("graded")
    assert graded["passed"] is False
    assert (graded["wrong"][0]["file"], graded["wrong"][0]["line"]) == ("job.dusk", 2)


@pytest.mark.parametrize(
    "name", ["none", "..", "../standard", "", "01-first-rule/../01-first-rule"]
)
def test_only_lessons_of_the_list_are_read(page: Page, name: str) -> None:
    page.say("lesson", name=name)
    assert "no lesson" in page.until("error")["words"]


def test_a_question_that_there_is_not_is_told(page: Page) -> None:
    for question in ("0", "99", "one", "-1"):
        page.say("answer", lesson=NAMES[0], question=question, answer="on")
        assert "no question" in page.until("error")["words"]


def test_a_teachers_own_lessons_take_their_place(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("lessons")
    with served(lessons=str(folder)) as running, running.page() as page:
        page.say("lessons")
        told = page.until("lessons")
        assert told["lessons"] == []
        assert "no lesson" in told["wrong"][0]["message"]
