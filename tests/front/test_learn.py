"""`duskproof learn` as people meet it: list, read, answer, hand in, print, keep, lessons of one's own."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.check import ROOT
from verifier.front import command
from verifier.source import SourceFile
from verifier.teach.answers import NotUnderstood, lane_text, read_lane
from verifier.teach.hidden import NotPacked, unpacked
from verifier.teach.lessons import read_lesson
from verifier.teach.progress import NotProgress, read_progress

PORCH = """\
contact side_door   "Side door"
lamp    porch_light "Porch light" 9 W
rule come_in
  retriggerable
  upon side_door becomes open
  upon side_door becomes shut
  do
    porch_light on
    wait 2 min
    porch_light off
end rule
"""


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


def learn(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = command.run(["learn", *words])
    return code, capsys.readouterr().out


def test_the_list_names_every_lesson_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = learn(capsys)
    assert code == 0
    assert out.index("A first rule and a first proof") < out.index("Reading a failing case")


def test_a_lesson_is_shown_by_number_by_name_and_by_name_without_number(
    capsys: pytest.CaptureFixture[str],
) -> None:
    shown = {learn(capsys, asked)[1] for asked in ("1", "01-first-rule", "first-rule")}
    assert len(shown) == 1
    (text,) = shown
    assert "Question 1: predict" in text
    assert "at 10 s side_door becomes open" in text
    assert "1 min 10 s off" not in text, "the key is not shown"


def test_a_right_answer_is_kept_and_a_wrong_one_is_told_from_when_on(
    capsys: pytest.CaptureFixture[str], own_state: Path
) -> None:
    code, out = learn(capsys, "1", "--answer", "1", "off; 10 s on")
    assert code == 1
    assert "from 1 min 10 s on you have “on”, and it is “off”" in out
    assert "as you drew it" in out
    code, out = learn(capsys, "1", "--answer", "1", "off, at 10 s on, from 70 s off")
    assert (code, out.splitlines()[0]) == (0, "Right: that is what the interpreter says.")
    code, _ = learn(capsys, "1", "--answer", "1", "off")
    assert code == 1
    kept = json.loads((own_state / "duskproof" / "lessons.json").read_text(encoding="utf-8"))
    assert kept["lessons"]["01-first-rule"]["answers"] == {"1": "right"}
    assert "1 of 1 answers right" in learn(capsys)[1]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("1", "--answer", "3", "2"), 0, "Right."),
        (("1", "--answer", "3", "1"), 1, "Not quite: 2"),
        (("1", "--answer", "4", "1 min"), 0, "Right."),
        (("1", "--answer", "4", "61 s"), 1, "Not quite: 60 s."),
        (("2", "--answer", "4", " None. "), 0, "Right."),
        (("1", "--answer", "1", "10 s on"), 2, "at the start is left out"),
        (("1", "--answer", "1", "off; on"), 2, "does not say from when on"),
        (("1", "--answer", "1", "off; 10 s bright"), 2, "never “bright”"),
        (("1", "--answer", "9", "x"), 2, "no question"),
        (("1", "--answer", "4", "soon"), 2, "is no figure"),
        (("99",), 2, "no lesson"),
        (("frst-rule",), 2, "Did you mean"),
        (("--worksheet", "a.html"), 2, "of no lesson"),
        (("1", "--hint", "1"), 2, "your own rules"),
        (("1", "--key"), 2, "printed with a worksheet"),
        (("19", "--hand-in", "."), 2, "has no challenge"),
    ],
)
def test_answers_are_graded_and_odd_ones_are_told(
    words: tuple[str, ...], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    came, out = learn(capsys, *words)
    assert said in " ".join(out.split())
    assert came == code


def test_a_challenge_is_taken_handed_in_hinted_at_and_passed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = tmp_path / "porch"
    assert learn(capsys, "1", "--take", str(folder))[0] == 0
    code, out = learn(capsys, "1", "--take", str(folder))
    assert code == 2
    assert "is left as it is" in out
    code, out = learn(capsys, "1", "--hand-in", str(folder))
    assert code == 1
    assert "✗ Two minutes of light from each opening" in out
    hints = [learn(capsys, "1", "--hand-in", str(folder), "--hint", str(n))[1] for n in (1, 2, 3)]
    assert "job.dusk" in hints[0]
    assert "1 min" in hints[1]
    assert "what happens" in hints[2]
    (folder / "job.dusk").write_text(PORCH, encoding="utf-8")
    code, out = learn(capsys, "1", "--hand-in", str(folder))
    assert (code, out.splitlines()[-1]) == (0, "Passed: all that was asked for is kept.")
    assert "challenge passed" in learn(capsys)[1]


def test_an_assumption_is_no_way_through_a_challenge(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "job.dusk").write_text(
        PORCH + "assume never (side_door is open)\n", encoding="utf-8"
    )
    code, out = learn(capsys, "1", "--hand-in", str(tmp_path))
    assert code == 1
    assert "had to stay: the assumptions" in out


def test_rules_with_a_mistake_are_told_where_it_is(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "job.dusk").write_text(PORCH.replace("wait 2 min", "wait 2"), encoding="utf-8")
    code, out = learn(capsys, "1", "--hand-in", str(tmp_path))
    assert code == 2
    assert "job.dusk:9" in out


def test_worksheets_have_room_to_draw_and_the_key_has_the_answers(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    blank, key = tmp_path / "sheet.html", tmp_path / "key.html"
    assert learn(capsys, "1", "--worksheet", str(blank))[0] == 0
    assert learn(capsys, "1", "--worksheet", str(key), "--key")[0] == 0
    without, with_key = blank.read_text(encoding="utf-8"), key.read_text(encoding="utf-8")
    for answer in ("off; 10 s on; 1 min 10 s off", "☒", "upon side_door becomes shut"):
        assert answer in with_key
        assert answer not in without
    assert without.count("room to draw, Porch light</title>") == 2
    assert "<script" not in without + with_key


def test_progress_is_exported_and_taken_up_from_a_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    learn(capsys, "2", "--answer", "4", "none")
    out = tmp_path / "mine.json"
    assert learn(capsys, "--export", str(out))[0] == 0
    code, text = learn(capsys, "--progress", str(out))
    assert code == 0
    assert "1 of 1 answers right" in text
    out.write_text("[]", encoding="utf-8")
    code, text = learn(capsys, "1", "--progress", str(out))
    assert code == 2
    assert "says nothing of your progress" in text
    assert out.read_text(encoding="utf-8") == "[]"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a terminal of Unix")
def test_on_a_terminal_the_questions_are_asked_one_by_one(own_state: Path) -> None:
    """A wrong kind of answer is asked anew, an empty one leaves the question for later."""
    import pty

    lead, follow = pty.openpty()
    words = [sys.executable, "-m", "verifier.front.command", "learn", "1"]
    with subprocess.Popen(words, stdin=follow, stdout=follow, stderr=follow, cwd=ROOT) as running:
        os.close(follow)
        os.write(lead, b"off; on\noff; 10 s on; 70 s off\n\n2\n\n")
        told = b""
        with contextlib.suppress(OSError):  # a terminal that was left
            while piece := os.read(lead, 65536):
                told += piece
        os.close(lead)
    assert running.returncode == 0
    out = told.decode("utf-8")
    assert "does not say from when on" in out
    assert out.count("Right") == 2
    kept = json.loads((own_state / "duskproof" / "lessons.json").read_text(encoding="utf-8"))
    assert kept["lessons"]["01-first-rule"] == {
        "read": True,
        "answers": {"1": "right", "3": "right"},
        "challenge": "",
    }


LESSON = """\
title: Ours
minutes: 5
aims:
- Try it.

# Here

```question
kind: word
ask: On or off?
key: on
why: Because.
```

```challenge
ask: Leave it on.
```
"""


def own_lesson(folder: Path) -> Path:
    """A teacher's folder with one lesson, its challenge plain."""
    (folder / "ours" / "challenge").mkdir(parents=True)
    (folder / "ours" / "lesson.md").write_text(LESSON, encoding="utf-8")
    (folder / "ours" / "job.dusk").write_text("button b\nlamp l\n", encoding="utf-8")
    solution = "button b\nlamp l\nrule r\n  upon b pressed\n  do\n    l on\nend rule\n"
    (folder / "ours" / "challenge" / "solution.dusk").write_text(solution, encoding="utf-8")
    hidden = "require lit\n  when b pressed: l is on within 0 s\nend require\n"
    (folder / "ours" / "challenge" / "hidden.dusk").write_text(hidden, encoding="utf-8")
    return folder


def test_teachers_add_and_pack_lessons_of_their_own(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = own_lesson(tmp_path / "lessons")
    assert "Ours" in learn(capsys, "--folder", str(folder))[1]
    answer = folder / "ours" / "challenge" / "solution.dusk"
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "job.dusk").write_bytes(answer.read_bytes())
    words = ("ours", "--folder", str(folder), "--hand-in", str(mine))
    assert learn(capsys, *words)[0] == 0
    code, out = learn(capsys, "--folder", str(folder), "--pack")
    assert (code, out.startswith("Packed: ours")) == (0, True)
    for path in (folder / "ours" / "challenge").iterdir():
        path.unlink()
    assert "requir" not in (folder / "ours" / "challenge.packed").read_text(encoding="utf-8")
    assert learn(capsys, *words)[0] == 0


@pytest.mark.parametrize(
    ("was", "now", "code"),
    [
        ("minutes: 5\n", "", "lesson-head"),
        ("minutes: 5", "minutes: some", "lesson-head"),
        ("kind: word", "kind: wrd", "lesson-question"),
        ("key: on\n", "", "lesson-question"),
        ("key: on", "kez: on", "lesson-question"),
        ("ask: Leave it on.", "do: x", "lesson-challenge"),
        ("why: Because.\n```", "why: Because.\n", "lesson-part"),
        ("kind: word", "kind: word\njob: other", "lesson-files"),
    ],
)
def test_a_mistake_in_a_lesson_is_told_with_its_place(
    was: str, now: str, code: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = own_lesson(tmp_path)
    text = LESSON.replace(was, now)
    assert text != LESSON
    (folder / "ours" / "lesson.md").write_text(text, encoding="utf-8")
    came, out = learn(capsys, "ours", "--folder", str(folder))
    assert came == 2
    assert f"[{code}]" in out
    assert "lesson.md:" in out or code == "lesson-head"


# ---------------------------------------------------------------- odd texts never crash


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60) | st.from_regex(r"(off|on|at|\d| |s|min|;|,|\.){0,30}", fullmatch=True))
def test_any_lane_is_read_or_told(text: str) -> None:
    try:
        lane = read_lane(text)
    except NotUnderstood:
        return
    assert read_lane(lane_text(lane)) == lane


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200), st.integers(0, len(LESSON)))
def test_any_lesson_is_read_or_told(text: str, at: int) -> None:
    whole = LESSON[:at] + text + LESSON[at:]
    lesson, problems = read_lesson("ours", {"lesson.md": SourceFile("lesson.md", whole)})
    assert (lesson is None) is bool(problems)
    for problem in problems:
        span = problem.labels[0].span
        assert 0 <= span.start <= span.end <= len(whole)


@pytest.mark.parametrize(
    ("lessons", "said"),
    [
        ('{"\\ud800": {"read": true}}', "half a character"),
        ('{"one": {"answers": {"1": ["right"]}}}', "is not understood"),
        ('{"one": {"challenge": {}}}', "is not understood"),
        ('{"one": 3}', "is not understood"),
        ("[]", "no"),
    ],
)
def test_progress_of_the_wrong_kind_is_refused_with_the_reason(lessons: str, said: str) -> None:
    with pytest.raises(NotProgress, match=said):
        read_progress(f'{{"kind": "duskproof progress, 1", "lessons": {lessons}}}')


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=100))
def test_any_other_text_is_no_progress_and_no_packed_challenge(text: str) -> None:
    with pytest.raises(NotProgress):
        read_progress(text)
    with pytest.raises(NotPacked):
        unpacked("duskproof challenge, 1\n" + text)
