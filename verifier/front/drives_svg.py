"""Who drives what as a picture: what comes in, the rules, what is driven, from left to right.

What a rule both reads and sets stands on both sides: on the left it drives, on the right it is
driven. The form of a line says how; a legend below has the forms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from verifier.front.shown import shown
from verifier.front.svg_parts import (
    DASH,
    FAINT,
    INK,
    NEVER,
    Drawing,
    Text,
    arrow,
    cross,
    whole_svg,
)
from verifier.front.text_size import width_of, wrapped
from verifier.graph.build import Drive
from verifier.graph.ordering import ordered, spread
from verifier.graph.rows import DriveRow, Drives, Thing

SIZE, SMALL, LEADING = 11.5, 10.0, 14.0
MARGIN, BETWEEN, GAP, PORT = 10.0, 78.0, 10.0, 8.0
WIDTH = 112.0
"""How wide words may run in a box."""

HEADINGS = ("what comes in", "rules", "what is driven")

STYLES: dict[Drive, tuple[str, float, str, str]] = {
    "triggers": ("triggers: the rule begins", 1.4, "", "#1f5f8b"),
    "starts": ("triggers: the rule begins", 1.4, "", "#1f5f8b"),
    "ends": ("triggers: the rule begins", 1.4, "", "#1f5f8b"),
    "guards": ("guards: read when the rule begins", 1.4, "8 3", "#1f5f8b"),
    "is read by": ("is read in the rule's body", 1.6, "1.5 3.5", "#1f5f8b"),
    "sets": ("sets", 2.6, "", "#8a5a00"),
    "fades": ("fades", 2.6, "12 3 3 3", "#8a5a00"),
    "cancels": ("cancels the run", 2.6, "", "#8a5a00"),
}
"""Of each way of driving: its words, the width of its line, its dashes, its colour."""


@dataclass(frozen=True, slots=True)
class Card:
    """A box on its side of the picture: a thing, and what is said of it below its name."""

    key: str
    thing: Thing
    lines: tuple[tuple[str, bool], ...]


def drives_svg(drives: Drives) -> str:
    """The picture of who drives what."""
    told = "; ".join(
        f"{row.source.name} {row.how} {row.target.name}{' (never)' if row.never else ''}"
        for row in drives.rows
    )
    drawing = drives_drawing(drives)
    return whole_svg([(drawing, 0.0, 0.0)], f"Who drives what in {drives.name}", f"{told}.")


def drives_drawing(drives: Drives) -> Drawing:
    """The shapes and words of the picture."""
    joins = [join for row in drives.rows if (join := _join(row)) is not None]
    columns = _columns(drives, joins)
    cards = {key: card for column in columns for key, card in column.items()}
    edges = [(source, target) for source, target, _ in joins]
    rows = ordered([list(column) for column in columns], list(dict.fromkeys(edges)))
    heights = {
        key: max(
            LEADING * len(card.lines) + 10,
            PORT * (1 + max(_count(edges, 0, key), _count(edges, 1, key))),
        )
        for key, card in cards.items()
    }
    middles = spread(rows, heights, list(dict.fromkeys(edges)), GAP)
    widths = [
        max(_width(column), width_of(heading, SMALL, True))
        for column, heading in zip(columns, HEADINGS, strict=True)
    ]
    lefts = [
        MARGIN,
        MARGIN + widths[0] + BETWEEN,
        MARGIN + widths[0] + widths[1] + 2 * BETWEEN,
    ]
    top = MARGIN + 24
    at = {
        key: (lefts[n], top + middles[key] - heights[key] / 2, widths[n], heights[key])
        for n, row in enumerate(rows)
        for key in row
    }
    shapes, texts = _lines(joins, at), _headings(lefts, widths)
    for key, card in cards.items():
        shape, words = _card(card, at[key])
        shapes.append(shape)
        texts.extend(words)
    bottom = max((y + height for _, y, _, height in at.values()), default=top) + 18
    width = lefts[2] + widths[2] + MARGIN
    below, more, bottom = _legend(joins, drives, bottom, width)
    return Drawing(width, bottom + MARGIN, (*shapes, *below), (*texts, *more))


# ---------------------------------------------------------------- who stands where

Join = tuple[str, str, DriveRow]
"""The keys of two cards, and what joins them."""


def _join(row: DriveRow) -> Join | None:
    """Where a row is drawn; doors and rooms are said at their switches and detectors."""
    if row.target.kind == "rule" and row.how != "cancels":
        how = f" {row.how}" if row.how in ("starts", "ends") else ""
        return f"left {row.source.name}{how}", f"rule {row.target.name}", row
    if row.source.kind == "rule":
        return f"rule {row.source.name}", f"right {row.target.name}", row
    return None


def _columns(drives: Drives, joins: Sequence[Join]) -> tuple[dict[str, Card], ...]:
    """The cards of the three columns, in declared order."""
    order = {thing.name: position for position, thing in enumerate(drives.things)}
    left: dict[str, Thing] = {}
    right: dict[str, Thing] = {}
    for source, target, row in joins:
        if source.startswith("left "):
            left[source] = row.source
        if target.startswith("right "):
            right[target] = row.target
    rules = {f"rule {thing.name}": thing for thing in drives.things if thing.kind == "rule"}

    def cards(things: dict[str, Thing]) -> dict[str, Card]:
        keys = sorted(things, key=lambda key: order[things[key].name])
        return {key: _described(key, things[key], drives) for key in keys}

    return cards(left), cards(rules), cards(right)


def _described(key: str, thing: Thing, drives: Drives) -> Card:
    """A card with its lines: name, and what there is to say about it."""
    side = key.split(" ")[0]
    said = []
    if thing.kind == "flag":
        said.append("flag")
    if side == "left":
        owners = [
            f"{row.source.kind} {row.source.name}"
            for row in drives.rows
            if row.target is thing and row.source.kind in ("door", "room")
        ]
        owners.extend(
            f"way into {row.target.name}"
            for row in drives.rows
            if row.source is thing and row.target.kind == "room"
        )
        said.extend(dict.fromkeys(owners))
        if thing.kind in ("output", "flag"):
            said.append("read back")
        if thing.kind == "rule":
            said.append("rule, when it ends" if key.endswith(" ends") else "rule, when it starts")
    if side == "right" and thing.kind == "rule":
        said.append("rule")
    if thing.never:
        said.append("never fires")
    lines = [(w, True) for w in wrapped(shown(thing.name), SIZE, WIDTH, bold=True)]
    for words in said:
        lines.extend((w, False) for w in wrapped(shown(words), SMALL, WIDTH))
    return Card(key, thing, tuple(lines))


def _width(column: dict[str, Card]) -> float:
    """The width of a column's boxes."""
    return 14 + max(
        (
            width_of(words, SIZE if bold else SMALL, bold)
            for card in column.values()
            for words, bold in card.lines
        ),
        default=50.0,
    )


def _count(edges: Sequence[tuple[str, str]], end: int, key: str) -> int:
    return sum(edge[end] == key for edge in edges)


# ---------------------------------------------------------------- shapes

Frame = tuple[float, float, float, float]
"""Left, top, width and height."""


def _card(card: Card, frame: Frame) -> tuple[str, list[Text]]:
    """The box of a card and its words: a rule has round ends, what is driven a second edge."""
    x, y, width, height = frame
    never = bool(card.thing.never)
    copied = card.key.startswith("right ") and card.thing.kind == "rule"
    rule = card.thing.kind == "rule"
    dash = f' stroke-dasharray="{DASH}"' if never else ""
    edge = NEVER if never else INK
    fill = "#e9e9e9" if rule and not copied else "#ffffff"
    shape = (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
        f'rx="{10 if rule else 1}" fill="{fill}" stroke="{edge}" stroke-width="1.3"{dash}/>'
    )
    if card.thing.kind == "output":
        shape += f'<path d="M{x + width - 4:.1f} {y:.1f}v{height:.1f}" stroke="{edge}"/>'
    begin = y + (height - LEADING * len(card.lines)) / 2 - 1
    words = [
        Text(line, x + width / 2, begin + LEADING * n + SIZE, SIZE if bold else SMALL, bold)
        for n, (line, bold) in enumerate(card.lines)
    ]
    return shape, words


def _headings(lefts: Sequence[float], widths: Sequence[float]) -> list[Text]:
    return [
        Text(words, left + width / 2, MARGIN + SMALL, SMALL, True, True, FAINT)
        for words, left, width in zip(HEADINGS, lefts, widths, strict=True)
    ]


def _lines(joins: Sequence[Join], at: dict[str, Frame]) -> list[str]:
    """The lines; at each side of a box they stand in the order of what they lead to."""
    ports: dict[tuple[int, int], float] = {}
    ends = [(source, target) for source, target, _ in joins]
    for end, other in ((0, 1), (1, 0)):
        by_key: dict[str, list[int]] = {}
        for number, keys in enumerate(ends):
            by_key.setdefault(keys[end], []).append(number)
        for key, numbers in by_key.items():
            _, y, _, height = at[key]
            numbers = sorted(numbers, key=lambda number: at[ends[number][other]][1])
            for place, number in enumerate(numbers):
                ports[number, end] = y + height * (place + 1) / (len(numbers) + 1)
    shapes: list[str] = []
    # What happens is drawn over what never does.
    for number, (source, target, row) in sorted(
        enumerate(joins), key=lambda item: not item[1][2].never
    ):
        x = at[source][0] + at[source][2]
        shapes.extend(_joined(x, ports[number, 0], at[target][0], ports[number, 1], row))
    return shapes


def _joined(x: float, y: float, other_x: float, other_y: float, row: DriveRow) -> list[str]:
    """A line from left to right, with its head."""
    _, thick, dash, colour = STYLES[row.how]
    middle = (x + other_x) / 2
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    tip = other_x - 8
    parts = [
        f'<path d="M{x:.1f} {y:.1f}C{middle:.1f} {y:.1f} {middle:.1f} {other_y:.1f} {tip:.1f} '
        f'{other_y:.1f}" fill="none" stroke="{colour}" stroke-width="{thick}"{dashes}/>',
        _head(other_x, other_y, row.how, colour),
    ]
    if row.never:
        parts.append(cross((x + tip) / 2, (y + other_y) / 2))
    return parts


def _head(x: float, y: float, how: Drive, colour: str) -> str:
    """An arrow; a bar where a run is cancelled; a hollow arrow for a fade."""
    if how == "cancels":
        return (
            f'<path d="M{x - 8:.1f} {y:.1f}h5M{x - 3:.1f} {y - 6:.1f}v12" fill="none" '
            f'stroke="{colour}" stroke-width="2.6"/>'
        )
    return arrow(x, y, "right", colour, how == "fades")


def _legend(
    joins: Sequence[Join], drives: Drives, top: float, width: float
) -> tuple[list[str], list[Text], float]:
    """The forms of line that occur, with their words, and what is joined to nothing."""
    used = {STYLES[row.how][0]: row.how for _, _, row in joins}
    shapes: list[str] = []
    texts: list[Text] = []
    for words, how in sorted(used.items(), key=lambda item: list(STYLES).index(item[1])):
        _, thick, dash, colour = STYLES[how]
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        shapes.append(
            f'<path d="M{MARGIN:.1f} {top:.1f}h42" fill="none" stroke="{colour}" '
            f'stroke-width="{thick}"{dashes}/>'
        )
        shapes.append(_head(MARGIN + 50, top, how, colour))
        texts.append(Text(words, MARGIN + 60, top + 3.5, SMALL, False, False))
        top += 17
    if any(row.never for _, _, row in joins):
        shapes.append(cross(MARGIN + 25, top))
        texts.append(
            Text("never: the rule never fires", MARGIN + 60, top + 3.5, SMALL, False, False)
        )
        top += 17
    if drives.alone:
        names = ", ".join(shown(thing.name) for thing in drives.alone)
        for line in wrapped(f"Joined to no rule: {names}", SMALL, width - 2 * MARGIN):
            texts.append(Text(line, MARGIN, top + 6, SMALL, False, False))
            top += LEADING
    return shapes, texts, top
