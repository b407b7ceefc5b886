"""Source text: files, spans (0-based, half-open offsets) and the only offset-to-line function."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cached_property


@dataclass(frozen=True, slots=True)
class Span:
    """A half-open stretch ``[start, end)`` of characters of the file called ``file``."""

    file: str
    start: int
    end: int


NOWHERE = Span("", 0, 0)
"""The span of what no text stands for."""


@dataclass(frozen=True)
class SourceFile:
    """One file's name (as shown to people) and text."""

    name: str
    text: str = field(repr=False)

    @cached_property
    def line_starts(self) -> tuple[int, ...]:
        """The offset at which each line begins."""
        starts = [0]
        at = self.text.find("\n")
        while at >= 0:
            starts.append(at + 1)
            at = self.text.find("\n", at + 1)
        return tuple(starts)

    def line_and_column(self, offset: int) -> tuple[int, int]:
        """The 1-based line and column of an offset.

        >>> SourceFile("a.dusk", "lamp a\\nlamp b\\n").line_and_column(12)
        (2, 6)
        """
        line = bisect_right(self.line_starts, offset)
        return line, offset - self.line_starts[line - 1] + 1

    def line(self, number: int) -> str:
        """The text of 1-based line ``number`` without its newline."""
        start = self.line_starts[number - 1]
        end = self.text.find("\n", start)
        return self.text[start:] if end < 0 else self.text[start:end]


@dataclass(frozen=True)
class Sources:
    """All files of a job, ordered by name."""

    files: tuple[SourceFile, ...]

    @cached_property
    def by_name(self) -> dict[str, SourceFile]:
        """Files by their shown name."""
        return {f.name: f for f in self.files}

    def place(self, span: Span) -> str:
        """``file:line:column`` of the start of a span; only the file's name where it is unknown.

        >>> Sources((SourceFile("a.dusk", "lamp a\\n"),)).place(Span("a.dusk", 5, 6))
        'a.dusk:1:6'
        """
        file = self.by_name.get(span.file)
        if file is None:
            return span.file
        line, column = file.line_and_column(span.start)
        return f"{span.file}:{line}:{column}"
