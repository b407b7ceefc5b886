"""`duskproof read-back`: text, JSON, one name, jobs without rules, wrong input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command

BOATHOUSE = ROOT / "specs" / "boathouse"


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal of a hundred columns."""
    monkeypatch.setenv("COLUMNS", "100")


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = command.run(["read-back", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_requirements_rules_assumptions_and_faults_are_read_back(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, err = ran(capsys, str(BOATHOUSE))
    assert (code, err) == (0, "")
    assert "Whenever it is night and the roller shutter is moving, the bay lights are on." in out
    assert "  2. It waits 20 min.\n" in out
    assert (
        "  - It is always so that if “Key switch: everyone has left” is on, then the side door"
        in out
    )
    assert "  - The power may fail and return at any time." in out
    assert all(len(line) <= 100 for line in out.splitlines())


def test_one_name_is_read_back_alone(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, str(BOATHOUSE), "--only", "fan_run", "--only", "fan_short")
    assert code == 0
    assert (
        out
        == """\
What must hold

The fan never runs longer than 20 min at a stretch  (fan_short)
  It is never so for longer than 20 min at a stretch that the drying fan is on.
  - Exactly 20 min is allowed.
  - What is so at the start counts from the start.

What the rules do

The fan runs for a time after a press  (fan_run)
  Whenever the push-button for the fan is pressed, provided that the note “Everyone has left” says
  no.
  1. It switches the drying fan on.
  2. It waits 20 min.
  3. It switches the drying fan off.
  - Triggered again while it is at work, it takes no notice and goes on.
  - What has to be so for it to begin is looked at only at that moment: what changes later neither
    starts nor stops it.
"""
    )


def test_json_holds_the_same_words(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, str(BOATHOUSE), "--format", "json")
    whole = json.loads(out)
    assert code == 0
    assert [each["name"] for each in whole["rules"]][:2] == ["shutter_light", "side_door_light"]
    blink = next(each for each in whole["rules"] if each["name"] == "left_open")
    assert [step["number"] for step in blink["steps"]] == ["1", "1.1", "1.2", "1.3", "1.4"]
    assert len(whole["requirements"]) == 20
    assert whole["faults"] == ["The power may fail and return at any time."]


def test_rules_that_are_still_to_be_written_are_named_and_not_read_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("points.dusk", "promises.dusk"):
        (tmp_path / name).write_text((BOATHOUSE / name).read_text("utf-8"), "utf-8")
    code, out, err = ran(capsys, str(tmp_path))
    assert code == 0
    assert "What the rules do" not in out
    assert "the rule shutter_light is running" in out
    assert err.startswith("Still to be written: the rules shutter_light,")
    (tmp_path / "promises.dusk").unlink()
    assert ran(capsys, str(tmp_path))[:2] == (
        0,
        "There is neither a requirement nor a rule yet, so there is nothing to read back.\n",
    )


def test_wrong_input_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, str(BOATHOUSE), "--only", "fan_rum")
    assert code == 2
    assert "Did you mean fan_run" in out
    code, out, _ = ran(capsys, str(tmp_path), "--format", "json")
    assert code == 2
    assert json.loads(out)["findings"][0]["code"] == "no-files"
