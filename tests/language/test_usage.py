"""The lines of a usage: their mistakes, each with its place and what to write.

Which wordings people bring along: common practice in other notations, no source.
"""

from __future__ import annotations

import pytest

from verifier.language import format_tree, parse, tree
from verifier.source import SourceFile

MISTAKES = [
    ("push pressed 3 times per day", "times per day", "Write `times a day`"),
    ("push pressed 3 times a week", "a week", "`once a day on sat`"),
    ("push pressed twice a day", "twice", "Write `2 times a day`."),
    ("push pressed 3x a day", "3x", "Write `2 times a day`."),
    ("push pressed three times a day", "three", "Write `2 times a day`."),
    ("push pressed 3 times", "times", "Here can stand `a`."),
    (
        "push pressed 3 times a day from 06:00 to 22:00",
        "from 06:00 to 22:00",
        "Write `between 06:00 and 22:00`.",
    ),
    ("gate becomes open 3 times a day", "gate becomes open", "`gate becomes open for 10 s`"),
    ("gate opens 3 times a day", "gate opens", "Write `gate becomes open`."),
    ("price 0.30 per kWh", "price 0.30 per kWh", "Write `a kWh costs 0.30 GBP`."),
    ("A kwh costs 0.30 GBP", "A kwh costs 0.30 GBP", "Write `a kWh costs 0.30 GBP`."),
    ("a kWh costs GBP 0.30", "a kWh costs GBP 0.30", "Write `a kWh costs 0.30 GBP`."),
    ("night from 18:00 to 06:00", "from 18:00 to 06:00", "`between 18:00 and 06:00`"),
    ("light draws 0.4 W", "0.4 W", "Here can stand `when`."),
]


@pytest.mark.parametrize(("line", "covered", "hint"), MISTAKES)
def test_a_mistake_in_a_usage_says_what_to_write(line: str, covered: str, hint: str) -> None:
    text = f"usage\n  {line}\nend usage\nlamp behind\n"
    found, mistakes = parse(SourceFile("job.dusk", text))
    first = mistakes[0]
    span = first.labels[0].span
    assert text[span.start : span.end] == covered
    assert hint in first.hint, first
    assert len(mistakes) == 1
    assert any(isinstance(each, tree.Point) for each in found.declarations), "goes on behind it"


def test_a_usage_that_does_not_end_is_told_at_what_begins_behind_it() -> None:
    _, mistakes = parse(SourceFile("job.dusk", "usage\n  push pressed once a day\nlamp behind\n"))
    assert [(each.code, each.hint) for each in mistakes] == [
        ("missing-end", "Write `end usage` before it.")
    ]


def test_once_and_one_time_are_the_same() -> None:
    first, _ = parse(SourceFile("job.dusk", "usage\n  push pressed 1 times a day\nend usage\n"))
    second, _ = parse(SourceFile("job.dusk", "usage\n  push pressed once a day\nend usage\n"))
    assert first == second
    assert format_tree(first) == "usage\n  push pressed once a day\nend usage\n"


def test_points_may_be_called_by_the_words_of_a_usage() -> None:
    text = (
        "usage\n  draws pressed once a day\n  a becomes open for 5 s once a day\n"
        "  times draws 1 W when off\nend usage\n"
    )
    found, mistakes = parse(SourceFile("job.dusk", text))
    assert mistakes == ()
    assert format_tree(found) == text
