"""Rules as pictures: their places, and the ways between them, as SVG.

Idle is a lozenge with round ends, a rest a box, a run that never rests a box with two frames.
What never happens is dashed, crossed and said in words; no meaning hangs on a colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from verifier.front.shown import shown
from verifier.front.svg_parts import (
    DASH,
    INK,
    NEVER,
    Drawing,
    Text,
    arrow,
    cross,
    whole_svg,
)
from verifier.front.text_size import kept_together, width_of, wrapped
from verifier.graph.build import Node, places_of
from verifier.graph.dead import Dead
from verifier.graph.flow import ENDLESS, IDLE, Place
from verifier.graph.layout import Box, Layout, Line, Placed, Way, layout_of
from verifier.graph.rows import Row, place_name, rows_of
from verifier.model.job import Rule
from verifier.model.words import policy_words

if TYPE_CHECKING:
    import networkx

SIZE, SMALL, LEADING = 12.0, 11.0, 15.0
MARGIN = 10.0
PLACE_WIDTH, WAY_WIDTH = 180.0, 162.0
"""How wide words may run."""

MOST_LINES = 6
"""Lines of one guard, or of one effect, before it is cut short; the table has the whole."""


@dataclass(frozen=True, slots=True)
class Words:
    """Lines of text and whether each is bold."""

    lines: tuple[tuple[str, bool], ...]
    size: float

    @property
    def width(self) -> float:
        """The widest line."""
        return max((width_of(words, self.size, bold) for words, bold in self.lines), default=0.0)

    def at(self, middle: float, top: float, fill: str = INK) -> tuple[Text, ...]:
        """The lines below each other, in the middle."""
        return tuple(
            Text(words, middle, top + LEADING * number + self.size, self.size, bold, True, fill)
            for number, (words, bold) in enumerate(self.lines)
        )


def rule_svg(graph: networkx.MultiDiGraph[Node], rule: Rule, dead: Dead) -> str:
    """The picture of one rule, without a heading of its own."""
    drawing = rule_drawing(graph, rule, dead)
    return whole_svg([(drawing, 0.0, 0.0)], f"Rule {rule.name}", _told(graph, rule, dead))


def rules_svg(graph: networkx.MultiDiGraph[Node], rules: tuple[Rule, ...], dead: Dead) -> str:
    """The pictures of several rules in one, below each other, each with its heading."""
    placed: list[tuple[Drawing, float, float]] = []
    at = 0.0
    for rule in rules:
        for drawing in (_heading(rule, dead), rule_drawing(graph, rule, dead)):
            placed.append((drawing, 0.0, at))
            at += drawing.height
        at += 20
    names = ", ".join(rule.name for rule in rules)
    return whole_svg(placed, f"The rules {names}", " ".join(_told(graph, r, dead) for r in rules))


def _told(graph: networkx.MultiDiGraph[Node], rule: Rule, dead: Dead) -> str:
    """The picture in words, for those who do not see it."""
    said = []
    for row in rows_of(graph, rule.name, dead):
        guard = f", if {row.guard}" if row.guard else ""
        does = f": {', '.join(row.does)}" if row.does else ""
        told = f" ({', '.join(row.told)})" if row.told else ""
        ends = f"from {place_name(row.source)} to {place_name(row.target)}"
        said.append(f"{row.number}, {ends}: {row.when}{guard}{does}{told}.")
    return " ".join(said) or f"Rule {rule.name} does nothing."


def _heading(rule: Rule, dead: Dead) -> Drawing:
    never = "; never fires" if rule.name in dead.rules else ""
    lines = [(words, 14.0, True) for words in wrapped(rule.name, 14.0, 400, bold=True)]
    more = [f"{policy_words(rule.policy)}{never}"]
    if rule.label and rule.label != rule.name:
        more.insert(0, rule.label)
    for each in more:
        lines.extend((w, SIZE, False) for w in wrapped(shown(each), SIZE, 420, lines=3))
    texts = tuple(
        Text(words, MARGIN, 18.0 + 17.0 * number, size, bold, False)
        for number, (words, size, bold) in enumerate(lines)
    )
    width = max(text.box[2] for text in texts) + MARGIN
    return Drawing(width, 17.0 * len(lines) + 12, (), texts)


# ---------------------------------------------------------------- one rule


def rule_drawing(graph: networkx.MultiDiGraph[Node], rule: Rule, dead: Dead) -> Drawing:
    """The shapes and words of one rule."""
    places = [place for place in places_of(graph) if place.rule == rule.name]
    rows = rows_of(graph, rule.name, dead)
    names = {f"place {place.number}": place for place in places}
    in_places = {name: _place_words(place, dead) for name, place in names.items()}
    in_ways = {f"way {row.number}": _way_words(row) for row in rows}
    layout = layout_of(
        [Box(name, *_place_size(words)) for name, words in in_places.items()],
        [
            Way(
                Box(name, words.width + 8, LEADING * len(words.lines) + 6),
                f"place {row.source}",
                f"place {row.target}",
            )
            for (name, words), row in zip(in_ways.items(), rows, strict=True)
        ],
    )
    layout = _moved(layout, MARGIN)
    shapes: list[str] = []
    texts: list[Text] = []
    lines = [(all(rows[number].never for number in line.ways), line) for line in layout.lines]
    # What happens is drawn over what never does, where both come to one place.
    for never, line in sorted(lines, key=lambda item: not item[0]):
        shapes.extend(_line(line, never))
    shapes.extend(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="{INK}"/>' for x, y in layout.joints
    )
    by_name = {box.name: box for box in layout.boxes}
    for name, place in names.items():
        box = by_name[name]
        never = (rule.name, place.number) in dead.places
        shapes.append(_place_shape(place, box, never))
        words = in_places[name]
        top = box.y + (box.height - LEADING * len(words.lines)) / 2
        texts.extend(words.at(box.x + box.width / 2, top - 1))
    for (name, words), row in zip(in_ways.items(), rows, strict=True):
        box = by_name[name]
        if row.never:
            shapes.append(cross(box.x + box.width / 2, box.y - 7))
        texts.extend(words.at(box.x + box.width / 2, box.y + 2))
    return Drawing(layout.width, layout.height, tuple(shapes), tuple(texts))


def _place_words(place: Place, dead: Dead) -> Words:
    name = place_name(place.number)
    said = "" if place.number == IDLE else kept_together(shown(place.words))
    lines = [(name, True)]
    if said:
        lines = [(words, False) for words in wrapped(said, SIZE, PLACE_WIDTH, lines=MOST_LINES)]
        lines.insert(0, (name, True))
    never = dead.places.get((place.rule, place.number))
    if never:
        lines.append((f"({never})", False))
    return Words(tuple(lines), SIZE)


def _place_size(words: Words) -> tuple[float, float]:
    return max(words.width + 24, 60.0), LEADING * len(words.lines) + 12


def _way_words(row: Row) -> Words:
    """What stands at a way: its number in the table, when, if what, doing what."""
    when = kept_together(f"{row.number} · {shown(row.when)}")
    lines = [(w, True) for w in wrapped(when, SMALL, WAY_WIDTH, bold=True, lines=MOST_LINES)]
    guard = [f"if {shown(row.guard)}"] if row.guard else []
    told = [f"({words})" for words in row.told]
    for each in (*guard, *(f"then {shown(words)}" for words in row.does), *told):
        words = wrapped(kept_together(each), SMALL, WAY_WIDTH, lines=MOST_LINES)
        lines.extend((line, False) for line in words)
    return Words(tuple(lines), SMALL)


def _moved(layout: Layout, by: float) -> Layout:
    """The layout with a margin all around."""
    return Layout(
        layout.width + 2 * by,
        layout.height + 2 * by,
        tuple(Placed(b.name, b.x + by, b.y + by, b.width, b.height) for b in layout.boxes),
        tuple(
            Line(tuple((x + by, y + by) for x, y in line.spots), line.ways, line.into)
            for line in layout.lines
        ),
        tuple((x + by, y + by) for x, y in layout.joints),
    )


def _place_shape(place: Place, box: Placed, never: bool) -> str:
    dash = f' stroke-dasharray="{DASH}"' if never else ""
    edge = NEVER if never else INK
    radius = box.height / 2 if place.number == IDLE else 7.0
    fill = "#e9e9e9" if place.number == IDLE else "#ffffff"

    def frame(inset: float, inside: str) -> str:
        return (
            f'<rect x="{box.x + inset:.1f}" y="{box.y + inset:.1f}" '
            f'width="{box.width - 2 * inset:.1f}" height="{box.height - 2 * inset:.1f}" '
            f'rx="{max(radius - inset, 1):.1f}" fill="{inside}" stroke="{edge}" '
            f'stroke-width="1.5"{dash}/>'
        )

    twice = frame(3.0, "none") if place.number == ENDLESS else ""
    return frame(0.0, fill) + twice


def _line(line: Line, never: bool) -> list[str]:
    """A stretch of line, with an arrow where it comes to a place."""
    stroke = NEVER if never else INK
    dash = f' stroke-dasharray="{DASH}"' if never else ""
    x, y = line.spots[0]
    path = [f"M{x:.1f} {y:.1f}"]
    for (x, y), (ox, oy) in zip(line.spots, line.spots[1:], strict=False):
        if x == ox or y == oy:
            path.append(f"L{ox:.1f} {oy:.1f}")
        else:
            middle = (y + oy) / 2
            path.append(f"C{x:.1f} {middle:.1f} {ox:.1f} {middle:.1f} {ox:.1f} {oy:.1f}")
    parts = [f'<path d="{"".join(path)}" fill="none" stroke="{stroke}" stroke-width="1.3"{dash}/>']
    if line.into:
        (bx, by), (ex, ey) = line.spots[-2:]
        parts.append(arrow(ex, ey, "left" if by == ey and bx > ex else "down", stroke, never))
    return parts
