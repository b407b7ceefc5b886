"""The `usage` blocks of a job, checked: who uses what, how often, and what a kilowatt-hour costs."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import TypeVar, assert_never

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.model.conditions import days
from verifier.model.figures import Quantity, Unit, quantity
from verifier.model.job import Door, Job, Point, PointKind, Room
from verifier.model.names import Names, kind_of
from verifier.model.report import Report, joined
from verifier.model.used import NightHours, Price, Standby, Usage, Use
from verifier.source import Span

Item = TypeVar("Item")

MOST_TIMES = 10_000
"""Times a day at most: more often than every nine seconds is no use of a house."""

MOST_PRICE = 1_000_000
"""What a kilowatt-hour can cost, in any currency."""

RESTING = ("lowered", "raised")
"""Where a door can be left for a while."""


def usage(nodes: Iterable[tuple[tree.Usage, Names]]) -> Usage | None:
    """What the blocks state together; None where there is none. What is wrong is reported."""
    labels: list[str] = []
    uses: list[Use] = []
    standby: list[Standby] = []
    nights: list[NightHours] = []
    prices: list[Price] = []
    any_block = False
    for node, names in nodes:
        any_block = True
        labels.extend([node.label.text] if node.label else [])
        for line in node.lines:
            match line:
                case tree.Use():
                    _add(uses, _use(line, names))
                    _one_rest(uses, names.report)
                case tree.NightHours():
                    _add(nights, _night(line, names))
                    _once(nights, "when it is night", names.report)
                case tree.Price():
                    _add(prices, _price(line, names))
                    _once(prices, "the price", names.report)
                case tree.Standby():
                    _add(standby, _standby(line, standby, names))
                case _:
                    assert_never(line)
    if not any_block:
        return None
    return Usage(
        tuple(labels),
        tuple(uses),
        tuple(standby),
        nights[0] if nights else None,
        prices[0] if prices else None,
    )


def check_usage(job: Job, report: Report) -> None:
    """Report stated night hours beside a site that has a sun of its own."""
    night = None if job.usage is None else job.usage.night
    if night is not None and job.site is not None and job.site.latitude_deg is not None:
        report.error(
            "night-twice",
            "the job's site says where the sun stands, so night cannot be stated by the clock",
            night.span,
            "Take this line out: energy is worked out with the real nights of the site.",
            also=(Label(job.site.span, "the site"),),
        )


def _add(found: list[Item], item: Item | None) -> None:
    if item is not None:
        found.append(item)


def _once(found: list[NightHours] | list[Price], what: str, report: Report) -> None:
    if len(found) > 1:
        report.error(
            "given-twice",
            f"{what} is stated twice",
            found[-1].span,
            "Take one of them out.",
            also=(Label(found[0].span, "the first time"),),
        )


def _one_rest(uses: list[Use], report: Report) -> None:
    """What the last use leaves for a while is how the others leave it, so that there is one rest."""
    if not uses:
        return
    last = uses[-1]
    first = next(each for each in uses if each.subject == last.subject)
    if first.value != last.value:
        report.error(
            "two-rests",
            f"{last.subject} becomes {first.value} for a while, and {last.value} for a while",
            last.span,
            "Between its uses it is at rest, which is one of the two: take the lines of that one out.",
            also=(Label(first.span, "the other value"),),
        )


# ---------------------------------------------------------------- what happens, and how often


def _use(line: tree.Use, names: Names) -> Use | None:
    subject, value = _subject(line, names)
    lasts = None if line.lasts is None else names.duration(line.lasts, above_zero=True)
    often = _often(line.often, names)
    if subject is None or often is None or (line.lasts is not None and lasts is None):
        return None
    times, begins, ends, chosen = often
    source = line.source.text if line.source else ""
    return Use(subject, value, lasts, times, begins, ends, chosen, source, line.span)


def _subject(line: tree.Use, names: Names) -> tuple[str | None, str | None]:
    """What the line speaks of, and what it becomes (None of a button); None after an error."""
    name = line.subject
    if line.value is None:
        button = names.point(name, PointKind.BUTTON)
        return (None if button is None else button.name), None
    thing = names.find(name, "input or door")
    if thing is None:
        return None, None
    if isinstance(thing, Door):
        return _one_of(thing.name, line.value, RESTING, names)
    if not isinstance(thing, Point) or not thing.kind.is_input:
        inside = isinstance(thing, Room)
        names.report.error(
            "wrong-kind",
            f"{name.text} is {kind_of(thing)}; a usage tells what happens to inputs and doors",
            name.span,
            "Write what its detectors see: `DETECTOR becomes occupied for 5 min 6 times a day`."
            if inside
            else "What the controller does of itself follows from its rules.",
        )
        return None, None
    if thing.kind is PointKind.BUTTON:
        names.report.error(
            "button-value",
            f"{name.text} is a button: it does not change, it is pressed",
            name.span,
            f"Write `{name.text} pressed`.",
        )
        return None, None
    door = next((d for d in _doors(names) if thing.name in _points_of(d)), None)
    if door is not None:
        names.report.error(
            "set-by-door",
            f"{name.text} belongs to the door {door.name}, which sets it",
            name.span,
            f"Write `{door.name} becomes raised for 10 min` and how often.",
        )
        return None, None
    return _one_of(thing.name, line.value, thing.kind.values, names)


def _doors(names: Names) -> list[Door]:
    return [thing for thing in names.things.values() if isinstance(thing, Door)]


def _points_of(door: Door) -> tuple[str | None, ...]:
    return door.raised_by, door.lowered_by, door.moving_by


def _one_of(
    name: str, value: tree.Amount, fitting: tuple[str, ...], names: Names
) -> tuple[str | None, str | None]:
    if value.text in fitting:
        return name, value.text
    names.report.error(
        "unknown-value",
        f"{name} cannot be `{value.text}` for a while",
        value.span,
        f"Write {joined(fitting)}.",
    )
    return None, None


def _often(
    node: tree.Often, names: Names
) -> tuple[Fraction, int | None, int | None, frozenset[int] | None] | None:
    found = quantity(node.times.text)
    times = found.value if isinstance(found, Quantity) and found.unit is Unit.NUMBER else None
    if times is None or not 0 < times <= MOST_TIMES:
        names.report.error(
            "out-of-range",
            f"a day has more than 0 and at most {MOST_TIMES:,} of these",
            node.times.span,
            "Write `12 times a day`, `once a day` or `0.5 times a day`.",
        )
        times = None
    chosen = days(node.days, names)
    hours = _hours(node.begin, node.end, names)
    if times is None or chosen is False or hours is None:
        return None
    return times, hours[0], hours[1], chosen


def _hours(
    begin: tree.Amount | None, end: tree.Amount | None, names: Names
) -> tuple[int | None, int | None] | None:
    """The two clock times, None and None where none are written; None after an error."""
    if begin is None or end is None:
        return None, None
    begins, ends = names.clock(begin), names.clock(end)
    if begins is None or ends is None:
        return None
    if begins == ends:
        names.report.error(
            "empty-stretch",
            "`between` needs two different times",
            Span(begin.span.file, begin.span.start, end.span.end),
            "Leave `between` out for the whole day, or write two clock times.",
        )
        return None
    return begins, ends


# ---------------------------------------------------------------- nights, price, stand-by


def _night(line: tree.NightHours, names: Names) -> NightHours | None:
    hours = _hours(line.begin, line.end, names)
    if hours is None or hours[0] is None or hours[1] is None:
        return None
    return NightHours(hours[0], hours[1], line.source.text if line.source else "", line.span)


def _price(line: tree.Price, names: Names) -> Price | None:
    found = quantity(line.figure.text)
    if not isinstance(found, Quantity) or not 0 <= found.value <= MOST_PRICE:
        names.report.error(
            "out-of-range",
            "a price is 0 or more",
            line.figure.span,
            "Write `a kWh costs 0.30 GBP`.",
        )
        return None
    source = line.source.text if line.source else ""
    return Price(found.value, line.currency.text, source, line.span)


def _standby(line: tree.Standby, before: list[Standby], names: Names) -> Standby | None:
    kinds = (PointKind.LAMP, PointKind.DIMMER, PointKind.LOAD)
    point = names.point(line.point, *kinds)
    power = names.figure(line.power, Unit.POWER)
    if point is None or power is None:
        return None
    if power < 0:
        names.report.error(
            "out-of-range", "a power cannot be below 0 W", line.power.span, "Write `0.4 W`."
        )
        return None
    first = next((each for each in before if each.point == point.name), None)
    if first is not None:
        names.report.error(
            "given-twice",
            f"what {point.name} draws while it is off is stated twice",
            line.span,
            "Take one of them out.",
            also=(Label(first.span, "the first time"),),
        )
        return None
    return Standby(point.name, power, line.source.text if line.source else "", line.span)
