"""When the sun of a site goes below and above the altitude that makes night, by astral.

Between two culminations, noon and midnight, the sun crosses an altitude once or not at all. So the
turns come out in order, night and day by turns, also at the edges of a polar night. Each is the
time that astral gives for it, to the second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

from astral import Observer, SunDirection
from astral.julian import julianday, julianday_to_juliancentury
from astral.sun import elevation, eq_of_time, sun_declination, time_of_transit

from verifier.model.job import Site

DAY_S = 86_400
EPOCH = date(1970, 1, 1)
CLEAR_DEG = 0.5
"""Where the sun culminates so far from the altitude, the declination alone tells on which side."""
NEAR_DEG = 0.05
"""A crossing is no further from the altitude than this."""


@dataclass(frozen=True, slots=True)
class SunTurn:
    """The sun goes below the altitude (``to_night``) or above it, ``at`` seconds since 1970, UTC."""

    at: int
    to_night: bool


@dataclass(frozen=True, slots=True)
class NotReached:
    """From ``first`` to ``last`` (the site's dates) there is no night at all, or no day."""

    first: date
    last: date
    always_night: bool


class _Sky:
    """The sun above one place."""

    def __init__(self, site: Site) -> None:
        assert site.latitude_deg is not None
        assert site.longitude_deg is not None
        self.latitude = max(-89.8, min(89.8, float(site.latitude_deg)))
        self.longitude = float(site.longitude_deg)
        self.observer = Observer(float(site.latitude_deg), self.longitude, 0.0)
        self.altitude = float(site.night_below_deg)

    def culmination(self, day: date, *, noon: bool) -> int:
        """When the sun stands highest, or twelve hours before lowest, on a day (UTC, solar)."""
        half = 0.5 if noon else 0.0
        eq_time = eq_of_time(julianday_to_juliancentury(julianday(day) + half))
        minutes = 1440 * half - 4 * self.longitude - eq_time
        return (day - EPOCH).days * DAY_S + round(60 * minutes)

    def stands(self, at: int) -> float:
        """How high the sun stands, in degrees."""
        when = datetime.fromtimestamp(at, UTC)
        return float(elevation(self.observer, when, with_refraction=False))

    def is_night(self, at: int) -> bool:
        """Whether the sun stands below the altitude."""
        return self.stands(at) < self.altitude

    def is_night_at(self, culmination: int, day: date, *, noon: bool) -> bool:
        """The same at a culmination, where the declination mostly tells at once."""
        century = julianday_to_juliancentury(julianday(day) + (0.5 if noon else 0.0))
        declination = sun_declination(century)
        height = (
            90.0 - abs(self.latitude - declination)
            if noon
            else abs(self.latitude + declination) - 90.0
        )
        if abs(height - self.altitude) > CLEAR_DEG:
            return height < self.altitude
        return self.is_night(culmination)

    def crossing(self, day: date, begin: int, end: int, *, to_night: bool) -> int:
        """The moment between two culminations at which the sun crosses the altitude."""
        direction = SunDirection.SETTING if to_night else SunDirection.RISING
        for shift in (-1, 0, 1) if to_night else (0, -1, 1):
            try:
                when = time_of_transit(
                    self.observer,
                    day + timedelta(days=shift),
                    90.0 - self.altitude,
                    direction,
                    with_refraction=False,
                )
            except ValueError:
                continue
            at = round(when.timestamp())
            # Close to midnight, UTC, astral may give the time of the evening before or after.
            if begin < at < end and abs(self.stands(at) - self.altitude) < NEAR_DEG:
                return at
        return self._between(begin, end, to_night=to_night)

    def _between(self, begin: int, end: int, *, to_night: bool) -> int:
        """The same by halving: astral's formula has no time close to where there is none."""
        low, high = begin, end
        while high - low > 1:
            middle = (low + high) // 2
            if self.is_night(middle) == to_night:
                high = middle
            else:
                low = middle
        return high


def _samples(sky: _Sky, first: date, last: date) -> Iterator[tuple[date, int, bool]]:
    """Every culmination of the days: (day, when, whether it is night)."""
    day = first
    while day <= last:
        for noon in (False, True):
            at = sky.culmination(day, noon=noon)
            yield day, at, sky.is_night_at(at, day, noon=noon)
        day += timedelta(days=1)


@lru_cache(maxsize=32)
def sun_turns(site: Site, first_year: int, last_year: int) -> tuple[SunTurn, ...]:
    """Every moment of the years at which night or day begins, in order, by turns.

    The first and the last are those of the days beside the years, so that no hour of a year by
    any clock is left out. Source: astral's solar position (NOAA's formulas).
    """
    sky = _Sky(site)
    first, last = date(first_year, 1, 1) - timedelta(days=2), date(last_year, 12, 31)
    found: list[SunTurn] = []
    before: tuple[int, bool] | None = None
    for day, at, night in _samples(sky, first, last + timedelta(days=2)):
        if before is not None and before[1] != night:
            crossed = sky.crossing(day, before[0], at, to_night=night)
            found.append(SunTurn(crossed, night))
        before = (at, night)
    return tuple(found)


def night_at(site: Site, at: int) -> bool:
    """Whether it is night at a moment (seconds since 1970)."""
    return _Sky(site).is_night(at)


def not_reached(site: Site, year: int, local: Callable[[int], date]) -> tuple[NotReached, ...]:
    """The stretches of a year in which night, or day, does not come for a whole day.

    ``local`` gives the date of the site's clock at a moment.
    """
    sky = _Sky(site)
    found: list[NotReached] = []
    days = list(_samples(sky, date(year, 1, 1), date(year, 12, 31)))
    for k in range(0, len(days), 2):
        (_, midnight, dark), (_, noon, still) = days[k], days[k + 1]
        if dark != still:
            continue
        begin, end = local(midnight), local(noon)
        last = found[-1] if found else None
        if last is not None and last.always_night == dark and begin - last.last <= timedelta(1):
            found[-1] = NotReached(last.first, end, dark)
        else:
            found.append(NotReached(begin, end, dark))
    return tuple(found)
