"""Places and findings as the Language Server Protocol has them: lines from 0, columns in UTF-16 units."""

from __future__ import annotations

from lsprotocol import types

from verifier.diagnostics import Diagnostic, Severity
from verifier.source import SourceFile, Sources, Span

SOURCE = "duskproof"

_SEVERITY = {
    Severity.ERROR: types.DiagnosticSeverity.Error,
    Severity.WARNING: types.DiagnosticSeverity.Warning,
    Severity.NOTE: types.DiagnosticSeverity.Information,
}


def units(text: str) -> int:
    """How many UTF-16 units a text has.

    >>> units("añ"), units("𝟙")
    (2, 2)
    """
    return len(text) + sum(letter > "\uffff" for letter in text)


def position_of(file: SourceFile, offset: int) -> types.Position:
    """The line and column of an offset."""
    line, column = file.line_and_column(min(max(offset, 0), len(file.text)))
    start = file.line_starts[line - 1]
    return types.Position(line - 1, units(file.text[start : start + column - 1]))


def offset_of(file: SourceFile, position: types.Position) -> int:
    """The offset of a line and column; the nearest one where there is none such.

    >>> file = SourceFile("a.dusk", "lamp 𝟙 x\\n")
    >>> [offset_of(file, types.Position(0, column)) for column in (0, 5, 7, 99)]
    [0, 5, 6, 8]
    """
    if position.line < 0:
        return 0
    if position.line >= len(file.line_starts):
        return len(file.text)
    offset = file.line_starts[position.line]
    left = position.character
    while left > 0 and offset < len(file.text) and file.text[offset] != "\n":
        left -= 2 if file.text[offset] > "\uffff" else 1
        offset += 1
    return offset


def range_of(file: SourceFile, span: Span) -> types.Range:
    """A span as a range."""
    return types.Range(position_of(file, span.start), position_of(file, span.end))


def whole_range(file: SourceFile) -> types.Range:
    """All of a file."""
    return types.Range(types.Position(0, 0), position_of(file, len(file.text)))


def finding_of(
    found: Diagnostic, file: SourceFile, sources: Sources, uris: dict[str, str]
) -> types.Diagnostic:
    """A finding; its hint is part of what is read, its further places are linked."""
    first = found.labels[0]
    related = []
    for label in found.labels[1:]:
        other = sources.by_name.get(label.span.file)
        if other is not None and other.name in uris:
            place = types.Location(uris[other.name], range_of(other, label.span))
            related.append(types.DiagnosticRelatedInformation(place, label.text or "see here"))
    message = found.message + (f"\n{found.hint}" if found.hint else "")
    return types.Diagnostic(
        range_of(file, first.span),
        message,
        severity=_SEVERITY[found.severity],
        code=found.code,
        source=SOURCE,
        related_information=related or None,
    )
