"""Lines of a lesson's file with their places, and the fields that a head or a fenced part holds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from verifier.source import SourceFile, Span

_FIELD = re.compile(r"([a-z]+):[ \t]*(.*)")


@dataclass(frozen=True, slots=True)
class Line:
    """One line without its end, and where it begins in its file."""

    file: str
    start: int
    text: str

    @property
    def span(self) -> Span:
        """The place of what stands on it, without the blanks around it."""
        inner = self.text.strip()
        start = self.start + len(self.text) - len(self.text.lstrip())
        return Span(self.file, start, start + len(inner))


@dataclass(frozen=True, slots=True)
class Field:
    """``name: value``; ``more`` are the indented lines and list items below it."""

    name: str
    value: str
    more: tuple[Line, ...]
    span: Span

    @property
    def whole(self) -> str:
        """The value with what follows it, joined by blanks."""
        return " ".join(part for part in (self.value, *(m.text.strip() for m in self.more)) if part)

    @property
    def lines(self) -> tuple[str, ...]:
        """The value, if there is one, and each further line, as entries of a list."""
        more = tuple(m.text.strip() for m in self.more)
        return (self.value, *more) if self.value else more


def lines_of(file: SourceFile) -> tuple[Line, ...]:
    """All lines of a file."""
    found: list[Line] = []
    at = 0
    for text in file.text.split("\n"):
        found.append(Line(file.name, at, text.rstrip()))
        at += len(text) + 1
    return tuple(found)


def fields_of(lines: tuple[Line, ...]) -> tuple[tuple[Field, ...], tuple[Line, ...]]:
    """The fields that the lines hold, and the lines that belong to none."""
    found: list[Field] = []
    lost: list[Line] = []
    for line in lines:
        if not line.text.strip():
            continue
        named = _FIELD.fullmatch(line.text)
        if named is not None:
            found.append(Field(named[1], named[2].strip(), (), line.span))
        elif found and (line.text.startswith((" ", "\t", "- "))):
            last = found[-1]
            found[-1] = Field(last.name, last.value, (*last.more, line), last.span)
        else:
            lost.append(line)
    return tuple(found), tuple(lost)
