"""When each step of a path happens: the earliest moments that its guards allow.

The moments of a path obey difference constraints, whose solutions are closed under the
pointwise minimum: there is one earliest moment for every step at once. A strict bound puts a
moment "just after" another; such moments are pairs (units, number of small steps).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from verifier.proof.moves import Constraint, Discrete, Move, Moves
from verifier.proof.zones import INFINITE

Moment = tuple[Fraction | int, int]
"""Units, and how many small steps after."""

Edge = tuple[int, int, Fraction | int, int]
"""``(a, b, units, small)``: moment b is at least moment a plus that."""


@dataclass(frozen=True, slots=True)
class Timed:
    """The earliest moment of each move, and of the failing state at the end."""

    moments: tuple[Moment, ...]
    end: Moment


@dataclass(frozen=True, slots=True)
class Timeline:
    """A path from a discrete start with its moments, ready to be replayed.

    ``begins_s`` is when it begins by the calendar: seconds since 1970 with a site, else since
    Monday, 0:00; None if it reads no clock.
    """

    start: Discrete
    path: tuple[Move, ...]
    timed: Timed
    begins_s: Fraction | None = None
    edges: tuple[Edge, ...] = ()
    """What its moments have to keep to; none if they cannot be moved one by one (fades)."""
    pinned: tuple[int, Fraction] | None = None
    """A node of the path and the second of the calendar at which it is."""
    exact: tuple[tuple[Fraction, ...], Fraction] | None = None
    """Moments and end as they are told and replayed; None: just as early as can be."""
    ends: Moment | None = None
    """With ``exact``: the earliest moment of its failing."""


def edges_of(
    moves: Moves,
    start: Discrete,
    path: tuple[Move, ...],
    final: tuple[Constraint, ...],
    without: frozenset[int] = frozenset(),
) -> list[Edge]:
    """The difference constraints of a path over moments 0 (the start), 1 … n, and n + 1 (the end).

    What is asked of the clocks of ``without`` is left out.
    """
    edges: list[Edge] = []
    state = start
    since = [0] * moves.info(state).size

    def constrain(now: int, constraints: tuple[Constraint, ...]) -> None:
        active = moves.info(state).active
        for i, j, bound in constraints:
            if bound == INFINITE:
                continue
            if (i and active[i - 1] in without) or (j and active[j - 1] in without):
                continue
            # x_i - x_j bounded, where x_i = now - since[i] and the zero clock is no difference.
            later = now if i else since[j]
            earlier = since[i] if i else now
            if i and j:
                later, earlier = since[j], since[i]
            strict = 0 if bound & 1 else 1
            edges.append((later, earlier, -(bound >> 1), strict))

    for number, move in enumerate(path, 1):
        edges.append((number - 1, number, 0, 0))
        constrain(number, moves.info(state).invariant)
        constrain(number, move.guards)
        since = [number if s <= 0 else since[s] for s in move.sources]
        state = move.target
    end = len(path) + 1
    edges.append((end - 1, end, 0, 0))
    constrain(end, moves.info(state).invariant)
    constrain(end, final)
    return edges


def earliest(
    moves: Moves, start: Discrete, path: tuple[Move, ...], final: tuple[Constraint, ...]
) -> Timed | None:
    """The earliest moments of a path and of its end; None if the path is not possible."""
    return least_moments(len(path) + 2, edges_of(moves, start, path, final))


def least_moments(count: int, edges: list[Edge]) -> Timed | None:
    """The least moments of 0 (the start) … ``count`` - 1 (the end) that keep to all edges, if any."""
    at: list[Moment] = [(0, 0)] * count
    for _ in range(count + 1):
        changed = False
        for a, b, units, small in edges:
            moment = (at[a][0] + units, at[a][1] + small)
            if moment > at[b]:
                if b == 0:
                    return None
                at[b] = moment
                changed = True
        if not changed:
            return Timed(tuple(at[1:-1]), at[-1])
    return None


def exact_times(timed: Timed) -> tuple[tuple[Fraction, ...], Fraction]:
    """Moments as fractions of units: small steps so small that no bound is crossed.

    Bounds are whole units; where a moment is none (a date, a fade), the steps are finer by far.
    """
    moments = [(Fraction(units), small) for units, small in (*timed.moments, timed.end)]
    most = max([small for _, small in moments], default=0)
    scale = lcm(*(units.denominator for units, _ in moments))
    step = Fraction(1, 2 * (most + 1) * (1 if scale == 1 else FINER * scale))
    exact = [units + small * step for units, small in moments]
    return tuple(exact[:-1]), exact[-1]


def moments_of(timeline: Timeline) -> tuple[tuple[Fraction, ...], Fraction]:
    """The moments (units) at which a timeline is replayed, and its end."""
    return exact_times(timeline.timed) if timeline.exact is None else timeline.exact


def distances(count: int, edges: Iterable[Edge]) -> list[list[tuple[Fraction | int, int] | None]]:
    """How much later, at least, each node is than each other one (None: nothing is asked)."""
    apart: list[list[tuple[Fraction | int, int] | None]] = [[None] * count for _ in range(count)]
    for node in range(count):
        apart[node][node] = (0, 0)
    for a, b, units, small in edges:
        old = apart[a][b]
        if old is None or (units, small) > old:
            apart[a][b] = (units, small)
    for k in range(count):
        via = apart[k]
        for row in apart:
            to = row[k]
            if to is None:
                continue
            for j, rest in enumerate(via):
                if rest is not None:
                    whole = (to[0] + rest[0], to[1] + rest[1])
                    known = row[j]
                    if known is None or whole > known:
                        row[j] = whole
    return apart


FINER = 64
