"""Colours against the true lexer: what the grammar reads as a word, a figure, a label is coloured so."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from pygments.token import Comment, Keyword, Name, Number, Operator, String, Token

from tests.check import ROOT
from verifier.front.highlight import DuskLexer
from verifier.language import lexer as lexing
from verifier.language.driver import Raw, parse_one
from verifier.language.highlighting import FILE, phrases, text_mate, text_mate_text, words
from verifier.language.lexer import NEWLINE, Lexer
from verifier.language.tables import tables

JOBS = sorted((ROOT / "specs").rglob("*.dusk"))


def test_the_kept_grammar_for_editors_is_that_of_the_words_of_the_language() -> None:
    """If not: python -m verifier.language.highlighting."""
    kept = (ROOT / "grammar" / FILE).read_text(encoding="utf-8")
    assert kept == text_mate_text()
    assert json.loads(kept) == text_mate()


def test_every_keyword_of_the_grammar_is_in_one_group() -> None:
    """Counted another way: from the text of the grammar, by its quoted words."""
    text = (ROOT / "grammar" / "dusk.lark").read_text(encoding="utf-8")
    text = re.sub(r"//[^\n]*", "", text)
    quoted = {word for word in re.findall(r'"([a-z]+)"', text) if len(word) > 1}
    quoted -= {"level"}  # part of a figure
    every = [*words().keywords, *words().values]
    assert quoted <= set(every)
    assert len(every) == len(set(every))
    assert set(phrases()) <= set(every)


@pytest.mark.parametrize("pattern", [each["match"] for each in text_mate()["patterns"]])
def test_every_pattern_can_be_read(pattern: str) -> None:
    assert re.compile(pattern).pattern == pattern


def kinds_by_place(text: str) -> dict[int, Any]:
    """What Pygments says of each character."""
    found: dict[int, Any] = {}
    for start, kind, value in DuskLexer(stripnl=False, ensurenl=False).get_tokens_unprocessed(text):
        found.update(dict.fromkeys(range(start, start + len(value)), kind))
    return found


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_the_lexer_reads_is_coloured_as_what_it_is(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    kinds = kinds_by_place(text)
    assert set(kinds) == set(range(len(text)))
    assert Token.Error not in kinds.values()
    for token in tokens_of(text):
        kind = kinds[token.start]
        match token.kind:
            case "LABEL":
                assert kind in String
            case "FIGURE" | "CLOCK" | "NUMBER":
                assert kind in Number or text[token.start : token.start + 5] == "level"
            case "NAME":
                # A word that is a name here and a keyword elsewhere is coloured as one.
                is_word = token.text in words().keywords or token.text in words().values
                assert kind in Name or (is_word and (kind in Keyword or kind in Operator))
            case "LPAR" | "RPAR" | "COLON" | "COMMA":
                assert kind is Token.Punctuation
            case _ if token.text.startswith(","):
                assert kind is Token.Punctuation
            case _:
                assert kind in Keyword or kind in Operator, token
    for comment in re.finditer(r"#[^\n\"]*$", text, re.MULTILINE):
        if '"' not in text[text.rfind("\n", 0, comment.start()) + 1 : comment.start()]:
            assert kinds[comment.start()] in Comment


def tokens_of(text: str) -> list[lexing.Token]:
    """The tokens that the grammar reads, newlines left out."""
    found: list[lexing.Token] = []

    class Kept(Lexer):
        def next(self, usable: dict[str, int]) -> lexing.Token:
            token = super().next(usable)
            if token.kind not in (NEWLINE, "$END"):
                found.append(token)
            return token

    lexer = Kept(text, tables())
    while lexer.begin_declaration():
        assert isinstance(parse_one(lexer, tables(), "declaration"), Raw)
    return found


def test_pygments_finds_the_lexer_where_the_tool_is_installed() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["entry-points"]["pygments.lexers"] == {
        "duskproof": "verifier.front.highlight:DuskLexer"
    }
    assert {"duskproof", "dusk"} <= set(DuskLexer.aliases)
