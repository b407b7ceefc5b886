"""Changes of a job's text: what is replaced, what it looks like as a diff, what comes of it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from verifier.source import SourceFile, Sources, Span


@dataclass(frozen=True, slots=True)
class Edit:
    """The characters of a span are replaced by ``text``."""

    span: Span
    text: str


def edited(sources: Sources, edits: Iterable[Edit]) -> Sources:
    """The sources with all edits made; they do not overlap."""
    by_file: dict[str, list[Edit]] = {}
    for edit in edits:
        by_file.setdefault(edit.span.file, []).append(edit)
    return Sources(tuple(_edited(file, by_file.get(file.name, ())) for file in sources.files))


def _edited(file: SourceFile, edits: Iterable[Edit]) -> SourceFile:
    text = file.text
    for edit in sorted(edits, key=lambda e: e.span.start, reverse=True):
        text = text[: edit.span.start] + edit.text + text[edit.span.end :]
    return file if text == file.text else SourceFile(file.name, text)


def diff_of(before: Sources, after: Sources) -> tuple[str, ...]:
    """The lines of a unified diff, three lines of what is around each change."""
    lines: list[str] = []
    for old, new in zip(before.files, after.files, strict=True):
        if old.text != new.text:
            lines.extend(
                line.rstrip("\n")
                for line in difflib.unified_diff(
                    old.text.splitlines(),
                    new.text.splitlines(),
                    old.name,
                    new.name,
                    n=2,
                    lineterm="",
                )
            )
    return tuple(lines)


class Lines:
    """The text of a job, by lines: where one begins, how far it is set in, what stands on it."""

    def __init__(self, sources: Sources) -> None:
        self.sources = sources

    def text(self, span: Span) -> str:
        """What stands in a span."""
        return self.sources.by_name[span.file].text[span.start : span.end]

    def indent(self, span: Span) -> str:
        """The blanks before what stands first on the line of a span."""
        file = self.sources.by_name[span.file]
        line = file.line(file.line_and_column(span.start)[0])
        return line[: len(line) - len(line.lstrip())]

    def line_after(self, span: Span) -> Span:
        """The empty place at which the line after the end of a span begins."""
        text = self.sources.by_name[span.file].text
        end = text.find("\n", span.end)
        at = len(text) if end < 0 else end + 1
        return Span(span.file, at, at)

    def line_before(self, span: Span) -> Span:
        """The empty place at which the line of a span begins."""
        text = self.sources.by_name[span.file].text
        at = text.rfind("\n", 0, span.start) + 1
        return Span(span.file, at, at)

    def whole(self, span: Span) -> Span:
        """All lines that a span stands on, with the end of the last."""
        return Span(span.file, self.line_before(span).start, self.line_after(span).end)

    def inserted_after(self, span: Span, *lines: str, indent: str | None = None) -> Edit:
        """Lines of their own after the line of a span, set in as it is."""
        set_in = self.indent(span) if indent is None else indent
        place = self.line_after(span)
        text = self.sources.by_name[span.file].text
        before = "" if not text or text[place.start - 1 : place.start] == "\n" else "\n"
        return Edit(place, before + "".join(f"{set_in}{line}\n" for line in lines))

    def inserted_before(self, span: Span, *lines: str) -> Edit:
        """Lines of their own before the line of a span, set in as it is."""
        set_in = self.indent(span)
        return Edit(self.line_before(span), "".join(f"{set_in}{line}\n" for line in lines))

    def removed(self, span: Span) -> Edit:
        """The lines of a span go."""
        return Edit(self.whole(span), "")
