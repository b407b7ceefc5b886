"""The year of a site as text: a table of its months, and a picture of weeks by hours."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable
from datetime import date
from fractions import Fraction

from verifier import __version__
from verifier.front.figures import counted
from verifier.front.paint import Paint
from verifier.front.shown import padded, shown
from verifier.front.sun_year import DAY_S, Band, SunYear, Turned, bands_of, second_of
from verifier.model.words import duration, event_words, number
from verifier.model.words import words as condition_words
from verifier.surroundings.calendar import clock_text

_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_SHADES, _PLAIN = " ·░▒█", " .:+#"
_DEPTHS = ("day", "after sunset", "below -6 deg", "below -12 deg", "below -18 deg")


def sun_text(found: SunYear, paint: Paint, width: int) -> str:
    """The whole text."""
    site = found.site
    assert site.latitude_deg is not None
    assert site.longitude_deg is not None
    head = (
        f"{shown(site.name)}, {found.year}: latitude {number(site.latitude_deg)} deg, longitude "
        f"{number(site.longitude_deg)} deg, {site.timezone}. Night is when the sun stands below "
        f"{number(site.night_below_deg)} deg."
    )
    blocks = ["\n".join(textwrap.wrap(head, width)), "\n".join(_table(found, paint))]
    blocks.append("\n".join(line for one in _said(found) for line in textwrap.wrap(one, width)))
    blocks.append("\n".join(_picture(found, paint, width)))
    return "\n\n".join(blocks) + "\n"


def _table(found: SunYear, paint: Paint) -> list[str]:
    rows = [("", "day begins", "night begins", "night lasts")]
    for month in found.months:
        rows.append(
            (
                _NAMES[month.number - 1],
                _span(month.mornings, lambda t: second_of(t.when), _clock),
                _span(month.evenings, lambda t: second_of(t.when), _clock),
                _span(month.evenings, lambda t: t.lasts_s, _length),
            )
        )
    widths = [max(len(row[n]) for row in rows) for n in range(4)]
    lines = []
    for k, row in enumerate(rows):
        cells = (padded(cell, size) for cell, size in zip(row, widths, strict=True))
        line = "  ".join(cells).rstrip()
        lines.append(paint(line, "quiet") if k == 0 else line)
    return lines


def _span(
    turns: tuple[Turned, ...], key: Callable[[Turned], int], words: Callable[[int], str]
) -> str:
    if not turns:
        return "never"
    values = [key(turn) for turn in turns]
    low, high = words(min(values)), words(max(values))
    return low if low == high else f"{low} to {high}"


def _clock(second: int) -> str:
    # Rounded to the minute: refraction alone moves the sun by as much.
    return clock_text(((second + 30) // 60 * 60) % DAY_S)


def _length(seconds: int) -> str:
    minutes = (seconds + 30) // 60
    if minutes >= 48 * 60:
        return counted(minutes // 1440, "day")
    return f"{minutes // 60} h {minutes % 60:02} min"


def _said(found: SunYear) -> list[str]:
    lines = []
    evenings = [turn for turn in found.turns if turn.to_night]
    for word, pick in (("shortest", min), ("longest", max)):
        if evenings:
            turn = pick(evenings, key=lambda t: t.lasts_s)
            lines.append(
                f"The {word} night begins on {_day(turn.when.date())}: {_length(turn.lasts_s)}."
            )
    for one in found.missing:
        what = "there is no day" if one.always_night else "there is no night"
        lines.append(f"From {_day(one.first)} to {_day(one.last)} {what}.")
    for when, by in found.changes:
        way = "on" if by > 0 else "back"
        lines.append(
            f"On {_day(when.date())} the clock is put {way} by {duration(Fraction(abs(by)))}, "
            f"to {clock_text(second_of(when))}."
        )
    return lines


def _day(when: date) -> str:
    return f"{when.day} {_NAMES[when.month - 1]}"


def _picture(found: SunYear, paint: Paint, width: int) -> list[str]:
    """Hours down, weeks across; the job's own times stand beside their hour."""
    days = bands_of(found.site, found.year)
    shades = _PLAIN if paint.plain_marks else _SHADES
    step = 7 if width >= 80 else 14
    columns = [days[min(n + step // 2, len(days) - 1)] for n in range(0, len(days), step)]
    legend = ", ".join(f"`{s}` {d}" for s, d in zip(shades, _DEPTHS, strict=True))
    lines = textwrap.wrap(f"Each column is {counted(step, 'day')}: {legend}.", width)
    starts: dict[int, int] = {}
    for month in range(1, 13):
        starts.setdefault((date(found.year, month, 1) - date(found.year, 1, 1)).days // step, month)
    head = "".join(_NAMES[starts[n] - 1][0] if n in starts else " " for n in range(len(columns)))
    lines.append(paint(f"       {head}".rstrip(), "quiet"))
    for hour in range(24):
        middle = hour * 3600 + 1800
        row = "".join(shades[_depth_at(bands, middle)] for bands in columns)
        lines.append(f"{hour:02}:00 |{row}|{_times(found, hour)}".rstrip())
    return lines


def _depth_at(bands: tuple[Band, ...], second: int) -> int:
    for band in bands:
        if band.begin <= second < band.end:
            return band.depth
    return 0


def _times(found: SunYear, hour: int) -> str:
    said = [event_words(e) for e in found.events if e.time_s // 3600 == hour]
    said += [condition_words(b) for b in found.betweens if b.from_s // 3600 == hour]
    return f" {', '.join(said)}" if said else ""


def sun_json(found: SunYear) -> str:
    """The year for programs: every turn with its offset, changes of the clock, what is missing."""
    site = found.site
    whole = {
        "tool": "duskproof",
        "version": __version__,
        "site": site.name,
        "year": found.year,
        "timezone": site.timezone,
        "night_below_deg": number(site.night_below_deg),
        "turns": [
            {
                "at": turn.when.isoformat(),
                "begins": "night" if turn.to_night else "day",
                "lasts_s": turn.lasts_s,
            }
            for turn in found.turns
        ],
        "clock_changes": [{"at": when.isoformat(), "put_on_s": by} for when, by in found.changes],
        "missing": [
            {
                "from": one.first.isoformat(),
                "to": one.last.isoformat(),
                "what": "day" if one.always_night else "night",
            }
            for one in found.missing
        ],
    }
    return json.dumps(whole, indent=2)
