"""Syntax mistakes by example: what to say where the grammar stopped.

First what ends or begins in the wrong place, then the wordings that people bring along (the table in
``wordings``), then what is missing, then what could have stood there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.language.driver import Trouble
from verifier.language.expected import DECLARATIONS, FORMS, near_keyword, what_fits
from verifier.language.lexer import END, NEWLINE, RESERVED_WORD, STRAY
from verifier.language.wordings import MISTAKES
from verifier.source import SourceFile, Span


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
    def block(self) -> str:
        """The first keyword of the declaration: ``RULE``, ``REQUIRE``, …; empty at its begin."""
        return self.trouble.before[0].kind if self.trouble.before else ""

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


def explain(file: SourceFile, trouble: Trouble) -> Diagnostic:
    """The diagnostic of a syntax mistake."""
    context = Context(file, trouble)
    for attempt in _ATTEMPTS:
        found = attempt(context)
        if found is not None:
            return found
    return _general(context)


def _shown(text: str) -> str:
    """A token's text as it stands in a message: short.

    >>> _shown("9" * 100)
    '999999999999999999999999999999…'
    """
    return text if len(text) <= 30 else f"{text[:30]}…"


# ---------------------------------------------------------------- wordings people bring along


_LONGEST_LINE = 1000
"""Characters of a line that the table of wordings looks at; a longer one was not written by hand."""


def _by_example(context: Context) -> Diagnostic | None:
    token = context.trouble.token
    if len(context.line) > _LONGEST_LINE:
        return None
    column = token.start - context.line_start
    for mistake in MISTAKES:
        if not _applies(mistake.block, context):
            continue
        for found in mistake.pattern.finditer(context.line):
            if not found.start() <= column <= found.end():
                continue
            groups = {key: value or "" for key, value in found.groupdict().items()}
            start = context.line_start + found.start("at")
            end = context.line_start + found.end("at")
            return context.error(
                mistake.code,
                mistake.message.format(**groups),
                mistake.hint.format(**groups),
                context.at(start, end),
            )
    return None


def _applies(block: str, context: Context) -> bool:
    """Whether a mistake that is limited to some place can be meant here."""
    in_head = "DO" in context.trouble.usable or not any(
        token.kind == "DO" for token in context.trouble.before
    )
    match block:
        case "":
            return True
        case "RULE-HEAD":
            return context.block == "RULE" and in_head
        case "FIGURE":
            return bool(context.trouble.before) and context.trouble.before[-1].kind == "NUMBER"
        case _:
            return context.block == block


# ---------------------------------------------------------------- what is missing


_OPENED_BY = {
    "_END_RULE": "rule",
    "_END_IF": "if",
    "_END_REPEAT": "repeat",
    "_END_REQUIRE": "require",
    "_END_TYPICAL": "typical",
    "_END_DOOR": "door",
    "_END_ROOM": "room",
    "_END_SITE": "site",
}
_DECLARATION_LINE = re.compile(
    rf"^[ \t]*(?P<at>(?:{'|'.join(DECLARATIONS)})"
    r"(?=[ \t]+(?!(?:on|off|yes|no)\b)(?!\w+[ \t]+(?:on|off)[ \t]*$)[\w\"]))",
    re.MULTILINE,
)
_END_WORD = re.compile(r"end[ \t]+(?P<what>\w+)|end")
_ELSE_IF = re.compile(r"\belse[ \t]+if\b")


def _open_block(context: Context) -> str:
    """The innermost block that is open, by the word that opened it; empty if there is none."""
    words: list[str] = []
    for token in context.trouble.before:
        if token.kind in _OPENED_BY and words:
            words.pop()
        elif token.kind in ("RULE", "REQUIRE", "TYPICAL", "DOOR", "ROOM", "SITE") or token.kind in (
            "IF",
            "REPEAT",
        ):
            words.append(token.text)
    return words[-1] if words else ""


def _end(context: Context) -> Diagnostic | None:
    """`end` alone, or the end of something that is not open."""
    token = context.trouble.token
    if token.text != "end" and not token.kind.startswith("_END_"):
        return None
    found = _END_WORD.match(context.file.text, token.start)
    what = (found.group("what") or "") if found else ""
    opened = _open_block(context)
    span = context.at(token.start, found.end() if found else token.end)
    if opened and not what:
        return context.error(
            "missing-end", "`end` does not say what ends", f"Write `end {opened}`.", context.here
        )
    if opened == "repeat" and what == "repeat":
        return context.error(
            "missing-until",
            "this `repeat` has no `until`",
            "Write `until CONDITION` before `end repeat`.",
            span,
        )
    if opened == "rule" and what == "rule" and "DO" in context.trouble.usable:
        return context.error(
            "missing-do",
            "this rule has no `do`",
            "Write `do` between its events and its statements.",
            span,
        )
    if opened and what in _OPENED_BY.values() and what != opened:
        return _unclosed(context, opened, span)
    if (opened and what == opened) or (not what and "NAME" in context.trouble.usable):
        return None
    if what in _OPENED_BY.values():
        return context.error(
            "stray-end",
            f"`end {what}` closes nothing: no `{what}` is open here",
            "Take it out, or write what it is to close.",
            span,
        )
    return context.error(
        "missing-end",
        f"`{context.file.text[span.start : span.end]}` ends nothing",
        f"Write `end {opened or 'rule'}`.",
        span,
    )


def _unclosed(context: Context, opened: str, span: Span) -> Diagnostic:
    """A block inside is still open; often an `else if` that was meant as `elsif`."""
    if opened == "if":
        begin = context.trouble.before[0].start
        places = list(_ELSE_IF.finditer(context.file.text, begin, context.trouble.token.start))
        if places:
            at = places[-1]
            return context.error(
                "wording",
                "`else if` opens an `if` of its own, which needs its own `end if`",
                "Write `elsif`.",
                context.at(at.start(), at.end()),
            )
    return context.error(
        "missing-end",
        f"an `{opened}` is still open here"
        if opened == "if"
        else f"a `{opened}` is still open here",
        f"Write `end {opened}` before this.",
        span,
    )


def _missing_end(context: Context) -> Diagnostic | None:
    """A declaration begins, or the file ends, while a block is open."""
    opened = _open_block(context)
    if not opened:
        return None
    begin = context.file.text.find("\n", context.trouble.before[0].start)
    inside = {"typical"} & {token.text for token in context.trouble.before[:1]}
    if begin >= 0 and not inside:
        found = _DECLARATION_LINE.search(context.file.text, begin)
        limit = context.trouble.token.end
        if found is not None and found.start("at") <= limit:
            return context.error(
                "missing-end",
                f"a declaration begins here while the `{opened}` before it is still open",
                f"Write `end {opened}` before it.",
                context.at(found.start("at"), found.end("at")),
            )
    if context.trouble.token.kind == END or context.trouble.token.start >= len(context.file.text):
        last = next((t for t in reversed(context.trouble.before) if t.kind != NEWLINE), None)
        first = context.trouble.before[0]
        return context.error(
            "missing-end",
            f"the file ends while the `{opened}` is still open",
            f"Write `end {opened}`.",
            context.at(last.start, last.end) if last else context.at(first.start, first.end),
        )
    return None


def _missing_word(context: Context) -> Diagnostic | None:
    """`do`, `then`, `:`, a name, a time limit: a word that has to stand here and does not."""
    usable = context.trouble.usable
    token = context.trouble.token
    if "THEN" in usable:
        return context.error(
            "missing-then",
            "the condition of an `if` is followed by `then`",
            "Write `then` at the end of this line.",
            _gap(context),
        )
    if "DO" in usable and context.begins_line and token.kind != STRAY:
        return context.error(
            "missing-do",
            f"`{_shown(token.text).strip() or 'this'}` stands before the rule's `do`",
            "Write `do` on the line before its first statement.",
        )
    if "NAME" in usable and token.kind == RESERVED_WORD:
        return context.error(
            "reserved-name",
            f"`{_shown(token.text)}` cannot be a name here: it begins a phrase of the language",
            f"Choose another name, for example `the_{token.text}`.",
        )
    if usable == {"NAME"} and token.kind == "LABEL":
        return context.error(
            "missing-name", "the name is missing before the label", 'Write `NAME "…"`.'
        )
    if usable == {"COLON"} or (usable == {"COLON", "OR"} and token.kind != NEWLINE):
        return context.error(
            "missing-colon", "a colon is missing here", "Write `:`.", _gap(context)
        )
    if "WITHIN" in usable and context.block in ("REQUIRE", "WHEN", "AFTER") and token.kind != STRAY:
        return context.error(
            "missing-limit",
            "this form says how soon, and that is missing",
            "Write `within 5 s` after the condition.",
            _gap(context),
        )
    return None


def _gap(context: Context) -> Span:
    """Just behind the token before, where something is missing."""
    before = [token for token in context.trouble.before if token.kind != NEWLINE]
    if not before:
        return context.here
    return context.at(before[-1].start, before[-1].end)


def _unquoted_label(context: Context) -> Diagnostic | None:
    before = context.trouble.before
    token = context.trouble.token
    usable = context.trouble.usable
    if len(before) >= 2 and "LABEL" in usable and "ALWAYS" not in usable and token.kind == "NAME":
        rest = context.line[token.start - context.line_start :].strip()[:80]
        if not near_keyword(token.text, context.trouble.usable):
            return context.error(
                "unquoted-label",
                f"`{_shown(token.text)}` cannot stand here; a label stands in quotation marks",
                f'Write "{rest}" in quotation marks.',
            )
    return None


def _capital(context: Context) -> Diagnostic | None:
    word = context.trouble.token.text
    lower = word.lower()
    if word == lower or not word.isalpha():
        return None
    fits = lower.upper() in context.trouble.usable or (
        lower == "end" and any(kind.startswith("_END") for kind in context.trouble.usable)
    )
    if not fits:
        return None
    return context.error(
        "capital-keyword", "words of the language are written in small letters", f"Write `{lower}`."
    )


# ---------------------------------------------------------------- otherwise


def _general(context: Context) -> Diagnostic:
    token = context.trouble.token
    usable = context.trouble.usable
    if not context.trouble.before:
        hint = near_keyword(token.text, usable)
        return context.error(
            "syntax",
            f"`{_shown(token.text)}` does not begin a declaration",
            f"Did you mean `{hint}`?"
            if hint
            else f"A declaration begins with {', '.join(DECLARATIONS)}.",
        )
    if token.kind == STRAY:
        return context.error(
            "stray-character",
            f"the character `{_shown(token.text)}` means nothing here",
            "Names are made of the letters a to z, digits and `_`; other text stands in labels.",
        )
    if "ALWAYS" in usable and "WHEN" in usable:
        return context.error(
            "no-form",
            f"`{_shown(token.text)}` does not begin a form of requirement",
            f"A form begins with {FORMS}.",
        )
    what = "the end of the line" if token.kind in (NEWLINE, END) else f"`{_shown(token.text)}`"
    near = near_keyword(token.text, usable)
    hint = f"Did you mean `{near}`?" if near else f"Here can stand {what_fits(usable)}."
    return context.error(
        "syntax",
        f"{what} cannot stand here",
        hint,
        _gap(context) if token.kind in (NEWLINE, END) else None,
    )


_ATTEMPTS: tuple[Callable[[Context], Diagnostic | None], ...] = (
    _capital,
    _end,
    _missing_end,
    _by_example,
    _missing_word,
    _unquoted_label,
)
