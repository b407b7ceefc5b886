"""`duskproof new`: whatever is answered, the job that is written proves; nothing is overwritten."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from verifier.front import command
from verifier.front.answers import WrongAnswer, answers_of, label, percent, power, seconds
from verifier.front.command_new import command as new
from verifier.front.first_job import (
    INPUTS,
    NEVER,
    WHAT,
    Answers,
    What,
    first_job,
    name_of,
    nevers_of,
)
from verifier.language import format_text
from verifier.pipeline import Question, prove
from verifier.proof.verdict import Proved
from verifier.source import Sources

NAMES = ("points.dusk", "requirements.dusk", "rules.dusk")


def check_proved(sources: Sources, expected: int) -> None:
    result = prove(sources, "new", Question(), lambda *_: None)
    assert not result.rejected, result.findings
    assert {each.code for each in result.findings} <= {"two-drivers"}
    assert len(result.verdicts) == expected
    for requirement, verdict, _ in result.verdicts:
        assert isinstance(verdict, Proved), requirement.name
        assert not verdict.vacuous, requirement.name


@pytest.mark.parametrize(
    ("what", "dimmable", "by_night"), [*itertools.product(WHAT, (False, True), (False, True))]
)
def test_whatever_is_fitted_the_first_job_proves_and_is_laid_out(
    what: What, dimmable: bool, by_night: bool
) -> None:
    answers = Answers(what=what, input=INPUTS[what], dimmable=dimmable, by_night=by_night)
    sources = first_job(answers)
    assert tuple(file.name for file in sources.files) == NAMES
    for file in sources.files:
        assert format_text(file) == (file.text, ())
    check_proved(sources, len(nevers_of(answers)))


@pytest.mark.parametrize(
    "answers",
    [
        Answers(input="Light", light="Light", what="button", never=("dark",)),
        Answers(input="run on", light="warning", dimmable=True, stays_on_s=Fraction(1, 4)),
        Answers(
            input="Night", light="off by day", by_night=True, what="contact", power="2 x 18.5 W"
        ),
        Answers(input="→", light="灯", dimmable=True, warning_percent=99, warning_s=Fraction(3600)),
        Answers(input="hall light run", light="hall light", place="#1 \\ hall", by_night=True),
    ],
)
def test_odd_names_and_figures_make_a_job_that_proves(answers: Answers) -> None:
    possible = tuple(each for each in nevers_of(answers) if each in answers.never)
    check_proved(first_job(answers), len(possible))


def test_a_name_is_made_of_a_label_and_is_never_taken_or_reserved() -> None:
    assert name_of("Push-button by the door", "x") == "push_button_by_the_door"
    assert name_of("a" * 80, "x") == "a" * 30
    assert name_of("", "light") == name_of("灯", "light") == "light"
    assert name_of("wait", "light") == "light_wait"
    assert name_of("lamp", "x", frozenset({"lamp", "lamp_2"})) == "lamp_3"


# ---------------------------------------------------------------- at the terminal


def asked(folder: Path | None, *lines: str) -> tuple[int, str]:
    arguments = [] if folder is None else [str(folder)]
    result = CliRunner().invoke(
        new, arguments, input="".join(f"{line}\n" for line in lines), standalone_mode=False
    )
    if isinstance(result.exception, click.Abort):
        return 130, result.output
    assert result.exception is None, result.output
    return int(result.return_value), result.output


def test_an_empty_answer_takes_what_is_usual(tmp_path: Path) -> None:
    code, said = asked(tmp_path / "hall", *[""] * 9)
    assert code == 0
    assert "2 requirements: 2 proved." in said
    texts = {path.name: path.read_text("utf-8") for path in (tmp_path / "hall").iterdir()}
    assert texts == {file.name: file.text for file in first_job(Answers()).files}
    assert f"duskproof watch {tmp_path / 'hall'} " in said


def test_every_answer_is_used_and_a_wrong_one_is_asked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    lines = ["Cellar", "4", "3", 'the "push"', "Push-button", "Stair light", "much", "2x18", "y"]
    lines += ["0 s", "3 min", "y", "25 s", "100 %", "30", "7", "2,3,4", ""]
    code, said = asked(None, *lines)
    assert code == 0, said
    assert said.count("That will not do:") == 6
    answers = Answers(
        "Cellar", "button", "Push-button", "Stair light", "2 x 18 W", True, True,
        Fraction(180), Fraction(25), 30, ("left on", "by day", "sudden"),
    )  # fmt: skip
    written = Path("cellar")
    for file in first_job(answers).files:
        assert (written / file.name).read_text("utf-8") == file.text
    assert "3 requirements: 3 proved." in said


def test_nothing_is_written_before_all_is_answered(tmp_path: Path) -> None:
    assert asked(tmp_path / "hall", "Hall", "1")[0] == 130
    assert not (tmp_path / "hall").exists()


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "Mine.DUSK"
    file.write_text("lamp a\n", "utf-8")
    code, said = asked(tmp_path)
    assert code == 2
    assert "[already-there]" in said
    assert "What" not in said
    assert [each.name for each in tmp_path.iterdir()] == ["Mine.DUSK"]
    assert command.run(["new", str(file)]) == 2
    assert "[not-a-folder]" in capsys.readouterr().out
    assert command.run(["new", str(file / "below")]) == 2
    assert file.read_text("utf-8") == "lamp a\n"


def test_a_job_that_cannot_be_written_whole_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty.toml").write_text("", "utf-8")
    opened = Path.open

    def full(self: Path, *given: str, **more: str) -> object:
        if self.name == "rules.dusk":
            raise OSError(28, "No space left on device")
        return opened(self, *given, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", full)
    arguments = ["new", str(tmp_path / "hall"), "--answers", str(tmp_path / "empty.toml")]
    assert command.run(arguments) == 2
    assert "no space left" in capsys.readouterr().out
    assert not (tmp_path / "hall").exists()


# ---------------------------------------------------------------- answers from a file


def test_the_file_that_help_shows_is_one_that_works(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert command.run(["new", "--help"]) == 0
    lines = capsys.readouterr().out.split("\n")
    shown = "\n".join(line for line in lines if re.match(r"\s+[a-z_]+ = ", line))
    Path("cellar.toml").write_text(shown, "utf-8")
    assert command.run(["new", "cellar", "--answers", "cellar.toml"]) == 0
    assert "3 requirements: 3 proved." in capsys.readouterr().out
    answers = answers_of(shown)
    assert answers.place == "Cellar stair"
    assert answers == replace(
        Answers(), place="Cellar stair", what="button", input="Push-button", light="Stair light",
        power="2 x 18 W", dimmable=True, stays_on_s=Fraction(180), never=("dark", "left on", "sudden"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("place = ", "not TOML"),
        ('plaice = "x"', 'no answer "plaice"'),
        ("place = 3", "place: write a text"),
        ('place = ""', "place: give it a name"),
        ('light = "a\\"b"', "light: write it without"),
        ('light = "a\\u0007b"', "light: write it without"),
        ('what = "radar"', "what: write one of detector, contact, button"),
        ('power = "-3 W"', "power: write watts"),
        ('dimmable = "yes"', "dimmable: write true or false"),
        ('stays_on = "5"\nwarning = "9 lux"', "warning: write a time"),
        ('stays_on = "25 h"', "stays_on: a day at most"),
        ('warning_level = "0 %"', "warning_level: write a level"),
        ("never = []", "never: write a list"),
        ('never = ["by day"]', 'never: "by day" needs by_night = true'),
        ('never = ["sudden"]', 'never: "sudden" needs dimmable = true'),
        ('never = ["rain"]', "never: write some of"),
        ("never = [1]", "never: write a text"),
    ],
)
def test_a_wrong_answer_is_told_and_nothing_is_written(
    text: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(text, "utf-8")
    assert command.run(["new", str(tmp_path / "job"), "--answers", str(path)]) == 2
    out = " ".join(capsys.readouterr().out.split())
    assert said in out
    assert "[wrong-answer]" in out
    assert not (tmp_path / "job").exists()


def test_figures_are_read_as_people_write_them() -> None:
    assert [power(each) for each in ("", "18", "18w", "2x58", "4 X 0.5 W")] == [
        "", "18 W", "18 W", "2 x 58 W", "4 x 0.5 W",
    ]  # fmt: skip
    assert (seconds("90"), seconds("1 min 30 s"), percent("7%")) == (90, 90, 7)
    assert label("  a \n b ") == "a b"
    for wrong in ("0 W", "18 kW", "1 x"):
        with pytest.raises(WrongAnswer):
            power(wrong)
    assert set(NEVER) == set(Answers().never)
