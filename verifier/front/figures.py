"""Figures as people write them; how they are read is in :mod:`verifier.explain.figures`."""

from __future__ import annotations

import re
from fractions import Fraction

from verifier.explain.figures import counted, is_short, listed, moment, rounded

__all__ = ["counted", "is_short", "listed", "moment", "rounded", "seconds_of"]

_UNITS: tuple[tuple[str, Fraction], ...] = (
    ("h", Fraction(3600)),
    ("min", Fraction(60)),
    ("s", Fraction(1)),
    ("ms", Fraction(1, 1000)),
)
_SECONDS = dict(_UNITS)
_DURATION = re.compile(r"(\d+(?:\.\d+)?)\s*(h|min|ms|s)?(?![a-z])\s*")


def seconds_of(text: str) -> Fraction | None:
    """The seconds of a duration as it is written in the language; a bare number is seconds.

    None if it is not one, or not above 0.

    >>> seconds_of("1 min 30 s"), seconds_of("20"), seconds_of("250ms"), seconds_of("5 lux")
    (Fraction(90, 1), Fraction(20, 1), Fraction(1, 4), None)
    """
    text, at, total, last = text.strip(), 0, Fraction(0), len(_UNITS)
    while at < len(text):
        found = _DURATION.match(text, at)
        if found is None:
            return None
        number, unit = found.groups()
        if unit is None:
            return Fraction(number) if found.span() == (0, len(text)) and Fraction(number) else None
        rank = [name for name, _ in _UNITS].index(unit)
        if at > 0 and rank <= last:
            return None
        last, at = rank, found.end()
        total += Fraction(number) * _SECONDS[unit]
    return total if total > 0 else None
