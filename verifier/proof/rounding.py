"""Of all moments that a path may have, those that a person would tell it with.

The earliest moments (:mod:`verifier.proof.timing`) say what is possible at the least: a door that
opens and shuts in no time, dusk at the very moment at which a motor starts. A client takes that
for a trick. So each happening outside comes a usual while after the one before it, as long as the
path is the same; what runs out by itself, and the failing itself, come as early as they can.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from verifier.proof.moves import Moves
from verifier.proof.timing import Moment, Timed, Timeline, distances
from verifier.surroundings.calendar import DAY_S, WEEK_S
from verifier.surroundings.happenings import (
    CalendarTurns,
    ControllerWakes,
    LevelPassed,
    LevelReached,
    QuietBegins,
    StayedRunsOut,
    WaitRunsOut,
)

USUAL_S = tuple(
    Fraction(s)
    for s in (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1500, 1800)
) + tuple(Fraction(3600 * h) for h in (1, 2, 3, 4, 6, 8, 12, 16, 20, 24))
"""Usual whiles between two things that people notice, the likeliest first."""

SHORT_S = tuple(
    Fraction(ms, 1000) for ms in (1000, 2000, 3000, 4000, 500, 200, 100, 50, 20, 10, 5, 2, 1)
)
"""Whiles for what has to be quicker."""

_BY_ITSELF = (WaitRunsOut, StayedRunsOut, LevelReached, LevelPassed, ControllerWakes, QuietBegins)

Span = tuple[Fraction, bool, Fraction | None, bool]
"""Least and greatest moment (None: none), each with whether it is itself left out."""


def rounded(moves: Moves, timeline: Timeline) -> Timeline:
    """The timeline with the moments to tell it with; as it was, if it has fades or no edges.

    Along a fade the moments of other happenings follow from where it was cut short.
    """
    system = moves.system
    if not timeline.edges or system.fading:
        return timeline
    size, last = system.unit.size_s, len(timeline.path) + 1
    apart = distances(last + 1, timeline.edges)
    at = [Fraction(0)] * (last + 1)
    before = Fraction(0)
    parts = max(Fraction(units).denominator for _, _, units, _ in timeline.edges)
    # No part of a millisecond, so that "just after" can be told from a moment of its own.
    tiny = Fraction(1, 3 * (last + 2) * parts)
    told: list[Moment] = []
    for node in range(1, last + 1):
        span = _span(apart, at, node)
        happening = None if node == last else system.happenings[timeline.path[node - 1].happening]
        if happening is None or isinstance(happening, (*_BY_ITSELF, CalendarTurns)):
            at[node] = _least(span, tiny)
            told.append((span[0], 1 if span[1] else 0))
        else:
            at[node] = _usual(span, before, size, tiny, first=node == 1)
            told.append(
                (at[node], 0) if at[node] > span[0] + tiny else (span[0], 1 if span[1] else 0)
            )
        if not isinstance(happening, QuietBegins):
            before = at[node]
    usual = replace(timeline, exact=(tuple(at[1:-1]), at[-1]), ends=told[-1])
    if timeline.pinned is None:
        return usual
    # By a calendar these are the moments: another way to time it would be another date.
    node, absolute = timeline.pinned
    begins = absolute - (at[node] if node else Fraction(0)) * size
    placed = system.world.in_calendar
    assert placed is not None
    if placed.calendar.site is None:
        begins %= WEEK_S if placed.calendar.marks.period == WEEK_S else DAY_S
    return replace(usual, begins_s=begins, timed=Timed(tuple(told[:-1]), told[-1]))


def _span(
    apart: list[list[tuple[Fraction | int, int] | None]], at: list[Fraction], node: int
) -> Span:
    """Where a node can lie, those before it being fixed."""
    least, open_below = Fraction(0), False
    most: Fraction | None = None
    open_above = False
    for earlier in range(node):
        after = apart[earlier][node]
        if after is not None:
            bound, strict = at[earlier] + after[0], after[1] > 0
            if bound > least or (bound == least and strict):
                least, open_below = bound, strict
        before = apart[node][earlier]
        if before is not None:
            bound, strict = at[earlier] - before[0], before[1] > 0
            if most is None or bound < most or (bound == most and strict):
                most, open_above = bound, strict
    return least, open_below, most, open_above


def _least(span: Span, tiny: Fraction) -> Fraction:
    least, open_below, most, _ = span
    if not open_below:
        return least
    return least + tiny if most is None else least + min(tiny, (most - least) / 2)


def _usual(
    span: Span, before: Fraction, size: Fraction, tiny: Fraction, *, first: bool
) -> Fraction:
    """The usual moment for a happening outside: inside its span if it can be, not at its edge."""
    least, open_below, most, open_above = span
    if first and least == 0 and not open_below:
        return least

    def inside(at: Fraction) -> bool:
        return least < at and (most is None or at < most)

    def allowed(at: Fraction) -> bool:
        return (least < at or (at == least and not open_below)) and (
            most is None or at < most or (at == most and not open_above)
        )

    for fits in (inside, allowed):
        for while_s in (*USUAL_S, *SHORT_S):
            at = before + while_s / size
            if fits(at):
                return at
    return _least(span, tiny)
