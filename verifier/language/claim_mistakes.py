"""Mistakes in the line that takes in a standard requirement: ``require NAME as STANDARD with …``."""

from __future__ import annotations

from verifier.diagnostics import Diagnostic
from verifier.language.context import Context
from verifier.language.lexer import END, NEWLINE, RESERVED_WORD

_INSTEAD_OF_AS = ("by", "is", "like", "per", "from", "of", "standard", "claims")
_BETWEEN = ("=", ":", "is", "as", "to", ":=")


def in_claim(context: Context) -> Diagnostic | None:
    """What is wrong with a claim, if the grammar stopped in one."""
    kinds = [token.kind for token in context.tokens]
    token, usable = context.trouble.token, context.trouble.usable
    if kinds[:1] != ["REQUIRE"]:
        return None
    if "AS" in usable and token.text in _INSTEAD_OF_AS:
        return context.error(
            "wording",
            "a standard requirement is taken in by `as`",
            "Write `require NAME as STANDARD with PARAMETER NAME`.",
        )
    if "AS" not in kinds:
        return None
    last = context.tokens[-1]
    behind = context.file.text[token.start :].split("\n", 1)[0].strip()
    if "WITH" in usable and token.kind not in (NEWLINE, END):
        return context.error(
            "wording",
            "what a standard requirement is told stands after `with`",
            f"Write `with {behind[:40]}`." if token.kind == "NAME" else "Write `with NAME VALUE`.",
        )
    if kinds[-2:] == ["COMMA", "NAME"] and token.kind in (NEWLINE, END, "COMMA", "AND"):
        return context.error(
            "wording",
            "a comma stands before the next parameter; several things given to one are joined by `and`",
            f"Write `and {last.text}` without the comma, or `, PARAMETER {last.text}`.",
            context.at(last.start, last.end),
        )
    given = kinds[-1] == "NAME" and kinds[-2] in ("WITH", "COMMA")
    if (given and token.text in _BETWEEN) or (
        last.text in ("is", "as", "to") and token.kind == "NAME"
    ):
        return context.error(
            "wording",
            "a parameter is followed by what it is given, with nothing between",
            f"Leave out `{token.text if given else last.text}`.",
            None if given else context.at(last.start, last.end),
        )
    if {"COMMA", "AND"} <= usable and token.kind in ("NAME", RESERVED_WORD):
        return context.error(
            "wording",
            f"a comma is missing before `{token.text}`",
            f"Write `, {token.text}`, or `and {token.text}` if it is given as well.",
        )
    return None
