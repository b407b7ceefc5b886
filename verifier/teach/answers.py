"""What a learner answers, read from text: a lane, a figure, a word, a choice."""

from __future__ import annotations

import re
from fractions import Fraction

from verifier.model.figures import Quantity, Unit, Unreadable, quantity
from verifier.model.words import duration
from verifier.teach.lesson import Choose, Lane


class NotUnderstood(Exception):
    """An answer cannot be read; ``args[0]`` says why, and how to write it."""


_PART = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]+|%)")
_TIMED = re.compile(r"(?:(?:at|from)\s+)?((?:\d+(?:\.\d+)?\s*(?:ms|s|min|h)\b\s*)+)[\s:]*(\S.*)")

_FORM = "Write what it is at the start, then each change: `off; 10 s on; 1 min 10 s off`."


def read_lane(text: str) -> Lane:
    """The lane of a text such as ``off; 10 s on; 1 min 10 s off``. Raises: NotUnderstood.

    >>> read_lane("off; 10 s on")
    ((Fraction(0, 1), 'off'), (Fraction(10, 1), 'on'))
    """
    pieces = [" ".join(piece.split()) for piece in re.split(r"[;,\n]", text) if piece.strip()]
    if not pieces:
        raise NotUnderstood(f"There is no answer. {_FORM}")
    found: list[tuple[Fraction, str]] = []
    for place, piece in enumerate(pieces):
        timed = _TIMED.fullmatch(piece)
        if timed is None:
            if place:
                raise NotUnderstood(f"“{piece}” does not say from when on. {_FORM}")
            found.append((Fraction(0), piece))
            continue
        at = seconds_of(timed[1])
        if found and at < found[-1][0]:
            raise NotUnderstood(f"“{piece}” lies before what stands in front of it. {_FORM}")
        if found and at == found[-1][0]:
            found.pop()
        if not found and at > 0:
            raise NotUnderstood(f"What it is at the start is left out. {_FORM}")
        found.append((at, timed[2]))
    return joined(tuple(found))


def joined(lane: Lane) -> Lane:
    """The lane without changes to what it is already."""
    found: list[tuple[Fraction, str]] = []
    for at, value in lane:
        if not found or found[-1][1] != value:
            found.append((at, value))
    return tuple(found)


def lane_text(lane: Lane) -> str:
    """A lane as it is written.

    >>> lane_text(((Fraction(0), "off"), (Fraction(70), "on")))
    'off; 1 min 10 s on'
    """
    (_, first), *rest = lane
    return "; ".join([first, *(f"{duration(at)} {value}" for at, value in rest)])


def seconds_of(text: str) -> Fraction:
    """The seconds of a duration. Raises: NotUnderstood."""
    canonical = " ".join(f"{number} {unit}" for number, unit in _PART.findall(text))
    match quantity(canonical):
        case Quantity(Unit.DURATION, value):
            return value
        case Unreadable(message, hint):
            raise NotUnderstood(f"“{text.strip()}”: {message}. {hint}")
        case _:
            raise NotUnderstood(f"“{text.strip()}” is no duration. Write `10 s` or `1 min 30 s`.")


def read_figure(text: str) -> Quantity:
    """The figure of an answer, with blanks as one likes. Raises: NotUnderstood.

    >>> read_figure("1min 30s").value
    Fraction(90, 1)
    """
    plain = " ".join(text.split()).strip(" .")
    parts = " ".join(f"{number} {unit}" for number, unit in _PART.findall(plain))
    for tried in (plain, parts):
        read = quantity(tried) if tried else None
        if isinstance(read, Quantity):
            return read
    raise NotUnderstood(f"“{plain}” is no figure. Write it with its unit: `90 s`, `40 %`, or `3`.")


def read_choice(text: str, question: Choose) -> int:
    """The place of the option that is meant, from 0: by its number or its words.

    Raises: NotUnderstood.
    """
    plain = " ".join(text.split()).strip(" .)(")
    if plain.isdecimal() and 1 <= int(plain) <= len(question.options):
        return int(plain) - 1
    same = [n for n, option in enumerate(question.options) if option.lower() == plain.lower()]
    if len(same) == 1:
        return same[0]
    raise NotUnderstood(f"Answer with a number from 1 to {len(question.options)}.")


def read_word(text: str) -> str:
    """A word as it is compared: small letters, single blanks, no mark at its end.

    >>> read_word("  Retriggerable. ")
    'retriggerable'
    """
    plain = " ".join(text.replace("`", "").split()).strip(" .!?\"'“”").lower()
    if not plain:
        raise NotUnderstood("There is no answer.")
    return plain
