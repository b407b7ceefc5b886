"""A run as data: what happened, when, what it changed and because of which lines."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Step:
    """One happening with all that it set off, up to the next settled instant.

    ``at_s`` is the exact moment at which the replay puts it, a usual one where there is a choice;
    ``earliest_s`` the infimum of the moments at which it can happen in this run (what is shown
    and what JSON calls ``at_s``); ``just_after`` says that the infimum itself is not possible
    ("just after 60 s"). On a date, or by a clock, it is the moment of ``at_s``.
    ``what`` is a short sentence in the contract's words (``side_door becomes open``).
    ``changes`` are (subject, new value) as settled afterwards, declared order; rules' runs appear
    as (rule, ``"running"``, ``"2 running"`` or ``"idle"``), with ``", 1 waiting"`` after it where
    triggers wait. ``because`` are the places of the trigger lines and waits that acted, in order.
    """

    at_s: Fraction
    earliest_s: Fraction
    just_after: bool
    what: str
    changes: tuple[tuple[str, str], ...]
    because: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class RunClock:
    """When a run begins: seconds since 1970 (with a ``timezone``), else since Monday, 0:00.

    ``weekdays``: the days of the week are told apart.
    """

    begins_s: Fraction
    timezone: str | None
    weekdays: bool


@dataclass(frozen=True, slots=True)
class Played:
    """What the interpreter needs to play a run again on its slice.

    ``start`` are the bits of the slice's variables; ``steps`` of each happening its moment (units),
    its number among the slice's happenings and the bits afterwards; ``end`` is in units, too.
    """

    start: tuple[int, ...]
    steps: tuple[tuple[Fraction, int, tuple[int, ...]], ...]
    end: Fraction
    begins_s: Fraction | None
    seasons: int = 1


@dataclass(frozen=True, slots=True)
class Run:
    """A run from its start.

    ``start`` gives (subject, value) of every point, door, room, night as the run begins.
    ``fails_s``/``fails_just_after``: the moment at which the requirement is seen to fail (or, of
    a witness, at which the condition is reached); ``fails_s`` may lie after the last step (time
    alone passes). ``cycle_from`` is the index of the first step of a part that repeats for ever;
    None if there is none. ``rests`` is true of a run that ends in a state in which nothing more
    will happen by itself. ``clock`` is None of a run that reads no clock and no sun of a site.
    """

    start: tuple[tuple[str, str], ...]
    steps: tuple[Step, ...]
    fails_s: Fraction
    fails_just_after: bool
    cycle_from: int | None
    rests: bool
    clock: RunClock | None = None
    ends_s: Fraction | None = None
    ends_just_after: bool = False
    """When it fails by the steps' ``at_s``, likewise (None: at ``fails_s``)."""
    played: Played | None = field(default=None, compare=False, repr=False)

    @property
    def end_s(self) -> tuple[Fraction, bool]:
        """When it fails as it is told by ``at_s``, and whether only just after that."""
        if self.ends_s is None:
            return self.fails_s, self.fails_just_after
        return self.ends_s, self.ends_just_after
