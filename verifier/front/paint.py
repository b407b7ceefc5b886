"""Colour, where it may be: on a terminal, and only beside words and shapes that say the same."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TextIO

Style = Literal["good", "bad", "doubt", "quiet", "strong", "place"]

_CODES: dict[str, str] = {
    "good": "32",
    "bad": "1;31",
    "doubt": "33",
    "quiet": "2",
    "strong": "1",
    "place": "36",
}


@dataclass(frozen=True, slots=True)
class Paint:
    """Puts colour around a text, or not; ``plain_marks`` keeps to ASCII shapes."""

    colour: bool
    plain_marks: bool = False

    def __call__(self, text: str, style: Style | str) -> str:
        """The text in a style."""
        if not self.colour or not text:
            return text
        return f"\x1b[{_CODES[style]}m{text}\x1b[0m"


PLAIN = Paint(colour=False)


def paint_for(stream: TextIO, environment: Mapping[str, str] | None = None) -> Paint:
    """What fits a stream: colour on a terminal unless `NO_COLOR` is set or it is a dumb one."""
    given = os.environ if environment is None else environment
    colour = stream.isatty() and not given.get("NO_COLOR") and given.get("TERM") != "dumb"
    encoding = getattr(stream, "encoding", None) or "ascii"
    try:
        "✓✗○…–".encode(encoding)
        plain_marks = False
    except (UnicodeEncodeError, LookupError):
        plain_marks = True
    return Paint(colour, plain_marks)
