"""`duskproof standard`: the library, and what of it fits a job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.check import ROOT
from verifier.front.command import run
from verifier.front.standard import CAUTIONS
from verifier.language.library import library

JOB = """\
detector hall_pir "Hall"
button dark_push "Dark"
lamp hall_light "Hall light" 40 W
lamp porch_light "Porch" 12 W

rule walk_through
  retriggerable
  upon hall_pir becomes occupied
  do
    hall_light on
    wait 10 min
    hall_light off
end rule

require hall_not_long as longest_on with light hall_light, time 2 h
require hall_dark as off_by_hand with light hall_light, buttons dark_push
"""


@pytest.fixture
def hall(tmp_path: Path) -> Path:
    folder = tmp_path / "hall"
    folder.mkdir()
    (folder / "job.dusk").write_text(JOB, encoding="utf-8")
    return folder


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = run(["standard", *words])
    return code, capsys.readouterr().out


def as_json(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    code, out = said(capsys, *words, "--format", "json")
    assert code == 0
    return json.loads(out)


def joined(text: str) -> str:
    return " ".join(text.split())


def test_the_list_has_every_entry_with_its_source_and_how_it_was_read(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out = said(capsys)
    assert code == 0
    for standard in library():
        assert f"\n{standard.name.text}  " in f"\n{out}"
    text = joined(out)
    assert "Modelled on: IECC C405.2.1.1(1), edition 2021 (quoted" in text
    assert "Modelled on: NFPA 101 7.8.1.2.2, edition 2012 (quoted" in text
    assert "Modelled on: 16 CFR 1211.14(b)(c), edition not noted (seen" in text
    assert "require NAME as off_after_vacancy with light LAMP, detectors DETECTOR" in text
    assert "time: a duration; at most 20 min, 20 min if left out" in text


def test_the_cautions_stand_under_every_list(
    hall: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in ((), (str(hall),)):
        text = joined(said(capsys, *words)[1]).replace("! ", "")
        for caution in CAUTIONS:
            assert caution in text
    assert as_json(capsys)["cautions"] == list(CAUTIONS)
    for word in ("local code decides", "licensed", "Escape lighting", "Driven doors"):
        assert any(word in caution for caution in CAUTIONS)


def test_a_folder_is_told_what_it_claims_and_what_it_does_not(
    hall: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = said(capsys, str(hall))
    assert code == 0
    claimed, rest = out.split("Not claimed:")
    open_, nothing = rest.split("Nothing in the job for:")
    assert "2 standard requirements claimed" in claimed
    assert "Requirements: hall_not_long" in claimed
    assert "Not said of: porch_light" in claimed
    assert "light hall_light, detectors hall_pir" in joined(open_)
    assert "off_by_hand" not in open_
    assert "light_while_door_moves (it takes a door)" in joined(nothing)


def test_json_says_of_each_entry_how_it_fits(
    hall: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = {each["name"]: each for each in as_json(capsys, str(hall))["standards"]}
    assert list(found) == [standard.name.text for standard in library()]
    assert found["longest_on"]["claims"] == ["hall_not_long"]
    assert found["longest_on"]["claimed_of"] == ["hall_light"]
    assert found["longest_on"]["not_claimed_of"] == ["porch_light"]
    assert found["off_after_vacancy"]["applies"] is True
    assert found["off_after_vacancy"]["claims"] == []
    assert found["off_after_vacancy"]["modelled_on"][0] == {
        "clause": "IECC C405.2.1.1(1)",
        "edition": "2021",
        "read": "quoted",
    }
    assert found["partial_off"]["applies"] is False
    assert found["every_wait_ends"]["fitting"] == {"rule": ["walk_through"]}


def test_the_line_that_is_offered_is_one_that_the_job_can_take(
    hall: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All that fits and needs no figure of its own is written into the job as offered."""
    entries = as_json(capsys, str(hall))["standards"]
    offered = [
        each["line"].replace("NAME", f"asked_{number}", 1)
        for number, each in enumerate(entries)
        if each["applies"] and "DURATION" not in each["line"]
    ]
    assert len(offered) > 5
    lines = [line.replace("stated VALUE", "stated off") for line in offered]
    (hall / "more.dusk").write_text("\n".join([*lines, ""]), encoding="utf-8")
    again = {each["name"]: each for each in as_json(capsys, str(hall))["standards"]}
    assert all(
        again[each["name"]]["claims"]
        for each in entries
        if each["applies"] and "DURATION" not in each["line"]
    )


def test_a_job_s_own_standard_requirements_are_listed_too(
    hall: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (hall / "house.dusk").write_text(
        'standard dark "Never on"\n  takes light lamp\n  require\n    never: light is on\n'
        "  end require\nend standard\nrequire porch_dark as dark with light porch_light\n",
        encoding="utf-8",
    )
    last = as_json(capsys, str(hall))["standards"][-1]
    assert (last["name"], last["claims"], last["not_claimed_of"]) == (
        "dark",
        ["porch_dark"],
        ["hall_light"],
    )


def test_one_entry_can_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    _, out = said(capsys, "--only", "restrike")
    assert out.startswith("restrike  ")
    assert "longest_on" not in out


def test_an_entry_that_is_not_there_is_told_with_a_near_name(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out = said(capsys, "--only", "longest_onn")
    assert code == 2
    assert "Did you mean longest_on" in out


def test_a_job_with_a_mistake_is_told_of_it(hall: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (hall / "job.dusk").write_text("lamp\n", encoding="utf-8")
    code, out = said(capsys, str(hall))
    assert code == 2
    assert "job.dusk:1" in out


def test_no_solver_and_no_parser_generator_is_loaded_for_the_list() -> None:
    import subprocess
    import sys

    words = (
        "import sys; from verifier.front.command import run; run(['standard']); "
        "loaded = {'z3', 'cvc5', 'lark', 'networkx'} & set(sys.modules); "
        "print(loaded, file=sys.stderr)"
    )
    found = subprocess.run(
        [sys.executable, "-c", words], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert found.stderr.strip() == "set()"
