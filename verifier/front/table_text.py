"""Tables of wrapped cells for the terminal, and cells for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from textwrap import wrap

from verifier.front.shown import columns, padded, shown

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def table_text(
    head: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[int]
) -> list[str]:
    """A table with a line below its head; cells are wrapped to their columns' widths."""
    lines = _line(head, widths)
    lines.append("  ".join("-" * width for width in widths))
    for row in rows:
        lines.extend(_line(row, widths))
    return [line.rstrip() for line in lines]


def _line(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    parts = [
        wrap(shown(cell), width) if cell else [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    deep = max(len(part) for part in parts)
    return [
        "  ".join(
            padded(part[k] if k < len(part) else "", width)
            for part, width in zip(parts, widths, strict=True)
        )
        for k in range(deep)
    ]


def widest(cells: Iterable[str], least: int, most: int) -> int:
    """The width of a column of cells, between two bounds."""
    return max(least, min(most, max((columns(shown(cell)) for cell in cells), default=least)))


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
