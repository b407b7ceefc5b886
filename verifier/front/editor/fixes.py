"""Small corrections that a hint names, each tried before it is offered.

A hint says what to write (``Write `elsif`.``) and the finding where. How the one goes into the other
is tried in a few ways; offered is what makes the finding go away and brings no new one.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass

from verifier.diagnostics import Diagnostic, Severity
from verifier.explain.edits import Edit, edited
from verifier.model import check
from verifier.model.checking import parsed
from verifier.source import SourceFile, Sources, Span

MOST = 4
"""Corrections of one finding."""

TIME_S = 0.4
"""How long is tried for one finding."""

_QUOTED = re.compile(r"`([^`\n]+)`")
_BLANK = re.compile(r"\b[A-Z]{2,}\b")
"""A word in capitals stands for something that only the author knows."""


@dataclass(frozen=True, slots=True)
class Fix:
    """A correction: what it writes, and the edit."""

    words: str
    edit: Edit


def fixes(sources: Sources, name: str, found: Diagnostic) -> tuple[Fix, ...]:
    """The corrections of a finding that its hint names and that work."""
    span = found.labels[0].span
    file = sources.by_name.get(span.file)
    if file is None:
        return ()
    until = time.monotonic() + TIME_S
    before = _findings(sources, name, file)
    working: list[Fix] = []
    for text in dict.fromkeys(_QUOTED.findall(found.hint)):
        if _BLANK.search(text):
            continue
        for edit in _ways(file, span, text):
            if time.monotonic() > until or len(working) >= MOST:
                return tuple(working)
            after = edited(sources, (edit,))
            changed = after.by_name[file.name]
            if changed.text != file.text and _works(
                found, before, _findings(after, name, changed), edit
            ):
                working.append(Fix(f"Write `{text}`", edit))
                break
    return tuple(working)


def _findings(sources: Sources, name: str, file: SourceFile) -> tuple[Diagnostic, ...]:
    """What is wrong with the job: with this file's text alone, if that has mistakes."""
    _, mistakes = parsed(file)
    if any(each.severity is Severity.ERROR for each in mistakes):
        return mistakes
    return check(sources, name)[1]


def _works(
    found: Diagnostic, before: tuple[Diagnostic, ...], after: tuple[Diagnostic, ...], edit: Edit
) -> bool:
    """Whether the finding is gone and no other has come in its place.

    Mistakes of syntax hide those of meaning: where the last of them goes, what comes to light
    elsewhere is no fault of the correction.
    """
    begin, end = edit.span.start, edit.span.start + len(edit.text)
    for each in after:
        span = each.labels[0].span
        at_place = span.file == edit.span.file and span.start <= end and span.end >= begin
        if each.severity is not Severity.NOTE and at_place:
            return False
    if any(each.code == found.code and each.message == found.message for each in after):
        same = [e for e in before if e.code == found.code and e.message == found.message]
        left = [e for e in after if e.code == found.code and e.message == found.message]
        if len(left) >= len(same):
            return False
    syntax = _count(before)
    return _count(after) <= syntax or not any(each.code in _codes(before) for each in after)


def _codes(found: tuple[Diagnostic, ...]) -> frozenset[str]:
    return frozenset(each.code for each in found)


def _count(found: tuple[Diagnostic, ...]) -> int:
    return sum(each.severity is Severity.ERROR for each in found)


def _ways(file: SourceFile, span: Span, text: str) -> Iterator[Edit]:
    """How a text may go into the place of a finding, the likeliest first."""
    whole = file.text
    line_start = whole.rfind("\n", 0, span.start) + 1
    line_end = whole.find("\n", span.end)
    line_end = len(whole) if line_end < 0 else line_end
    if span.start < span.end:
        yield Edit(span, text)
    yield Edit(_at(span, span.end), text if text in (":", ",") else f" {text}")
    yield from _wider(file, span, text, line_start, line_end)
    indent = whole[line_start : line_start + _indent(whole[line_start:line_end])]
    yield Edit(_at(span, line_end), f" {text}")
    yield Edit(_at(span, line_start), f"{indent}{text}\n")
    closing = indent[:-2] if text.startswith("end ") else indent
    if line_end < len(whole):
        yield Edit(_at(span, line_end), f"\n{closing}{text}")
    else:
        yield Edit(_at(span, line_end), f"\n{closing}{text}\n")


def _wider(
    file: SourceFile, span: Span, text: str, line_start: int, line_end: int
) -> Iterator[Edit]:
    """The place with the words around it that the text says again: `not A is open` for `A is not open`."""
    said = set(re.findall(r"[\w.]+", text))
    start, end = span.start, span.end
    words = list(re.finditer(r"[\w.]+", file.text[line_start:line_end]))
    for word in reversed([w for w in words if line_start + w.end() <= start]):
        if word.group() not in said:
            break
        start = line_start + word.start()
    for word in [w for w in words if line_start + w.start() >= end]:
        if word.group() not in said:
            break
        end = line_start + word.end()
    for wide in ((start, end), (start, span.end), (span.start, end)):
        if wide != (span.start, span.end):
            yield Edit(Span(span.file, *wide), text)


def _at(span: Span, offset: int) -> Span:
    return Span(span.file, offset, offset)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())
