"""Words, figures and newlines: the text as tokens, each taken as the grammar can use it there.

A word is a keyword only where the parser's state can use that keyword; elsewhere it is a name.
Newlines are dropped where the contract calls them blanks.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from verifier.language.tables import Tables

RESERVED = frozenset(
    [
        "night",
        "day",
        "at",
        "between",
        "power",
        "not",
        "timed",
        "if",
        "elsif",
        "else",
        "until",
        "repeat",
        "wait",
        "fade",
        "cancel",
        "end",
        "always",
        "never",
        "when",
        "after",
        "before",
        "every",
        "no",
        "measure",
        "possible",
        "while",
    ]
)
"""Words that can start a phrase: never names."""

NEWLINE = "_NL"
END = "$END"
NAME = "NAME"
STRAY = "(stray)"
"""The kind of a character that begins no token; no grammar state accepts it."""

RESERVED_WORD = "(reserved)"
"""The kind of a reserved word that the grammar cannot use where it stands."""

_BLANKS = re.compile(r"(?:[^\S\n]|\ufeff|#[^\n]*)*")
_BLANKS_AND_NEWLINES = re.compile(r"(?:\s|\ufeff|#[^\n]*)*")
_SINGLE = (
    "CLOCK",
    "FIGURE",
    "NUMBER",
    "LABEL",
    "_NON_RETRIGGERABLE",
    "NAME",
    "LPAR",
    "RPAR",
    "COLON",
    "COMMA",
)
_NEWLINE_IS_BLANK_AFTER = frozenset(
    {"AND", "OR", "IMPLIES", "COMMA", "COLON", "THEN", "ELSE", "DO", "REPEAT"}
)


class Token(NamedTuple):
    """One token: its terminal, its text, and where it stands."""

    kind: str
    text: str
    start: int
    end: int


class Lexer:
    """Tokens of a text one by one; the parser says each time what it can use."""

    def __init__(
        self,
        text: str,
        tables: Tables,
        *,
        newlines_are_blanks: bool = False,
        goes_on: bool = False,
    ) -> None:
        """``goes_on``: more is to be written, so that the end of the text ends no line."""
        self._text = text
        self._goes_on = goes_on
        self._keywords = tables.keywords
        patterns = dict(tables.patterns)
        self._single = re.compile("|".join(f"(?P<{name}>{patterns[name]})" for name in _SINGLE))
        joined = [name for name, _ in tables.patterns if name not in _SINGLE and name != NEWLINE]
        self._joined = re.compile("|".join(f"(?P<{name}>{patterns[name]})" for name in joined))
        self._position = 0
        self._depth = 0
        self._in_requirement = newlines_are_blanks
        self._one_line = newlines_are_blanks
        self._previous = NEWLINE

    def begin_declaration(self) -> bool:
        """Whether anything is left; skips blanks and newlines."""
        self._depth = 0
        self._in_requirement = False
        self._previous = NEWLINE
        found = _BLANKS_AND_NEWLINES.match(self._text, self._position)
        self._position = found.end() if found else self._position
        return self._position < len(self._text)

    def go_to(self, position: int) -> None:
        """Go on from another place (after a mistake)."""
        self._position = position

    def next(self, usable: dict[str, int]) -> Token:
        """The next token, read as one of the ``usable`` terminals if it can be."""
        token = self._next(usable)
        self._previous = token.kind
        if token.kind == "LPAR":
            self._depth += 1
        elif token.kind == "RPAR":
            self._depth = max(0, self._depth - 1)
        elif token.kind == "REQUIRE":
            self._in_requirement = True
        elif token.kind in ("_END_REQUIRE", "AS"):
            self._in_requirement = False
        return token

    def _next(self, usable: dict[str, int]) -> Token:
        text = self._text
        start = self._skip()
        if start >= len(text):
            ends_line = not self._one_line and not self._goes_on
            if ends_line and self._previous not in (NEWLINE, END) and NEWLINE in usable:
                return Token(NEWLINE, "", start, start)
            return Token(END, "", start, start)
        if text[start] == "\n":
            found = _BLANKS_AND_NEWLINES.match(text, start)
            self._position = found.end() if found else start + 1
            return Token(NEWLINE, "\n", start, start + 1)
        found = self._joined.match(text, start)
        if found is not None and found.lastgroup in usable:
            return self._take(str(found.lastgroup), found)
        found = self._single.match(text, start)
        if found is None:
            self._position = start + 1
            return Token(STRAY, text[start], start, start + 1)
        kind = str(found.lastgroup)
        if kind == NAME:
            kind = self._kind_of_word(found.group(), usable)
        return self._take(kind, found)

    def _take(self, kind: str, found: re.Match[str]) -> Token:
        self._position = found.end()
        return Token(kind, found.group(), found.start(), found.end())

    def _kind_of_word(self, word: str, usable: dict[str, int]) -> str:
        keyword = self._keywords.get(word)
        if keyword is not None and keyword in usable:
            return keyword
        if word in RESERVED:
            return RESERVED_WORD
        if NAME in usable or keyword is None:
            return NAME
        return keyword

    def _skip(self) -> int:
        """Skip what is blank here; the place of what follows."""
        blank_newlines = (
            self._depth > 0 or self._in_requirement or self._previous in _NEWLINE_IS_BLANK_AFTER
        )
        pattern = _BLANKS_AND_NEWLINES if blank_newlines else _BLANKS
        found = pattern.match(self._text, self._position)
        self._position = found.end() if found else self._position
        return self._position
