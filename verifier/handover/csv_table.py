"""Tables as CSV, written and read (RFC 4180), with the place of each cell.

Read are commas, semicolons or tabs, whichever the first line has, any end of line, and cells in
quotation marks. What a spreadsheet would take for a formula is written so that it does not.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import SourceFile, Span

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_DELIMITERS = (",", ";", "\t")


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: such a one begins with an apostrophe.

    An apostrophe of its own at the beginning is doubled, so that reading back gives the same text.

    >>> harmless("=1+1"), harmless("-6 deg"), harmless("'tis"), harmless("lamp")
    ("'=1+1", "'-6 deg", "''tis", 'lamp')
    """
    return f"'{cell}" if cell.startswith((*_FORMULA, "'")) else cell


def unharmed(cell: str) -> str:
    """The text of a cell that :func:`harmless` may have made.

    >>> [unharmed(harmless(cell)) for cell in ("=1+1", "'tis", "'=1", "lamp", "")]
    ['=1+1', "'tis", "'=1", 'lamp', '']
    """
    return cell[1:] if cell.startswith("'") and cell[1:].startswith((*_FORMULA, "'")) else cell


def csv_text(rows: Iterable[Sequence[str]], delimiter: str = ",") -> str:
    """Rows as CSV (RFC 4180: CRLF, quotation marks where they are needed)."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\r\n")
    writer.writerows([[harmless(cell) for cell in row] for row in rows])
    return stream.getvalue()


# ---------------------------------------------------------------- reading


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: its text, and the place where it stands (with its quotation marks)."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class CsvTable:
    """A table that was read: the cells of its first row, and those of the others.

    Rows without anything in them are left out.
    """

    file: SourceFile
    head: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]


def read_csv(file: SourceFile) -> tuple[CsvTable | None, tuple[Diagnostic, ...]]:
    """The table of a file, or what is wrong with it."""
    reader = _Reader(file)
    try:
        rows = [row for row in reader.rows() if any(cell.text for cell in row)]
    except _Wrong as wrong:
        return None, (wrong.args[0],)
    if not rows:
        return None, (_empty(file),)
    return CsvTable(file, rows[0], tuple(rows[1:])), ()


def delimiter_of(text: str) -> str:
    """What stands between the cells: of comma, semicolon and tab the one that the first line has most.

    >>> delimiter_of('name;"label, long";kind'), delimiter_of("name,kind"), delimiter_of("name")
    (';', ',', ',')
    """
    counts = dict.fromkeys(_DELIMITERS, 0)
    quoted = False
    for sign in text.lstrip("\r\n"):
        if sign == '"':
            quoted = not quoted
        elif sign in "\r\n" and not quoted:
            break
        elif sign in counts and not quoted:
            counts[sign] += 1
    return max(_DELIMITERS, key=lambda sign: counts[sign])


class _Wrong(Exception):
    """The text is no table; ``args[0]`` is the diagnostic."""


class _Reader:
    def __init__(self, file: SourceFile) -> None:
        self.file, self.text = file, file.text
        self.at = 0
        first = self.text.split("\n", 1)[0].rstrip("\r").lower()
        self.delimiter = delimiter_of(self.text)
        if first.startswith("sep=") and len(first) == 5:
            # Some spreadsheets say first what they put between the cells.
            self.delimiter = first[4]
            self.at = len(first)
            self._end_of_line()

    def rows(self) -> Iterable[tuple[Cell, ...]]:
        """Row after row."""
        while self.at < len(self.text):
            cells = [self._cell()]
            while self.at < len(self.text) and self.text[self.at] == self.delimiter:
                self.at += 1
                cells.append(self._cell())
            self._end_of_line()
            yield tuple(cells)

    def _cell(self) -> Cell:
        begin = self.at
        if self.text.startswith('"', begin):
            return self._quoted(begin)
        while self.at < len(self.text) and self.text[self.at] not in f"{self.delimiter}\r\n":
            self.at += 1
        return Cell(unharmed(self.text[begin : self.at]), Span(self.file.name, begin, self.at))

    def _quoted(self, begin: int) -> Cell:
        parts = []
        self.at += 1
        while True:
            end = self.text.find('"', self.at)
            if end < 0:
                raise _Wrong(
                    self._problem(begin, "the cell begins with a quotation mark and has no end")
                )
            parts.append(self.text[self.at : end])
            self.at = end + 1
            if not self.text.startswith('"', self.at):
                break
            parts.append('"')
            self.at += 1
        after = self.text[self.at : self.at + 1]
        if after and after not in f"{self.delimiter}\r\n":
            raise _Wrong(self._problem(self.at, "something stands after a closing quotation mark"))
        return Cell(unharmed("".join(parts)), Span(self.file.name, begin, self.at))

    def _end_of_line(self) -> None:
        if self.text.startswith("\r\n", self.at):
            self.at += 2
        elif self.at < len(self.text):
            self.at += 1

    def _problem(self, at: int, message: str) -> Diagnostic:
        return Diagnostic(
            "csv-not-readable",
            Severity.ERROR,
            message,
            (Label(Span(self.file.name, at, at + 1)),),
            'Write a quotation mark inside a cell twice: `"he said ""on"""`.',
        )


def _empty(file: SourceFile) -> Diagnostic:
    return Diagnostic(
        "csv-not-readable",
        Severity.ERROR,
        "the file holds no table",
        (Label(Span(file.name, 0, 0)),),
        "Take one that `duskproof points FOLDER -o points.csv` wrote, and edit that.",
    )
