"""A moment told by the clock is the moment that was meant, also where the clock changes."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.explain.clock_words import ClockTold
from verifier.simulate.run import RunClock

ZONES = sorted(zone for zone in available_timezones() if "/" in zone)


@given(
    st.sampled_from(ZONES),
    st.integers(0, 5_000_000_000),
    st.integers(0, 400 * 86_400),
)
def test_an_iso_time_converts_back_to_its_moment(zone: str, begins: int, later: int) -> None:
    told = ClockTold(RunClock(Fraction(begins), zone, False))
    assert datetime.fromisoformat(told.iso(Fraction(later))).timestamp() == begins + later


@given(st.sampled_from(ZONES), st.integers(0, 4_000_000_000), st.integers(0, 3 * 86_400))
def test_a_time_in_words_is_told_apart_from_every_other_of_the_same_run(
    zone: str, begins: int, later: int
) -> None:
    """An hour later the words differ, also in the night in which the clock goes back."""
    told = ClockTold(RunClock(Fraction(begins), zone, False))
    assert told.at(Fraction(later)) != told.at(Fraction(later + 3600))
    assert told.at(Fraction(later)) != told.at(Fraction(later + 1800))


def told_back(begins: str, text: str, zone: str) -> datetime:
    """The moment that the words of a run speak of, by the zone's own table."""
    head = re.fullmatch(r"It begins on \w+, (.*), at [\d:.]+ \(\S+, (.*)\)\.", begins)
    assert head is not None
    date, named = head.groups()
    found = re.fullmatch(r"(?:\w{3} (\d+ \w+) (\d{4} )?)?([\d:.]+)(?: (.+))?", text)
    assert found is not None
    other_date, year, time, other_zone = found.groups()
    if other_date is not None:
        date = f"{other_date} {year or date[-4:]}"
    whole, _, small = time.partition(".")
    clock = whole if whole.count(":") == 2 else f"{whole}:00"
    naive = datetime.strptime(f"{date.strip()} {clock}", "%d %B %Y %H:%M:%S")
    naive += timedelta(milliseconds=int(small.ljust(3, "0") or 0))
    both = [naive.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1)]
    meant = {each.timestamp() for each in both if each.tzname() == (other_zone or named)}
    assert len(meant) == 1, (begins, text)
    return datetime.fromtimestamp(meant.pop(), UTC)


# Zones whose two offsets of a year bear two names, which is so of all of them today.
@given(
    st.sampled_from(["Europe/London", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu",
                     "America/Havana", "Pacific/Chatham", "Africa/Casablanca", "Europe/Dublin"]),
    st.integers(1_700_000_000_000, 3_000_000_000_000),
    st.integers(0, 400 * 86_400_000),
)  # fmt: skip
def test_a_run_told_in_words_converts_back_to_its_moments(
    zone: str, begins_ms: int, later_ms: int
) -> None:
    begins, later = Fraction(begins_ms, 1000), Fraction(later_ms, 1000)
    told = ClockTold(RunClock(begins, zone, False))
    back = told_back(told.begins(), told.at(later), zone)
    assert back == datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=begins_ms + later_ms)


@pytest.mark.parametrize(
    ("zone", "local"),
    [
        # Clocks go back at 02:00 BST on 25 October 2026: 01:00 to 02:00 comes twice.
        ("Europe/London", datetime(2026, 10, 25, 0, 30)),
        # The change of Lord Howe Island is half an hour.
        ("Australia/Lord_Howe", datetime(2026, 4, 5, 1, 0)),
    ],
)
def test_every_minute_of_the_night_in_which_the_clock_goes_back_converts_back(
    zone: str, local: datetime
) -> None:
    begins = int(local.replace(tzinfo=ZoneInfo(zone)).timestamp())
    told = ClockTold(RunClock(Fraction(begins), zone, False))
    texts = [told.at(Fraction(60 * minute)) for minute in range(240)]
    assert len(set(texts)) == len(texts)
    for minute, text in enumerate(texts):
        assert told_back(told.begins(), text, zone).timestamp() == begins + 60 * minute


def test_words() -> None:
    free = ClockTold(RunClock(Fraction(79_200), None, False))
    assert free.begins() == "It begins at 22:00."
    assert free.at(Fraction(8 * 3600)) == "06:00"
    week = ClockTold(RunClock(Fraction(5 * 86_400 + 79_200), None, True))
    assert week.begins() == "It begins at sat 22:00."
    assert week.at(Fraction(60)) == "22:01"
    assert week.at(Fraction(2 * 3600)) == "sun 00:00"
    begins = datetime(2026, 6, 20, 21, 21, 23, tzinfo=ZoneInfo("Europe/London"))
    site = ClockTold(RunClock(Fraction(int(begins.timestamp())), "Europe/London", False))
    assert site.begins() == (
        "It begins on Saturday, 20 June 2026, at 21:21:23 (Europe/London, BST)."
    )
    assert site.at(Fraction(37)) == "21:22"
    assert site.at(Fraction(1, 2)) == "21:21:23.5"
    assert site.dated(Fraction(3 * 3600)) == "21 June 2026, 00:21:23"
    assert week.dated(Fraction(2 * 3600)) == "sun 00:00"
    assert site.at(Fraction(4 * 3600)) == "Sun 21 June 01:21:23"
