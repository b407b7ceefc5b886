"""A timing diagram as data: what is drawn as a picture, in the terminal and as a table alike.

Time runs from left to right over *instants*: the start, each moment at which something changes,
the end. Between two instants nothing changes; the first holds the values of the beginning.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Kind = Literal["outside", "output", "rule", "claim"]
"""Whose lane it is: the surroundings' and inputs', an output's, a rule's, the requirement's."""


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment of the diagram.

    ``at_s`` are seconds from the start, ``just_after`` that it is only just after that; ``clock``
    the time of the day where the run has one (else empty). ``words`` say what happens.
    """

    at_s: Fraction
    just_after: bool
    clock: str
    words: str


@dataclass(frozen=True, slots=True)
class Lane:
    """One subject through time.

    Shape: ``values`` and ``heights`` have one entry for each instant: what is so from it on up to
    the next (the last one: as it ends). A height is 0 (at rest) to 1; None: no height, the word
    alone.
    """

    subject: str
    label: str
    kind: Kind
    values: tuple[str, ...]
    heights: tuple[Fraction | None, ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """A time that runs down beside a lane, from one instant to another (indices).

    ``left`` is the part of it that is left at its end: 0 if it ran out, 1 if none of it is gone.
    """

    lane: int
    begin: int
    end: int
    left: Fraction
    words: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A value at an instant (indices) that has a part in what comes out; ``letter`` names it."""

    lane: int
    instant: int
    letter: str
    words: str


@dataclass(frozen=True, slots=True)
class Diagram:
    """A whole diagram; ``cycle_from`` is the instant from which it goes round for ever, if any."""

    title: str
    instants: tuple[Instant, ...]
    lanes: tuple[Lane, ...]
    bars: tuple[Bar, ...] = ()
    marks: tuple[Mark, ...] = ()
    cycle_from: int | None = None
