"""The year of a site as SVG: days across, hours down, the darker the deeper the sun stands."""

from __future__ import annotations

from datetime import date
from html import escape

from verifier.front.shown import shown
from verifier.front.sun_year import Band, SunYear, bands_of, days_of, second_of
from verifier.front.svg_parts import Text
from verifier.front.text_size import wrapped
from verifier.model.words import event_words, number
from verifier.model.words import words as condition_words

_FILL = ("#fbf6e6", "#c9d3e6", "#93a5c9", "#5a6f9f", "#26365f")
"""From day to night: they differ in lightness, so that they are told apart in grey, too."""

_DEPTHS = ("day", "after sunset", "below -6°", "below -12°", "below -18°")
_DAY, _HOUR = 1.1, 14
_LEFT, _TOP, _MARGIN = 50, 54, 10
"""Narrow enough to be read on a telephone, where it shrinks to the width of the screen."""

_BAR = 4
"""Between the bars of two stretches of the clock."""

_SIZE, _LEADING = 12.0, 17.0
_MONTHS = "JFMAMJJASOND"


def sun_svg(found: SunYear) -> str:
    """The picture; it stands alone, with title and description for those who do not see it."""
    days = bands_of(found.site, found.year)
    right = _LEFT + _DAY * len(days)
    times, numbers = _times(found, right)
    width = max(text.box[2] for text in (*numbers, _number("0", right + _BAR, 0))) + _MARGIN
    legend, height = _legend(found, width)
    title = f"{shown(found.site.name)}, {found.year}"
    altitude = number(found.site.night_below_deg)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img" font-family="sans-serif" '
        f'aria-label="{escape(title)}: night and twilight">',
        f"<title>{escape(title)}: night and twilight</title>",
        f"<desc>Days of the year from left to right, hours of the clock from top to bottom. "
        f"Lines: night begins and ends at {altitude} degrees; the times that the job reads.</desc>",
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="#ffffff"/>',
    ]
    (line,) = wrapped(title, 16.0, width - _LEFT - _MARGIN, bold=True, lines=1)
    parts.append(Text(line, _LEFT, 24.0, 16.0, bold=True, centred=False).svg())
    for depth in range(len(_FILL)):
        path = _area(days, depth)
        if path:
            parts.append(f'<path fill="{_FILL[depth]}" d="{path}"/>')
    parts.extend(_grid(found, right))
    parts.extend(_turns(found))
    parts.extend(times)
    parts.extend(text.svg() for text in numbers)
    parts.extend(legend)
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _y(second: int) -> float:
    return _TOP + second / 3600 * _HOUR


def _area(days: list[tuple[Band, ...]], depth: int) -> str:
    """All stretches of one depth; days that are alike are drawn in one."""
    moves = []
    for n, bands in enumerate(days):
        for band in bands:
            if band.depth == depth:
                x, top = _LEFT + _DAY * n, _y(band.begin)
                # A little over the edge, so that no light shows between two days.
                moves.append(
                    f"M{x:.1f} {top:.1f}h{_DAY + 0.2}v{_y(band.end) - top:.1f}h-{_DAY + 0.2}z"
                )
    return "".join(moves)


def _grid(found: SunYear, right: float) -> list[str]:
    parts = []
    for hour in range(0, 25, 3):
        y = _y(hour * 3600)
        parts.append(
            f'<path d="M{_LEFT} {y:.1f}H{right:.1f}" stroke="#777777" stroke-width="0.4"/>'
        )
        parts.append(Text(f"{hour:02}:00", (_LEFT - 6) / 2, y + 4, 11.0).svg())
    for month in range(1, 13):
        first = (date(found.year, month, 1) - date(found.year, 1, 1)).days
        x = _LEFT + _DAY * first
        parts.append(
            f'<path d="M{x:.1f} {_TOP}V{_y(86_400):.1f}" stroke="#777777" stroke-width="0.4"/>'
        )
        parts.append(Text(_MONTHS[month - 1], x + 16, _TOP - 8.0, _SIZE).svg())
    return parts


def _turns(found: SunYear) -> list[str]:
    """The moments at which night and day begin, as the rules read them."""
    first = days_of(found.year)[0]
    parts = []
    for to_night, dash in ((True, ""), (False, ' stroke-dasharray="4 2"')):
        points: list[str] = []
        last: tuple[int, int] | None = None
        for turn in found.turns:
            if turn.to_night is not to_night:
                continue
            day, second = (turn.when.date() - first).days, second_of(turn.when)
            # A gap where the clock changes, where midnight is passed, where nights are missing.
            near = last is not None and day - last[0] <= 1 and abs(second - last[1]) < 2400
            x = _LEFT + _DAY * day + _DAY / 2
            points.append(f"{'L' if near else 'M'}{x:.1f} {_y(second):.1f}")
            last = (day, second)
        if points:
            # On a light ground of its own, so that it is seen in the dark of the night, too.
            line = "".join(points)
            parts.append(
                f'<path d="{line}" fill="none" stroke="#ffffff" stroke-width="3.4"/>'
                f'<path d="{line}" fill="none" stroke="#8f1d15" stroke-width="1.6"{dash}/>'
            )
    return parts


def _number(words: str, left: float, y: float) -> Text:
    return Text(words, left, y, _SIZE, True, False)


def _told(found: SunYear) -> list[tuple[str, str]]:
    """The job's own times, and how each is drawn."""
    return [
        *((event_words(event), "dotted line") for event in found.events),
        *((condition_words(between), "bar at the right") for between in found.betweens),
    ]


def _times(found: SunYear, right: float) -> tuple[list[str], list[Text]]:
    """The job's own times, with the numbers that the list below has.

    A line for each event, a bar for each stretch; numbers that would touch share a line.
    """
    parts = []
    beside = right + _BAR * (len(found.betweens) + 1)
    marks = [(_y(event.time_s), str(n)) for n, event in enumerate(found.events, 1)]
    for y, _ in marks:
        # On a light ground, as the lines of the sun are.
        parts.append(
            f'<path d="M{_LEFT} {y:.1f}H{right:.1f}" stroke="#ffffff" stroke-width="2.6"/>'
            f'<path d="M{_LEFT} {y:.1f}H{beside:.1f}" stroke="#111111" stroke-width="1.4" '
            'stroke-dasharray="1 3"/>'
        )
    for k, between in enumerate(found.betweens):
        x = right + _BAR * (k + 1)
        ends = [(between.from_s, between.to_s)]
        if between.to_s <= between.from_s:
            ends = [(between.from_s, 86_400), (0, between.to_s)]
        parts.extend(
            f'<path d="M{x:.1f} {_y(a):.1f}V{_y(b):.1f}" stroke="#111111" stroke-width="2"/>'
            for a, b in ends
        )
        marks.append((_y(between.from_s), str(len(found.events) + k + 1)))
    lines: list[tuple[float, list[str]]] = []
    for y, mark in sorted(marks, key=lambda item: item[0]):
        if lines and y - lines[-1][0] < _LEADING:
            lines[-1][1].append(mark)
        else:
            lines.append((y, [mark]))
    return parts, [_number(" ".join(numbers), beside + 4, y + 4) for y, numbers in lines]


def _legend(found: SunYear, width: float) -> tuple[list[str], float]:
    """What the colours, lines and numbers mean, and how high the whole is."""
    y = _y(86_400) + 26
    parts = []
    step = (width - _MARGIN) / 3
    for k, (fill, words) in enumerate(zip(_FILL, _DEPTHS, strict=True)):
        x = _MARGIN + step * (k % 3)
        parts.append(
            f'<rect x="{x:.1f}" y="{y - 10:.1f}" width="16" height="12" fill="{fill}" '
            'stroke="#777777" stroke-width="0.5"/>'
        )
        parts.append(Text(words, x + 22, y, _SIZE, False, False).svg())
        y += _LEADING if k == 2 else 0
    y += _LEADING
    altitude = number(found.site.night_below_deg)
    for words, dash in ((f"night begins ({altitude}°)", ""), ("day begins", "4 2")):
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<path d="M{_MARGIN} {y - 4:.1f}h28" stroke="#8f1d15" stroke-width="1.6"{dashes}/>'
        )
        parts.append(Text(words, _MARGIN + 34.0, y, _SIZE, False, False).svg())
        y += _LEADING
    for position, (words, drawn) in enumerate(_told(found), 1):
        parts.append(_number(str(position), _MARGIN, y).svg())
        for line in wrapped(f"{shown(words)} ({drawn})", _SIZE, width - 2 * _MARGIN - 34):
            parts.append(Text(line, _MARGIN + 34.0, y, _SIZE, False, False).svg())
            y += _LEADING
    return parts, y
