"""What a page may ask, read from JSON: every field is checked, and nothing else comes through."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.front.play.messages import (
    Format,
    GiveAnswer,
    RoomDo,
    Text,
    TooLong,
    Wrong,
    message_of,
)


def read(most: int = 1_000, **fields: Any) -> object:
    return message_of(json.dumps(fields), most)


def test_a_text_has_its_files_in_the_order_of_their_names() -> None:
    files = {"b.dusk": "lamp b\n", "a.dusk": "lamp a\n"}
    assert read(kind="text", version=3, files=files) == Text(3, tuple(sorted(files.items())))


@pytest.mark.parametrize(("count", "fits"), [(10, True), (11, False)])
def test_the_size_of_a_text_is_counted_in_bytes(count: int, fits: bool) -> None:
    found = read(20, kind="text", version=1, files={"a.dusk": "ö" * count})
    assert (found == TooLong(22)) is not fits


@pytest.mark.parametrize(
    "name", ["a.txt", "../a.dusk", "a/b.dusk", "a\\b.dusk", ".a.dusk", "a\u202e.dusk", "a\0.dusk"]
)
def test_a_name_that_is_no_file_of_a_job_is_refused(name: str) -> None:
    assert isinstance(read(kind="text", version=1, files={name: ""}), Wrong)


@pytest.mark.parametrize("name", ["job.dusk", "Über uns.dusk", "a-1 (2).dusk", "UP.DUSK"])
def test_any_plain_name_of_a_file_will_do(name: str) -> None:
    assert read(kind="text", version=1, files={name: ""}) == Text(1, ((name, ""),))


def test_half_a_character_is_no_text() -> None:
    assert isinstance(read(kind="text", version=1, files={"a.dusk": "\ud800"}), Wrong)
    assert isinstance(read(kind="story", version=1, requirement="\udfff"), Wrong)


@pytest.mark.parametrize(
    ("given", "seconds"),
    [("1.5", Fraction(3, 2)), (0.1, Fraction(1, 10)), (60, Fraction(60)), ("1/3", Fraction(1, 3))],
)
def test_seconds_are_exact(given: Any, seconds: Fraction) -> None:
    found = read(kind="room", do="pass", seconds=given)
    assert found == RoomDo("pass", "", seconds, "")


@pytest.mark.parametrize("given", [-1, "1e999", "1/0", True, "nan", [], 10**30, "1" * 99])
def test_seconds_that_are_none_are_refused(given: Any) -> None:
    assert isinstance(read(kind="room", do="pass", seconds=given), Wrong)


@pytest.mark.parametrize(
    "data",
    [
        "",
        "[]",
        "7",
        "{",
        '{"kind":"text","version":NaN}',
        "[" * 100_000,
        '{"kind": 5.5}',
        "9" * 9_999,
    ],
)
def test_what_is_no_message_is_told(data: str) -> None:
    assert isinstance(message_of(data, 10), Wrong)


def test_the_number_of_a_question_may_be_a_number() -> None:
    assert read(kind="answer", lesson="a", question=2, answer="on") == GiveAnswer("a", "2", "on")
    assert read(kind="format", version=1, file="a.dusk") == Format(1, "a.dusk")


@given(st.text())
def test_any_text_is_read_without_a_fault(data: str) -> None:
    message_of(data, 100)
