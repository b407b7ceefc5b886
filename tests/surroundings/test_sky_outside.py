"""Sunrise, sunset and twilights against published values and two libraries of others.

The libraries: pvlib (the solar position algorithm of NREL, Reda and Andreas 2003) and PyEphem (the
VSOP87 theory, by XEphem's code). Where one is missing its tests are skipped, with the line that
installs it. A minute is allowed up to 60 degrees, more where the sun grazes the altitude: there a
hundredth of a degree is minutes.
"""

from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from astral.julian import julianday, julianday_to_juliancentury
from astral.sun import sun_declination
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.model.job import Site
from verifier.source import NOWHERE
from verifier.surroundings.sky import night_at, sun_turns

PLACES = ("0", "30", "52", "60", "69", "-34")
YEAR = 2026


def site(latitude: str, longitude: str = "0", altitude: str = "-0.833") -> Site:
    numbers = Fraction(latitude), Fraction(longitude)
    return Site("Quay", *numbers, "UTC", Fraction(altitude), Fraction(0), NOWHERE)


def turns_of(where: Site, year: int) -> list[tuple[int, bool]]:
    begin = int(datetime(year, 1, 1, tzinfo=UTC).timestamp())
    end = int(datetime(year + 1, 1, 1, tzinfo=UTC).timestamp())
    return [(t.at, t.to_night) for t in sun_turns(where, year, year) if begin <= t.at < end]


def nearest(moments: list[int], at: int) -> int:
    """How far the nearest moment is."""
    k = bisect_left(moments, at)
    return min(abs(at - m) for m in moments[max(0, k - 1) : k + 1])


def compared(where: Site, theirs: dict[bool, list[int]], allowed_s: int) -> None:
    """Each of our turns has one of theirs beside it, and the other way round."""
    ours = turns_of(where, YEAR)
    for to_night in (False, True):
        mine = sorted(at for at, night in ours if night is to_night)
        others = sorted(theirs[to_night])
        assert mine
        # By a polar night one may see the sun for minutes on a day on which the other does not.
        spare = 0 if allowed_s == 60 else 4
        assert sum(nearest(others, at) > allowed_s for at in mine[1:-1]) <= spare
        assert sum(nearest(mine, at) > allowed_s for at in others[1:-1]) <= spare


# ---------------------------------------------------------------- published values


def test_the_example_of_nrel() -> None:
    """Reda and Andreas, NREL 2003: 17 October 2003, 39.742476 N 105.1786 W: sunrise 06:12:43 (UTC-7).

    Its printed sunset 17:20:19 is that of the evening before.
    """
    where = site("39.742476", "-105.1786")
    zone = timedelta(hours=7)
    rise = int((datetime(2003, 10, 17, 6, 12, 43, tzinfo=UTC) + zone).timestamp())
    fall = int((datetime(2003, 10, 16, 17, 20, 19, tzinfo=UTC) + zone).timestamp())
    turns = sun_turns(where, 2003, 2003)
    assert nearest([t.at for t in turns if not t.to_night], rise) <= 60
    assert nearest([t.at for t in turns if t.to_night], fall) <= 60


def test_the_declination_of_meeus() -> None:
    """Astronomical Algorithms, example 25.a (from memory): 13 October 1992, 0h: -7.78507 degrees."""
    century = julianday_to_juliancentury(julianday(date(1992, 10, 13)))
    assert abs(sun_declination(century) + 7.78507) < 0.01


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "rise", "fall"),
    [
        ("51.5", "-0.1167", "Europe/London", "2024-06-20T04:42:59", "2024-06-20T21:21:23"),
        ("51.5", "-0.1167", "Europe/London", "2024-12-21T08:03:55", "2024-12-21T15:53:39"),
        ("40.7128", "-74.006", "America/New_York", "2024-06-20T05:24:54", "2024-06-20T20:30:39"),
        ("40.7128", "-74.006", "America/New_York", "2024-12-21T07:16:50", "2024-12-21T16:32:04"),
    ],
)
def test_london_and_new_york(
    latitude: str, longitude: str, zone: str, rise: str, fall: str
) -> None:
    """Computed with NOAA's formula; a minute is allowed."""
    turns = sun_turns(site(latitude, longitude), 2024, 2024)
    for text, to_night in ((rise, False), (fall, True)):
        at = int(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).timestamp())
        assert nearest([t.at for t in turns if t.to_night is to_night], at) <= 60


def test_london_has_no_astronomical_night_in_june() -> None:
    """On 20 June the sun does not get to -18 degrees there: 90 - 51.5 - 23.4 = 15.1."""
    where = site("51.5", "-0.1167", "-18")
    noon = int(datetime(2024, 6, 20, 12, tzinfo=UTC).timestamp())
    assert not any(noon - 43_200 < t.at < noon + 86_400 for t in sun_turns(where, 2024, 2024))
    assert not any(night_at(where, noon + 600 * k) for k in range(144))


# ---------------------------------------------------------------- two libraries


@pytest.mark.parametrize("latitude", PLACES)
@pytest.mark.parametrize("altitude", ["-0.833", "-6", "-12"])
def test_a_year_by_ephem(latitude: str, altitude: str) -> None:
    ephem: Any = pytest.importorskip("ephem", reason="pip install ephem")
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = latitude, "0", 0
    observer.horizon = altitude
    theirs: dict[bool, list[int]] = {False: [], True: []}
    sun = ephem.Sun()
    day = datetime(YEAR, 1, 1)
    while day.year == YEAR:
        observer.date = day
        for to_night, ask in ((False, observer.next_rising), (True, observer.next_setting)):
            try:
                at = ask(sun, use_center=True).datetime().replace(tzinfo=UTC).timestamp()
            except (ephem.AlwaysUpError, ephem.NeverUpError):
                continue
            if at < datetime(YEAR + 1, 1, 1, tzinfo=UTC).timestamp():
                theirs[to_night].append(round(at))
        day += timedelta(hours=12)
    compared(site(latitude, "0", altitude), theirs, _allowed(latitude, altitude))


@pytest.mark.parametrize("latitude", PLACES)
def test_a_year_by_pvlib(latitude: str) -> None:
    pvlib: Any = pytest.importorskip("pvlib", reason="pip install pvlib")
    pandas: Any = pytest.importorskip("pandas", reason="pip install pvlib")
    days = pandas.date_range(f"{YEAR}-01-01", f"{YEAR}-12-31", freq="D", tz="UTC")
    found = pvlib.solarposition.sun_rise_set_transit_spa(days, float(latitude), 0.0)
    theirs: dict[bool, list[int]] = {}
    for to_night, column in ((False, "sunrise"), (True, "sunset")):
        moments = found[column].dropna()
        theirs[to_night] = sorted(round(moment.timestamp()) for moment in moments)
    compared(site(latitude), theirs, _allowed(latitude, "-0.833"))


def _allowed(latitude: str, altitude: str) -> int:
    """Seconds: a minute up to 60 degrees, but where the sun grazes the altitude."""
    lowest = abs(float(latitude)) + 23.44 - 90.0
    grazes = abs(lowest - float(altitude)) < 3.0 or abs(float(latitude)) > 60.0
    return 900 if grazes else 60


# ---------------------------------------------------------------- any site


@settings(max_examples=60, deadline=None)
@given(
    st.decimals(-90, 90, places=3),
    st.decimals(-180, 180, places=3),
    st.sampled_from(["-0.833", "-6", "-12", "-18", "0", "5"]),
    st.integers(1950, 2149),
)
def test_turns_come_by_turns_and_between_two_the_sun_stays_where_it_is(
    latitude: Any, longitude: Any, altitude: str, year: int
) -> None:
    where = site(str(latitude), str(longitude), altitude)
    turns = sun_turns(where, year, year)
    for one, other in pairwise(turns):
        assert one.at < other.at
        assert one.to_night is not other.to_night
    for one, other in list(pairwise(turns))[::29]:
        # So close to the turn that a whole second matters, nothing is asked.
        if other.at - one.at > 600:
            assert night_at(where, (one.at + other.at) // 2) is one.to_night
