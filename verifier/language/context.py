"""Where the grammar stopped, with what stands around it."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.language.driver import Trouble
from verifier.language.lexer import NEWLINE, Token
from verifier.source import SourceFile, Span

INSIDE_TYPICALS = ("RULE", "REQUIRE", "DOOR", "ROOM")
"""Declarations of several lines that a typical can hold."""

_ENDS = tuple(f"_END_{kind}" for kind in INSIDE_TYPICALS)


@dataclass(frozen=True, slots=True)
class Context:
    """Where the grammar stopped, with the text around it."""

    file: SourceFile
    trouble: Trouble

    @property
    def line_start(self) -> int:
        """The offset of the line in which the token stands."""
        return self.file.text.rfind("\n", 0, self.trouble.token.start) + 1

    @property
    def line(self) -> str:
        """The text of that line."""
        end = self.file.text.find("\n", self.line_start)
        return self.file.text[self.line_start : end if end >= 0 else len(self.file.text)]

    @property
    def tokens(self) -> tuple[Token, ...]:
        """What was read of the innermost declaration, of a typical too: from its first word on."""
        before = self.trouble.before
        if not before or before[0].kind != "TYPICAL":
            return before
        begin = 0
        claimed = False
        for place in range(1, len(before)):
            if claimed and before[place].kind == NEWLINE:
                begin, claimed = 0, False
            elif before[place].kind == "AS":
                claimed = True
            elif before[place - 1].kind == NEWLINE and before[place].kind in INSIDE_TYPICALS:
                begin = place
            elif before[place].kind in _ENDS:
                begin = 0
        return before[begin:]

    @property
    def block(self) -> str:
        """The first keyword of that declaration: ``RULE``, ``REQUIRE``, …; empty at its begin."""
        return self.tokens[0].kind if self.tokens else ""

    @property
    def in_body(self) -> bool:
        """Whether this is behind the ``do`` of a rule."""
        return self.block == "RULE" and any(token.kind == "DO" for token in self.tokens)

    @property
    def begins_line(self) -> bool:
        """Whether the token is the first of its line."""
        return not self.file.text[self.line_start : self.trouble.token.start].strip()

    def at(self, start: int, end: int) -> Span:
        """A span of this file."""
        return Span(self.file.name, start, end)

    @property
    def here(self) -> Span:
        """The span of the token."""
        return self.at(self.trouble.token.start, self.trouble.token.end)

    def error(self, code: str, message: str, hint: str, span: Span | None = None) -> Diagnostic:
        """An error at a place, by default the token's."""
        return Diagnostic(
            code, Severity.ERROR, message, (Label(self.here if span is None else span),), hint
        )
