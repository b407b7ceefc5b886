"""The turns of night and day against formulas for the sun of another source than astral's.

Source: the low-precision formulas of the Astronomical Almanac ("Low precision formulas for the
Sun's coordinates", good to 0.01 degrees from 1950 to 2050), from memory, with the mean sidereal
time of Greenwich.
"""

from __future__ import annotations

from bisect import bisect_right
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from math import asin, atan2, cos, degrees, radians, sin

import pytest

from verifier.model.job import Site
from verifier.source import NOWHERE
from verifier.surroundings.sky import night_at, not_reached, sun_turns

NEAR_DEG = 0.05
"""What the two sources, and a whole second, may differ by."""

PLACES = (
    ("52.21", "0.12", "-0.833"),
    ("52.21", "179.6", "-0.833"),
    ("-36.8", "-179.6", "-0.833"),
    ("0.3", "-100", "-6"),
    ("-54.8", "-68.3", "-12"),
    ("60.17", "24.94", "-6"),
    ("69.65", "18.96", "-0.833"),
    ("78.2", "-15.6", "-0.833"),
)
"""Latitude, longitude and the altitude that makes night: by the date line, by the equator, with white
nights, with a midnight sun and a polar night."""


def site(latitude: str, longitude: str, altitude: str) -> Site:
    numbers = Fraction(latitude), Fraction(longitude)
    return Site("Quay", *numbers, "UTC", Fraction(altitude), Fraction(0), NOWHERE)


def altitude_deg(where: Site, at: float) -> float:
    """The sun's altitude at a moment (seconds since 1970)."""
    assert where.latitude_deg is not None
    assert where.longitude_deg is not None
    days = at / 86_400 + 2_440_587.5 - 2_451_545.0
    anomaly = radians(357.528 + 0.9856003 * days)
    longitude = radians(
        280.460 + 0.9856474 * days + 1.915 * sin(anomaly) + 0.020 * sin(2 * anomaly)
    )
    tilt = radians(23.439 - 0.0000004 * days)
    ascension = atan2(cos(tilt) * sin(longitude), cos(longitude))
    declination = asin(sin(tilt) * sin(longitude))
    sidereal = radians(15 * ((18.697374558 + 24.06570982441908 * days) % 24))
    hour_angle = sidereal + radians(float(where.longitude_deg)) - ascension
    latitude = radians(float(where.latitude_deg))
    up = sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(hour_angle)
    return degrees(asin(up))


@pytest.mark.parametrize("place", PLACES)
def test_at_a_turn_the_sun_crosses_the_altitude(place: tuple[str, str, str]) -> None:
    where = site(*place)
    turns = sun_turns(where, 2026, 2026)
    assert len(turns) > 250
    for turn in turns:
        assert altitude_deg(where, turn.at) == pytest.approx(float(place[2]), abs=NEAR_DEG)
        rises = altitude_deg(where, turn.at + 10) > altitude_deg(where, turn.at - 10)
        assert rises != turn.to_night, datetime.fromtimestamp(turn.at, UTC)


@pytest.mark.parametrize("place", PLACES)
def test_between_two_turns_it_stays_on_one_side(place: tuple[str, str, str]) -> None:
    where = site(*place)
    turns = sun_turns(where, 2026, 2026)
    starts = [turn.at for turn in turns]
    assert starts == sorted(set(starts))
    new_year = int(datetime(2026, 1, 1, tzinfo=UTC).timestamp())
    edge = 14 * 3600  # a zone's clock is at most 14 h away from UTC
    if len(turns) > 700:
        assert starts[0] <= new_year - edge
        assert starts[-1] >= new_year + 365 * 86_400 + edge
    for at in range(new_year - edge, new_year + 365 * 86_400 + edge, 1201):
        above = altitude_deg(where, at) - float(place[2])
        k = bisect_right(starts, at)
        told = turns[k - 1].to_night if k else not turns[0].to_night
        assert told == (above < 0) or abs(above) < NEAR_DEG, datetime.fromtimestamp(at, UTC)
        assert night_at(where, at) == (above < 0) or abs(above) < NEAR_DEG


@pytest.mark.parametrize("place", PLACES)
def test_dates_on_which_night_or_day_does_not_come(place: tuple[str, str, str]) -> None:
    where = site(*place)
    told = not_reached(where, 2026, lambda at: datetime.fromtimestamp(at, UTC).date())
    for stretch in told:
        assert stretch.first <= stretch.last
    for one, next_one in pairwise(told):
        if one.always_night == next_one.always_night:
            assert next_one.first - one.last > timedelta(1)
    for day in range(365):
        begin = int(datetime(2026, 1, 1, tzinfo=UTC).timestamp()) + 86_400 * day
        above = [altitude_deg(where, begin + m * 300) - float(place[2]) for m in range(-72, 360)]
        today = date(2026, 1, 1) + timedelta(day)
        inside = [s.always_night for s in told if s.first <= today <= s.last]
        if min(above) > NEAR_DEG:
            assert inside == [False], today
        elif max(above) < -NEAR_DEG:
            assert inside == [True], today
        day_alone = above[72:]
        around = altitudes_around(where, begin, float(place[2]))
        if min(day_alone) < -NEAR_DEG and max(day_alone) > NEAR_DEG and around:
            assert inside == [], today


def altitudes_around(where: Site, begin: int, altitude: float) -> bool:
    """Whether the sun crosses clearly on the day before and the day after too."""
    for shift in (-86_400, 86_400):
        above = [altitude_deg(where, begin + shift + m * 300) - altitude for m in range(288)]
        if min(above) > -NEAR_DEG or max(above) < NEAR_DEG:
            return False
    return True


def test_the_midnight_sun_of_tromso() -> None:
    """18 May to 26 July, and the polar night from 27 November to 15 January, from memory."""
    found = not_reached(
        site("69.65", "18.96", "-0.833"), 2026, lambda at: datetime.fromtimestamp(at, UTC).date()
    )
    near = [(False, date(2026, 5, 18), date(2026, 7, 26))]
    near = [(True, date(2026, 1, 1), date(2026, 1, 15)), *near]
    near = [*near, (True, date(2026, 11, 27), date(2026, 12, 31))]
    assert [s.always_night for s in found] == [night for night, _, _ in near]
    for stretch, (_, first, last) in zip(found, near, strict=True):
        assert abs(stretch.first - first) <= timedelta(2)
        assert abs(stretch.last - last) <= timedelta(2)
