"""Timing diagrams as SVG: lanes with edges, times that run down, marks at causes.

Nothing is told by colour alone: height, hatching, rings with letters and words say it too, so it
can be read in grey. Moments stand at equal places of their own, not to scale: two things at one
moment are two edges, and an hour does not push the seconds together.
"""

from __future__ import annotations

from html import escape
from math import log2

from verifier.explain.diagram import Bar, Diagram, Instant, Lane, Mark
from verifier.front.figures import moment
from verifier.front.shown import columns, shown

LABEL = 176
"""Units to the left of the lanes, for their names."""

_TOP, _LANE, _BAR, _RIGHT, _AXIS = 40, 34, 15, 26, 44
_CHARACTER = 6.4
"""Units for a character at the size of the words, on the wide side."""

_FILL = {"outside": "#cfe5f5", "output": "#f7dfa5", "rule": "#d5e8d4", "claim": "#ffffff"}
_EDGE = {"outside": "#1f5f8b", "output": "#8a5a00", "rule": "#2d6a3e", "claim": "#333333"}
_BROKEN = "#b3261e"


def timing_svg(diagram: Diagram) -> str:
    """The picture; it stands alone, or in a page."""
    xs = _places(diagram)
    tops, height = _rows(diagram)
    width = round(xs[-1] + _RIGHT)
    bottom = height
    title = escape(shown(diagram.title))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {bottom + _AXIS}" '
        f'width="{width}" height="{bottom + _AXIS}" role="img" aria-label="{title}" '
        'font-family="sans-serif" font-size="12">',
        f"<title>{title}</title>",
        f"<desc>{escape(shown(_told(diagram)))}</desc>",
        f'<rect width="{width}" height="{bottom + _AXIS}" fill="#ffffff"/>',
    ]
    parts.extend(_guides(diagram, xs, bottom))
    for number, lane in enumerate(diagram.lanes):
        parts.extend(_lane(lane, tops[number], xs))
    for bar in diagram.bars:
        parts.extend(_bar(diagram, bar, tops, xs))
    for mark in diagram.marks:
        parts.append(_mark(diagram, mark, tops, xs))
    if diagram.cycle_from is not None:
        parts.append(_cycle(xs[diagram.cycle_from], xs[-1], bottom))
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _told(diagram: Diagram) -> str:
    """The picture in words, for those who do not see it; the table beside it says more."""
    return "; ".join(
        f"{k}, {moment(i.at_s, i.just_after)}: {i.words}"
        for k, i in enumerate(diagram.instants)
        if i.words
    )


# ---------------------------------------------------------------- where things stand


def _places(diagram: Diagram) -> list[float]:
    """Where each instant stands, from left to right, and where the last stretch ends."""
    xs = [float(LABEL + 8)]
    for k, instant in enumerate(diagram.instants):
        asked = max(_room(diagram, lane, number, k) for number, lane in enumerate(diagram.lanes))
        if k + 1 < len(diagram.instants):
            after = diagram.instants[k + 1]
            gap = 34 + 9 * log2(1 + max(float(after.at_s - instant.at_s), 0.0))
            axis = max(columns(_axis(instant)), columns(_axis(after))) * 6.0 + 10
            asked = max(asked, min(gap, 110.0), axis)
        else:
            asked = max(asked, columns(_axis(instant)) * 3.2)
        xs.append(xs[-1] + asked)
    return xs


def _room(diagram: Diagram, lane: Lane, number: int, k: int) -> float:
    """What a stretch has to hold: a word where it is new, and marks."""
    word = columns(_new_word(lane, k)) * _CHARACTER + 14
    return word + 20 * sum(m.lane == number and m.instant == k for m in diagram.marks)


def _new_word(lane: Lane, k: int) -> str:
    """The word that stands in a stretch: a value where it is new."""
    return shown(lane.values[k]) if k == 0 or lane.values[k] != lane.values[k - 1] else ""


def _axis(instant: Instant) -> str:
    return instant.clock or moment(instant.at_s, instant.just_after)


def _rows(diagram: Diagram) -> tuple[list[int], int]:
    """The top of each lane, and the bottom of the last."""
    tops, at = [], _TOP
    for number in range(len(diagram.lanes)):
        tops.append(at)
        at += _LANE + _BAR * sum(bar.lane == number for bar in diagram.bars)
    return tops, at


def _guides(diagram: Diagram, xs: list[float], bottom: int) -> list[str]:
    parts = []
    broken = any(lane.values[-1].startswith("broken") for lane in diagram.lanes)
    for k, instant in enumerate(diagram.instants):
        x = xs[k]
        last = broken and k == len(diagram.instants) - 1
        stroke = (
            f'stroke="{_BROKEN}" stroke-width="1.6"'
            if last
            else 'stroke="#8a8a8a" stroke-width="0.7"'
        )
        dash = "" if last else ' stroke-dasharray="2 3"'
        parts.append(f'<path d="M{x:.1f} {_TOP - 8}V{bottom}" {stroke}{dash}/>')
        if k:
            parts.append(
                f'<circle cx="{x:.1f}" cy="18" r="10" fill="#ffffff" stroke="#333333"/>'
                f'<text x="{x:.1f}" y="22" text-anchor="middle">{k}</text>'
            )
        lift = 16 if k % 2 == 0 else 32
        parts.append(
            f'<text x="{x:.1f}" y="{bottom + lift}" text-anchor="middle" font-size="11">'
            f"{escape(shown(_axis(instant)))}</text>"
        )
    parts.append(
        f'<text x="8" y="{bottom + 16}" font-size="10" fill="#555555">time, not to scale</text>'
    )
    return parts


# ---------------------------------------------------------------- lanes


def _lane(lane: Lane, top: int, xs: list[float]) -> list[str]:
    high, low = top + 6, top + _LANE - 8
    parts = [
        f'<text x="8" y="{top + 20}">{escape(_cut(lane.label, LABEL - 12))}</text>',
        f'<path d="M8 {top + _LANE - 2}H{xs[-1]:.1f}" stroke="#dddddd" stroke-width="0.6"/>',
    ]
    line = ""
    for k, (value, height) in enumerate(zip(lane.values, lane.heights, strict=True)):
        left, right = xs[k], xs[k + 1]
        if lane.kind == "claim":
            parts.extend(_claimed(value, left, right, high, low))
        elif height is None:
            if k and lane.values[k - 1] == value:
                continue
            same = next((n for n in range(k, len(lane.values)) if lane.values[n] != value), -1)
            parts.append(
                f'<rect x="{left:.1f}" y="{high}" width="{xs[same] - left:.1f}" '
                f'height="{low - high}" fill="{_FILL[lane.kind]}" stroke="{_EDGE[lane.kind]}" '
                'stroke-width="0.8"/>'
            )
        else:
            y = low - float(height) * (low - high)
            if height:
                fill = "#ffffff" if lane.kind == "rule" else _FILL[lane.kind]
                parts.append(
                    f'<rect x="{left:.1f}" y="{y:.1f}" width="{right - left:.1f}" '
                    f'height="{low - y:.1f}" fill="{fill}"/>'
                )
                if lane.kind == "rule":
                    parts.append(_hatched(left, y, right, low, 6, _EDGE["rule"], 1.1))
            line += f"{'L' if line else 'M'}{left:.1f} {y:.1f}H{right:.1f}"
    if line:
        parts.append(
            f'<path d="{line}" fill="none" stroke="{_EDGE[lane.kind]}" stroke-width="1.8"/>'
        )
    for k in range(len(lane.values)):
        word = _new_word(lane, k)
        if word and lane.kind != "claim":
            parts.append(_word(word, xs[k] + 5, top + 21))
    return parts


def _claimed(value: str, left: float, right: float, high: int, low: int) -> list[str]:
    """A stretch of the requirement's own lane."""
    if not value:
        middle = (high + low) / 2
        return [
            f'<path d="M{left:.1f} {middle}H{right:.1f}" stroke="#999999" stroke-dasharray="2 4"/>'
        ]
    broken = value.startswith("broken")
    edge = _BROKEN if broken else "#666666"
    parts = [
        f'<rect x="{left:.1f}" y="{high}" width="{right - left:.1f}" height="{low - high}" '
        f'fill="{"#ffffff" if broken else "#eeeeee"}" stroke="{edge}"/>'
    ]
    if broken:
        parts.append(_hatched(left, high, right, low, 7, _BROKEN, 2.0))
    return [*parts, _word(value, left + 5, high + 15)]


def _hatched(
    left: float, top: float, right: float, bottom: float, gap: float, stroke: str, width: float
) -> str:
    """Slanting strokes over a box: drawn one by one, as not every reader knows patterns."""
    height = bottom - top
    strokes = []
    x = left - height + gap
    while x < right:
        begin, end = max(x, left), min(x + height, right)
        strokes.append(
            f"M{begin:.1f} {bottom - (begin - x):.1f}L{end:.1f} {bottom - (end - x):.1f}"
        )
        x += gap
    return f'<path d="{"".join(strokes)}" fill="none" stroke="{stroke}" stroke-width="{width}"/>'


def _word(word: str, x: float, y: float) -> str:
    """A word on a ground of its own, so that lines and hatching do not run through it."""
    width = columns(word) * _CHARACTER + 4
    return (
        f'<rect x="{x - 2:.1f}" y="{y - 11:.1f}" width="{width:.1f}" height="14" rx="2" '
        'fill="#ffffff" fill-opacity="0.88"/>'
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="11.5">{escape(word)}</text>'
    )


def _cut(text: str, room: float) -> str:
    text = shown(text)
    most = int(room / _CHARACTER)
    return text if columns(text) <= most else text[: most - 1] + "…"


def _bar(diagram: Diagram, bar: Bar, tops: list[int], xs: list[float]) -> list[str]:
    """A wedge that grows thin as the time runs down."""
    before = sum(other.lane == bar.lane for other in diagram.bars[: diagram.bars.index(bar)])
    top = tops[bar.lane] + _LANE + _BAR * before - 3
    left, right = xs[bar.begin], xs[bar.end]
    full = _BAR - 6
    ends = full * float(bar.left)
    under = top + full
    return [
        f'<path d="M{left:.1f} {top}L{right:.1f} {under - ends:.1f}V{under}H{left:.1f}Z" '
        'fill="#bcbcbc" stroke="#444444" stroke-width="0.8"/>',
        f'<text x="{LABEL}" y="{under}" text-anchor="end" font-size="10" fill="#333333">'
        f"{escape(_cut(bar.words, LABEL * 1.1))}</text>",
    ]


def _mark(diagram: Diagram, mark: Mark, tops: list[int], xs: list[float]) -> str:
    """A ring with a letter at the end of the stretch in which a value matters."""
    others = [m for m in diagram.marks if (m.lane, m.instant) == (mark.lane, mark.instant)]
    x = xs[mark.instant + 1] - 11 - 20 * (len(others) - 1 - others.index(mark))
    y = tops[mark.lane] + 16
    return (
        f'<circle cx="{x:.1f}" cy="{y}" r="8.5" fill="#ffffff" stroke="{_BROKEN}" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{y + 4}" text-anchor="middle" font-size="11" font-weight="bold">'
        f"{escape(mark.letter)}</text>"
    )


def _cycle(left: float, right: float, bottom: int) -> str:
    """A bracket over what goes round for ever."""
    return (
        f'<path d="M{left:.1f} {_TOP - 2}v-5H{right:.1f}v5" fill="none" stroke="#333333" '
        f'stroke-width="1.6"/><text x="{right:.1f}" y="{_TOP - 10}" text-anchor="end" '
        'font-size="11">… and so on, for ever</text>'
    )
