"""`duskproof points`: out, in, applied; bytes as spreadsheets write them; wrong input."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "boathouse"
    shutil.copytree(ROOT / "specs" / "boathouse", folder)
    return folder


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = command.run(["points", *arguments])
    said = capsys.readouterr()
    return code, said.out + said.err


def texts(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def edited(path: Path, name: str, **cells: str) -> None:
    """Edits a row as a spreadsheet would: read, changed, written whole."""
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"), newline=""), strict=True))
    for row in rows:
        if row["name"] == name:
            row.update({key.replace("_", " "): value for key, value in cells.items()})
    with path.open("w", newline="", encoding="utf-8-sig") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), delimiter=";")
        writer.writeheader()
        writer.writerows(rows)


def test_out_edited_and_in_again(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "points.csv"
    assert ran(capsys, str(job), "-o", str(path)) == (
        0,
        f"The schedule of 15 points is in {path}.\n",
    )
    edited(path, "porch_light", terminal="X1:3", remark="Höhe 3 m", power="2 x 9 W")
    before = texts(job)
    code, out = ran(capsys, str(job), "--take-in", str(path))
    assert code == 0
    assert '+lamp   porch_light "Porch light" 2 x 9 W           on power return last' in out
    assert "+porch_light,X1:3,,,Höhe 3 m" in out
    assert "Nothing was written" in out
    assert texts(job) == before
    code, out = ran(capsys, str(job), "--take-in", str(path), "--apply")
    assert code == 0
    assert "Written: points.dusk, schedule.csv." in out
    after = texts(job)
    assert {name for name in after if after[name] != before.get(name)} == {
        "points.dusk",
        "schedule.csv",
    }
    assert b'porch_light "Porch light" 2 x 9 W  ' in after["points.dusk"]
    code, out = ran(capsys, str(job), "--take-in", str(path))
    assert "nothing changes" in out
    # What is kept beside stays with every writing, and a file that is not ASCII has its mark.
    assert ran(capsys, str(job), "-o", str(path))[0] == 0
    assert path.read_bytes().startswith(b"\xef\xbb\xbfname,")
    (row,) = [
        r
        for r in csv.DictReader(io.StringIO(path.read_text("utf-8-sig"), newline=""))
        if r["terminal"]
    ]
    assert (row["name"], row["terminal"], row["remark"]) == ("porch_light", "X1:3", "Höhe 3 m")


def test_line_ends_of_the_job_stay_as_they_are(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    points = job / "points.dusk"
    points.write_bytes(points.read_bytes().replace(b"\n", b"\r\n"))
    path = tmp_path / "points.csv"
    ran(capsys, str(job), "-o", str(path))
    edited(path, "fan", power="30 W")
    assert ran(capsys, str(job), "--take-in", str(path), "--apply")[0] == 0
    data = points.read_bytes()
    assert b"30 W" in data
    assert data.count(b"\n") == data.count(b"\r\n")


def test_csv_on_standard_output_has_commas_or_semicolons(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for more, delimiter in (((), ","), (("--semicolons",), ";")):
        code, out = ran(capsys, str(job), "--format", "csv", *more)
        assert code == 0
        assert out.startswith(delimiter.join(("name", "label", "kind", "wired")))


def test_the_text_fits_the_terminal(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, str(job))
    assert code == 0
    assert all(len(line) <= 140 for line in out.splitlines())
    assert "side_door" in out


def test_a_bad_cell_is_told_with_line_and_column(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "points.csv"
    path.write_text("name,holds\nroom_pir,8 lux\n", "utf-8")
    before = texts(job)
    code, out = ran(capsys, str(job), "--take-in", str(path), "--apply")
    assert code == 2
    assert f"{path}:2:10: error: `8 lux` does not fit under `holds`  [schedule-cell]" in out
    assert "Nothing was taken in: 1 error." in out
    assert texts(job) == before


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"name,holds\nroom_pir,\xff\n", "not-utf8"),
        (b'name,holds\nroom_pir,"8 s\n', "csv-not-readable"),
        (b"", "csv-not-readable"),
        (None, "file-not-readable"),
    ],
)
def test_what_cannot_be_read_is_told(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], data: bytes | None, words: str
) -> None:
    path = tmp_path / "points.csv"
    if data is not None:
        path.write_bytes(data)
    code, out = ran(capsys, str(job), "--take-in", str(path))
    assert code == 2
    assert words in out
    assert "Traceback" not in out


def test_a_damaged_schedule_beside_the_job_is_told_and_not_written_over(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job / "schedule.csv").write_text('name,terminal\nfan,"X1\n', "utf-8")
    code, out = ran(capsys, str(job))
    assert code == 2
    assert "schedule.csv:2:5" in out


def test_options_that_do_not_go_together_are_told(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran(capsys, str(job), "--apply")[0] == 2
    assert ran(capsys, str(job), "--take-in", "a.csv", "-o", "b.csv")[0] == 2
    code, out = ran(capsys, str(job), "-o", "/nowhere/at/all/p.csv")
    assert code == 2
    assert "cannot be written" in out
