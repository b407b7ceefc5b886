"""Syntax mistakes by example: what to say where the grammar stopped.

First what ends or begins in the wrong place, then the wordings that people bring along (the table in
``wordings``), then what is missing, then what could have stood there.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from verifier.diagnostics import Diagnostic
from verifier.language.claim_mistakes import in_claim
from verifier.language.context import Context
from verifier.language.driver import Trouble
from verifier.language.expected import DECLARATIONS, FORMS, near_keyword, what_fits
from verifier.language.lexer import END, NEWLINE, RESERVED_WORD, STRAY
from verifier.language.wordings import MISTAKES
from verifier.source import SourceFile, Span


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
    usable = context.trouble.usable
    match block:
        case "":
            return True
        case "RULE-HEAD":
            return context.block == "RULE" and not context.in_body
        case "STATEMENT":
            return context.in_body and "IS" not in usable
        case "EVENT":
            return "BECOMES" in usable
        case "CONDITION":
            return "IS" in usable
        case "LASTING":
            return context.block == "REQUIRE" and "ALLOWING" in usable
        case "FOR":
            return usable == {"AT"} and context.tokens[-1].kind == "FOR"
        case "FIGURE":
            return bool(context.tokens) and context.tokens[-1].kind == "NUMBER"
        case "NUMBER":
            return "FIGURE" in usable and context.trouble.token.kind == "NUMBER"
        case _:
            return context.block == block


# ---------------------------------------------------------------- what is missing


_OPENED_BY = {
    "_END_RULE": "rule",
    "_END_IF": "if",
    "_END_REPEAT": "repeat",
    "_END_REQUIRE": "require",
    "_END_TYPICAL": "typical",
    "_END_STANDARD": "standard",
    "_END_USAGE": "usage",
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


_OPENING = ("RULE", "REQUIRE", "STANDARD", "USAGE", "TYPICAL", "DOOR", "ROOM", "SITE")


def _open_block(context: Context) -> str:
    """The innermost block that is open, by the word that opened it; empty if there is none."""
    words: list[str] = []
    for token in context.trouble.before:
        if token.kind in (*_OPENED_BY, "AS") and words:
            words.pop()
        elif token.kind in _OPENING or token.kind in (
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
    begin = context.file.text.find("\n", context.tokens[0].start)
    if begin >= 0 and context.block != "TYPICAL":
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
    if token.kind == "NUMBER" and "FIGURE" in usable and "NUMBER" not in usable:
        return context.error(
            "unit-missing",
            f"`{_shown(token.text)}` has no unit",
            f"Write `{_shown(token.text)} W`.",
        )
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
    if usable == {"NAME"} and token.kind in ("FIGURE", "NUMBER"):
        return context.error(
            "syntax",
            f"`{_shown(token.text)}` is no name",
            "A name is a letter, then letters, digits and `_`.",
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


def _missing_phrase(context: Context) -> Diagnostic | None:
    """What is asked of a point, what happens to it, or the end of a line inside a choice."""
    usable = context.trouble.usable
    token = context.trouble.token
    last = context.tokens[-1] if context.tokens else token
    before = [each.text for each in context.tokens[-5:-1]]
    if "IS" in usable and token.kind == "NAME":
        return context.error(
            "wording",
            f"`is` is missing between `{_shown(last.text)}` and `{_shown(token.text)}`",
            f"Write `{_shown(last.text)} is {_shown(token.text)}`.",
        )
    if "IS" in usable and token.kind != STRAY and len(before) == 4 and before[1] == "is":
        joined = f"{before[0]} is {before[2]} {before[3]} {before[0]} is {last.text}"
        return context.error(
            "wording",
            f"`{before[3]}` joins whole conditions, not values",
            f"Write `{joined}`.",
            _gap(context),
        )
    if "IS" in usable and token.kind != STRAY:
        return context.error(
            "wording",
            f"what is asked of `{_shown(last.text)}` is missing",
            f"Write `{_shown(last.text)} is VALUE`.",
            _gap(context),
        )
    if "BECOMES" in usable and token.kind in (NEWLINE, END, "COLON", "PROVIDED", "OR"):
        return context.error(
            "wording",
            f"what happens to `{_shown(last.text)}` is missing",
            f"Write `{_shown(last.text)} becomes VALUE`, or `{_shown(last.text)} changes`.",
            _gap(context),
        )
    if usable == {NEWLINE} and context.in_body and token.text in ("else", "elsif", "end", "until"):
        return context.error(
            "wording",
            f"`{token.text}` begins a line of its own",
            "Begin a new line before it: a statement ends with its line.",
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
    if "ALWAYS" in usable and token.kind == END:
        return context.error(
            "syntax", "a form of requirement is missing", f"A form begins with {FORMS}."
        )
    if "ALWAYS" in usable and "WHEN" in usable and token.kind != STRAY:
        return context.error(
            "no-form",
            f"`{_shown(token.text)}` does not begin a form of requirement",
            f"A form begins with {FORMS}.",
        )
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
    ends = {NEWLINE: "this line ends too early", END: "the text ends too early"}
    near = near_keyword(token.text, usable)
    hint = f"Did you mean `{near}`?" if near else f"Here can stand {what_fits(usable)}."
    return context.error(
        "syntax",
        ends.get(token.kind, f"`{_shown(token.text)}` cannot stand here"),
        hint,
        _gap(context) if token.kind in (NEWLINE, END) else None,
    )


_ATTEMPTS: tuple[Callable[[Context], Diagnostic | None], ...] = (
    _capital,
    _end,
    _missing_end,
    in_claim,
    _by_example,
    _missing_phrase,
    _missing_word,
    _unquoted_label,
)
