"""Files that are written: whole or not at all, and never over something that was not read."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import Span


class NotWritten(Exception):
    """A file was not written; ``args[0]`` is the diagnostic."""


def write_over(path: Path, was: str, text: str) -> None:
    """Puts a new text into a file that still has the old one. Raises: NotWritten.

    The file's way of ending lines, and its byte order mark, stay as they are.
    """
    try:
        data = path.read_bytes()
        decoded = data.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise NotWritten(_not_written(path, getattr(error, "strerror", None))) from error
    plain = decoded.replace("\r\n", "\n").replace("\r", "\n")
    if plain != was:
        raise NotWritten(
            Diagnostic(
                "file-changed",
                Severity.ERROR,
                "the file was changed after it had been read; it is left as it is",
                (Label(Span(path.name, 0, 0)),),
                "Run the command again.",
            )
        )
    ending = "\r\n" if "\r\n" in decoded else "\r" if "\r" in decoded else "\n"
    mark = "\ufeff" if data.startswith(b"\xef\xbb\xbf") else ""
    write_whole(path, (mark + text.replace("\n", ending)).encode("utf-8"))


def write_whole(path: Path, data: bytes) -> None:
    """Writes a file so that it is there whole, or as it was before. Raises: NotWritten."""
    try:
        path = path.resolve()
        handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            if path.exists():
                os.chmod(name, path.stat().st_mode & 0o777)
            else:
                mask = os.umask(0)
                os.umask(mask)
                os.chmod(name, 0o666 & ~mask)
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise NotWritten(_not_written(path, error.strerror)) from error


def can_be_written(path: Path) -> None:
    """Says before long work that a file cannot be written afterwards. Raises: NotWritten."""
    folder = path.resolve().parent
    if not folder.is_dir():
        raise NotWritten(_not_written(path, "there is no such folder"))
    if path.is_dir():
        raise NotWritten(_not_written(path, "it is a folder"))
    if not os.access(folder, os.W_OK):
        raise NotWritten(_not_written(path, "the folder may not be written to"))


def _not_written(path: Path, why: str | None) -> Diagnostic:
    return Diagnostic(
        "file-not-written",
        Severity.ERROR,
        f'"{path}" cannot be written: {(why or "it cannot be read").lower()}',
        (Label(Span(path.name, 0, 0)),),
        "Give a file in a folder that may be written to and has room; nothing was changed.",
    )
