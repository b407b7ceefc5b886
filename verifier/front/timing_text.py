"""Timing diagrams for the terminal: a lane a line, words at each change, strokes in between."""

from __future__ import annotations

from verifier.explain.diagram import Bar, Diagram, Instant, Lane
from verifier.explain.figures import moment
from verifier.front.paint import Paint
from verifier.front.shown import columns, padded, shortened, shown

_LABEL = 24

_STROKES = {
    "high": "━",
    "low": "─",
    "other": "╌",
    "due": "░",
    "broken": "╳",
    "edge": "│",
    "run": "▬",
}
_PLAIN = {"high": "=", "low": "-", "other": ".", "due": ":", "broken": "X", "edge": "|", "run": "~"}


def timing_text(diagram: Diagram, paint: Paint, width: int) -> tuple[str, ...]:
    """The lines of a diagram; where it is too wide, one part of the time below the other."""
    strokes = _PLAIN if paint.plain_marks else _STROKES
    label = min(_LABEL, max(columns(shown(lane.label)) for lane in diagram.lanes) + 1)
    widths = [_width(diagram, k) for k in range(len(diagram.instants))]
    lines: list[str] = []
    begin = 0
    while begin < len(widths):
        end = begin + 1
        while end < len(widths) and sum(widths[begin : end + 1]) <= width - label:
            end += 1
        if lines:
            lines.append("")
        lines.extend(_part(diagram, range(begin, end), widths, label, strokes, paint))
        begin = end
    if diagram.cycle_from is not None:
        lines.append(f"From instant {diagram.cycle_from} on it goes round for ever.")
    return tuple(line.rstrip() for line in lines)


def _axis(instant: Instant) -> str:
    return instant.clock or moment(instant.at_s, instant.just_after)


def _number(diagram: Diagram, k: int) -> str:
    """What stands over an instant; the end has no number if nothing happens then."""
    return "start" if k == 0 else str(k) if diagram.instants[k].words else "end"


def _width(diagram: Diagram, k: int) -> int:
    words = [_word(lane, k) for lane in diagram.lanes]
    marks = max(
        (sum(m.lane == n and m.instant == k for m in diagram.marks) for n in range(len(words))),
        default=0,
    )
    longest = max([columns(word) for word in words] + [columns(_axis(diagram.instants[k])), 4])
    return longest + 3 + 3 * marks


def _word(lane: Lane, k: int) -> str:
    return shown(lane.values[k]) if k == 0 or lane.values[k] != lane.values[k - 1] else ""


def _part(
    diagram: Diagram,
    part: range,
    widths: list[int],
    label: int,
    strokes: dict[str, str],
    paint: Paint,
) -> list[str]:
    """The lanes over some of the instants."""
    numbers = "".join(padded(_number(diagram, k), widths[k]) for k in part)
    times = "".join(padded(_axis(diagram.instants[k]), widths[k]) for k in part)
    lines = [f"{' ' * label}{numbers}", paint(f"{' ' * label}{times}".rstrip(), "quiet")]
    for number, lane in enumerate(diagram.lanes):
        cells = [_cell(diagram, lane, number, k, k == part.start, widths[k], strokes) for k in part]
        text = "".join(cells)
        if lane.kind == "claim" and lane.values[part[-1]].startswith("broken"):
            text = "".join(cells[:-1]) + paint(cells[-1], "bad")
        lines.append(f"{padded(shortened(shown(lane.label), label - 1), label)}{text}")
        lines.extend(
            _running(bar, part, widths, label, strokes)
            for bar in diagram.bars
            if bar.lane == number and bar.begin < part.stop and bar.end > part.start
        )
    return lines


def _cell(
    diagram: Diagram,
    lane: Lane,
    number: int,
    k: int,
    first: bool,
    width: int,
    strokes: dict[str, str],
) -> str:
    """One stretch of a lane: an edge and the word where it is new, marks at its end."""
    value, height = lane.values[k], lane.heights[k]
    fill = strokes["other" if height is None else "high" if height else "low"]
    if lane.kind == "claim":
        fill = strokes["broken" if value.startswith("broken") else "due"] if value else " "
    word = _word(lane, k) or (shown(value) if first else "")
    text = f"{strokes['edge']}{word}" if word and k else word or fill
    marks = "".join(f"({m.letter})" for m in diagram.marks if m.lane == number and m.instant == k)
    room = width - columns(text) - len(marks)
    return f"{text}{fill * room}{marks}"


def _running(bar: Bar, part: range, widths: list[int], label: int, strokes: dict[str, str]) -> str:
    """A time that runs down, as a line below its lane."""
    begin = max(bar.begin, part.start)
    end = min(bar.end, part.stop)
    before = sum(widths[k] for k in part if k < begin)
    length = sum(widths[k] for k in range(begin, end))
    ends = ">" if bar.left == 0 else "…" if strokes is _STROKES else "."
    words = shortened(f" {bar.words} ", max(length - 2, 1))
    filled = f"{strokes['run']}{words}".ljust(length - 1, strokes["run"])
    return f"{padded('', label)}{' ' * before}{filled}{ends}"
