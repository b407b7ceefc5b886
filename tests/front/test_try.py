"""``duskproof try`` as people meet it."""

from __future__ import annotations

from pathlib import Path

import pytest

from verifier.front.command import run

ROOT = Path(__file__).parents[2]
JOB = """
button push "Push-button"
lamp light "Light" 10 W
rule glow
  retriggerable
  upon push pressed
  do
    light on
    wait 10 s
    light off
end rule
require lit
  when push pressed: light is on within 0 s
end require
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "job.dusk").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_the_boathouse_keeps_its_scripts(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["try", str(ROOT / "specs" / "boathouse")]) == 0
    said = capsys.readouterr().out
    assert "BROKEN" not in said
    assert "dusk.run" in said
    assert "bay_lights on" in said


def test_a_broken_expectation_is_exit_1(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\nat 11 s expect light is on\n", "utf-8")
    assert run(["try", str(folder)]) == 1
    said = capsys.readouterr().out
    assert "BROKEN  11 s: expect light is on  (a.run:2)" in said
    assert "1 expectation: 0 kept, 1 broken." in said


def test_one_script_may_be_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\nat 5 s expect light is on\n", "utf-8")
    (folder / "b.run").write_text("nonsense", "utf-8")
    assert run(["try", str(folder), str(folder / "a.run")]) == 0
    assert "b.run" not in capsys.readouterr().out


def test_a_bad_script_is_exit_2_with_its_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "a.run").write_text("at 0 s push pressd\n", "utf-8")
    assert run(["try", str(folder)]) == 2
    said = capsys.readouterr().out
    assert "a.run:1:8" in said
    assert "Did you mean `push pressed`" in said


def test_a_folder_without_scripts_is_exit_2(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["try", str(folder)]) == 2
    assert "no-scripts" in capsys.readouterr().out


def test_a_script_of_bytes_is_exit_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_bytes(b"at 0 s \xff\xfe")
    assert run(["try", str(folder)]) == 2
    assert "a.run:1" in capsys.readouterr().out
    assert run(["try", str(folder), str(folder / "missing.run")]) == 2
