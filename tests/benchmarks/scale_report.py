"""What :mod:`tests.benchmarks.scale` measured, as a page and as a picture."""

from __future__ import annotations

import os
from collections.abc import Sequence
from math import ceil, floor, log10

from tests.benchmarks.report import machine, seconds
from tests.benchmarks.scale import RUNS, SLOW_S, Growth, Row, exponent, without_the_start
from verifier.front.svg_parts import FAINT, INK, NEVER, Drawing, Text, whole_svg

HEAD = """# How the cost grows

Written by `python -m tests.benchmarks.scale`, not by hand. No test measures time.

- **Machine**: {machine}; load average {load} at the end (other work lengthens all times).
- **Time**: `duskproof prove FOLDER --format json` as a whole process, from its start to its end: reading,
  checking, findings, slicing, proofs, certificates checked by both solvers, and the result written.
  Median of {runs}; what takes more than {slow:g} s is run once. Cold: nothing is kept from before.
  The package is compiled to byte code beforehand, as an installer does.
- **Memory**: what all its processes hold together at the worst moment that was seen, shared pages counted
  once.
- **Jobs**: [`buildings.py`](buildings.py). The one line that is changed is a wait, a second shorter.
"""

COLOURS = (INK, NEVER)
MARKS = (5.0, 4.0)


def text_of(rows: Sequence[Row], growth: Sequence[Growth]) -> str:
    """The whole page."""
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    lines = [HEAD.format(machine=machine(), load=load, runs=RUNS, slow=SLOW_S)]
    lines += [
        "## What is to be reached\n",
        "| what | rules | to reach | time | memory | runs | reached |",
        "| --- | --- | --- | --- | --- | --- | --- |",
        *map(_line, rows),
        "",
        "## As rules grow\n",
        "| building | rules | time | for each rule | memory | runs |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for each in growth:
        lines += [
            f"| {each.name} | {row.rules:,} | {seconds(row.seconds)} | "
            f"{row.seconds / row.rules * 1000:.2g} ms | {row.memory_mb:.0f} MB | {len(row.runs)} |"
            for row in each.rows
        ]
    lines += ["", "![Time against rules](scale.svg)", ""]
    lines += [f"- **{each.name}**: {_grows(each)}" for each in growth]
    lines += ["", *_on_paper(rows, growth)]
    return "\n".join(lines) + "\n"


BUILDINGS = 1_000


def _on_paper(rows: Sequence[Row], growth: Sequence[Growth]) -> list[str]:
    """What a thousand buildings would cost, worked out from the rows of one."""
    largest = [(each.name, each.rows[-1]) for each in growth]
    every = [(row.what, row) for row in rows if row.rules >= 1_000] + largest
    lines = [
        f"## {BUILDINGS:,} buildings, on paper\n",
        "Worked out from the processor time of one, as measured above, not run. Buildings share nothing "
        "(other typicals in each), so what one costs is to be multiplied; what is alike between two "
        "of them would be proved once. The address of a cluster (`--cluster`) or one process for each "
        "building spreads them. Hours of processors, times what an hour costs you, are the price.\n",
        "| each of them | rules | processor time of one | "
        f"{BUILDINGS:,} of them | with 2 processors | with 64 |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for what, row in every:
        hours = row.cpu_s * BUILDINGS / 3600
        lines.append(
            f"| {what} | {row.rules:,} | {seconds(row.cpu_s)} | {hours:.1f} h | "
            f"{_long(hours / 2)} | {_long(hours / 64)} |"
        )
    lines += [
        "",
        "With 64 the time is that of as many machines with memory enough: one building at a time on "
        "each. Reading and checking are done by one process for each building; only proofs are spread.",
    ]
    return lines


def _long(hours: float) -> str:
    """A stretch of hours, in minutes if it is short.

    >>> _long(2.25), _long(0.5)
    ('2.2 h', '30 min')
    """
    return f"{hours:.1f} h" if hours >= 1 else f"{hours * 60:.0f} min"


def _line(row: Row) -> str:
    target = "—" if row.target_s is None else seconds(row.target_s)
    if row.target_mb is not None:
        target += f", {row.target_mb:.0f} MB"
    return (
        f"| {row.what} | {row.rules:,} | {target} | {seconds(row.seconds)} | "
        f"{row.memory_mb:.0f} MB | {len(row.runs)} | {reached(row)} |"
    )


def reached(row: Row) -> str:
    """Whether a row is within what is to be reached, and all of it proved."""
    if not row.all_proved:
        return "**no**, not all is proved"
    late = row.target_s is not None and row.seconds > row.target_s
    large = row.target_mb is not None and row.memory_mb > row.target_mb
    return "**no**" if late or large else "yes"


def _grows(growth: Growth) -> str:
    points = growth.points
    parts = [
        f"the time grows with the number of rules to the power {exponent(points):.2f} "
        f"(from {points[0][0]:,} to {points[-1][0]:,} rules)"
    ]
    above = without_the_start(points)
    if len(above) > 1:
        parts.append(
            f"what comes on top of the smallest one with the power {exponent(above):.2f} "
            f"(from {above[0][0]:,} to {above[-1][0]:,})"
        )
    return "; ".join(parts) + ". Linear is 1."


# ---------------------------------------------------------------- the picture

_LEFT, _TOP, _WIDE, _HIGH = 64.0, 56.0, 400.0, 280.0


def plot(growth: Sequence[Growth]) -> str:
    """Time against rules, both by powers of ten, with lines that grow in proportion to the rules."""
    points = [point for each in growth for point in each.points]
    x0, x1 = log10(min(x for x, _ in points)), log10(max(x for x, _ in points))
    y0 = float(floor(log10(min(y for _, y in points))))
    y1 = float(ceil(log10(max(y for _, y in points))))

    def at(rules: float, time_s: float) -> tuple[float, float]:
        x = _LEFT + _WIDE * (log10(rules) - x0) / (x1 - x0)
        return x, _TOP + _HIGH * (y1 - log10(time_s)) / (y1 - y0)

    shapes: list[str] = []
    texts = [
        Text("Seconds of the whole process", 16, 22, 13, bold=True, centred=False),
        Text("rules", _LEFT + _WIDE / 2, _TOP + _HIGH + 40, 12),
    ]
    for power in range(round(x0), round(x1) + 1):
        x, _ = at(10**power, 10**y0)
        shapes.append(_stroke([(x, _TOP), (x, _TOP + _HIGH)], "#d8d8d8"))
        texts.append(Text(f"{10**power:,}", x, _TOP + _HIGH + 18, 11, fill=FAINT))
    for power in range(round(y0), round(y1) + 1):
        _, y = at(10**x0, 10**power)
        shapes.append(_stroke([(_LEFT, y), (_LEFT + _WIDE, y)], "#d8d8d8"))
        texts.append(Text(f"{10.0**power:g}", _LEFT - 26, y + 4, 11, fill=FAINT))
    shapes.extend(_in_proportion(x0, x1, y0, y1))
    texts.append(Text("dotted: in proportion to the rules", _LEFT + 118, _TOP - 8, 10, fill=FAINT))
    for number, each in enumerate(growth):
        colour, mark = COLOURS[number % len(COLOURS)], MARKS[number % len(MARKS)]
        places = [at(rules, time_s) for rules, time_s in each.points]
        shapes.append(_stroke(places, colour, 2.0))
        shapes += [
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{mark:g}" fill="{colour}"/>'
            if number == 0
            else f'<rect x="{x - mark:.1f}" y="{y - mark:.1f}" width="{2 * mark:g}" '
            f'height="{2 * mark:g}" fill="{colour}"/>'
            for x, y in places
        ]
        line_y = _TOP + _HIGH + 66 + 20 * number
        shapes.append(_stroke([(_LEFT, line_y - 4), (_LEFT + 28, line_y - 4)], colour, 2.0))
        texts.append(Text(each.name, _LEFT + 36, line_y, 12, centred=False))
    height = _TOP + _HIGH + 60 + 20 * len(growth)
    drawing = Drawing(_LEFT + _WIDE + 40, height, tuple(shapes), tuple(texts))
    told = "; ".join(
        f"{each.name}: {', '.join(f'{x:,} rules {y:.2f} s' for x, y in each.points)}"
        for each in growth
    )
    return whole_svg([(drawing, 0.0, 0.0)], "Seconds against rules", told)


def _in_proportion(x0: float, x1: float, y0: float, y1: float) -> list[str]:
    """Dotted lines on which ten times the rules take ten times as long, within the picture."""
    found = []
    for power in range(round(y0 - (x1 - x0)), round(y1)):
        begin, end = max(0.0, y0 - power), min(x1 - x0, y1 - power)
        places = [
            (
                _LEFT + _WIDE * far / (x1 - x0),
                _TOP + _HIGH * (y1 - power - far) / (y1 - y0),
            )
            for far in (begin, end)
        ]
        found.append(_stroke(places, "#9a9a9a", 1.0, "1 5"))
    return found


def _stroke(
    places: Sequence[tuple[float, float]], colour: str, width: float = 1.0, dash: str = ""
) -> str:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )
