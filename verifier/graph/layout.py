"""Where the places and ways of a rule stand in its drawing: rows from idle downwards.

Before: boxes with their sizes, and ways from one to another, each with the box of its words.
After: a place for each box, and lines that run between the rows and past no box but their own.

A place stands below all that lead to it (rank by the longest way from idle), the words of a way
in a row between its ends; a row that would be too wide becomes several. Ways back, and those of
a place to itself, go round the right-hand side, one line for each place that they come to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from verifier.graph.ordering import ordered, spread

GAP = 16.0
"""Between two boxes of a row."""

BEND = 9.0
"""Room for a line that passes a row."""

TRACK = 10.0
"""Between lines that run beside each other, across or down the side."""

SLOPE, ABOVE = 26.0, 6.0
"""Height in which a line moves sideways; rest of the height between rows."""

NEAR = 2.0
"""Ends that stand nearly below each other are joined by a straight line."""

WANTED = (430.0, 330.0, 200.0)
"""Widths of a row that are tried, in turn, until the whole is narrow enough."""

MOST = 720.0
"""The width that no drawing should pass."""

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """What is to be placed."""

    name: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Way:
    """A way from the box ``source`` to the box ``target``, with the box of its words."""

    label: Box
    source: str
    target: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A box in its place; ``x`` and ``y`` are its upper left corner."""

    name: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Line:
    """A stretch of line that the ``ways`` (by number) have in common.

    Between two spots that differ in both figures it swings, upright at both ends; else it is
    straight. ``into``: the place at which it ends, with an arrow; empty where it goes on.
    """

    spots: tuple[Spot, ...]
    ways: tuple[int, ...]
    into: str


@dataclass(frozen=True, slots=True)
class Layout:
    """A drawing's size, its boxes and lines; ``joints`` are where a line joins another."""

    width: float
    height: float
    boxes: tuple[Placed, ...]
    lines: tuple[Line, ...]
    joints: tuple[Spot, ...]


def layout_of(places: Sequence[Box], ways: Sequence[Way]) -> Layout:
    """The drawing of a rule; the first place is idle."""
    found: Layout | None = None
    for wanted in WANTED:
        tried = _Drawing(places, ways, wanted).layout()
        if found is None or tried.width < found.width:
            found = tried
        if found.width <= MOST:
            break
    assert found is not None
    return found


def back_ways(places: Sequence[Box], ways: Sequence[Way]) -> frozenset[int]:
    """The ways that lead back on the way on which idle, or else a place, is left first."""
    out: dict[str, list[int]] = {box.name: [] for box in places}
    for number, way in enumerate(ways):
        out[way.source].append(number)
    back: set[int] = set()
    done: set[str] = set()
    for root in out:
        if root in done:
            continue
        stack, on = [(root, iter(out[root]))], {root}
        while stack:
            at, rest = stack[-1]
            following = next(rest, None)
            if following is None:
                stack.pop()
                on.discard(at)
                done.add(at)
                continue
            target = ways[following].target
            if target in on:
                back.add(following)
            elif target not in done:
                on.add(target)
                stack.append((target, iter(out[target])))
    return frozenset(back)


def ranks_of(places: Sequence[Box], ways: Sequence[Way], back: frozenset[int]) -> dict[str, int]:
    """The longest way to each place, in ways, without those that lead back.

    A place that nothing leads to stands right above the first that it leads to.
    """
    import networkx

    order = {box.name: position for position, box in enumerate(places)}
    graph: networkx.DiGraph[str] = networkx.DiGraph()
    graph.add_nodes_from(order)
    graph.add_edges_from(
        (way.source, way.target) for number, way in enumerate(ways) if number not in back
    )
    ranks: dict[str, int] = {}
    for name in networkx.lexicographical_topological_sort(graph, key=order.__getitem__):
        ranks[name] = max((ranks[other] + 1 for other in graph.predecessors(name)), default=0)
    for box in places[1:]:
        if not graph.in_degree(box.name) and graph.out_degree(box.name):
            ranks[box.name] = min(ranks[after] for after in graph.successors(box.name)) - 1
    return ranks


class _Drawing:
    """One drawing on the way: rows, the edges between neighbouring rows, places, lines."""

    def __init__(self, places: Sequence[Box], ways: Sequence[Way], wanted: float) -> None:
        self.places, self.ways, self.wanted = places, ways, wanted
        self.back = back_ways(places, ways)
        self.box = {box.name: box for box in (*places, *(way.label for way in ways))}
        # With half a gap at each side; lines that pass stand closer together than boxes do.
        self.widths = {name: box.width + GAP for name, box in self.box.items()}
        self.edges: dict[tuple[str, str], list[int]] = {}
        self.rows = self._rows()
        self.row = {name: number for number, row in enumerate(self.rows) for name in row}
        for number, way in enumerate(ways):
            self._chain(number, "from", way.source, way.label.name)
            if number not in self.back:
                self._chain(number, "to", way.label.name, way.target)
        last = frozenset(ways[number].label.name for number in self.back)
        self.rows = ordered(self.rows, list(self.edges), last)
        bends = frozenset(self.widths) - frozenset(self.box)
        middles = spread(self.rows, self.widths, list(self.edges), 0.0, bends)
        left = min(middles[name] - self._half(name) for name in middles)
        self.middles = {name: middle - left for name, middle in middles.items()}
        self.lines: list[Line] = []
        self.joints: list[Spot] = []

    def _rows(self) -> list[list[str]]:
        ranks = ranks_of(self.places, self.ways, self.back)
        by_rank: dict[int, list[Box]] = {}
        for box in self.places:
            by_rank.setdefault(2 * ranks[box.name], []).append(box)
        for way in self.ways:
            by_rank.setdefault(2 * ranks[way.source] + 1, []).append(way.label)
        return [row for rank in sorted(by_rank) for row in self._split(by_rank[rank])]

    def _split(self, boxes: list[Box]) -> list[list[str]]:
        """The boxes in as few rows as have room for them, about as many in each."""
        rows = len(_filled(boxes, self.wanted, len(boxes)))
        return _filled(boxes, self.wanted, -(-len(boxes) // rows))

    def _chain(self, number: int, kind: str, source: str, target: str) -> None:
        """Joins two boxes, with a bend in each row between; ways of one place share the bends."""
        owner = source if kind == "from" else target
        at = source
        for row in range(self.row[source] + 1, self.row[target]):
            bend = f"{kind} {owner} {row}"
            if bend not in self.row:
                self.row[bend] = row
                self.widths[bend] = BEND
                self.rows[row].append(bend)
            self.edges.setdefault((at, bend), []).append(number)
            at = bend
        self.edges.setdefault((at, target), []).append(number)

    # ------------------------------------------------------------ heights and lines

    def layout(self) -> Layout:
        """The drawing."""
        is_last = {row[-1] for row in self.rows}
        targets = self._round_the_side()
        tracks: list[list[tuple[str, str]]] = [[] for _ in range(len(self.rows) + 1)]
        for target, numbers in targets.items():
            for number in numbers:
                label = self.ways[number].label.name
                if label not in is_last:
                    _add(tracks[self.row[label] + 1], ("out", target))
            if target not in is_last:
                _add(tracks[self.row[target]], ("in", target))
        tops, heights, height = self._heights(tracks)
        boxes = tuple(
            Placed(
                name,
                self.middles[name] - box.width / 2,
                tops[self.row[name]] + (heights[self.row[name]] - box.height) / 2,
                box.width,
                box.height,
            )
            for name, box in self.box.items()
        )
        placed = {box.name: box for box in boxes}
        self._forward(placed, tops, heights)
        right = max(middle + self._half(name) for name, middle in self.middles.items())
        for position, (target, numbers) in enumerate(targets.items()):
            side = right + TRACK * (position + 1)
            self._round(target, numbers, side, placed, tops, heights, tracks, is_last)
        width = right + (TRACK * len(targets) + 2 if targets else 0)
        return Layout(width, height, boxes, tuple(self.lines), tuple(self.joints))

    def _round_the_side(self) -> dict[str, list[int]]:
        """The ways back by their targets; what goes round less stands nearer."""
        found: dict[str, list[int]] = {}
        for number in sorted(self.back):
            found.setdefault(self.ways[number].target, []).append(number)

        def rows(target: str) -> int:
            ends = [self.row[self.ways[number].label.name] for number in found[target]]
            return max(ends) - self.row[target]

        return {target: found[target] for target in sorted(found, key=rows)}

    def _heights(
        self, tracks: list[list[tuple[str, str]]]
    ) -> tuple[list[float], list[float], float]:
        """The top and the height of each row, and the height of the whole."""
        heights = [max((self._height(name) for name in row), default=0.0) for row in self.rows]
        tops: list[float] = []
        at = 0.0
        for number, height in enumerate(heights):
            if number or tracks[0]:
                at += ABOVE + TRACK * len(tracks[number]) + SLOPE
            tops.append(at)
            at += height
        return tops, heights, at + (ABOVE + TRACK * len(tracks[-1]) if tracks[-1] else 0.0)

    def _half(self, name: str) -> float:
        """Half the width of a box, or of a bend."""
        return (self.box[name].width if name in self.box else BEND) / 2

    def _height(self, name: str) -> float:
        return self.box[name].height if name in self.box else 0.0

    def _forward(self, placed: dict[str, Placed], tops: list[float], heights: list[float]) -> None:
        """The lines from row to row: down, a swing in the gap, down again."""
        for (source, target), numbers in self.edges.items():
            above, below = self.row[source], self.row[target]
            begin, end = tops[above] + heights[above], tops[below]
            x, other = self.middles[source], self.middles[target]
            other = x if abs(x - other) < NEAR else other
            first = placed[source].y + placed[source].height if source in placed else tops[above]
            spots = [(x, first), (x, end - SLOPE), (other, end)]
            if target in placed:
                spots.append((other, placed[target].y))
            into = target if any(target == box.name for box in self.places) else ""
            assert begin <= end - SLOPE
            self.lines.append(Line(_without_doubles(spots), tuple(numbers), into))

    def _round(
        self,
        target: str,
        numbers: list[int],
        side: float,
        placed: dict[str, Placed],
        tops: list[float],
        heights: list[float],
        tracks: list[list[tuple[str, str]]],
        is_last: set[str],
    ) -> None:
        """The lines of all ways back to one place: each to the side, one up and into it."""

        def track(row: int, kind: str) -> float:
            number = tracks[row].index((kind, target))
            above = tops[row - 1] + heights[row - 1] if row else 0.0
            return above + ABOVE + TRACK * number

        leaves: dict[int, Spot] = {}
        for number in numbers:
            box = placed[self.ways[number].label.name]
            if box.name in is_last:
                y = box.y + box.height / 2
                spots: list[Spot] = [(box.x + box.width, y), (side, y)]
            else:
                y = track(self.row[box.name] + 1, "out")
                middle = box.x + box.width / 2
                spots = [(middle, box.y + box.height), (middle, y), (side, y)]
            leaves[number] = spots[-2]
            self.lines.append(Line(_without_doubles(spots), (number,), ""))
        lowest = max(y for _, y in leaves.values())
        heard = {y: min(x for x, at in leaves.values() if at == y) for _, y in leaves.values()}
        for x, y in leaves.values():
            if x != heard[y]:
                self.joints.append((x, y))
        self.joints.extend((side, y) for y in heard if y != lowest)
        box = placed[target]
        if target in is_last:
            y = box.y + box.height / 2
            end: list[Spot] = [(side, y), (box.x + box.width, y)]
        else:
            y = track(self.row[target], "in")
            x = box.x + box.width * 0.75
            end = [(side, y), (x, y), (x, box.y)]
        self.lines.append(Line(_without_doubles([(side, lowest), *end]), tuple(numbers), target))


def _filled(boxes: list[Box], width: float, most: int) -> list[list[str]]:
    """Rows of at most ``most`` boxes, each within the width, if one alone is."""
    rows: list[list[str]] = []
    taken = 0.0
    for box in boxes:
        if not rows or len(rows[-1]) >= most or taken + GAP + box.width > width:
            rows.append([])
            taken = -GAP
        rows[-1].append(box.name)
        taken += GAP + box.width
    return rows


def _add(tracks: list[tuple[str, str]], track: tuple[str, str]) -> None:
    if track not in tracks:
        tracks.append(track)


def _without_doubles(spots: list[Spot]) -> tuple[Spot, ...]:
    return tuple(
        spot for position, spot in enumerate(spots) if not position or spot != spots[position - 1]
    )
