"""Rows of boxes put in order and side by side: few crossings, short lines, no overlap.

Used downwards (rows of a rule's drawing) and sideways (columns of who drives what): ``size`` is
the width there and the height here.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Mapping, Sequence

Edge = tuple[str, str]
"""A line from a box of one row to a box of the next one."""

SWEEPS = 12


def ordered(
    rows: Sequence[Sequence[str]], edges: Sequence[Edge], last: frozenset[str] = frozenset()
) -> list[list[str]]:
    """The rows in an order with few crossings; those in ``last`` stand at the end of theirs.

    Source: sweeps by barycentres, K. Sugiyama, S. Tagawa, M. Toda, "Methods for Visual
    Understanding of Hierarchical System Structures" (1981).
    """
    above: dict[str, list[str]] = {}
    below: dict[str, list[str]] = {}
    for source, target in edges:
        below.setdefault(source, []).append(target)
        above.setdefault(target, []).append(source)
    now = [sorted(row, key=lambda name: name in last) for row in rows]
    best, fewest = [list(row) for row in now], crossings(now, edges)
    for sweep in range(SWEEPS):
        if not fewest:
            break
        down = sweep % 2 == 0
        numbers = range(1, len(now)) if down else range(len(now) - 2, -1, -1)
        for number in numbers:
            beside = now[number - 1 if down else number + 1]
            place = {name: position for position, name in enumerate(beside)}
            now[number] = _by_barycentre(now[number], above if down else below, place, last)
        found = crossings(now, edges)
        if found < fewest:
            best, fewest = [list(row) for row in now], found
    return best


def _by_barycentre(
    row: list[str],
    joined: Mapping[str, list[str]],
    place: Mapping[str, int],
    last: frozenset[str],
) -> list[str]:
    def key(name: str) -> tuple[bool, float]:
        at = [place[other] for other in joined.get(name, ()) if other in place]
        return (name in last, sum(at) / len(at) if at else float(row.index(name)))

    return sorted(row, key=key)


def crossings(rows: Sequence[Sequence[str]], edges: Sequence[Edge]) -> int:
    """How often lines cross between the rows.

    >>> crossings([["a", "b"], ["c", "d"]], [("a", "d"), ("b", "c")])
    1
    """
    place = {name: (n, k) for n, row in enumerate(rows) for k, name in enumerate(row)}
    between: dict[int, list[tuple[int, int]]] = {}
    for source, target in edges:
        between.setdefault(place[source][0], []).append((place[source][1], place[target][1]))
    count = 0
    for found in between.values():
        seen: list[int] = []
        for _, to in sorted(found):
            count += len(seen) - bisect_right(seen, to)
            insort(seen, to)
    return count


def spread(
    rows: Sequence[Sequence[str]],
    sizes: Mapping[str, float],
    edges: Sequence[Edge],
    gap: float,
    straight: frozenset[str] = frozenset(),
) -> dict[str, float]:
    """The middle of each box along its row, from 0; boxes of a row keep ``gap`` between them.

    Each box comes as near to the middle of those that it is joined with as its neighbours let
    it; those in ``straight`` (mere bends of a line) count for more.
    """
    joined: dict[str, list[str]] = {}
    for source, target in edges:
        joined.setdefault(source, []).append(target)
        joined.setdefault(target, []).append(source)
    whole = max((_length(row, sizes, gap) for row in rows), default=0.0)
    middles: dict[str, float] = {}
    for row in rows:
        at = (whole - _length(row, sizes, gap)) / 2
        for name in row:
            middles[name] = at + sizes[name] / 2
            at += sizes[name] + gap
    for sweep in range(2 * SWEEPS):
        for row in rows if sweep % 2 == 0 else reversed(rows):
            wanted, weights = [], []
            for name in row:
                others = [middles[other] for other in joined.get(name, ())]
                wanted.append(sum(others) / len(others) if others else middles[name])
                weights.append(4.0 if name in straight else 1.0)
            for name, middle in zip(
                row, nearest(wanted, weights, [sizes[n] for n in row], gap, whole), strict=True
            ):
                middles[name] = middle
    return middles


def _length(row: Sequence[str], sizes: Mapping[str, float], gap: float) -> float:
    return sum(sizes[name] for name in row) + gap * max(len(row) - 1, 0)


def nearest(
    wanted: Sequence[float],
    weights: Sequence[float],
    sizes: Sequence[float],
    gap: float,
    whole: float,
) -> list[float]:
    """The middles nearest to the wanted ones (least squares) that keep order, gap and room.

    Source: pooling of adjacent violators, M. Ayer and others (1955), after taking away what the
    boxes before take; cut to the room afterwards, which keeps it the best.

    >>> nearest([5.0, 5.0], [1, 1], [4.0, 4.0], 2.0, 20.0)
    [2.0, 8.0]
    """
    if not wanted:
        return []
    before, shifts = 0.0, []
    for size in sizes:
        shifts.append(before + size / 2)
        before += size + gap
    room = whole - (before - gap)
    pools: list[list[float]] = []  # mean, weight, how many
    for middle, weight, shift in zip(wanted, weights, shifts, strict=True):
        pools.append([middle - shift, weight, 1])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            mean, heavy, count = pools.pop()
            last = pools[-1]
            last[0] = (last[0] * last[1] + mean * heavy) / (last[1] + heavy)
            last[1] += heavy
            last[2] += count
    begins = [min(max(mean, 0.0), max(room, 0.0)) for mean, _, n in pools for _ in range(int(n))]
    return [begin + shift for begin, shift in zip(begins, shifts, strict=True)]
