"""Figures as people read them: moments of a run, durations, numbers with their noun."""

from __future__ import annotations

from fractions import Fraction

from verifier.model.words import duration


def moment(seconds: Fraction, just_after: bool) -> str:
    """A moment of a run, from its start.

    >>> moment(Fraction(60), True), moment(Fraction(0), False), moment(Fraction(25, 6), True)
    ('just after 1 min', '0 s', 'just after about 4.167 s')
    """
    return f"just after {rounded(seconds)}" if just_after else rounded(seconds)


def rounded(seconds: Fraction) -> str:
    """A duration; where it has no short decimal, to a thousandth and with ``about``.

    >>> rounded(Fraction(20, 3)), rounded(Fraction(9001, 100)), rounded(Fraction(1, 3))
    ('about 6.667 s', '1 min 30.01 s', 'about 333.333 ms')
    """
    if is_short(seconds):
        return duration(seconds)
    places = 3 if seconds >= 1 else 6
    return f"about {duration(round(seconds, places))}"


def is_short(seconds: Fraction) -> bool:
    """Whether a figure has a decimal of no more than six places."""
    return (seconds * 1_000_000).denominator == 1


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "rule"), counted(2, "rule"), counted(0, "switch", "switches")
    ('1 rule', '2 rules', '0 switches')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(items: tuple[str, ...], joint: str = "and") -> str:
    """Items as a sentence lists them.

    >>> listed(("z3", "cvc5")), listed(("a", "b", "c"), "or")
    ('z3 and cvc5', 'a, b or c')
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {joint} {items[-1]}"
