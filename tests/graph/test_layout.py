"""Layouts: nothing overlaps, no line runs through a box, all lies inside; ranks by hand."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.graph.layout import (
    MOST,
    Box,
    Layout,
    Line,
    Placed,
    Spot,
    Way,
    back_ways,
    layout_of,
    ranks_of,
)
from verifier.graph.ordering import crossings, nearest, ordered, spread

Graph = tuple[list[Box], list[Way]]


def graph_of(ways: str, width: float = 80.0, height: float = 30.0) -> Graph:
    """`"ab bc"`: ways from a to b and from b to c; a is idle."""
    pairs = ways.split()
    names = sorted({name for pair in pairs for name in pair})
    places = [Box(name, width, height) for name in names]
    labels = [Box(f"way {n}", width, height) for n in range(len(pairs))]
    return places, [Way(box, pair[0], pair[1]) for box, pair in zip(labels, pairs, strict=True)]


sizes = st.floats(20, 190).map(round).map(float)


@st.composite
def graphs(draw: st.DrawFn) -> Graph:
    count = draw(st.integers(1, 9))
    places = [Box(f"place {n}", draw(sizes), draw(sizes)) for n in range(count)]
    ends = draw(
        st.lists(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)), max_size=16)
    )
    ways = [
        Way(Box(f"way {n}", draw(sizes), draw(sizes)), f"place {a}", f"place {b}")
        for n, (a, b) in enumerate(ends)
    ]
    return places, ways


def overlap(one: Placed, other: Placed) -> bool:
    return (
        one.x < other.x + other.width - 0.01
        and other.x < one.x + one.width - 0.01
        and one.y < other.y + other.height - 0.01
        and other.y < one.y + one.height - 0.01
    )


def runs_through(begin: Spot, end: Spot, box: Placed) -> bool:
    """Whether the frame of a stretch (its swing lies in it) meets the inside of a box."""
    (x, y), (ox, oy) = begin, end
    left, right, top, bottom = min(x, ox), max(x, ox), min(y, oy), max(y, oy)
    return (
        left < box.x + box.width - 0.1
        and right > box.x + 0.1
        and top < box.y + box.height - 0.1
        and bottom > box.y + 0.1
    )


def check_layout(layout: Layout, graph: Graph) -> None:
    places, ways = graph
    assert [box.name for box in layout.boxes] == [
        *(box.name for box in places),
        *(way.label.name for way in ways),
    ]
    for one, other in combinations(layout.boxes, 2):
        assert not overlap(one, other), (one, other)
    for box in layout.boxes:
        assert box.x >= -0.01
        assert box.y >= -0.01
        assert box.x + box.width <= layout.width + 0.01
        assert box.y + box.height <= layout.height + 0.01
    for line in layout.lines:
        for begin, end in zip(line.spots, line.spots[1:], strict=False):
            assert not any(runs_through(begin, end, box) for box in layout.boxes), line
        for x, y in line.spots:
            assert -0.01 <= x <= layout.width + 0.01
            assert -0.01 <= y <= layout.height + 0.01


def check_ways(layout: Layout, graph: Graph) -> None:
    """Each way can be followed from its place past its words to where it leads."""
    placed = {box.name: box for box in layout.boxes}
    for number, way in enumerate(graph[1]):
        mine = [line for line in layout.lines if number in line.ways]
        arrows = [line for line in mine if line.into]
        assert [line.into for line in arrows] == [way.target]
        assert on_edge(arrows[0].spots[-1], placed[way.target])
        ends = [spot for line in mine for spot in (line.spots[0], line.spots[-1])]
        assert sum(on_edge(spot, placed[way.label.name]) for spot in ends) == 2
        # From the words its stretches hang together up to the place and on to where it leads.
        label = placed[way.label.name]
        reached = [line for line in mine if touches(line, label)]
        for line in reached:
            joined = (other for other in mine if other not in reached and meet(line, other))
            reached.extend(joined)
        assert any(touches(line, placed[way.source]) for line in reached)
        assert arrows[0] in reached


def touches(line: Line, box: Placed) -> bool:
    return on_edge(line.spots[0], box) or on_edge(line.spots[-1], box)


def meet(one: Line, other: Line) -> bool:
    return any(
        on_line(end, b.spots)
        for a, b in ((one, other), (other, one))
        for end in (a.spots[0], a.spots[-1])
    )


def on_edge(spot: Spot, box: Placed) -> bool:
    (x, y), near = spot, 2.1
    inside = box.x - near <= x <= box.x + box.width + near
    inside = inside and box.y - 0.1 <= y <= box.y + box.height + 0.1
    deep = box.x + near < x < box.x + box.width - near
    return inside and not (deep and box.y + 0.1 < y < box.y + box.height - 0.1)


def on_line(spot: Spot, spots: tuple[Spot, ...]) -> bool:
    x, y = spot
    return any(
        min(a, c) - 2.1 <= x <= max(a, c) + 2.1 and min(b, d) - 0.1 <= y <= max(b, d) + 0.1
        for (a, b), (c, d) in pairwise(spots)
    )


@given(graphs())
@settings(max_examples=150)
def test_nothing_overlaps_and_no_line_runs_through_a_box(graph: Graph) -> None:
    layout = layout_of(*graph)
    check_layout(layout, graph)
    check_ways(layout, graph)
    assert layout.width <= MOST


@pytest.mark.parametrize("count", [1, 2, 3, 8, 30, 64])
def test_many_ways_between_two_places_stay_narrow(count: int) -> None:
    graph = graph_of("ab " * count + "ba aa", 150.0)
    layout = layout_of(*graph)
    check_layout(layout, graph)
    check_ways(layout, graph)
    assert layout.width <= 500


def test_a_body_of_forty_branches_is_not_too_wide() -> None:
    """Forty waits side by side in the text: every line of them passes the rows between."""
    places = [Box(f"place {n}", 150.0, 40.0) for n in range(41)]
    out = [Way(Box(f"out {n}", 150.0, 40.0), "place 0", f"place {n}") for n in range(1, 41)]
    home = [Way(Box(f"home {n}", 80.0, 40.0), f"place {n}", "place 0") for n in range(1, 41)]
    layout = layout_of(places, [*out, *home])
    check_layout(layout, (places, [*out, *home]))
    assert layout.width <= MOST


def test_ways_back_are_those_to_a_place_that_is_being_left() -> None:
    # a → b → c; c → a and c → b lead back, a → c does not, d → d comes to itself.
    assert back_ways(*graph_of("ab bc ca cb ac dd")) == {2, 3, 5}


def test_a_place_stands_below_all_that_lead_to_it() -> None:
    places, ways = graph_of("ab bc ac cd da")
    assert ranks_of(places, ways, back_ways(places, ways)) == {"a": 0, "b": 1, "c": 2, "d": 3}


def test_a_place_that_nothing_leads_to_stands_right_above_what_it_leads_to() -> None:
    places, ways = graph_of("ab bc xc")
    assert ranks_of(places, ways, frozenset())["x"] == 1


def test_a_row_that_crosses_is_turned_round() -> None:
    rows, edges = [["a", "b", "c"], ["x", "y", "z"]], [("a", "z"), ("b", "y"), ("c", "x")]
    assert crossings(rows, edges) == 3
    assert crossings(ordered(rows, edges), edges) == 0


@given(graphs())
def test_an_order_is_never_worse_than_the_declared_one(graph: Graph) -> None:
    places, ways = graph
    rows = [[box.name for box in places], [way.label.name for way in ways]]
    edges = [(way.source, way.label.name) for way in ways]
    found = ordered(rows, edges)
    assert [sorted(row) for row in found] == [sorted(row) for row in rows]
    assert crossings(found, edges) <= crossings(rows, edges)


def test_crossings_are_those_that_pairs_of_lines_have() -> None:
    rows = [["a", "b", "c"], ["x", "y", "z"]]
    edges = [("a", "y"), ("a", "z"), ("b", "x"), ("b", "y"), ("c", "x"), ("c", "z")]
    place = {name: k for row in rows for k, name in enumerate(row)}
    by_pairs = sum(
        (place[a] - place[c]) * (place[b] - place[d]) < 0
        for (a, b), (c, d) in combinations(edges, 2)
    )
    assert crossings(rows, edges) == by_pairs


@given(st.lists(st.tuples(st.floats(0, 300), st.floats(1, 40)), min_size=1, max_size=8))
def test_boxes_keep_their_order_and_gap_and_stay_in_the_room(
    given_boxes: list[tuple[float, float]],
) -> None:
    wanted, widths = [w for w, _ in given_boxes], [s for _, s in given_boxes]
    whole = sum(widths) + 5.0 * (len(widths) - 1) + 30.0
    found = nearest(wanted, [1.0] * len(widths), widths, 5.0, whole)
    assert found[0] - widths[0] / 2 >= -1e-6
    assert found[-1] + widths[-1] / 2 <= whole + 1e-6
    for n in range(len(found) - 1):
        assert found[n + 1] - found[n] >= (widths[n] + widths[n + 1]) / 2 + 5.0 - 1e-6
    # The best of all: any other one that keeps the rules is no nearer (a shift of one or of all).
    cost = sum((f - w) ** 2 for f, w in zip(found, wanted, strict=True))
    room = whole - sum(widths) - 5.0 * (len(widths) - 1)
    for k in range(len(found) + 1):
        for step in (-0.5, 0.5):
            moved = [f + (step if n >= k else 0.0) for n, f in enumerate(found)]
            fits = moved[0] >= widths[0] / 2 and moved[-1] + widths[-1] / 2 <= whole
            fits = fits and all(
                moved[n + 1] - moved[n] >= (widths[n] + widths[n + 1]) / 2 + 5.0
                for n in range(len(moved) - 1)
            )
            assert room > 0
            if fits:
                assert cost <= sum((f - w) ** 2 for f, w in zip(moved, wanted, strict=True)) + 1e-6


def test_a_chain_stands_in_one_line() -> None:
    rows, edges = [["a"], ["b", "c"], ["d"]], [("a", "b"), ("b", "d")]
    middles = spread(rows, dict.fromkeys("abcd", 10.0), edges, 4.0)
    assert middles["a"] == pytest.approx(middles["b"]) == pytest.approx(middles["d"])
