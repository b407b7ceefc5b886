"""Reading text: what is a keyword where, newlines, spans, limits, going on after a mistake."""

from __future__ import annotations

import logging

import pytest

from verifier.language import format_tree, parse, tree
from verifier.language import tables as tables_module
from verifier.language.lexer import NAME, RESERVED
from verifier.language.parser import MISTAKE_LIMIT, SIZE_LIMIT
from verifier.source import SourceFile

RULE = """\
rule entry "Light for whoever comes in"
  retriggerable
  upon side_door becomes open
  do
    bay_lights on
    wait 1 min
    bay_lights off
end rule
"""


def read(text: str) -> tree.File:
    found, mistakes = parse(SourceFile("job.dusk", text))
    assert mistakes == ()
    return found


def mistakes_of(text: str) -> list[tuple[int, str]]:
    file = SourceFile("job.dusk", text)
    _, found = parse(file)
    return [(file.line_and_column(each.labels[0].span.start)[0], each.code) for each in found]


# ---------------------------------------------------------------- the grammar


def test_the_kept_tables_are_those_of_the_grammar() -> None:
    import json

    kept = json.loads(tables_module._read("dusk.tables.json") or "{}")
    built = json.loads(json.dumps(tables_module.build(tables_module.grammar_text())))
    assert kept == built


def test_the_grammar_has_no_conflict(caplog: pytest.LogCaptureFixture) -> None:
    """lark settles a shift/reduce conflict silently, as a shift; told of in its log only."""
    from lark import Lark, logger

    logger.setLevel(logging.DEBUG)
    with caplog.at_level(logging.DEBUG, logger="lark"):
        Lark(
            tables_module.grammar_text(),
            parser="lalr",
            lexer="basic",
            start=list(tables_module.STARTS),
            debug=True,
        )
    assert not [record for record in caplog.records if "onflict" in record.getMessage()]


def test_where_a_name_can_stand_only_reserved_words_are_keywords() -> None:
    """So a point may be called by any word that is not reserved."""
    tables = tables_module.tables()
    words = {terminal: word for word, terminal in tables.keywords.items()}
    taken = {words[kind] for row in tables.actions if NAME in row for kind in row if kind in words}
    assert taken <= RESERVED


@pytest.mark.parametrize(
    "word", ["up", "on", "last", "rule", "lamp", "door", "is", "and", "do", "level"]
)
def test_a_point_may_be_called_by_a_word_of_the_language(word: str) -> None:
    text = (
        f"contact {word}\nlamp light\nrule a\n  upon {word} becomes open provided {word} is open\n  do\n"
        f"    if {word} is open and not {word} is shut then\n      light on\n    end if\nend rule\n"
        f"require r\n  after last {word} becomes open or {word} changes:\n"
        f"    {word} is open within 1 s\nend require\n"
    )
    file = read(text)
    assert isinstance(file.declarations[0], tree.Point)
    assert file.declarations[0].name.text == word
    assert read(format_tree(file)) == file


@pytest.mark.parametrize("word", sorted(RESERVED))
def test_a_reserved_word_is_no_name(word: str) -> None:
    assert mistakes_of(f"lamp {word}\n") == [(1, "reserved-name")]


# ---------------------------------------------------------------- newlines, blanks, comments


def test_windows_line_ends_tabs_and_a_byte_order_mark_change_nothing() -> None:
    other = "\ufeff" + RULE.replace("  ", "\t").replace("\n", "\r\n")
    assert read(other) == read(RULE)


def test_comments_and_blank_lines_change_nothing() -> None:
    lines = RULE.splitlines()
    other = "# first\n\n" + "".join(f"{line}   # {n}\n\n  # more\n" for n, line in enumerate(lines))
    assert read(other) == read(RULE)


def test_a_newline_is_a_blank_after_joining_words_and_in_parentheses() -> None:
    one = "assume never (a is open and b is open or c is open)\n"
    other = "assume never (\n a is open and # why\n\n b is open\n or c is open\n)\n"
    assert read(one) == read(other)
    joined = "rule r\n upon a changes provided a is open and\n  b is open\n do\n l on\nend rule\n"
    assert len(read(joined).declarations) == 1


def test_a_newline_is_a_blank_inside_a_requirement() -> None:
    one = 'require r "Label" no longer than 5 s: a is open allowing 1 s end require\n'
    other = 'require r\n"Label"\nno longer\nthan 5\ts\n:\na\nis open\nallowing\n1 s\nend require'
    assert read(one) == read(other)


def test_a_newline_ends_a_statement() -> None:
    assert mistakes_of("rule r\n upon a changes\n do\n l\n on\nend rule\n") == [(4, "syntax")]


def test_a_file_may_end_without_a_newline() -> None:
    assert read(RULE.rstrip("\n")) == read(RULE)


# ---------------------------------------------------------------- trees


def test_and_binds_before_or_and_not_before_both_and_implies_is_read_to_the_right() -> None:
    """The contract's own words: "not binds tightest, then and, then or; implies loosest, to the right"."""
    (flat,) = read(
        "assume always not a is on and b is on or c is on implies d is on implies e is on\n"
    ).declarations
    (grouped,) = read(
        "assume always ((((not a is on) and b is on) or c is on) implies (d is on implies e is on))\n"
    ).declarations
    assert isinstance(flat, tree.AssumeCondition)
    assert isinstance(grouped, tree.AssumeCondition)
    assert flat.condition == without_groups(grouped.condition)


def without_groups(node: tree.Condition) -> tree.Condition:
    match node:
        case tree.Group(item):
            return without_groups(item)
        case tree.Not(item):
            return tree.Not(without_groups(item))
        case tree.And(items):
            return tree.And(tuple(without_groups(item) for item in items))
        case tree.Or(items):
            return tree.Or(tuple(without_groups(item) for item in items))
        case tree.Implies(left, right):
            return tree.Implies(without_groups(left), without_groups(right))
        case _:
            return node


def test_the_text_under_a_span_is_what_the_node_stands_for() -> None:
    text = RULE + "require r\n  always: side_door is open implies bay_lights is on\nend require\n"
    rule, requirement = read(text).declarations
    assert isinstance(rule, tree.Rule)
    assert isinstance(requirement, tree.Requirement)

    def under(node: tree.Rule | tree.Statement | tree.Condition | tree.ScopedForm) -> str:
        return text[node.span.start : node.span.end]

    assert under(rule) == RULE.rstrip("\n")
    assert [under(each) for each in rule.body] == ["bay_lights on", "wait 1 min", "bay_lights off"]
    form = requirement.scoped.form
    assert isinstance(form.condition, tree.Implies)
    assert under(form.condition.left) == "side_door is open"
    assert under(requirement.scoped) == "always: side_door is open implies bay_lights is on"


def test_an_empty_body_has_a_place() -> None:
    text = "rule r\n upon a changes\n do\n if a is open then\n else\n l on\n end if\nend rule\n"
    (rule,) = read(text).declarations
    assert isinstance(rule, tree.Rule)
    (choice,) = rule.body
    assert isinstance(choice, tree.If)
    assert choice.arms[0].body == ()
    assert text[choice.arms[0].span.start : choice.arms[0].span.end] == "a is open then"


# ---------------------------------------------------------------- limits and mistakes


def test_a_file_beyond_the_limit_is_not_read() -> None:
    assert mistakes_of("#" * (SIZE_LIMIT + 1)) == [(1, "file-too-large")]
    assert mistakes_of("#" * SIZE_LIMIT) == []


@pytest.mark.parametrize(
    "condition",
    [
        "(" * 5000 + "a is on" + ")" * 5000,
        "not " * 5000 + "a is on",
        "a is on implies " * 5000 + "a is on",
    ],
    ids=["parentheses", "not", "implies"],
)
def test_deep_nesting_is_a_diagnostic(condition: str) -> None:
    assert [code for _, code in mistakes_of(f"assume always {condition}\n")] == ["too-deep"]


def test_deeply_nested_blocks_are_a_diagnostic() -> None:
    text = (
        "rule r\n upon a changes\n do\n"
        + "if a is open then\n" * 3000
        + "end if\n" * 3000
        + "end rule\n"
    )
    assert [code for _, code in mistakes_of(text)] == ["too-deep"]


OPENING_AND_CLOSING = {
    "if": ("rule r\nupon a changes\ndo\n", "if a is b then\n", "l on\n", "end if\n", "end rule\n"),
    "repeat": (
        "rule r\nupon a changes\ndo\n",
        "repeat\n",
        "l on\n",
        "until a is b\nend repeat\n",
        "end rule\n",
    ),
    "parentheses": ("assume always ", "(", "a is b", ")", "\n"),
    "mixed": ("assume always ", "(a is b and c is d or ", "a is b", ")", "\n"),
    "not": ("require r always: ", "not ", "a is b", "", " end require"),
}


@pytest.mark.parametrize("kind", OPENING_AND_CLOSING)
def test_each_depth_is_read_or_told_with_nothing_between(kind: str) -> None:
    """The reference promises forty blocks and sixty pairs of parentheses."""
    begin, opening, inner, closing, end = OPENING_AND_CLOSING[kind]
    told = [
        [code for _, code in mistakes_of(begin + opening * n + inner + closing * n + end)]
        for n in range(1, 150)
    ]
    read_up_to = told.index(["too-deep"])
    assert read_up_to >= (40 if kind in ("if", "repeat") else 60)
    assert told == [[]] * read_up_to + [["too-deep"]] * (len(told) - read_up_to)


@pytest.mark.parametrize(
    "text", ["9" * 200_000, "(" * 200_000, '"' * 200_001, "consider " + ",\n" * 90_000]
)
def test_a_long_run_of_one_character_is_told_briefly(text: str) -> None:
    """Also a guard against patterns that take quadratic time: then this test would not end."""
    _, found = parse(SourceFile("job.dusk", text))
    assert len(found) == 1
    assert len(found[0].message) + len(found[0].hint) < 400


def test_a_long_flat_rule_is_read() -> None:
    text = "rule r\n upon a changes\n do\n" + "l on\n" * 20_000 + "end rule\n"
    (rule,) = read(text).declarations
    assert isinstance(rule, tree.Rule)
    assert len(rule.body) == 20_000


@pytest.mark.parametrize("character", ["\x00", "\x01", "\x1b", "\x7f"])
def test_a_control_character_is_told_with_its_place(character: str) -> None:
    assert mistakes_of(f"lamp a\nlamp b{character}\n") == [(2, "control-character")]


def test_after_a_mistake_it_goes_on_with_the_next_declaration() -> None:
    text = "lamp 5\ncontact a\nrule r\n upon a is open\n do\n l on\nend rule\nlamp night\nlamp b\n"
    assert mistakes_of(text) == [(1, "syntax"), (4, "state-as-event"), (8, "reserved-name")]
    found, _ = parse(SourceFile("job.dusk", text))
    assert [each.name.text for each in found.declarations if isinstance(each, tree.Point)] == [
        "a",
        "b",
    ]


def test_a_mistake_in_a_typical_is_told_once() -> None:
    text = "typical t\n lamp 5\n rule r\n  upon a changes\n  do\n  l on\n end rule\nend typical\nlamp night\n"
    assert mistakes_of(text) == [(2, "syntax"), (9, "reserved-name")]


def test_mistakes_are_told_up_to_a_limit() -> None:
    assert len(mistakes_of("lamp 5\n" * 1000)) == MISTAKE_LIMIT
