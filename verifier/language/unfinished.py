"""What can be written next, where a text breaks off: for completion in an editor."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.language.context import Context
from verifier.language.driver import Raw, Trouble, parse_one, usable_kinds
from verifier.language.lexer import END, Lexer, Token
from verifier.language.parser import after_mistake
from verifier.language.tables import tables
from verifier.source import SourceFile


@dataclass(frozen=True, slots=True)
class Unfinished:
    """Where a text breaks off.

    ``tokens`` are those of the innermost declaration so far, ``outer`` all from the typical around it
    on, ``usable`` the terminals that can follow.
    """

    tokens: tuple[Token, ...]
    outer: tuple[Token, ...]
    usable: frozenset[str]

    @property
    def block(self) -> str:
        """The first keyword of the declaration: ``RULE``, ``REQUIRE``, …; empty at its begin."""
        return self.tokens[0].kind if self.tokens else ""

    @property
    def in_body(self) -> bool:
        """Whether this is behind the ``do`` of a rule."""
        return self.block == "RULE" and any(token.kind == "DO" for token in self.tokens)

    @property
    def typical(self) -> str:
        """The typical (or standard) inside which this is; empty if there is none."""
        begins = len(self.outer) > 1 and self.outer[0].kind in ("TYPICAL", "STANDARD")
        return self.outer[1].text if begins else ""

    @property
    def last(self) -> str:
        """The kind of the last token; empty where a declaration begins."""
        return self.tokens[-1].kind if self.tokens else ""


def unfinished(text: str) -> Unfinished:
    """What can follow the end of a text, mistakes before it left aside.

    >>> at = unfinished('lamp light "Light"\\nrule a\\n  retriggerable\\n  upon ')
    >>> at.block, "POWER" in at.usable, "DO" in at.usable
    ('RULE', True, False)
    """
    lexer = Lexer(text, tables(), goes_on=True)
    while lexer.begin_declaration():
        result = parse_one(lexer, tables(), "declaration", breaks_off=True)
        if isinstance(result, Raw):
            continue
        if isinstance(result, Trouble) and result.token.kind == END:
            tokens = Context(SourceFile("", text), result).tokens
            return Unfinished(tokens, result.before, result.usable)
        lexer.go_to(after_mistake(text, result))
    first = [tables().first_states["declaration"]]
    return Unfinished((), (), frozenset(usable_kinds(first, tables())))
