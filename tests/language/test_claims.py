"""The line that takes in a standard requirement: its mistakes, each with its place and what to write."""

from __future__ import annotations

import pytest

from verifier.language import format_tree, parse, tree
from verifier.source import SourceFile

MISTAKES = [
    ("require a as b with light = c\n", "=", "Leave out `=`."),
    ("require a as b with light is c\n", "is", "Leave out `is`."),
    ("require a as b with light: c\n", ":", "Leave out `:`."),
    ("require a as b with light c detectors d\n", "detectors", "Write `, detectors`"),
    ("require a as b light c\n", "light", "Write `with light c`."),
    ("require a as b of light c\n", "of", "Write `with"),
    ("require a as b with light c, d\n", "d", "Write `and d` without the comma"),
    ("require a as b with light c, d, time 5 s\n", "d", "Write `and d` without the comma"),
    ("require a by b with light c\n", "by", "Write `require NAME as STANDARD"),
    ("require a as\n", "as", "Here can stand a name."),
    ("require a as b with\n", "with", "Here can stand a name."),
    ("require a as b with light c\nend require\n", "end require", "Take it out"),
]


@pytest.mark.parametrize(("text", "covered", "hint"), MISTAKES)
def test_a_mistake_in_a_claim_says_what_to_write(text: str, covered: str, hint: str) -> None:
    found, mistakes = parse(SourceFile("job.dusk", f"{text}lamp behind\n"))
    first = mistakes[0]
    span = first.labels[0].span
    assert text[span.start : span.end] == covered
    assert hint in first.hint, first
    assert any(isinstance(each, tree.Point) for each in found.declarations), "goes on behind it"
    assert len(mistakes) == 1


def test_a_claim_may_be_broken_after_commas_and_ands_and_ends_with_its_line() -> None:
    text = "require a\n  as b with light c,\n  detectors d and\n  e\nlamp f\n"
    found, mistakes = parse(SourceFile("job.dusk", text))
    assert mistakes == ()
    claim, lamp = found.declarations
    assert isinstance(claim, tree.Claim)
    assert [(each.parameter.text, [g.text for g in each.given]) for each in claim.arguments] == [
        ("light", ["c"]),
        ("detectors", ["d", "e"]),
    ]
    assert isinstance(lamp, tree.Point)
    assert format_tree(found) == "require a as b with light c, detectors d and e\nlamp f\n"


@pytest.mark.parametrize(
    ("line", "hint"),
    [
        ("  takes light\n", "Here can stand a name."),
        ("  takes several lights lamp usually 5 s\n", "Here can stand"),
        ("  needs\n", "Here can stand"),
        ('  modelled "x" seen\n', "`modelled on`"),
    ],
)
def test_a_mistake_in_a_standard_requirement_is_told_once_and_what_is_behind_it_is_read(
    line: str, hint: str
) -> None:
    text = f"standard a\n{line}  require\n    never: b is on\n  end require\nend standard\nlamp c\n"
    found, mistakes = parse(SourceFile("job.dusk", text))
    assert len(mistakes) == 1
    assert hint in mistakes[0].hint, mistakes[0]
    assert [each for each in found.declarations if isinstance(each, tree.Point)]


def test_a_standard_requirement_without_its_end_is_told_where_the_next_thing_begins() -> None:
    text = "standard a\n  takes light lamp\n  require\n    never: light is on\n  end require\n"
    for behind in ("", "lamp b\n"):
        _, mistakes = parse(SourceFile("job.dusk", text + behind))
        assert [each.code for each in mistakes] == ["missing-end"]
        assert "end standard" in mistakes[0].hint
