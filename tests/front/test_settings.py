"""`duskproof settings`: text, CSV, JSON, and wrong input."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from verifier.front import command

JOB = """\
setting run_on 2 min
lamp light
button push
rule r
  retriggerable
  upon push pressed
  do
    light on
    wait run_on
    light off
end rule
require a_minute
  no shorter than 1 min: light is on
end require
require wrong
  never: light is on
end require
"""


@pytest.fixture
def folder(tmp_path: Path) -> str:
    (tmp_path / "job.dusk").write_text(JOB, "utf-8")
    return str(tmp_path)


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = command.run(["settings", *arguments])
    return code, capsys.readouterr().out


def test_the_schedule_as_text(folder: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, folder)
    assert code == 0
    assert "run_on 2 min  job.dusk:1, read at job.dusk:9\n" in out
    assert "  No shorter than 1 min: with 59 s a_minute fails.\n" in out
    assert "  Nothing keeps it from being longer: tried to 8 h.\n" in out
    assert "Left out, as they do not hold or say nothing: wrong." in out


def test_the_schedule_as_csv_and_json(folder: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, folder, "--format", "csv")
    assert code == 0
    (row,) = csv.DictReader(io.StringIO(out))
    assert (row["setting"], row["value"], row["least"], row["fails below"], row["greatest"]) == (
        "run_on", "2 min", "1 min", "a_minute", "",
    )  # fmt: skip
    code, out = ran(capsys, folder, "--format", "json")
    (figure,) = json.loads(out)["figures"]
    assert figure["low"] == {
        "proved_to": "1 min", "fails_at": "59 s", "fails": ["a_minute"], "unsure": False,
    }  # fmt: skip
    assert figure["high"]["fails_at"] is None


def test_a_job_without_figures_and_one_with_a_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = "lamp light\nrequire dark\n  never: light is on\nend require\n"
    (tmp_path / "job.dusk").write_text(plain, "utf-8")
    code, out = ran(capsys, str(tmp_path))
    assert code == 0
    assert "no settings" in out
    (tmp_path / "job.dusk").write_text("lamp\n", "utf-8")
    code, out = ran(capsys, str(tmp_path))
    assert code == 2
    assert "Traceback" not in out
    assert ran(capsys, str(tmp_path / "nowhere"))[0] == 2
