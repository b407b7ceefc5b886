"""Text to syntax tree: one declaration after the other, going on after a mistake."""

from __future__ import annotations

import re

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.language import tree
from verifier.language.build import Builder
from verifier.language.driver import Raw, TooDeep, Trouble, parse_one
from verifier.language.lexer import Lexer
from verifier.language.mistakes import explain
from verifier.language.tables import tables
from verifier.source import SourceFile, Span

SIZE_LIMIT = 1_000_000
"""Characters of one file; about twenty thousand lines."""

MISTAKE_LIMIT = 20
"""Syntax mistakes that are told of one file."""

_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_BEGINS = (
    "site|setting|contact|limit|detector|button|switch|photocell|lamp|dimmer|load|flag|door|room|rule"
    "|assume|consider|require|standard|typical|apply"
)
_NEXT_DECLARATION = re.compile(
    rf"^[^\S\n]*(?:(?:{_BEGINS})[^\S\n]+[\w\"]|end[^\S\n]+(?:site|door|room|rule|require|standard|typical)\b[^\n]*)",
    re.MULTILINE,
)
_END_OUTER = {
    "TYPICAL": re.compile(r"^[^\S\n]*end[^\S\n]+typical\b[^\n]*", re.MULTILINE),
    "STANDARD": re.compile(r"^[^\S\n]*end[^\S\n]+standard\b[^\n]*", re.MULTILINE),
}


def parse(file: SourceFile) -> tuple[tree.File, tuple[Diagnostic, ...]]:
    """The syntax tree of a file, and what is wrong with its text.

    After a mistake it goes on with the next declaration; what could not be read is left out of the tree.
    """
    refused = _refused(file)
    if refused is not None:
        return tree.File((), Span(file.name, 0, 0)), (refused,)
    lexer = Lexer(file.text, tables())
    builder = Builder(file.name)
    declarations: list[tree.Declaration] = []
    found: list[Diagnostic] = []
    while lexer.begin_declaration() and len(found) < MISTAKE_LIMIT:
        result = parse_one(lexer, tables(), "declaration")
        if isinstance(result, Raw):
            declarations.append(builder.declaration(result))
            continue
        found.append(_diagnostic(file, result))
        lexer.go_to(after_mistake(file.text, result))
    return tree.File(tuple(declarations), Span(file.name, 0, len(file.text))), tuple(found)


def parse_form(file: SourceFile) -> tuple[tree.ScopedForm | None, tuple[Diagnostic, ...]]:
    """The tree of a requirement form that stands alone, as typed on a command line."""
    refused = _refused(file)
    if refused is not None:
        return None, (refused,)
    lexer = Lexer(file.text, tables(), newlines_are_blanks=True)
    result = parse_one(lexer, tables(), "asked")
    if isinstance(result, Raw):
        scoped = result.children[0]
        if not isinstance(scoped, Raw):
            raise AssertionError("parser: a form was expected")
        return Builder(file.name).scoped(scoped), ()
    return None, (_diagnostic(file, result),)


def _refused(file: SourceFile) -> Diagnostic | None:
    """Why a text is not read at all, if so."""
    if len(file.text) > SIZE_LIMIT:
        return Diagnostic(
            "file-too-large",
            Severity.ERROR,
            f"{file.name} has {len(file.text):,} characters; at most {SIZE_LIMIT:,} are read",
            (Label(Span(file.name, 0, 0)),),
            "Split the job into several .dusk files of one folder.",
        )
    control = _CONTROL.search(file.text)
    if control is None:
        return None
    place = Span(file.name, control.start(), control.end())
    return Diagnostic(
        "control-character",
        Severity.ERROR,
        f"a control character (number {ord(control.group())}) stands in the text",
        (Label(place),),
        "Save the file as plain text (UTF-8) and delete the character.",
    )


def _diagnostic(file: SourceFile, result: Trouble | TooDeep) -> Diagnostic:
    if isinstance(result, Trouble):
        return explain(file, result)
    return Diagnostic(
        "too-deep",
        Severity.ERROR,
        "this is nested too deeply to be read",
        (Label(Span(file.name, result.token.start, result.token.end)),),
        "Break it up: use a flag, or a rule of its own.",
    )


def after_mistake(text: str, result: Trouble | TooDeep) -> int:
    """Where to go on after a mistake: at the next line that begins a declaration, or behind an end."""
    position = result.token.start
    before = result.before if isinstance(result, Trouble) else ()
    line_end = text.find("\n", position)
    begins_line = not text[text.rfind("\n", 0, position) + 1 : position].strip()
    if before and before[0].kind in _END_OUTER:
        found = _END_OUTER[before[0].kind].search(text, text.rfind("\n", 0, position) + 1)
        return found.end() if found else len(text)
    if begins_line and before:
        search_from = text.rfind("\n", 0, position) + 1
    else:
        search_from = len(text) if line_end < 0 else line_end
    found = _NEXT_DECLARATION.search(text, search_from)
    if found is None:
        return len(text)
    is_end = found.group().lstrip().startswith("end")
    return found.end() if is_end else found.start()
