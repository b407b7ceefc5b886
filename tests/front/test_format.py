"""`duskproof format`: files are laid out, checked or left alone; nothing is lost on the way."""

from __future__ import annotations

import io
import os
import stat
from pathlib import Path

import pytest

from verifier.front import command

UNTIDY = 'lamp  a   "A"  # over the door\r\nflag b\r\n\r\n\r\nlamp  c\r\n'
TIDY = 'lamp a "A"  # over the door\r\nflag b\r\n\r\nlamp c\r\n'


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = command.run(["format", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.fixture
def untidy(tmp_path: Path) -> Path:
    path = tmp_path / "a.dusk"
    path.write_bytes(b"\xef\xbb\xbf" + UNTIDY.encode())
    path.chmod(0o640)
    return path


def test_a_folder_is_laid_out_once_and_its_line_ends_mark_and_rights_stay(
    untidy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(untidy.parent)
    code, out, err = ran(capsys, folder)
    assert (code, err) == (0, "")
    assert out == f"1 file: 1 laid out anew: {untidy}.\n"
    assert untidy.read_bytes() == b"\xef\xbb\xbf" + TIDY.encode()
    assert stat.S_IMODE(untidy.stat().st_mode) == 0o640
    assert ran(capsys, folder) == (0, "1 file: nothing to change.\n", "")
    assert [each.name for each in untidy.parent.iterdir()] == ["a.dusk"]


def test_check_and_diff_write_nothing(untidy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = untidy.read_bytes()
    code, out, _ = ran(capsys, "--check", str(untidy))
    assert (code, out) == (1, f"1 file: 1 would be laid out anew: {untidy}.\n")
    code, out, _ = ran(capsys, "--diff", str(untidy))
    assert code == 1
    assert '-lamp  a   "A"  # over the door\n' in out
    assert '+lamp a "A"  # over the door\n' in out
    assert untidy.read_bytes() == before


def test_a_file_with_mistakes_is_left_and_told_and_the_others_are_laid_out(
    untidy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = untidy.parent / "wrong.dusk"
    wrong.write_text("lamp   d\nrule e do d on\n", "utf-8")
    code, out, err = ran(capsys, str(untidy.parent))
    assert code == 2
    assert f"{wrong}:2" in err
    assert str(untidy) in out
    assert wrong.read_text("utf-8") == "lamp   d\nrule e do d on\n"
    assert untidy.read_bytes().endswith(b"lamp c\r\n")


def test_standard_input_is_laid_out_to_standard_output(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for text, expected in (("lamp   a#b", "lamp a  #b\n"), ("lamp a\n", "lamp a\n"), ("", "")):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
        assert ran(capsys, "-") == (0, expected, "")
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"lamp  a")))
    code, out, _ = ran(capsys, "-", "--check")
    assert (code, out) == (1, "")
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"lamp \xff")))
    code, out, err = ran(capsys, "-")
    assert (code, out) == (2, "")
    assert "not-utf8" in err


def test_what_cannot_be_read_or_written_is_told(
    untidy: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, _, err = ran(capsys, str(untidy.parent / "nowhere"))
    assert code == 2
    assert "no-such-folder" in err

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    code, out, err = ran(capsys, str(untidy))
    assert code == 2
    assert "no space left" in err
    assert "laid out" not in out
    assert [each.name for each in untidy.parent.iterdir()] == ["a.dusk"]


def test_a_file_with_a_mistake_is_left_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "job.dusk").write_text("rule\n", "utf-8")
    code, out, error = ran(capsys, str(tmp_path))
    assert (code, out) == (2, "1 file with a mistake, left as it is.\n")
    assert "this line ends too early" in error
    assert (tmp_path / "job.dusk").read_text("utf-8") == "rule\n"
