"""The year of a site as SVG: days across, hours down, the darker the deeper the sun stands."""

from __future__ import annotations

from datetime import date
from xml.sax.saxutils import escape

from verifier.front.shown import shown
from verifier.front.sun_year import Band, SunYear, bands_of, days_of, second_of
from verifier.model.words import event_words, number
from verifier.model.words import words as condition_words

_FILL = ("#fbf6e6", "#c9d3e6", "#93a5c9", "#5a6f9f", "#26365f")
"""From day to night: they differ in lightness, so that they are told apart in grey, too."""

_DEPTHS = ("day", "after sunset", "below -6°", "below -12°", "below -18°")
_DAY, _HOUR = 2, 18
_LEFT, _TOP, _RIGHT, _BOTTOM = 56, 54, 190, 60
_MONTHS = "JFMAMJJASOND"


def sun_svg(found: SunYear) -> str:
    """The picture; it stands alone, with title and description for those who do not see it."""
    days = bands_of(found.site, found.year)
    width = _LEFT + _DAY * len(days) + _RIGHT
    height = _TOP + 24 * _HOUR + _BOTTOM
    title = f"{shown(found.site.name)}, {found.year}"
    altitude = number(found.site.night_below_deg)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" role="img" font-family="sans-serif" font-size="12">',
        f"<title>{escape(title)}: night and twilight</title>",
        f"<desc>Days of the year from left to right, hours of the clock from top to bottom. "
        f"Lines: night begins and ends at {altitude} degrees; the times that the job reads.</desc>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text x="{_LEFT}" y="24" font-size="16" font-weight="bold">{escape(title)}</text>',
    ]
    for depth in range(len(_FILL)):
        path = _area(days, depth)
        if path:
            parts.append(f'<path fill="{_FILL[depth]}" d="{path}"/>')
    parts.extend(_grid(found, len(days)))
    parts.extend(_turns(found))
    parts.extend(_times(found, len(days)))
    parts.extend(_legend(height, altitude))
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
                moves.append(f"M{x} {top:.1f}h{_DAY}v{_y(band.end) - top:.1f}h-{_DAY}z")
    return "".join(moves)


def _grid(found: SunYear, count: int) -> list[str]:
    parts = []
    right = _LEFT + _DAY * count
    for hour in range(0, 25, 3):
        y = _y(hour * 3600)
        parts.append(
            f'<path d="M{_LEFT} {y:.1f}H{right}" stroke="#777777" stroke-width="0.4"/>'
            f'<text x="{_LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{hour:02}:00</text>'
        )
    for month in range(1, 13):
        first = (date(found.year, month, 1) - date(found.year, 1, 1)).days
        x = _LEFT + _DAY * first
        parts.append(
            f'<path d="M{x} {_TOP}V{_y(86_400):.1f}" stroke="#777777" stroke-width="0.4"/>'
            f'<text x="{x + 4}" y="{_TOP - 8}">{_MONTHS[month - 1]}</text>'
        )
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
            parts.append(
                f'<path d="{"".join(points)}" fill="none" stroke="#b3261e" '
                f'stroke-width="1.6"{dash}/>'
            )
    return parts


def _times(found: SunYear, count: int) -> list[str]:
    """The job's own times: a line for each event, a bracket for each stretch."""
    right = _LEFT + _DAY * count
    parts = []
    taken: list[float] = []

    def label(y: float, words: str) -> str:
        place = y + 4
        while any(abs(place - other) < 13 for other in taken):
            place += 13
        taken.append(place)
        return f'<text x="{right + 18}" y="{place:.1f}">{escape(shown(words))}</text>'

    for event in found.events:
        y = _y(event.time_s)
        parts.append(
            f'<path d="M{_LEFT} {y:.1f}H{right + 14}" stroke="#111111" stroke-width="1.2" '
            'stroke-dasharray="1 3"/>'
        )
        parts.append(label(y, event_words(event)))
    for k, between in enumerate(found.betweens):
        x = right + 4 + 3 * (k % 3)
        ends = [(between.from_s, between.to_s)]
        if between.to_s <= between.from_s:
            ends = [(between.from_s, 86_400), (0, between.to_s)]
        parts.extend(
            f'<path d="M{x} {_y(a):.1f}V{_y(b):.1f}" stroke="#111111" stroke-width="2"/>'
            for a, b in ends
        )
        parts.append(label(_y(between.from_s), condition_words(between)))
    return parts


def _legend(height: int, altitude: str) -> list[str]:
    y, x = height - 34, _LEFT
    parts = []
    for fill, words in zip(_FILL, _DEPTHS, strict=True):
        parts.append(
            f'<rect x="{x}" y="{y}" width="16" height="12" fill="{fill}" stroke="#777777" '
            f'stroke-width="0.5"/><text x="{x + 22}" y="{y + 11}">{escape(words)}</text>'
        )
        x += 118
    y += 22
    parts.append(
        f'<path d="M{_LEFT} {y}h28" stroke="#b3261e" stroke-width="1.6"/>'
        f'<text x="{_LEFT + 34}" y="{y + 4}">night begins ({altitude}°)</text>'
        f'<path d="M{_LEFT + 190} {y}h28" stroke="#b3261e" stroke-width="1.6" '
        f'stroke-dasharray="4 2"/><text x="{_LEFT + 224}" y="{y + 4}">day begins</text>'
    )
    return parts
