"""`--each-fault`, `--consider` and `--years`: the table, what it leads to, and wrong input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from verifier.front import command

JOB = """\
contact gate "Gate" wireless starts shut
button push "Push"
lamp light "Light" 10 W
lamp sign "Sign" 5 W
consider lost reports of gate
rule on
  upon gate becomes open
  do
    light on
end rule
rule off
  upon gate becomes shut
  do
    light off
end rule
rule signal
  non-retriggerable
  upon push pressed
  do
    sign on
    wait 10 s
    sign off
end rule
require lit
  always: gate is open implies light is on
end require
require short
  no longer than 10 s: sign is on
end require
require never_lit
  never: light is on
end require
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "gatehouse"
    folder.mkdir()
    (folder / "job.dusk").write_text(JOB, encoding="utf-8")
    return folder


def found(capsys: pytest.CaptureFixture[str], folder: Path, *options: str) -> Any:
    command.run(["prove", str(folder), "--format", "json", *options])
    return json.loads(capsys.readouterr().out)


def verdicts(one: Any) -> dict[str, str]:
    return {entry["name"]: entry["verdict"] for entry in one["requirements"]}


def test_the_columns_are_no_fault_each_alone_and_all_together(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = found(capsys, job, "--each-fault", "--consider", "power cuts")
    lost = "lost reports of gate"
    assert [one["faults"] for one in whole["each_fault"]] == [[], [lost], ["power cuts"]]
    assert verdicts(whole["each_fault"][0]) == {
        "lit": "proved",
        "short": "proved",
        "never_lit": "refuted",
    }
    assert verdicts(whole["each_fault"][1])["lit"] == "refuted"
    # A power cut puts the light off, and no rule puts it on again.
    assert verdicts(whole["each_fault"][2])["lit"] == "refuted"
    assert verdicts(whole)["lit"] == "refuted"
    assert whole["requirements"][0]["faults"] == [lost, "power cuts"]


def test_without_faults_it_is_the_verdict_of_the_job_without_them(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = found(capsys, job, "--each-fault")
    text = JOB.replace("consider lost reports of gate\n", "")
    (job / "job.dusk").write_text(text, encoding="utf-8")
    assert verdicts(whole["each_fault"][0]) == verdicts(found(capsys, job))


@pytest.mark.parametrize("width", [50, 80, 140])
def test_a_cell_leads_to_its_run(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    code = command.run(["prove", str(job), "--each-fault", "--consider", "power cuts"])
    text = capsys.readouterr().out
    assert code == 1
    table = text[text.index("Under each fault") : text.index("[1] never_lit")]
    assert all(len(line) <= width for line in table.splitlines())
    row = next(line for line in text.splitlines() if line.startswith("lit "))
    for number in ("[2]", "[3]"):
        assert number in row
        assert f"{number} lit" in text
    # What fails without any fault is told once.
    row = next(line for line in text.splitlines() if line.startswith("never_lit "))
    assert row.count("[1]") == 3
    assert text.count("[1] never_lit") == 1
    flat = " ".join(text.split())
    assert "lit does not hold with lost reports of gate and power cuts." in flat
    assert "short survives lost reports of gate and power cuts." in flat
    assert "never_lit fails without any fault." in flat


def test_a_fault_that_cannot_be_is_told_at_its_place(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words, code in (
        ("broken wire of gate", "fault-impossible"),
        ("lost reports of nothing", "unknown-name"),
        ("nonsense", "syntax"),
        ("power cuts\nconsider nonsense", "syntax"),
        ("", "syntax"),
    ):
        status = command.run(["prove", str(job), "--consider", words, "--format", "json"])
        out = json.loads(capsys.readouterr().out)
        assert status == 2, words
        assert out["findings"][0]["where"].startswith("--consider:1:")
        assert out["requirements"] == []
        if code != "syntax":
            assert out["findings"][0]["code"] == code


@pytest.mark.parametrize("years", ["20", "2050-2040", "1800", "2000-2149", "next", "2027-", "-1"])
def test_years_that_cannot_be_are_wrong_input(
    job: Path, capsys: pytest.CaptureFixture[str], years: str
) -> None:
    assert command.run(["prove", str(job), f"--years={years}"]) == 2
    assert "--years" in capsys.readouterr().err


SITE = """\
site "Quay"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp path
rule on
  upon at 01:30
  do
    path on
end rule
rule off
  upon day begins
  do
    path off
end rule
require twice
  at most 1 times in 90 min: at 01:30
end require
"""


def test_a_run_on_a_date_is_told_by_its_clock(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """01:30 comes twice on 25 October 2026 (Directive 2000/84/EC: the last Sunday, as in the UK)."""
    (tmp_path / "job.dusk").write_text(SITE, encoding="utf-8")
    whole = found(capsys, tmp_path, "--years", "2026")
    assert whole["years"] == [2026, 2026]
    run = whole["requirements"][0]["counterexample"]
    assert run["clock"] == {"begins": "2026-10-25T01:30:00+01:00", "timezone": "Europe/London"}
    assert [step["at"] for step in run["steps"]] == [
        "2026-10-25T01:30:00+01:00",
        "2026-10-25T01:30:00+00:00",
    ]
    command.run(["prove", str(tmp_path), "--years", "2026"])
    text = capsys.readouterr().out
    assert "for the year 2026" in text
    assert "It begins on Sunday, 25 October 2026, at 01:30 (Europe/London, BST)." in text
    assert "1 h (01:30 GMT)" in text
