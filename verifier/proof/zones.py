"""Zones: convex sets of clock values, as difference-bound matrices in canonical form.

Shape
    A zone over the clocks ``1 .. n`` is a tuple of ``size * size`` integers, row by row, where
    ``size == n + 1`` and index 0 stands for the constant zero. The entry at ``i * size + j``
    bounds ``x_i - x_j`` from above: ``2 * c + 1`` says "at most c", ``2 * c`` "less than c",
    ``INFINITE`` "no bound". Every zone handed out is non-empty, closed (each entry is the tightest
    that the others imply) and has only clocks that are at least 0, so equal sets are equal tuples.

Source
    D. L. Dill, "Timing assumptions and verification of finite-state concurrent systems" (1989);
    J. Bengtsson, W. Yi, "Timed automata: semantics, algorithms and tools" (2004), from memory.

The loops are written for speed, not for looks: this is the innermost part of the zone search.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

Zone = tuple[int, ...]

INFINITE = 1 << 60
"""The entry that bounds nothing. Larger than any bound that clocks of a job can have."""

AT_MOST_ZERO = 1
"""The entry for "at most 0", which stands on the diagonal."""


def at_most(limit: int) -> int:
    """The entry for "at most ``limit``".

    >>> at_most(3), at_most(-3)
    (7, -5)
    """
    return 2 * limit + 1


def less_than(limit: int) -> int:
    """The entry for "less than ``limit``".

    >>> less_than(3), less_than(-3)
    (6, -6)
    """
    return 2 * limit


def opposite(bound: int) -> int:
    """The entry of ``x_j - x_i`` that says the contrary of ``bound`` on ``x_i - x_j``.

    >>> opposite(at_most(3)) == less_than(-3), opposite(less_than(3)) == at_most(-3)
    (True, True)
    """
    return 1 - bound


def added(first: int, second: int) -> int:
    """The sum of two entries.

    >>> added(at_most(3), less_than(4)) == less_than(7)
    True
    >>> added(INFINITE, at_most(-5)) == INFINITE
    True
    """
    if first == INFINITE or second == INFINITE:
        return INFINITE
    return first + second - ((first | second) & 1)


def everything(size: int) -> Zone:
    """The zone of all clock values of at least 0."""
    cells = [INFINITE] * (size * size)
    for index in range(size):
        cells[index] = 1
        cells[index * (size + 1)] = 1
    return tuple(cells)


def origin(size: int) -> Zone:
    """The zone in which every clock is 0."""
    return (AT_MOST_ZERO,) * (size * size)


def delayed(zone: Zone, size: int) -> Zone:
    """The zone after any time of at least 0 has passed."""
    cells = list(zone)
    cells[size::size] = [INFINITE] * (size - 1)
    return tuple(cells)


def constrained(zone: Zone, size: int, i: int, j: int, bound: int) -> Zone | None:
    """The part of ``zone`` in which ``x_i - x_j`` keeps ``bound``; None if there is none."""
    if bound >= zone[i * size + j]:
        return zone
    back = zone[j * size + i]
    if back != INFINITE and back + bound - ((back | bound) & 1) < 1:
        return None
    cells = list(zone)
    _tighten(cells, size, i, j, bound)
    return tuple(cells)


def constrained_all(
    zone: Zone, size: int, constraints: Iterable[tuple[int, int, int]]
) -> Zone | None:
    """The part of ``zone`` that keeps every ``(i, j, bound)``; None if there is none."""
    cells: list[int] | None = None
    current: Sequence[int] = zone
    for i, j, bound in constraints:
        if bound >= current[i * size + j]:
            continue
        back = current[j * size + i]
        if back != INFINITE and back + bound - ((back | bound) & 1) < 1:
            return None
        if cells is None:
            current = cells = list(zone)
        _tighten(cells, size, i, j, bound)
    return zone if cells is None else tuple(cells)


def reset(zone: Zone, size: int, i: int) -> Zone:
    """The zone after ``x_i := 0``."""
    cells = list(zone)
    start = i * size
    cells[start : start + size] = zone[:size]
    cells[i::size] = cells[0::size]
    return tuple(cells)


def assigned(zone: Zone, size: int, mapping: Sequence[int]) -> Zone:
    """The zone after all clocks are set at once: ``x_i := x_mapping[i]``, or 0 for -1 (or 0).

    ``mapping`` has ``size`` items; the one at index 0 is not looked at, as the zero stays zero.
    """
    sources = [source if source > 0 else 0 for source in mapping]
    sources[0] = 0
    return tuple([zone[row * size + column] for row in sources for column in sources])


def freed(zone: Zone, size: int, i: int) -> Zone:
    """The zone after ``x_i`` takes any value of at least 0."""
    cells = list(zone)
    start = i * size
    cells[start : start + size] = [INFINITE] * size
    cells[i::size] = cells[0::size]
    cells[start + i] = 1
    return tuple(cells)


def joined(first: Zone, second: Zone) -> Zone:
    """The least zone that includes both."""
    return tuple([a if a > b else b for a, b in zip(first, second, strict=True)])


def includes(outer: Zone, inner: Zone) -> bool:
    """Whether every point of ``inner`` is in ``outer``."""
    if outer is inner:
        return True
    for a, b in zip(outer, inner, strict=True):  # noqa: SIM110 - a third faster than all(...)
        if a < b:
            return False
    return True


def intersected(first: Zone, second: Zone, size: int) -> Zone | None:
    """The zone of the points that are in both; None if there are none."""
    different = [at for at, bound in enumerate(second) if bound < first[at]]
    if not different:
        return first
    cells = list(first)
    if len(different) > size:
        for at in different:
            cells[at] = second[at]
        return tuple(cells) if _close(cells, size) else None
    for at in different:
        bound = second[at]
        if bound < cells[at]:
            i, j = divmod(at, size)
            back = cells[j * size + i]
            if back != INFINITE and back + bound - ((back | bound) & 1) < 1:
                return None
            _tighten(cells, size, i, j, bound)
    return tuple(cells)


def extrapolated(zone: Zone, size: int, greatest: Sequence[int]) -> Zone:
    """``zone`` widened so that only finitely many can arise: maximal-constant extrapolation.

    ``greatest[i]`` is the greatest constant with which ``x_i`` is compared, -1 if it never is (it
    is freed then); the item at index 0 is not looked at. Sound only where clocks are compared with
    constants, not with each other.

    Source: G. Behrmann, P. Bouyer, K. G. Larsen, R. Pelánek, "Lower and upper bounds in zone-based
    abstractions of timed automata" (2006), Extra_M, from memory.
    """
    cells = list(zone)
    changed = False
    freed_clocks = []
    lowest = [0] * size
    for i in range(1, size):
        most = greatest[i]
        if most < 0:
            freed_clocks.append(i)
            lowest[i] = -INFINITE
        else:
            lowest[i] = -2 * most
    for i in range(size):
        start = i * size
        if i and greatest[i] < 0:
            cells[start : start + size] = [INFINITE] * size
            cells[start + i] = 1
            continue
        most_bound = 2 * greatest[i] + 1 if i else 1
        for j in range(size):
            bound = cells[start + j]
            if bound > most_bound:
                if bound != INFINITE:
                    cells[start + j] = INFINITE
                    changed = True
            elif bound < lowest[j]:
                cells[start + j] = lowest[j]
                changed = True
    for i in freed_clocks:
        cells[i::size] = [INFINITE] * size
        cells[i * size + i] = 1
    if changed:
        _close(cells, size)
    elif not freed_clocks:
        return zone
    for i in freed_clocks:
        cells[i::size] = cells[0::size]
        cells[i * size + i] = 1
    return tuple(cells)


def subtract(first: Zone, second: Zone, size: int) -> list[Zone]:
    """What is in ``first`` but not in ``second``: zones without a common point.

    Shape: empty if ``second`` includes ``first``; ``[first]`` if they have no common point.
    """
    remaining = intersected(first, second, size)
    if remaining is None:
        return [first]
    pieces: list[Zone] = []
    current = first
    for at, bound in enumerate(second):
        if bound < current[at]:
            i, j = divmod(at, size)
            piece = constrained(current, size, j, i, 1 - bound)
            if piece is not None:
                pieces.append(piece)
            narrowed = constrained(current, size, i, j, bound)
            if narrowed is None:
                break
            current = narrowed
            if current == remaining:
                break
    return pieces


def supremum(zone: Zone, size: int, i: int) -> int:
    """The entry that bounds ``x_i`` from above; ``INFINITE`` if nothing does."""
    return zone[i * size]


def infimum(zone: Zone, i: int) -> int:
    """The entry that bounds ``-x_i`` from above, so ``x_i`` from below."""
    return zone[i]


def contains(zone: Zone, size: int, point: Sequence[Fraction | int]) -> bool:
    """Whether ``point`` is in ``zone``; ``point[i]`` is the value of ``x_i``, ``point[0]`` is 0."""
    for i in range(size):
        for j in range(size):
            bound = zone[i * size + j]
            if bound == INFINITE:
                continue
            difference = point[i] - point[j]
            limit = bound >> 1
            if difference > limit or (difference == limit and not bound & 1):
                return False
    return True


def sample(zone: Zone, size: int) -> list[Fraction]:
    """A point inside: ``size`` values, the one at index 0 is 0.

    Each clock in turn takes its least value, or, if that is excluded, one more than it where that
    is allowed, else the middle.
    """
    point = [Fraction(0)]
    for k in range(1, size):
        low, low_open = Fraction(0), False
        high: Fraction | None = None
        high_open = False
        for j, value in enumerate(point):
            bound = zone[j * size + k]
            if bound != INFINITE:
                limit, open_here = value - (bound >> 1), not bound & 1
                if limit > low or (limit == low and open_here):
                    low, low_open = limit, open_here
            bound = zone[k * size + j]
            if bound != INFINITE:
                limit, open_here = value + (bound >> 1), not bound & 1
                if high is None or limit < high or (limit == high and open_here):
                    high, high_open = limit, open_here
        if not low_open:
            point.append(low)
        elif high is None or low + 1 < high or (low + 1 == high and not high_open):
            point.append(low + 1)
        else:
            point.append((low + high) / 2)
    return point


def closed(cells: Iterable[int], size: int) -> Zone | None:
    """The canonical zone of any matrix of bounds, clocks at least 0; None if it is empty."""
    tightened = list(cells)
    for j in range(size):
        if tightened[j] > 1:
            tightened[j] = 1
        diagonal = j * size + j
        if tightened[diagonal] > 1:
            tightened[diagonal] = 1
    return tuple(tightened) if _close(tightened, size) else None


def _tighten(cells: list[int], size: int, i: int, j: int, bound: int) -> None:
    """Put a tighter bound on ``x_i - x_j`` into closed ``cells`` and close them again.

    The caller has made sure that the result is not empty.
    """
    start = j * size
    onwards = [
        (column, entry)
        for column, entry in enumerate(cells[start : start + size])
        if entry != INFINITE
    ]
    row = 0
    for entry in cells[i::size]:
        if entry != INFINITE:
            through = entry + bound - ((entry | bound) & 1)
            # A row that does not come nearer to j comes nearer to nothing behind j.
            if through < cells[row + j]:
                if through & 1:
                    through -= 1
                    for column, further in onwards:
                        total = through + further
                        if total < cells[row + column]:
                            cells[row + column] = total
                else:
                    for column, further in onwards:
                        total = through + further - (further & 1)
                        if total < cells[row + column]:
                            cells[row + column] = total
        row += size


def _close(cells: list[int], size: int) -> bool:
    """Close ``cells`` in place (all pairs, shortest paths); whether they are not empty."""
    for k in range(size):
        start = k * size
        onwards = [
            (column, entry)
            for column, entry in enumerate(cells[start : start + size])
            if entry != INFINITE and column != k
        ]
        row = 0
        for entry in cells[k::size]:
            if entry != INFINITE and row != start:
                for column, further in onwards:
                    total = entry + further - ((entry | further) & 1)
                    if total < cells[row + column]:
                        cells[row + column] = total
            row += size
    return all(cells[index] >= 1 for index in range(0, size * size, size + 1))
