"""Figures typed: from ``1 min 30 s`` to an exact duration, from ``level 153 of 254`` to per cent."""

from __future__ import annotations

import enum
import functools
import re
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction


class Unit(enum.Enum):
    """What a figure can be; the value says it in words."""

    DURATION = "a duration"
    LEVEL = "a level"
    POWER = "a power"
    ANGLE = "an angle"
    CLOCK = "a clock time"
    NUMBER = "a bare number"

    @property
    def example(self) -> str:
        """How one is written."""
        return _EXAMPLES[self]


_EXAMPLES = {
    Unit.DURATION: "`90 s`, `1 min 30 s` or `2 h`",
    Unit.LEVEL: "`60 %` or `level 153 of 254`",
    Unit.POWER: "`80 W` or `2 x 20 W`",
    Unit.ANGLE: "`-6 deg`",
    Unit.CLOCK: "`22:30`",
    Unit.NUMBER: "`3`",
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A typed figure. Units: seconds, per cent, watts, degrees, seconds since midnight."""

    unit: Unit
    value: Fraction


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why a figure has no meaning, and what to write instead."""

    message: str
    hint: str


_UNITS: dict[str, tuple[Unit, Fraction]] = {
    "ms": (Unit.DURATION, Fraction(1, 1000)),
    "s": (Unit.DURATION, Fraction(1)),
    "min": (Unit.DURATION, Fraction(60)),
    "h": (Unit.DURATION, Fraction(3600)),
    "%": (Unit.LEVEL, Fraction(1)),
    "W": (Unit.POWER, Fraction(1)),
    "kW": (Unit.POWER, Fraction(1000)),
    "deg": (Unit.ANGLE, Fraction(1)),
}
_MEANT = {
    "msec": "ms",
    "msecs": "ms",
    "millisecond": "ms",
    "milliseconds": "ms",
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "mins": "min",
    "m": "min",
    "minute": "min",
    "minutes": "min",
    "hr": "h",
    "hrs": "h",
    "hour": "h",
    "hours": "h",
    "watt": "W",
    "watts": "W",
    "w": "W",
    "degree": "deg",
    "degrees": "deg",
    "percent": "%",
}
_LEVEL = re.compile(r"level (\d+) of (\d+)")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})")
_TIMES = re.compile(r"(-?)(\d+) x (.*)")
_PART = re.compile(r"(\d+(?:\.\d+)?) ?([A-Za-z%]\w*|%)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_LONG = re.compile(r"\d{13}")
_DESCENDING = ("h", "min", "s", "ms")


@functools.lru_cache(maxsize=4096)
def quantity(text: str) -> Quantity | Unreadable:
    """The typed figure of a text as the tree holds it.

    >>> quantity("1 min 30 s"), quantity("2 x 20 W").value, quantity("22:30").value
    (Quantity(unit=<Unit.DURATION: 'a duration'>, value=Fraction(90, 1)), Fraction(40, 1), Fraction(81000, 1))
    """
    if _LONG.search(text):
        return Unreadable(
            "a figure has at most 12 digits before its point and 12 behind it",
            "Take a larger unit: `48 h`, `12 kW`.",
        )
    if found := _LEVEL.fullmatch(text):
        return _arc_level(int(found[1]), int(found[2]))
    if found := _CLOCK.fullmatch(text):
        return _clock(int(found[1]), int(found[2]))
    if _NUMBER.fullmatch(text):
        return Quantity(Unit.NUMBER, Fraction(text))
    if found := _TIMES.fullmatch(text):
        each = _sum_of_parts(found[3])
        if isinstance(each, Unreadable):
            return each
        if each.unit is not Unit.POWER:
            return Unreadable(
                "only a power can be given as so many times a figure", "Write `2 x 20 W`."
            )
        sign = -1 if found[1] else 1
        return Quantity(Unit.POWER, sign * int(found[2]) * each.value)
    if text.startswith("-"):
        positive = _sum_of_parts(text[1:])
        if isinstance(positive, Unreadable):
            return positive
        return Quantity(positive.unit, -positive.value)
    return _sum_of_parts(text)


def _sum_of_parts(text: str) -> Quantity | Unreadable:
    parts = _PART.findall(text)
    if not parts or " ".join(f"{number} {unit}" for number, unit in parts) != text:
        return Unreadable(
            f"`{text}` is no figure",
            "Figures are written `90 s`, `60 %`, `80 W`, `-6 deg`, `22:30`.",
        )
    for number, unit in parts:
        if unit not in _UNITS:
            meant = _MEANT.get(unit, _MEANT.get(unit.lower(), unit if unit in _UNITS else ""))
            lower = {each.lower(): each for each in _UNITS}.get(unit.lower(), "")
            right = meant or lower
            hint = (
                f"Write `{number} {right}`."
                if right
                else "Units: ms, s, min, h; % for levels; W and kW for power; deg for angles."
            )
            return Unreadable(f"`{unit}` is no unit", hint)
    units = [unit for _, unit in parts]
    kind = _UNITS[units[0]][0]
    if len(parts) > 1 and (
        kind is not Unit.DURATION
        or any(unit not in _DESCENDING for unit in units)
        or sorted(set(units), key=_DESCENDING.index) != units
    ):
        return Unreadable(
            f"`{text}` is not one figure",
            "Only durations have several parts, the larger unit first: `1 min 30 s`.",
        )
    value = sum((Fraction(number) * _UNITS[unit][1] for number, unit in parts), Fraction(0))
    return Quantity(kind, value)


def _clock(hour: int, minute: int) -> Quantity | Unreadable:
    if hour > 23 or minute > 59:
        hint = "Midnight is `00:00`." if (hour, minute) == (24, 0) else "Write `22:30`."
        return Unreadable("a clock time lies between 00:00 and 23:59", hint)
    return Quantity(Unit.CLOCK, Fraction(hour * 3600 + minute * 60))


def _arc_level(level: int, of: int) -> Quantity | Unreadable:
    """A level of the standard dimming curve, rounded to 0.001 %.

    Source: IEC 62386-102, X(n) = 10^((n - 1) / (253 / 3) - 1) per cent for n from 1 to 254; 0 is off.

    >>> [float(_arc_level(n, 254).value) for n in (1, 126, 229, 254)]
    [0.1, 3.035, 50.531, 100.0]
    """
    if of != 254 or level > 254:
        return Unreadable(
            f"`level {level} of {of}` is no level of the dimming curve",
            "It has 254 levels: `level 153 of 254`; 0 is off.",
        )
    if level == 0:
        return Quantity(Unit.LEVEL, Fraction(0))
    with localcontext() as context:
        context.prec = 40
        percent = Decimal(10) ** (Decimal(3 * (level - 1) - 253) / Decimal(253))
        return Quantity(Unit.LEVEL, Fraction(percent.quantize(Decimal("0.001"))))
