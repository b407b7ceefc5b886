"""A moment told by the clock is the moment that was meant, also where the clock changes."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from zoneinfo import ZoneInfo, available_timezones

from hypothesis import given
from hypothesis import strategies as st

from verifier.front.clock_words import ClockTold
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
    assert site.at(Fraction(4 * 3600)) == "Sun 21 June 01:21:23"
