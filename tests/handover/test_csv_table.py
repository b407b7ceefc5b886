"""CSV out and in, against Python's csv module; RFC 4180."""

from __future__ import annotations

import csv
import io
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.handover.csv_table import CsvTable, csv_text, harmless, read_csv, unharmed
from verifier.source import SourceFile

TEXT = st.text(
    alphabet=st.one_of(st.sampled_from("=+-@'\",;\t\n ab1ä倉"), st.characters(codec="utf-8")),
    max_size=8,
).filter(lambda text: "\r" not in text)
"""Line ends inside a cell are made even when a file is read, as in the job's own text."""

ROWS = st.lists(st.lists(TEXT, min_size=2, max_size=5), min_size=1, max_size=6).filter(
    lambda rows: any(any(row) for row in rows)
)


def table(text: str) -> CsvTable:
    found, problems = read_csv(SourceFile("s.csv", text))
    assert found is not None, problems
    return found


def texts(found: CsvTable) -> list[list[str]]:
    return [[cell.text for cell in row] for row in (found.head, *found.rows)]


@given(ROWS)
def test_what_is_written_is_read_again(rows: list[list[str]]) -> None:
    whole = [row for row in rows if any(row)]
    assert texts(table(csv_text([["name", "b"], *rows]))) == [["name", "b"], *whole]


@given(ROWS, st.sampled_from(",;\t"))
def test_the_csv_module_reads_what_is_written(rows: list[list[str]], delimiter: str) -> None:
    text = csv_text(rows, delimiter)
    read = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    assert [[unharmed(cell) for cell in row] for row in read] == rows
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in read for cell in row)


@given(ROWS, st.sampled_from(",;\t"), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_what_the_csv_module_writes_is_read(
    rows: list[list[str]], delimiter: str, end: str, every: bool
) -> None:
    stream = io.StringIO()
    quoting: Literal[0, 1] = csv.QUOTE_ALL if every else csv.QUOTE_MINIMAL
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=end, quoting=quoting)
    # The first line tells what stands between the cells.
    writer.writerow(["name", "label", "kind"])
    writer.writerows([[harmless(cell) for cell in row] for row in rows])
    whole = [row for row in rows if any(row)]
    assert texts(table(stream.getvalue())) == [["name", "label", "kind"], *whole]


@given(ROWS)
def test_the_place_of_a_cell_is_where_its_text_stands(rows: list[list[str]]) -> None:
    text = csv_text([["name", "b"], *rows])
    found = table(text)
    for row in (found.head, *found.rows):
        for cell in row:
            piece = text[cell.span.start : cell.span.end]
            if piece.startswith('"'):
                piece = piece[1:-1].replace('""', '"')
            assert unharmed(piece) == cell.text


def test_a_first_line_that_names_the_delimiter_is_none_of_the_table() -> None:
    assert texts(table("sep=;\r\nname;b\r\nx,y;z\r\n")) == [["name", "b"], ["x,y", "z"]]


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ('name,b\nx,"open\n', 9, "has no end"),
        ('name,b\nx,"a"b\n', 12, "after a closing quotation mark"),
        ("", 0, "holds no table"),
        ("\n,,\n", 0, "holds no table"),
    ],
)
def test_what_is_no_table_is_told_with_its_place(text: str, at: int, words: str) -> None:
    found, (problem,) = read_csv(SourceFile("s.csv", text))
    assert found is None
    assert words in problem.message
    assert problem.labels[0].span.start == at
