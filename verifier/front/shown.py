"""Text as it may be shown: no character moves the cursor, turns the direction or hides."""

from __future__ import annotations

import unicodedata

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_KEPT = frozenset({"\u00ad"})


def shown(text: str) -> str:
    r"""The text with control, direction and other invisible characters as escapes; a tab is blanks.

    >>> shown("bay\x1b[31m\u202elights")
    'bay<U+001B>[31m<U+202E>lights'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown_character(character) for character in text)


def _shown_character(character: str) -> str:
    if character == "\t":
        return "    "
    if unicodedata.category(character) in _HIDDEN and character not in _KEPT:
        return f"<U+{ord(character):04X}>"
    return character


def columns(text: str) -> int:
    """How many columns of a terminal a shown text takes.

    Source: Unicode Standard Annex 11 (wide and fullwidth characters take two columns).

    >>> columns("löft"), columns("倉庫"), columns("e\u0301")
    (4, 4, 1)
    """
    if text.isascii():
        return len(text)
    taken = 0
    for character in text:
        if unicodedata.combining(character):
            continue
        taken += 2 if unicodedata.east_asian_width(character) in "WF" else 1
    return taken


def padded(text: str, width: int) -> str:
    """The text with blanks after it, up to ``width`` columns."""
    return text + " " * (width - columns(text))


def shortened(text: str, width: int) -> str:
    """The text, its end cut where it takes more than ``width`` columns."""
    if columns(text) <= width:
        return text
    while columns(text) > width - 1:
        text = text[:-1]
    return text + "…"
