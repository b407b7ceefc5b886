"""Zones against plain membership of points of a fine grid, and against z3 for larger sizes.

The brute force knows nothing of closure: it reads the bounds of a matrix one by one. A non-empty
zone over n clocks with whole-number bounds has a point whose values are multiples of 1 / (n + 1),
so a grid of quarters decides emptiness for up to three clocks (the regions of R. Alur and
D. L. Dill, "A theory of timed automata", 1994).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from verifier.proof import zones
from verifier.proof.zones import INFINITE, Zone, at_most, less_than

PARTS = 4
"""Points are counted in quarters."""

SIZE = 3
"""Two clocks: with them the grid can reach far beyond the bounds."""

MOST = 3
"""The greatest constant of a generated bound."""

REACH = 3 * MOST
"""How far the grid goes: farther than any difference that two clocks and these bounds allow."""

Point = tuple[int, ...]
quick = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))


def is_in(cells: Sequence[int], size: int, point: Sequence[int], parts: int = PARTS) -> bool:
    """Whether a point, counted in ``1 / parts``, keeps every bound of a matrix."""
    for i in range(size):
        for j in range(size):
            bound = cells[i * size + j]
            if bound >= INFINITE:
                continue
            limit = (bound // 2) * parts
            difference = point[i] - point[j]
            if difference > limit or (difference == limit and bound % 2 == 0):
                return False
    return True


def grid(size: int = SIZE, reach: int = REACH) -> Iterator[Point]:
    for values in product(range(reach * PARTS + 1), repeat=size - 1):
        yield (0, *values)


POINTS = list(grid())

bounds = st.integers(-MOST, MOST).flatmap(lambda c: st.sampled_from([at_most(c), less_than(c)]))
places = st.tuples(st.integers(0, SIZE - 1), st.integers(0, SIZE - 1)).filter(
    lambda pair: pair[0] != pair[1]
)
constraints = st.tuples(places, bounds).map(lambda both: (*both[0], both[1]))


@st.composite
def zone(draw: st.DrawFn) -> Zone:
    """A non-empty zone: bounds are put on one after another as long as something remains."""
    result = zones.everything(SIZE)
    for i, j, bound in draw(st.lists(constraints, max_size=6)):
        narrowed = zones.constrained(result, SIZE, i, j, bound)
        result = result if narrowed is None else narrowed
    return result


def assert_is_canonical(value: Zone, size: int = SIZE) -> None:
    assert isinstance(value, tuple)
    assert len(value) == size * size
    assert zones.closed(value, size) == value


def assert_same_points(value: Zone, wanted: list[bool]) -> None:
    assert_is_canonical(value)
    got = [is_in(value, SIZE, point) for point in POINTS]
    wrong = [p for p, a, b in zip(POINTS, got, wanted, strict=True) if a != b]
    assert not wrong, wrong[:3]


@given(st.lists(constraints, max_size=6))
@quick
def test_constraints_keep_exactly_the_points_that_keep_them(
    wanted: list[tuple[int, int, int]],
) -> None:
    def keeps(point: Point) -> bool:
        for i, j, bound in wanted:
            cells = [INFINITE] * (SIZE * SIZE)
            cells[i * SIZE + j] = bound
            if not is_in(cells, SIZE, point):
                return False
        return True

    expected = [keeps(point) for point in POINTS]
    together = zones.constrained_all(zones.everything(SIZE), SIZE, wanted)
    one_by_one: Zone | None = zones.everything(SIZE)
    for i, j, bound in wanted:
        if one_by_one is not None:
            one_by_one = zones.constrained(one_by_one, SIZE, i, j, bound)
    assert together == one_by_one
    if together is None:
        assert not any(expected)
    else:
        assert any(expected)
        assert_same_points(together, expected)


def test_everything_and_origin_are_all_points_and_one() -> None:
    assert_same_points(zones.everything(SIZE), [True] * len(POINTS))
    assert_same_points(zones.origin(SIZE), [not any(point) for point in POINTS])


@given(zone())
@quick
def test_a_delayed_zone_holds_what_some_delay_leads_to(value: Zone) -> None:
    # Delays in eighths: where an open stretch of delays works, it may lie between two quarters.
    def reached(point: Point) -> bool:
        doubled = [2 * v for v in point]
        return any(
            is_in(value, SIZE, [0, *(v - delay for v in doubled[1:])], 2 * PARTS)
            for delay in range(min(doubled[1:]) + 1)
        )

    assert_same_points(zones.delayed(value, SIZE), [reached(point) for point in POINTS])


@given(zone(), st.integers(1, SIZE - 1))
@quick
def test_freed_and_reset_forget_one_clock(value: Zone, clock: int) -> None:
    def possible(point: Point) -> bool:
        doubled = [2 * v for v in point]
        for other in range(2 * PARTS * (REACH + MOST + 1)):
            doubled[clock] = other
            if is_in(value, SIZE, doubled, 2 * PARTS):
                return True
        return False

    cache: dict[Point, bool] = {}
    expected = []
    for point in POINTS:
        key = point[:clock] + point[clock + 1 :]
        if key not in cache:
            cache[key] = possible(point)
        expected.append(cache[key])
    assert_same_points(zones.freed(value, SIZE, clock), expected)
    assert_same_points(
        zones.reset(value, SIZE, clock),
        [e and point[clock] == 0 for e, point in zip(expected, POINTS, strict=True)],
    )


@given(zone(), st.tuples(st.integers(-1, SIZE - 1), st.integers(-1, SIZE - 1)))
@quick
def test_assignments_read_the_old_values(value: Zone, sources: tuple[int, int]) -> None:
    result = zones.assigned(value, SIZE, [0, *sources])
    assert_is_canonical(result)
    for point in POINTS:
        if is_in(value, SIZE, point):
            image = (0, *(point[s] if s > 0 else 0 for s in sources))
            assert is_in(result, SIZE, image)
    # The other way: near the origin every grid point of the result has an original on the grid
    # of eighths. A clock that is forgotten may have needed to be above the sum of two bounds.
    originals = {
        (0, *(p[s] if s > 0 else 0 for s in sources))
        for p in ((0, *v) for v in product(range(2 * PARTS * REACH + 1), repeat=2))
        if is_in(value, SIZE, p, 2 * PARTS)
    }
    for point in grid(reach=MOST - 1):
        if is_in(result, SIZE, point):
            assert tuple(2 * v for v in point) in originals


@given(zone())
@quick
def test_assigning_zero_to_one_clock_is_resetting_it(value: Zone) -> None:
    assert zones.assigned(value, SIZE, [0, -1, 2]) == zones.reset(value, SIZE, 1)
    assert zones.assigned(value, SIZE, [0, 1, 2]) == value


@given(zone(), zone())
@quick
def test_joining_gives_the_least_zone_with_both(first: Zone, second: Zone) -> None:
    both = zones.joined(first, second)
    assert_is_canonical(both)
    assert zones.includes(both, first)
    assert zones.includes(both, second)
    for i, j in ((i, j) for i in range(SIZE) for j in range(SIZE) if i != j):
        bound = both[i * SIZE + j]
        if bound != INFINITE:  # a tighter bound loses a point of one of them
            narrower = zones.constrained(both, SIZE, i, j, bound - 1)
            assert narrower is None or not (
                zones.includes(narrower, first) and zones.includes(narrower, second)
            )


@given(zone(), zone())
@quick
def test_including_and_intersecting_are_what_the_points_say(first: Zone, second: Zone) -> None:
    in_first = [is_in(first, SIZE, point) for point in POINTS]
    in_second = [is_in(second, SIZE, point) for point in POINTS]
    includes = all(a or not b for a, b in zip(in_first, in_second, strict=True))
    assert zones.includes(first, second) == includes
    common = [a and b for a, b in zip(in_first, in_second, strict=True)]
    got = zones.intersected(first, second, SIZE)
    if got is None:
        assert not any(common)
    else:
        assert any(common)
        assert_same_points(got, common)


@given(zone(), zone())
@quick
def test_subtracting_leaves_disjoint_pieces_of_the_difference(first: Zone, second: Zone) -> None:
    pieces = zones.subtract(first, second, SIZE)
    for piece in pieces:
        assert_is_canonical(piece)
    for point in POINTS:
        count = sum(is_in(piece, SIZE, point) for piece in pieces)
        assert count == int(is_in(first, SIZE, point) and not is_in(second, SIZE, point))
    for index, piece in enumerate(pieces):
        for other in pieces[index + 1 :]:
            assert zones.intersected(piece, other, SIZE) is None


@given(zone(), st.tuples(st.integers(-1, MOST), st.integers(-1, MOST)))
@quick
def test_extrapolating_adds_only_points_no_comparison_tells_apart(
    value: Zone, constants: tuple[int, int]
) -> None:
    """A comparison with a constant up to the clock's greatest one finds a point in the widened
    zone exactly if it finds one in the zone itself, with several clocks and later delays."""
    greatest = (0, *constants)
    wide = zones.extrapolated(value, SIZE, greatest)
    assert_is_canonical(wide)
    assert zones.includes(wide, value)
    assert zones.extrapolated(wide, SIZE, greatest) == wide
    limits = [
        [(c, kind) for c in range(most + 1) for kind in (at_most(c), less_than(c))]
        for most in constants
    ]
    for start_narrow, start_wide in (
        (value, wide),
        (zones.delayed(value, SIZE), zones.delayed(wide, SIZE)),
    ):
        for _, first in [*limits[0], (0, INFINITE)]:
            for _, second in [*limits[1], (0, INFINITE)]:
                for mirrored in product((False, True), repeat=2):
                    test = [
                        (0, k, 1 - bound) if mirror else (k, 0, bound)
                        for k, bound, mirror in (
                            (1, first, mirrored[0]),
                            (2, second, mirrored[1]),
                        )
                        if bound != INFINITE
                    ]
                    narrow_found = zones.constrained_all(start_narrow, SIZE, test)
                    wide_found = zones.constrained_all(start_wide, SIZE, test)
                    assert (narrow_found is None) == (wide_found is None)


def test_extrapolating_makes_a_counting_loop_finite() -> None:
    """A clock that is set to 0 every second beside one that never is: infinitely many zones
    without extrapolation, a handful with it."""
    current = zones.origin(SIZE)
    seen: list[Zone] = []
    for _ in range(100):
        later = zones.constrained_all(
            zones.delayed(current, SIZE), SIZE, [(1, 0, at_most(1)), (0, 1, at_most(-1))]
        )
        assert later is not None
        current = zones.extrapolated(zones.reset(later, SIZE, 1), SIZE, (0, 1, 5))
        if current in seen:
            break
        seen.append(current)
    assert len(seen) == 6
    assert zones.supremum(current, SIZE, 2) == INFINITE
    assert zones.infimum(current, 2) == less_than(-5)


def test_a_clock_never_compared_is_freed() -> None:
    narrowed = zones.constrained(zones.origin(SIZE), SIZE, 1, 0, at_most(0))
    assert narrowed is not None
    wide = zones.extrapolated(narrowed, SIZE, (0, 2, -1))
    assert wide == zones.freed(narrowed, SIZE, 2)


@given(zone())
@quick
def test_samples_are_inside(value: Zone) -> None:
    point = zones.sample(value, SIZE)
    assert point[0] == 0
    assert zones.contains(value, SIZE, point)
    denominator = 2 ** (SIZE - 1)
    assert all((v * denominator).denominator == 1 for v in point)
    assert is_in(value, SIZE, [int(v * denominator) for v in point], denominator)


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        (at_most(-2), at_most(5), Fraction(2)),
        (less_than(-2), at_most(5), Fraction(3)),
        (less_than(-2), at_most(3), Fraction(3)),
        (less_than(-2), less_than(3), Fraction(5, 2)),
        (less_than(-2), INFINITE, Fraction(3)),
    ],
)
def test_samples_prefer_whole_numbers(low: int, high: int, wanted: Fraction) -> None:
    value = zones.constrained_all(zones.everything(2), 2, [(0, 1, low), (1, 0, high)])
    assert value is not None
    assert zones.sample(value, 2) == [0, wanted]


def test_containing_looks_at_strictness() -> None:
    value = zones.constrained(zones.everything(2), 2, 1, 0, less_than(3))
    assert value is not None
    assert not zones.contains(value, 2, [0, 3])
    assert zones.contains(value, 2, [0, Fraction(299, 100)])
    assert not zones.contains(value, 2, [0, -1])


def test_infinite_survives_addition_of_negative_bounds() -> None:
    value = zones.constrained_all(
        zones.everything(4), 4, [(1, 2, at_most(-1000)), (2, 3, less_than(-1000))]
    )
    assert value is not None
    assert zones.added(value[1 * 4 + 2], value[2 * 4 + 3]) == less_than(-2000)
    assert value[1 * 4 + 3] == less_than(-2000)
    assert zones.supremum(value, 4, 1) == INFINITE
    assert zones.supremum(value, 4, 3) == INFINITE
    assert all(bound == INFINITE or abs(bound) <= 4001 for bound in value)


wide_size = st.integers(2, 7)


@given(st.data(), wide_size)
@settings(max_examples=60, deadline=None)
def test_emptiness_and_tightest_bounds_are_what_z3_finds(data: st.DataObject, size: int) -> None:
    z3 = pytest.importorskip("z3")
    several = data.draw(
        st.lists(
            st.tuples(st.integers(0, size - 1), st.integers(0, size - 1), st.integers(-20, 30)),
            max_size=2 * size,
        )
    )
    several = [(i, j, bound) for i, j, bound in several if i != j]
    got = zones.constrained_all(zones.everything(size), size, several)
    clocks = [z3.RealVal(0), *(z3.Real(f"x{k}") for k in range(1, size))]

    def says(i: int, j: int, bound: int) -> object:
        difference = clocks[i] - clocks[j]
        return difference <= bound >> 1 if bound & 1 else difference < bound >> 1

    solver = z3.Solver()
    solver.add(*(clock >= 0 for clock in clocks[1:]), *(says(*one) for one in several))
    assert (got is not None) == (solver.check() == z3.sat)
    matrix = [INFINITE] * (size * size)
    for i, j, bound in several:
        matrix[i * size + j] = min(matrix[i * size + j], bound)
    assert zones.closed(matrix, size) == got
    if got is None:
        return
    i, j = data.draw(st.sampled_from([(i, j) for i in range(size) for j in range(size) if i != j]))
    bound = got[i * size + j]
    if bound == INFINITE:
        assert solver.check(clocks[i] - clocks[j] > 1000) == z3.sat
    else:
        assert solver.check(z3.Not(says(i, j, bound))) == z3.unsat
        assert solver.check(z3.Not(says(i, j, bound - 1))) == z3.sat
