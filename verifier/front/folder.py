"""A folder of `.dusk` files becomes sources. The only place where a job's text is read."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import SourceFile, Sources, Span

LARGEST_FILE = 5 * 1024 * 1024
"""Bytes. A hand-written job is some kilobytes; beyond this it is another kind of file."""

MOST_FILES = 2000

SUFFIX = ".dusk"

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
"""Some editors put it first in a UTF-8 file; it is no part of the text."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What was read from a folder; ``sources`` may be shown but not used if there are errors."""

    name: str
    sources: Sources
    diagnostics: tuple[Diagnostic, ...]


def read_folder(folder: str) -> Reading:
    """The sources of all `.dusk` files of ``folder``, ordered by name, and what went wrong.

    Folders inside are not entered, and names that begin with a dot are left alone (editors keep
    their copies there). An end of line may be written in any of the usual ways.
    """
    path = Path(folder)
    name = path.resolve().name if path.name in ("", "..") else path.name
    try:
        with os.scandir(path) as entries:
            names = sorted(entry.name for entry in entries if not entry.name.startswith("."))
    except (OSError, ValueError) as error:
        return Reading(name, Sources(()), (_unreadable_folder(folder, error),))
    chosen = [n for n in names if n.lower().endswith(SUFFIX)]
    if not chosen:
        return Reading(name, Sources(()), (_no_files(folder, names),))
    if len(chosen) > MOST_FILES:
        return Reading(name, Sources(()), (_too_many(folder, len(chosen)),))
    files: list[SourceFile] = []
    diagnostics: list[Diagnostic] = []
    for file_name in chosen:
        file, problem = read_file(path / file_name, file_name)
        files.extend([] if file is None else [file])
        diagnostics.extend([] if problem is None else [problem])
    return Reading(name, Sources(tuple(files)), tuple(diagnostics))


def read_file(path: Path, name: str) -> tuple[SourceFile | None, Diagnostic | None]:
    """The text of one file, or why there is none (with the text as far as it can be shown)."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            return None, _not_a_file(name, status.st_mode)
        if status.st_size > LARGEST_FILE:
            return None, _too_large(name, status.st_size)
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        return None, _unreadable_file(path, name, error)
    if len(data) > LARGEST_FILE:
        return None, _too_large(name, len(data))
    return decoded(data, name)


def decoded(data: bytes, name: str) -> tuple[SourceFile, Diagnostic | None]:
    r"""The text of bytes, with one kind of line end; a diagnostic if they are not UTF-8.

    >>> decoded(b"lamp a\r\nlamp b\xff", "a.dusk")[1].labels[0].span
    Span(file='a.dusk', start=13, end=14)
    """
    data = data.removeprefix(_BYTE_ORDER_MARK)
    try:
        return SourceFile(name, _one_kind_of_line_end(data.decode("utf-8"))), None
    except UnicodeDecodeError as error:
        before = _one_kind_of_line_end(data[: error.start].decode("utf-8"))
        after = _one_kind_of_line_end(data[error.start :].decode("utf-8", errors="replace"))
        span = Span(name, len(before), len(before) + 1)
        return SourceFile(name, before + after), _not_utf8(span, data, error.start)


def _one_kind_of_line_end(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


# ---------------------------------------------------------------- what can go wrong


def _error(code: str, span: Span, message: str, hint: str) -> Diagnostic:
    return Diagnostic(code, Severity.ERROR, message, (Label(span),), hint)


def _whole(name: str) -> Span:
    return Span(name, 0, 0)


def _unreadable_folder(folder: str, error: OSError | ValueError) -> Diagnostic:
    at = _whole(folder)
    match error:
        case FileNotFoundError():
            return _error(
                "no-such-folder",
                at,
                f'there is no folder "{folder}"',
                "Check the spelling, and the folder that you are in; give the folder that holds "
                "the job's .dusk files.",
            )
        case NotADirectoryError():
            parent = os.path.dirname(folder) or "."
            return _error(
                "not-a-folder",
                at,
                f'"{folder}" is a file; a job is a folder with all its .dusk files',
                f'Give the folder that it lies in: "{parent}".',
            )
        case PermissionError():
            return _error(
                "folder-not-readable",
                at,
                f'the folder "{folder}" may not be read',
                "Ask its owner for the right to read it, or copy the job to a folder of yours.",
            )
        case _:
            return _error(
                "folder-not-readable",
                at,
                f'the folder "{folder}" cannot be read: {_words(error)}',
                "Check the path.",
            )


def _no_files(folder: str, names: list[str]) -> Diagnostic:
    alike = [n for n in names if f"{SUFFIX}." in n.lower()]
    hint = "Write the job into files whose names end in .dusk, or give the folder that holds them."
    if alike:
        hint = f'A job\'s files end in .dusk; rename "{alike[0]}" to "{_renamed(alike[0])}".'
    return _error("no-files", _whole(folder), f'there is no .dusk file in "{folder}"', hint)


def _renamed(name: str) -> str:
    return name[: name.lower().index(f"{SUFFIX}.") + len(SUFFIX)]


def _too_many(folder: str, count: int) -> Diagnostic:
    return _error(
        "too-many-files",
        _whole(folder),
        f'there are {count} .dusk files in "{folder}"; a job has at most {MOST_FILES}',
        "One folder is one job: give each job a folder of its own.",
    )


def _not_a_file(name: str, mode: int) -> Diagnostic:
    kind = "a folder" if stat.S_ISDIR(mode) else "not a file with text (a device or a pipe)"
    return _error(
        "not-a-file",
        _whole(name),
        f'"{name}" is {kind}, though its name ends in .dusk',
        "Rename it, or move it out of the job's folder.",
    )


def _too_large(name: str, size: int) -> Diagnostic:
    return _error(
        "file-too-large",
        _whole(name),
        f'"{name}" has {size / 1024 / 1024:.1f} MB; a .dusk file has at most '
        f"{LARGEST_FILE // 1024 // 1024} MB",
        "Check that it is the right file; split a job as large as this into several files.",
    )


def _unreadable_file(path: Path, name: str, error: OSError | ValueError) -> Diagnostic:
    if path.is_symlink() and isinstance(error, FileNotFoundError):
        return _error(
            "file-not-readable",
            _whole(name),
            f'"{name}" is a link to "{os.readlink(path)}", which does not exist',
            "Mend the link or remove it.",
        )
    match error:
        case PermissionError():
            words, hint = "it may not be read", "Ask its owner for the right to read it."
        case _:
            words, hint = _words(error), "Check the file, or remove it from the job's folder."
    return _error("file-not-readable", _whole(name), f'"{name}" cannot be read: {words}', hint)


def _not_utf8(span: Span, data: bytes, at: int) -> Diagnostic:
    hint = "Save the file as UTF-8 (editors offer it under “encoding” when saving)."
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        hint = "The file is UTF-16: save it as UTF-8."
    elif b"\0" in data[: at + 4096]:
        hint = "This does not look like text: put the right file in its place, or remove it."
    return _error(
        "not-utf8", span, f"byte {at + 1} (value {data[at]:#04x}) is not UTF-8 text", hint
    )


def _words(error: OSError | ValueError) -> str:
    text = error.strerror if isinstance(error, OSError) else str(error)
    return (text or type(error).__name__).lower()
