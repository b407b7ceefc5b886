"""The year of a site: when night and day begin by its clock, month by month and day by day."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

from verifier.model.job import AtClock, Between, Job, Site
from verifier.surroundings.calendar import marks_of, zone_offsets
from verifier.surroundings.sky import NotReached, night_at, not_reached, sun_turns

ALTITUDES = (Fraction(-833, 1000), Fraction(-6), Fraction(-12), Fraction(-18))
"""Sunset, and the ends of civil, nautical and astronomical twilight. Source: US Naval Observatory."""

DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class Turned:
    """Night or day begins, by the site's clock; ``lasts_s`` until the next turn."""

    when: datetime
    to_night: bool
    lasts_s: int


@dataclass(frozen=True, slots=True)
class Month:
    """A month's turns; each of the lists may be empty."""

    number: int
    mornings: tuple[Turned, ...]
    evenings: tuple[Turned, ...]


@dataclass(frozen=True, slots=True)
class SunYear:
    """All that is told of a year."""

    site: Site
    year: int
    months: tuple[Month, ...]
    turns: tuple[Turned, ...]
    changes: tuple[tuple[datetime, int], ...]
    """Changes of the clock: from when on (local), and by how many seconds it is put on."""
    missing: tuple[NotReached, ...]
    events: tuple[AtClock, ...]
    betweens: tuple[Between, ...]


def sun_year(job: Job, site: Site, year: int) -> SunYear:
    """The year of a site that has a latitude."""
    assert site.timezone is not None
    zone = ZoneInfo(site.timezone)
    found: list[Turned] = []
    for turn, following in pairwise(sun_turns(site, year - 1, year + 1)):
        local = datetime.fromtimestamp(turn.at, zone)
        if local.year == year:
            found.append(Turned(local, turn.to_night, following.at - turn.at))
    months = tuple(
        Month(
            number,
            tuple(t for t in found if t.when.month == number and not t.to_night),
            tuple(t for t in found if t.when.month == number and t.to_night),
        )
        for number in range(1, 13)
    )
    changes = tuple(
        (datetime.fromtimestamp(at, zone), after - before)
        for (_, before), (at, after) in pairwise(zone_offsets(site.timezone, year, year))
    )
    missing = not_reached(site, year, lambda at: datetime.fromtimestamp(at, zone).date())
    marks = marks_of(job)
    events = () if marks is None else marks.events
    betweens = () if marks is None else marks.betweens
    return SunYear(site, year, months, tuple(found), changes, missing, events, betweens)


def second_of(when: datetime) -> int:
    """Seconds since midnight by the clock."""
    return when.hour * 3600 + when.minute * 60 + when.second


def days_of(year: int) -> list[date]:
    """Every date of a year."""
    first = date(year, 1, 1)
    return [first + timedelta(days=n) for n in range((date(year + 1, 1, 1) - first).days)]


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of a day by the clock, in seconds since midnight, and how many altitudes are above.

    ``depth`` 0 is day, 1 after sunset, 2, 3 and 4 after civil, nautical, astronomical twilight.
    """

    begin: int
    end: int
    depth: int


def bands_of(site: Site, year: int) -> list[tuple[Band, ...]]:
    """For each day of a year how light it is by the clock, from midnight to midnight."""
    assert site.timezone is not None
    zone = ZoneInfo(site.timezone)
    turns = [
        sun_turns(replace(site, night_below_deg=altitude), year - 1, year + 1)
        for altitude in ALTITUDES
    ]
    found: list[tuple[Band, ...]] = []
    places = [0] * len(ALTITUDES)
    for day in days_of(year):
        begin = int(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp())
        after = day + timedelta(days=1)
        end = int(datetime(after.year, after.month, after.day, tzinfo=zone).timestamp())
        dark = []
        moments: list[tuple[int, int, bool]] = []
        for k, altitude in enumerate(ALTITUDES):
            one = turns[k]
            while places[k] < len(one) and one[places[k]].at <= begin:
                places[k] += 1
            before = one[places[k] - 1].to_night if places[k] else None
            if before is None:
                before = night_at(replace(site, night_below_deg=altitude), begin)
            dark.append(before)
            n = places[k]
            while n < len(one) and one[n].at < end:
                moments.append((one[n].at, k, one[n].to_night))
                n += 1
        bands: list[Band] = []
        now = begin
        for at, k, to_night in [*sorted(moments), (end, -1, False)]:
            if at > now:
                bands.extend(_by_the_clock(now, at, sum(dark), zone))
                now = at
            if k >= 0:
                dark[k] = to_night
        found.append(tuple(bands))
    return found


def _by_the_clock(begin: int, end: int, depth: int, zone: ZoneInfo) -> list[Band]:
    """A stretch of time as the clock shows it; a change of the clock in it cuts it in two."""
    first = datetime.fromtimestamp(begin, UTC).astimezone(zone)
    last = datetime.fromtimestamp(end - 1, UTC).astimezone(zone)
    if first.utcoffset() == last.utcoffset():
        return [Band(second_of(first), second_of(last) + 1, depth)]
    low, high = begin, end - 1
    while high - low > 1:
        middle = (low + high) // 2
        if datetime.fromtimestamp(middle, zone).utcoffset() == first.utcoffset():
            low = middle
        else:
            high = middle
    changed = datetime.fromtimestamp(high, zone)
    before = datetime.fromtimestamp(low, zone)
    return [
        Band(second_of(first), second_of(before) + 1, depth),
        Band(second_of(changed), second_of(last) + 1, depth),
    ]
