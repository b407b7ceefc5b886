"""`--each-fault`, `--consider` and `--years`: the table, what it leads to, and wrong input."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from verifier import proof
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


MORE = """\
require after_power
  when power returns: sign is off within 1 s
end require
require how_long
  measure longest: sign is on after last push pressed
end require
"""


def text_of(
    capsys: pytest.CaptureFixture[str], folder: Path, *options: str
) -> tuple[int, list[str]]:
    code = command.run(["prove", str(folder), "--each-fault", *options])
    return code, capsys.readouterr().out.splitlines()


@pytest.mark.parametrize(("width", "words"), [(60, False), (120, True)])
def test_cells_say_what_is_vacuous_and_what_was_measured(
    job: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    width: int,
    words: bool,
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    (job / "job.dusk").write_text(JOB + MORE, encoding="utf-8")
    asked = ("--only", "after_power", "--only", "how_long", "--consider", "power cuts")
    code, lines = text_of(capsys, job, *asked)
    assert code == 0
    rows = {line.split()[0]: line.split(maxsplit=1)[1] for line in lines if "   " in line.strip()}
    vacuous, holds, ten = ("○ vacuous [1]", "✓ holds", "= 10 s") if words else ("○ [1]", "✓", "=")
    assert re.split(r"  +", rows["after_power"]) == [vacuous, vacuous, holds, holds]
    assert re.split(r"  +", rows["how_long"]) == [ten] * 4
    flat = " ".join(" ".join(lines).split())
    assert "[1] after_power, ○ vacuous Under: no fault; lost reports of gate." in flat
    assert "Without faults and with lost reports of gate it never comes into play." in flat
    assert "how_long: 10 s without faults and with each of them." in flat


def test_what_a_measure_answers_under_each_fault(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With a lost report the light stays on for ever after the gate was shut."""
    text = JOB.replace(
        "upon gate becomes shut\n  do\n",
        "retriggerable\n  upon gate becomes shut\n  do\n    wait 5 s\n",
    )
    text += (
        "require lasts\n"
        "  measure longest: gate is shut and light is on after last gate becomes shut\n"
        "end require\n"
    )
    (job / "job.dusk").write_text(text, encoding="utf-8")
    _, lines = text_of(capsys, job, "--only", "lasts")
    assert "lasts: 5 s without faults; unbounded with lost reports of gate." in lines


def test_many_faults_are_shown_in_parts_that_fit(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    faults = ("power cuts", "gate stuck", "push stuck", "bounce of gate up to 5 ms")
    options = [word for fault in faults for word in ("--consider", fault)]
    _, lines = text_of(capsys, job, "--only", "lit", *options)
    table = lines[lines.index("Under each fault") :]
    assert [line for line in table if len(line) > 40 and not line.startswith("job.dusk:")] == []
    heads = [line.split() for line in lines if re.fullmatch(r"[ \d]+", line)]
    assert len(heads) > 1
    assert [number for head in heads for number in head] == ["1", "2", "3", "4", "5", "6", "7"]


def test_the_exit_code_is_that_of_all_faults_together(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`lit` holds without faults; the reports of the gate can be lost."""
    for options, code in ((("lit",), 1), (("short",), 0)):
        assert text_of(capsys, job, "--only", *options)[0] == code
    whole = found(capsys, job, "--each-fault", "--only", "lit")
    assert (whole["exit"], whole["each_fault"][0]["requirements"][0]["verdict"]) == (1, "proved")
    assert whole["survives"] == {"lit": []}


def test_a_cell_of_json_holds_its_run(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = found(capsys, job, "--each-fault", "--consider", "power cuts", "--only", "lit")
    without, lost, power = whole["each_fault"]
    assert without["requirements"][0]["counterexample"] is None
    assert without["requirements"][0]["certificate"] == {"checked_by": ["z3", "cvc5"]}
    happened = lost["requirements"][0]["counterexample"]["steps"][-1]["what"]
    assert happened == "gate becomes open, the report is lost"
    assert power["requirements"][0]["counterexample"]["steps"][-1]["what"].startswith("power ")


def test_a_job_without_faults_says_so(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job / "job.dusk").write_text(JOB.replace("consider lost reports of gate\n", ""))
    whole = found(capsys, job, "--each-fault", "--only", "short")
    assert whole["each_fault"] == []
    assert [f["severity"] for f in whole["findings"] if f["code"] == "no-faults"] == ["note"]
    assert whole["exit"] == 0


def test_a_fault_that_the_job_considers_already_is_told(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = found(capsys, job, "--consider", "lost reports of gate")
    assert whole["exit"] == 2
    assert whole["findings"][0]["code"] == "given-twice"


def test_what_is_judged_when_it_is_interrupted_stays(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C in the second column: the first is whole, the second has what was there."""
    real = proof.prove_job
    columns: list[int] = []

    def stopped(job: Any, asked: Any, options: Any, keep: Any) -> Any:
        columns.append(len(job.faults))
        judged = real(job, asked, options, keep if len(columns) < 3 else lambda *_: None)
        if len(columns) == 3:
            keep(*judged.verdicts[0])
            raise KeyboardInterrupt
        return judged

    monkeypatch.setattr(proof, "prove_job", stopped)
    code, lines = text_of(capsys, job, "--consider", "power cuts")
    assert code == 130
    assert columns == [2, 0, 1]
    assert "Interrupted: 5 cells of the table not judged." in lines
    row = next(line for line in lines if line.startswith("never_lit "))
    assert row.count("not judged") == 2


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
    assert "At 1 h (25 October 2026, 01:30) this happens for time number 2" in text
