"""Lines of the same kind that follow each other, with their parts below each other."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

_LABEL = r'"[^"]*"'
_POWER = r"(?:\d+ x )?[\d.]+ k?W\b"

_TABLES = (
    # kind, name, label with the power, options
    re.compile(
        r"(?P<indent>\s*)(?P<a>contact|limit|detector|button|switch|photocell|lamp|dimmer|load|flag) "
        rf"(?P<b>[\w.]+)(?: (?P<c>{_LABEL}(?: {_POWER})?|{_POWER}))?(?: (?P<d>.+))?"
    ),
    re.compile(r"(?P<indent>\s*)(?P<a>setting) (?P<b>[\w.]+) (?P<c>.+)"),
    re.compile(r"(?P<indent>\s+)(?P<a>raised|lowered|moving) (?P<b>by .+)"),
    re.compile(r"(?P<indent>\s+)(?P<a>[\w.]+) (?P<b>(?:becomes|pressed) .*\ba day\b.*)"),
)


def in_columns(lines: Sequence[tuple[str, str]], width: int) -> list[str]:
    """Lines, each with its comment (empty: none), laid out as tables where they are of one kind.

    A line that holds a comment alone, or nothing, ends a table. A column that would make a line of
    its table longer than ``width`` is not made.
    """
    laid = list(_tables(lines, width))
    out: list[str] = []
    for indent, run in groupby(laid, key=_commented):
        together = list(run)
        if indent is None:
            out.extend(text or comment for text, comment in together)
            continue
        widest = max(len(text) for text, _ in together)
        out.extend(f"{text:<{widest}}  {comment}" for text, comment in together)
    return out


def _commented(line: tuple[str, str]) -> int | None:
    """How far a line with a comment after it is indented."""
    text, comment = line
    return len(text) - len(text.lstrip()) if text and comment else None


def _tables(lines: Iterable[tuple[str, str]], width: int) -> Iterator[tuple[str, str]]:
    for kind, run in groupby(lines, key=lambda line: _kind(line[0])):
        together = list(run)
        if kind is None or len(together) == 1:
            yield from together
            continue
        found = [_TABLES[kind[0]].fullmatch(text) for text, _ in together]
        rows = [[part or "" for part in match.groups()[1:]] for match in found if match]
        texts = [f"{' ' * kind[1]}{text}" for text in _rows(rows, width - kind[1])]
        yield from zip(texts, (comment for _, comment in together), strict=True)


def _kind(text: str) -> tuple[int, int] | None:
    """Which table a line belongs to, and how far it is indented."""
    for number, table in enumerate(_TABLES):
        found = table.fullmatch(text)
        if found is not None:
            return number, len(found["indent"])
    return None


def _rows(rows: list[list[str]], width: int) -> list[str]:
    """Rows of parts as lines; from the first column on that does not fit no more columns are made."""
    texts = [row[0] for row in rows]
    for place in range(1, len(rows[0])):
        parts = [row[place] for row in rows]
        edge = max((len(text) for text, part in zip(texts, parts) if part), default=0)
        rest = [len(" ".join(filter(None, row[place:]))) for row in rows]
        fits = edge + 1 + max(rest) <= width
        texts = [
            (f"{text:<{edge}} {part}" if fits else f"{text} {part}") if part else text
            for text, part in zip(texts, parts)
        ]
    return texts
