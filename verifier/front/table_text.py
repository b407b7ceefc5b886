"""Tables of wrapped cells for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

from verifier.front.shown import columns, padded, shown


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
