"""What a made-up run is drafted from: a plan, its caption, and the time that counts on it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from verifier.explain.timeline_search import Plan, Want
from verifier.model.job import Condition, Stayed, atoms_and_leaves

LEAD_S = Fraction(10)
"""From the start of a timeline to the first thing that happens."""

MOST_EVENTS = 12
"""Occurrences that a timeline of ``at most … times`` may show."""

Kind = Literal["keeps", "breaks", "reaches", "asks"]


@dataclass(frozen=True, slots=True)
class Span:
    """A time that counts on a timeline: from a moment, so long, and what it is called."""

    from_s: Fraction
    for_s: Fraction
    words: str


@dataclass(frozen=True, slots=True)
class Draft:
    """What is tried: the plan, how its run is told, and when the requirement comes into play."""

    kind: Kind
    caption: str
    plan: Plan
    due_s: Fraction
    span: Span | None = None


def margin(seconds: Fraction) -> Fraction:
    """How far beside a boundary a run lies: what a person can still tell from it.

    >>> [str(margin(Fraction(s))) for s in ("0", "0.2", "1", "3", "120", "36000")]
    ['1', '1/100', '1/10', '1/10', '1', '60']
    """
    if not seconds:
        return Fraction(1)
    for step in (60, 1, Fraction(1, 10), Fraction(1, 100), Fraction(1, 1000)):
        if seconds >= step * (600 if step == 60 else 5):
            return Fraction(step)
    return seconds / 10


def charging(condition: Condition, at: Fraction) -> tuple[Fraction, tuple[Want, ...]]:
    """When something that has to have stayed so can be so, and the moment at which that begins."""
    longest = max(
        (leaf.for_s for leaf in atoms_and_leaves(condition) if isinstance(leaf, Stayed)),
        default=Fraction(0),
    )
    if not longest:
        return at, ()
    return at + longest, (Want(at, inside=None),)
