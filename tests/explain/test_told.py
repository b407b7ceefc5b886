"""How the values of a run are told: reports beside the truth, levels on the way, odd moments."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from verifier.explain.told import changes_told, parted_in_the_end, start_told
from verifier.front import command
from verifier.simulate.run import Step

Changes = tuple[tuple[str, str], ...]

START = (("gate", "shut"), ("gate as reported", "shut"), ("light", "off"), ("clock", "any time"))


def step(*changes: tuple[str, str]) -> Step:
    return Step(Fraction(0), Fraction(0), False, "it happens", changes, ())


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        # Told and so: one word.
        ([(("gate", "open"), ("gate as reported", "open"))], [("gate open",)]),
        # The report is lost; then it comes.
        (
            [(("gate", "open"),), (("gate as reported", "open"), ("light", "on"))],
            [("gate open, reported shut",), ("gate open, reported open", "light on")],
        ),
        # The report parts from the truth by itself; the truth follows.
        (
            [(("gate as reported", "open"),), (("gate", "open"),)],
            [("gate shut, reported open",), ("gate open, reported open",)],
        ),
        # What is parted and stays so is told where one of the two changes.
        (
            [(("gate", "open"),), (("light", "on"),), (("gate", "shut"),)],
            [("gate open, reported shut",), ("light on",), ("gate shut, reported shut",)],
        ),
    ],
)
def test_truth_and_report_stand_in_one_where_they_part(
    steps: list[Changes], told: list[tuple[str, ...]]
) -> None:
    assert list(changes_told(START, [step(*each) for each in steps], clock=False)) == told


def test_at_the_start_a_report_stands_for_itself_only_where_it_is_another() -> None:
    words = [text for _, text in start_told(START, clock=True)]
    assert words == ["gate shut", "light off"]
    odd = (*START[:1], ("gate as reported", "open"), *START[2:])
    assert [text for _, text in start_told(odd, clock=False)] == [
        "gate shut, reported open",
        "light off",
        "clock any time",
    ]


def test_what_is_parted_in_the_end() -> None:
    lost = step(("gate", "open"))
    assert parted_in_the_end(START, [lost]) == ("gate open, reported shut",)
    assert parted_in_the_end(START, [lost, step(("gate", "shut"))]) == ()


# ---------------------------------------------------------------- through the pipeline

LOST = """\
contact gate "Gate" wireless starts shut
lamp light "Light" 10 W
consider lost reports of gate
rule on
  retriggerable
  upon gate becomes open
  do
    light on
    wait 10 s
    light off
end rule
require lit
  always: gate is shut or light is on
end require
"""

FADE = """\
button push "Push"
button hush "Hush"
dimmer strip "Strip" 40 W
rule up
  retriggerable
  upon push pressed
  do
    fade strip to 60 % over 10 s
end rule
rule down
  retriggerable
  upon hush pressed
  do
    fade strip to 0 % over 5 s
end rule
require dim
  never: strip above 40 %
end require
require once
  at most 1 times in 1 min: strip becomes off
end require
"""


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "140")


def proved(capsys: pytest.CaptureFixture[str], folder: Path, text: str) -> tuple[str, Any]:
    (folder / "job.dusk").write_text(text, encoding="utf-8")
    command.run(["prove", str(folder)])
    told = capsys.readouterr().out
    command.run(["prove", str(folder), "--format", "json"])
    return told, json.loads(capsys.readouterr().out)


def test_a_lost_report_is_told_beside_what_is_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, whole = proved(capsys, tmp_path, LOST)
    assert "gate open, reported shut" in told
    assert "as reported" not in told
    run = whole["requirements"][0]["counterexample"]
    assert run["start"]["gate as reported"] == "shut"
    assert run["steps"][0]["changes"] == {"gate": "open"}


def test_a_dimmer_on_its_way_says_between_which_levels_and_where_to(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, whole = proved(capsys, tmp_path, FADE)
    flat = " ".join(told.split())
    assert "between 0 % and 40 % (rising)" in flat
    assert "(falling)" in flat
    assert "between off" not in flat
    # 40 of 60 per cent of ten seconds: 20/3 s, exact in JSON, a decimal for people.
    assert "At about 6.667 s this is so: strip above 40 %." in flat
    assert "20/3" not in told
    run = whole["requirements"][0]["counterexample"]
    assert run["fails_at_s"] == "20/3"
    assert [each["at_s"] for each in run["steps"]][-1] == "20/3"
