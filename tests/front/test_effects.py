"""`duskproof effects`: text, CSV, page; wrong input."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command

BOATHOUSE = str(ROOT / "specs" / "boathouse")


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = command.run(["effects", *arguments])
    return code, capsys.readouterr().out


def test_the_text_has_a_key_for_each_letter(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, BOATHOUSE)
    assert code == 0
    assert "A  Bay lights (bay_lights)" in out
    assert "Part 2 of 2" in out
    assert "When power returns, before any rule" in out
    assert all(len(line) <= 120 for line in out.splitlines())


def test_csv_is_read_by_others_and_names_the_line_of_each_cause(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Python's csv module, RFC 4180."""
    code, out = ran(capsys, BOATHOUSE, "--format", "csv")
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out, newline="")))
    by_number = {row["row"]: row for row in rows}
    assert by_number["2a"]["porch_light"] == "on"
    assert by_number["2a"]["only if"] == "it is night"
    text = (ROOT / "specs/boathouse/rules.dusk").read_text("utf-8").splitlines()
    for row in rows:
        name, line, column = row["place"].split(":")
        assert name == "rules.dusk"
        assert text[int(line) - 1][int(column) - 1 :].startswith(("upon", "wait"))


def test_the_page_is_one_table_for_each_part(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "effects.html"
    assert ran(capsys, BOATHOUSE, "-o", str(path))[0] == 0
    page = path.read_text("utf-8")
    assert page.count("<thead>") == 3
    assert "<script" not in page
    code, out = ran(capsys, BOATHOUSE, "--format", "html")
    assert (code, out) == (0, page)


def test_a_job_without_rules_has_an_empty_table(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "job.dusk").write_text('lamp a "A"\n', "utf-8")
    for form in ("text", "csv", "html"):
        assert ran(capsys, str(tmp_path), "--format", form)[0] == 0


def test_wrong_input_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert ran(capsys, str(tmp_path / "none"))[0] == 2
    code, out = ran(capsys, BOATHOUSE, "-o", "/nowhere/at/all/e.csv")
    assert code == 2
    assert "cannot be written" in out
