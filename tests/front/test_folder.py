"""Reading a folder: what is a job, and what is reported of what is none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from verifier.diagnostics import Diagnostic
from verifier.front import folder as folder_module
from verifier.front.folder import LARGEST_FILE, read_folder


def only_error(path: Path | str) -> Diagnostic:
    reading = read_folder(str(path))
    assert len(reading.diagnostics) == 1, reading.diagnostics
    problem = reading.diagnostics[0]
    assert problem.message
    assert problem.hint
    assert problem.labels
    return problem


def test_all_dusk_files_are_read_ordered_by_name(tmp_path: Path) -> None:
    for name in ("b.dusk", "a.dusk", "B.DUSK", "notes.txt", ".a.dusk", "c.dusk~"):
        (tmp_path / name).write_text(f"# {name}\n")
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "d.dusk").write_text("# not of this job\n")
    reading = read_folder(str(tmp_path))
    assert reading.diagnostics == ()
    assert [f.name for f in reading.sources.files] == ["B.DUSK", "a.dusk", "b.dusk"]
    assert reading.name == tmp_path.name


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_every_kind_of_line_end_and_a_byte_order_mark_read_alike(
    tmp_path: Path, end: bytes
) -> None:
    (tmp_path / "a.dusk").write_bytes(b"\xef\xbb\xbf" + end.join([b"lamp a", b"lamp b", b""]))
    assert read_folder(str(tmp_path)).sources.files[0].text == "lamp a\nlamp b\n"


def test_the_folder_one_is_in_has_its_own_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.dusk").write_text("")
    (tmp_path / "inner").mkdir()
    monkeypatch.chdir(tmp_path)
    assert read_folder(".").name == tmp_path.name
    monkeypatch.chdir(tmp_path / "inner")
    assert read_folder("..").name == tmp_path.name


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    problem = only_error(tmp_path / "nowhere")
    assert problem.code == "no-such-folder"
    assert problem.labels[0].span.file == str(tmp_path / "nowhere")


def test_a_file_in_place_of_a_folder_names_the_folder_to_give(tmp_path: Path) -> None:
    (tmp_path / "rules.dusk").write_text("")
    problem = only_error(tmp_path / "rules.dusk")
    assert problem.code == "not-a-folder"
    assert f'"{tmp_path}"' in problem.hint


def test_an_empty_folder_says_what_to_put_there(tmp_path: Path) -> None:
    problem = only_error(tmp_path)
    assert problem.code == "no-files"
    assert ".dusk" in problem.hint


def test_a_second_suffix_is_seen_and_the_right_name_offered(tmp_path: Path) -> None:
    (tmp_path / "Rules.dusk.txt").write_text("")
    assert 'rename "Rules.dusk.txt" to "Rules.dusk"' in only_error(tmp_path).hint


def test_a_folder_named_like_a_file_is_reported(tmp_path: Path) -> None:
    (tmp_path / "x.dusk").mkdir()
    problem = only_error(tmp_path)
    assert problem.code == "not-a-file"
    assert problem.labels[0].span.file == "x.dusk"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_reported_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "x.dusk")
    assert only_error(tmp_path).code == "not-a-file"


def test_a_link_that_leads_nowhere_says_where_it_leads(tmp_path: Path) -> None:
    (tmp_path / "x.dusk").symlink_to("gone.dusk")
    problem = only_error(tmp_path)
    assert problem.code == "file-not-readable"
    assert '"gone.dusk"' in problem.message


def test_a_link_to_itself_is_reported(tmp_path: Path) -> None:
    (tmp_path / "x.dusk").symlink_to("x.dusk")
    assert only_error(tmp_path).code == "file-not-readable"


def test_a_link_to_a_file_elsewhere_is_read(tmp_path: Path) -> None:
    (tmp_path / "job").mkdir()
    (tmp_path / "shared.txt").write_text("lamp a\n")
    (tmp_path / "job" / "x.dusk").symlink_to(tmp_path / "shared.txt")
    assert read_folder(str(tmp_path / "job")).sources.files[0].text == "lamp a\n"


def test_a_file_that_may_not_be_read_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As an ordinary user by the file's rights; for a superuser, who may read all, by a refusal."""
    path = tmp_path / "x.dusk"
    path.write_text("lamp a\n")
    path.chmod(0)
    if os.access(path, os.R_OK):

        def refuse(self: Path, *_: object) -> None:
            raise PermissionError(13, "Permission denied", str(self))

        monkeypatch.setattr(Path, "open", refuse)
    problem = only_error(tmp_path)
    assert problem.code == "file-not-readable"
    assert problem.message == '"x.dusk" cannot be read: it may not be read'


def test_a_folder_that_may_not_be_read_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(os, "scandir", refuse)
    assert only_error(tmp_path).code == "folder-not-readable"


@pytest.mark.parametrize("name", ["x" * 5000, "a\0b"])
def test_an_impossible_name_is_reported(name: str) -> None:
    assert only_error(name).code == "folder-not-readable"


def test_a_file_that_is_not_utf8_is_reported_with_the_place_of_the_first_bad_byte(
    tmp_path: Path,
) -> None:
    (tmp_path / "x.dusk").write_bytes("# Löft\r\nlamp k".encode() + b"\xfcche\n\xff")
    reading = read_folder(str(tmp_path))
    problem = only_error(tmp_path)
    assert problem.code == "not-utf8"
    assert "byte 16 (value 0xfc)" in problem.message
    assert reading.sources.place(problem.labels[0].span) == "x.dusk:2:7"


def test_utf16_is_recognised(tmp_path: Path) -> None:
    (tmp_path / "x.dusk").write_text("lamp a\n", encoding="utf-16")
    assert "UTF-16" in only_error(tmp_path).hint


def test_the_largest_file_is_read_and_one_byte_more_is_not(tmp_path: Path) -> None:
    """The limit of 5 MB: our own choice, no source."""
    path = tmp_path / "x.dusk"
    path.write_bytes(b"#" * LARGEST_FILE)
    assert read_folder(str(tmp_path)).diagnostics == ()
    path.write_bytes(b"#" * (LARGEST_FILE + 1))
    problem = only_error(tmp_path)
    assert problem.code == "file-too-large"
    assert "at most 5 MB" in problem.message


def test_every_file_that_cannot_be_read_is_reported(tmp_path: Path) -> None:
    (tmp_path / "a.dusk").write_bytes(b"\xff")
    (tmp_path / "b.dusk").mkdir()
    (tmp_path / "c.dusk").write_text("lamp a\n")
    codes = [d.code for d in read_folder(str(tmp_path)).diagnostics]
    assert codes == ["not-utf8", "not-a-file"]


def test_thousands_of_files_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder_module, "MOST_FILES", 3)
    for number in range(4):
        (tmp_path / f"{number}.dusk").write_text("")
    assert only_error(tmp_path).code == "too-many-files"
