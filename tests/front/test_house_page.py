"""`duskproof house-page`: the page as a file and on the terminal, and wrong input."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command

STAIR = ROOT / "specs" / "stair"


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = command.run(["house-page", *arguments])
    found = capsys.readouterr()
    return code, found.out + found.err


def test_the_page_is_written_whole_and_stands_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "house.html"
    code, out = ran(capsys, str(STAIR), "-o", str(path))
    assert code == 0
    assert "house.html" in out
    html = path.read_text("utf-8")
    assert "<h1>How the lights of" in html
    assert '<th scope="row" class="word">Stair lights</th>' in html
    assert "<script" not in html
    assert "http" not in html
    assert html.count("<li>") <= 10


def test_the_same_on_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, str(STAIR))
    assert code == 0
    assert "You can rely on this:" in out
    assert "3 minutes 30 seconds" in " ".join(out.split())


def test_wrong_input_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = ran(capsys, str(STAIR), "-o", str(tmp_path / "nowhere" / "house.html"))
    assert code == 2
    assert "file-not-written" in out
    code, out = ran(capsys, str(STAIR), "-o", str(tmp_path / "house.doc"))
    assert code == 2
    code, out = ran(capsys, str(tmp_path))
    assert code == 2
    assert "Traceback" not in out
