"""Diagnostics as text: place, message, the line with carets under the place, what to do."""

from __future__ import annotations

import textwrap

from verifier.diagnostics import Diagnostic, Severity
from verifier.front.paint import Paint
from verifier.front.shown import columns, shown
from verifier.source import Sources, Span

_STYLE = {
    Severity.ERROR: "bad",
    Severity.WARNING: "doubt",
    Severity.NOTE: "quiet",
}
_UNDER_DO = " " * 6
"""What stands before the further lines of a hint: as wide as ``  do: ``."""

_CONTEXT = 12
"""Columns of a long line that are shown before the place, at least."""


def in_order(sources: Sources, diagnostics: tuple[Diagnostic, ...]) -> tuple[Diagnostic, ...]:
    """The diagnostics by file and place, each once; those without a place come last."""
    rank = {file.name: number for number, file in enumerate(sources.files)}
    weight = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}

    def key(diagnostic: Diagnostic) -> tuple[int, int, int, str, str]:
        span = diagnostic.labels[0].span if diagnostic.labels else Span("", 0, 0)
        return (
            rank.get(span.file, len(rank)),
            span.start,
            weight[diagnostic.severity],
            diagnostic.code,
            diagnostic.message,
        )

    return tuple(sorted(dict.fromkeys(diagnostics), key=key))


def alike(diagnostics: tuple[Diagnostic, ...]) -> tuple[tuple[Diagnostic, ...], ...]:
    """The diagnostics, those together that tell the same of the same lines under other names.

    The lines of a typical stand for every room that it is applied to.
    """
    groups: dict[object, list[Diagnostic]] = {}
    for diagnostic in diagnostics:
        places = tuple(label.span for label in diagnostic.labels)
        pattern = len(diagnostic.message.split())
        key = (diagnostic.code, diagnostic.severity, places, pattern) if places else diagnostic
        groups.setdefault(key, []).append(diagnostic)
    return tuple(map(tuple, groups.values()))


def alike_text(group: tuple[Diagnostic, ...], sources: Sources, paint: Paint, width: int) -> str:
    """The first of several diagnostics that are alike, and whom the others speak of."""
    first, *others = group
    text = diagnostic_text(first, sources, paint, width)
    if not others:
        return text
    names = list(dict.fromkeys(_other_word(first, other) for other in others))
    whom = names[0] if len(names) == 1 else f"from {names[0]} to {names[-1]}"
    said = f"{len(others):,} more of the same lines, {shown(whom)}"
    lines = _fitted([said], width - len(_UNDER_ALIKE))
    told = [f"  {paint('alike:', 'strong')} {lines[0]}"]
    return "\n".join([text, *told, *(f"{_UNDER_ALIKE}{line}" for line in lines[1:])])


_UNDER_ALIKE = " " * len("  alike: ")


def _other_word(first: Diagnostic, other: Diagnostic) -> str:
    """The first word of a message that is another one in the message that it is like."""
    pairs = zip(first.message.split(), other.message.split(), strict=True)
    return next((b.strip(",.:;") for a, b in pairs if a != b), other.message)


def diagnostic_text(diagnostic: Diagnostic, sources: Sources, paint: Paint, width: int) -> str:
    """One diagnostic, several lines, no line end after the last."""
    place = where(diagnostic, sources)
    word = paint(diagnostic.severity.value, _STYLE[diagnostic.severity])
    head = f"{word}: {shown(diagnostic.message)}  [{diagnostic.code}]"
    lines = [f"{paint(shown(place), 'strong')}: {head}" if place else head]
    for number, label in enumerate(diagnostic.labels):
        if number > 0:
            words = f": {shown(label.text)}" if label.text else ""
            lines.append(f"  see also {shown(sources.place(label.span))}{words}")
        text = label.text if number == 0 else ""
        lines.extend(snippet(label.span, sources, paint, width, text))
    if diagnostic.hint:
        first, *rest = _fitted(shown_lines(diagnostic.hint), width - len(_UNDER_DO))
        lines.append(f"  {paint('do:', 'strong')} {first}")
        lines.extend(f"{_UNDER_DO}{line}" for line in rest)
    return "\n".join(lines)


def _fitted(lines: list[str], width: int) -> list[str]:
    """The lines, those that are too long in parts; a short one keeps its own spaces."""
    return [
        part
        for line in lines
        for part in (
            textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False)
            if len(line) > width
            else [line]
        )
    ]


def shown_lines(text: str) -> list[str]:
    """The lines of a text, each as it may be shown."""
    return [shown(line) for line in text.split("\n")]


def where(diagnostic: Diagnostic, sources: Sources) -> str:
    """``file:line:column`` of a diagnostic's place, or what it is about as a whole."""
    if not diagnostic.labels:
        return ""
    span = diagnostic.labels[0].span
    return (
        span.file
        if span == Span(span.file, 0, 0) and _empty(span, sources)
        else sources.place(span)
    )


def _empty(span: Span, sources: Sources) -> bool:
    file = sources.by_name.get(span.file)
    return file is None or not file.text


def snippet(
    span: Span, sources: Sources, paint: Paint, width: int, words: str = ""
) -> tuple[str, ...]:
    """The line of a span and the carets under it; nothing where the text is not at hand."""
    file = sources.by_name.get(span.file)
    if file is None or not file.text:
        return ()
    start = min(span.start, len(file.text))
    number, column = file.line_and_column(start)
    line = file.line(number)
    before, rest = line[: column - 1], line[column - 1 :]
    marked = rest[: max(span.end - start, 1)]
    after = rest[len(marked) :]
    gutter = f"{number:>5} | "
    shown_before, shown_marked, shown_after = _cut(
        shown(before), shown(marked), shown(after), max(width - len(gutter), 24)
    )
    carets = "^" * max(columns(shown_marked), 1)
    if words:
        carets += f" {shown(words)}"
    return (
        f"{gutter}{shown_before}{shown_marked}{shown_after}".rstrip(),
        f"{' ' * 5} | {' ' * columns(shown_before)}{paint(carets, 'place')}",
    )


def _cut(before: str, marked: str, after: str, room: int) -> tuple[str, str, str]:
    """The three parts of a line, cut around the marked one so that they fit into ``room``."""
    if columns(before + marked + after) <= room:
        return before, marked, after
    if columns(before) > _CONTEXT and columns(before) + min(columns(marked), room // 2) > room - 2:
        keep = max(_CONTEXT, room - 2 - columns(marked) - _CONTEXT)
        before = "…" + _last_columns(before, min(keep, room // 2))
    kept = _first_columns(marked, room - columns(before) - 1)
    if kept != marked:
        return before, kept, "…"
    room -= columns(before) + columns(marked)
    if columns(after) > room:
        after = _first_columns(after, max(room - 1, 0)) + "…" if room > 0 else ""
    return before, marked, after


def _first_columns(text: str, room: int) -> str:
    taken = 0
    for number, character in enumerate(text):
        taken += columns(character)
        if taken > room:
            return text[:number]
    return text


def _last_columns(text: str, room: int) -> str:
    return _first_columns(text[::-1], room)[::-1]
