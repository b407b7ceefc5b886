"""Small corrections that a hint names, each tried before it is offered.

A hint says what to write (``Write `elsif`.``) and the finding where. How the one goes into the other
is tried in a few ways; offered is what makes the finding go away and brings no new one.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher

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
    before = _read(sources, name, file)
    written = file.text[span.start : span.end]
    quoted = [t for t in dict.fromkeys(_QUOTED.findall(found.hint)) if not _BLANK.search(t)]
    quoted.sort(key=lambda text: -SequenceMatcher(None, written, text).ratio())
    working: list[Fix] = []
    for text in quoted:
        for edit in _ways(file, span, text):
            if time.monotonic() > until or len(working) >= MOST:
                return tuple(working)
            after = edited(sources, (edit,))
            changed = after.by_name[file.name]
            if changed.text == file.text:
                continue
            line = changed.line_and_column(edit.span.start + len(edit.text))[0]
            if _works(found, before, _read(after, name, changed), changed, line):
                working.append(Fix(f"Write `{text}`", edit))
                break
    return tuple(working)


@dataclass(frozen=True, slots=True)
class _Read:
    """What is wrong with a job: mistakes of syntax in one file, else all that the model finds."""

    syntax: tuple[Diagnostic, ...]
    model: tuple[Diagnostic, ...]


def _read(sources: Sources, name: str, file: SourceFile) -> _Read:
    _, mistakes = parsed(file)
    errors = tuple(each for each in mistakes if each.severity is Severity.ERROR)
    return _Read(errors, () if errors else check(sources, name)[1])


def _works(found: Diagnostic, before: _Read, after: _Read, file: SourceFile, line: int) -> bool:
    """Whether the finding is gone and nothing has come in its place.

    A mistake of syntax hides what comes after it, and those of meaning: what comes to light with a
    correction, below its line or in the model, is no fault of it. ``line`` is its last line.
    """
    if before.syntax:
        later = [e for e in after.syntax if file.line_and_column(e.labels[0].span.start)[0] > line]
        fewer = len(after.syntax) < len(before.syntax)
        return fewer or (
            len(after.syntax) == len(before.syntax) and len(later) > 0 and _gone(found, after)
        )
    if after.syntax:
        return False
    errors = [sum(e.severity is Severity.ERROR for e in read.model) for read in (before, after)]
    others = [sum(e.severity is Severity.WARNING for e in read.model) for read in (before, after)]
    if found.severity is Severity.ERROR:
        return errors[1] < errors[0]
    return errors[1] <= errors[0] and others[1] < others[0]


def _gone(found: Diagnostic, after: _Read) -> bool:
    return all((e.code, e.message) != (found.code, found.message) for e in after.syntax)


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
