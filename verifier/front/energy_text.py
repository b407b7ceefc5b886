"""The energy of a year as text: a table, what it comes to, and where each figure comes from."""

from __future__ import annotations

import textwrap
from fractions import Fraction

from verifier.explain.figures import counted, listed
from verifier.front.paint import Paint
from verifier.front.result_places import line_of
from verifier.front.shown import columns, padded, shown
from verifier.handover.energy import Energy, OutputEnergy, money
from verifier.handover.expected import Shape
from verifier.handover.pattern import travel_s
from verifier.model.job import PointKind
from verifier.model.used import Use
from verifier.model.words import clock_time, days, duration, number
from verifier.source import Sources

SHAPES: dict[Shape, str] = {
    "prolonged": "each press begins the run anew: it is on unless none came in the last run's time",
    "until unseen": "it stays on until nobody has been seen for a while: it is on unless nobody came "
    "in a stay and that time",
    "run to its end": "presses during a run do nothing: as many runs begin as presses find it idle",
}
"""Each formula in words."""


def energy_text(found: Energy, sources: Sources, paint: Paint, width: int) -> str:
    """The whole text."""
    usage = found.job.usage
    assert usage is not None
    labels = "; ".join(shown(label) for label in usage.labels)
    head = f"Energy of {shown(found.job.name)} in {found.year.year}" + (
        f": {labels}." if labels else "."
    )
    blocks = [
        "\n".join(textwrap.wrap(head, width)),
        "\n".join(_table(found, paint, width)),
        _wrapped(sums(found), width),
        paint("Where the figures come from", "strong"),
        "\n".join(_items(origins(found, sources), width)),
        paint("How they were worked out", "strong"),
        "\n".join(_items(methods(found), width)),
    ]
    return "\n\n".join(blocks)


def _wrapped(lines: list[str], width: int) -> str:
    return "\n".join(part for line in lines for part in textwrap.wrap(line, width))


def _items(lines: list[str], width: int) -> list[str]:
    return [
        part
        for line in lines
        for part in textwrap.wrap(line, width, initial_indent="- ", subsequent_indent="  ")
    ]


# ---------------------------------------------------------------- the table


def _table(found: Energy, paint: Paint, width: int) -> list[str]:
    rows = [list(HEADINGS), *(cells(found, each) for each in found.outputs)]
    widths = [max(columns(row[n]) for row in rows) for n in range(len(HEADINGS))]
    shown_ = [n for n in range(len(HEADINGS)) if any(row[n] for row in rows[1:])]
    left_out: list[str] = []
    for n in _FIRST_TO_GO:
        if sum(widths[k] + 2 for k in shown_) - 2 > width and n in shown_:
            shown_.remove(n)
            left_out.append(HEADINGS[n])
    lines = []
    for k, row in enumerate(rows):
        parts = [
            padded(row[n], widths[n]) if n == 0 else " " * (widths[n] - columns(row[n])) + row[n]
            for n in shown_
        ]
        line = "  ".join(parts).rstrip()
        lines.append(paint(line, "quiet") if k == 0 else line)
    if left_out:
        lines.append(f"(Wider terminals show: {listed(tuple(left_out))}.)")
    return lines


HEADINGS = (
    "kWh a year",
    "power",
    "on a day",
    "simulated",
    "formula",
    "at most",
    "all night",
    "left on",
    "stand-by",
    "cost",
    "starts a day",
)
_FIRST_TO_GO = (10, 6, 8, 1, 2, 7)


def cells(found: Energy, each: OutputEnergy) -> list[str]:
    """One line of the table; a cell is empty where there is nothing to say."""
    point, price = each.point, found.job.usage.price if found.job.usage else None
    on_s = each.on_s.value if each.expected is None else each.expected.on_s
    simulated = ""
    if each.simulated is not None:
        simulated = figure(each.simulated.value)
        if each.simulated.half is not None:
            simulated += f" ± {figure(each.simulated.half)}"
    return [
        shown(point.name),
        "" if point.power_w is None else f"{number(point.power_w)} W",
        day_text(on_s / found.year.days),
        simulated,
        _figure(each.by_formula),
        _figure(each.most),
        _figure(each.left_on_nights),
        _figure(each.left_on),
        _figure(each.standby),
        ""
        if price is None or each.kwh is None
        else f"{money(price.per_kwh * Fraction(each.kwh))} {shown(price.currency)}",
        f"{each.switched.value / found.year.days:.1f}",
    ]


def figure(value: float | Fraction) -> str:
    """Kilowatt-hours as the table has them: three digits where there are so many, no false ones.

    >>> figure(0.0123), figure(8.756), figure(1016.16)
    ('0.01', '8.76', '1016')
    """
    number = float(value)
    return (
        f"{number:.0f}" if number >= 100 else f"{number:.1f}" if number >= 10 else f"{number:.2f}"
    )


def _figure(value: float | Fraction | None) -> str:
    return "" if value is None else figure(value)


def day_text(seconds: float) -> str:
    """How long something is on in a day, to the second, or the minute of more than an hour.

    >>> day_text(225.4), day_text(8951.0)
    ('3 min 45 s', '2 h 29 min')
    """
    step = 60 if seconds >= 3600 else 1
    return duration(Fraction(round(seconds / step) * step))


# ---------------------------------------------------------------- what it comes to


def sums(found: Energy) -> list[str]:
    """What all of it comes to, in a sentence or two."""
    usage = found.job.usage
    assert usage is not None
    price = usage.price
    with_power = [each for each in found.outputs if each.kwh is not None]
    if not with_power:
        return ["No output has a stated power, so no energy can be told."]

    def cost(kwh: float | Fraction) -> str:
        if price is None:
            return ""
        return f" ({money(price.per_kwh * Fraction(kwh))} {shown(price.currency)})"

    lines = [
        f"All together: {figure(found.kwh)} kWh a year{cost(found.kwh)}; left on, day and night, "
        f"it would be {figure(found.left_on)} kWh{cost(found.left_on)}."
    ]
    without = tuple(each.point.name for each in found.outputs if each.kwh is None)
    if without:
        lines.append(f"Left out, as no power is stated: {listed(without)}.")
    return lines


# ---------------------------------------------------------------- where it comes from


def origins(found: Energy, sources: Sources) -> list[str]:
    """Each figure that was stated, where it stands, and what its author says of it."""
    usage = found.job.usage
    assert usage is not None

    def said(source: str) -> str:
        if source:
            return f" ({shown(source)})"
        return " (as the usage says)" if usage.labels else " (no source is stated)"

    lines = [
        f"{line_of(use.span, sources)}: {use_words(use)}{said(use.source)}" for use in usage.uses
    ]
    if usage.night is not None:
        night = usage.night
        lines.append(
            f"{line_of(night.span, sources)}: night between {clock_time(night.begins_s)} and "
            f"{clock_time(night.ends_s)}{said(night.source)}"
        )
    if usage.price is not None:
        price = usage.price
        lines.append(
            f"{line_of(price.span, sources)}: a kWh costs {_price(price.per_kwh)} "
            f"{shown(price.currency)}{said(price.source)}"
        )
    for each in found.outputs:
        if each.point.power_w is not None:
            lines.append(
                f"{line_of(each.point.span, sources)}: {each.point.name} draws "
                f"{number(each.point.power_w)} W (as declared)"
            )
        if each.standby_line is not None:
            line = each.standby_line
            lines.append(
                f"{line_of(line.span, sources)}: {line.point} draws {number(line.power_w)} W "
                f"when off{said(line.source)}"
            )
    return lines


def _price(per_kwh: Fraction) -> str:
    """A price as it is written: with two decimals at least."""
    return money(per_kwh) if (per_kwh * 100).denominator == 1 else number(per_kwh)


def use_words(use: Use) -> str:
    """A line of the usage in words."""
    happens = "pressed" if use.value is None else f"becomes {use.value}"
    lasting = "" if use.lasts_s is None else f" for {duration(use.lasts_s)}"
    often = "once a day" if use.times == 1 else f"{number(use.times)} times a day"
    text = f"{use.subject} {happens}{lasting} {often}"
    if use.begins_s is not None and use.ends_s is not None:
        text += f" between {clock_time(use.begins_s)} and {clock_time(use.ends_s)}"
    return text if use.days is None else f"{text} on {days(use.days)}"


# ---------------------------------------------------------------- how


def methods(found: Energy) -> list[str]:
    """How each column was worked out, and on what it rests."""
    job, year = found.job, found.year
    weeks = counted(found.weeks, "week")
    lines = [
        f"Simulated: {weeks} spread over {year.year}, each played on the rules themselves, drawn with seed "
        f"{found.seed} ({found.happenings:,} happenings). After ± stands half of the 95 % interval of "
        "the mean, from week to week."
        if found.weeks > 1
        else f"Simulated: one week of {year.year}, drawn with seed {found.seed}: too little for an interval.",
    ]
    shapes = dict.fromkeys(
        each.expected.shape for each in found.outputs if each.expected and each.expected.on_s
    )
    for shape in shapes:
        names = tuple(
            each.point.name
            for each in found.outputs
            if each.expected and each.expected.on_s and each.expected.shape == shape
        )
        lines.append(f"By formula, {listed(names)}: {SHAPES[shape]}.")
    lines.extend(_bounds(found))
    lines.append("Left on: the stated power, day and night" + _nights(found) + ".")
    if any(each.point.kind is PointKind.DIMMER for each in found.outputs):
        lines.append("A dimmer is taken to draw power in proportion to its level (an assumption).")
    if not any(each.standby_line for each in found.outputs):
        lines.append("Stand-by is not counted, as none is stated.")
    lines.append(
        "The moments of each line of the usage are random and know nothing of each other; a stretch "
        "that begins while another lasts lengthens it."
    )
    doors = tuple(
        door.name for door in job.doors if any(u.subject == door.name for u in _uses(found))
    )
    for door in doors:
        lines.append(
            f"A full run of {door} is taken to last {duration(travel_s(job, door))}, the mean of its travel."
        )
    if found.idle:
        rest = tuple(f"{name} {value}" for name, value in found.idle)
        lines.append(f"No line of the usage moves these, so they stay as they are: {listed(rest)}.")
    if found.dead:
        lines.append(f"So these rules never run here: {listed(found.dead)}.")
    lines.append("No power cut, fault or switch at the lamp is played.")
    return lines


def _uses(found: Energy) -> tuple[Use, ...]:
    return found.job.usage.uses if found.job.usage else ()


def _nights(found: Energy) -> str:
    nights = found.year.nights
    if nights is None:
        return ""
    hours = nights.seconds(0, found.year.days * 86_400) / 3600
    kind = "stated" if nights.source == "stated" else "real, at the site"
    return f". All night: in the {hours:,.0f} hours of night in {found.year.year} ({kind})"


def _bounds(found: Energy) -> list[str]:
    lines = []
    for each in found.outputs:
        bound = each.at_most
        if bound is None or not bound.on_s:
            continue
        moments = " and ".join(
            f"{words} ({float(times):,.0f} a year)" for words, times in bound.moments
        )
        away = (
            f", beside {float(bound.away_s) / 3600:,.1f} h a year with something open, moving or occupied"
            if bound.away_s
            else ""
        )
        lines.append(
            f"At most, {each.point.name}: proved on no longer than {duration(bound.tail_s)} after "
            f"{moments}{away}."
        )
    none = tuple(e.point.name for e in found.outputs if e.at_most is None)
    if none:
        lines.append(f"No bound was proved for {listed(none)}.")
    return lines
