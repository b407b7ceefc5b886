"""The edges of the calendar: the hour that is skipped or comes twice, the first hours of the years,
and how long nights are."""

from __future__ import annotations

from bisect import bisect_right
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.meaning.test_by_hand import job_with
from tests.meaning.test_meaning import in_words
from tests.surroundings.test_calendar import site, true_between
from verifier.model.job import AtClock, Between
from verifier.proof.decide import decide
from verifier.surroundings.calendar import (
    DAY_S,
    Marks,
    calendar_of_moments,
    marks_of,
    moments_of,
    reads_calendar,
)
from verifier.surroundings.sky import sun_turns

HALF_PAST_ONE, ELEVEN = 5400, 82_800


def marks_of_times(from_s: int, to_s: int) -> tuple[Marks, Between]:
    between = Between(from_s, to_s, None)
    return Marks(DAY_S, (), (between,), tuple(sorted((from_s, to_s)))), between


@pytest.mark.parametrize("linked", [False, True])
@pytest.mark.parametrize(
    ("from_s", "to_s"),
    [(HALF_PAST_ONE, ELEVEN), (ELEVEN, HALF_PAST_ONE), (43_200, 72_000), (72_000, 43_200)],
)
def test_the_clock_of_london_at_each_quarter_of_an_hour(
    from_s: int, to_s: int, linked: bool
) -> None:
    """2026: the clock goes from 01:00 to 02:00 on 29 March, from 02:00 to 01:00 on 25 October, so
    that 01:30 is skipped, and comes twice (Directive 2000/84/EC: last Sundays)."""
    zone = ZoneInfo("Europe/London")
    marks, between = marks_of_times(from_s, to_s)
    moments = moments_of(site(), marks, linked, 2026, 2026)
    starts = [moment.at for moment in moments]
    for at in sorted({*starts, *range(starts[0], starts[-1], 900)}):
        moment = moments[bisect_right(starts, at) - 1]
        local = datetime.fromtimestamp(at, zone)
        assert marks.within(between, moment.stretch) == true_between(between, local), local


@pytest.mark.parametrize("year", [2026, 2027])
@pytest.mark.parametrize("linked", [False, True])
@pytest.mark.parametrize("day", ["mon", "thu", "sun"])
def test_a_stretch_that_begins_on_one_day_ends_on_the_next(
    day: str, linked: bool, year: int
) -> None:
    """Also from Sunday to Monday, and where the first turn of a year is one of the sun."""
    form = f"never: between 20:00 and 12:00 on {day} and between 06:00 and 07:00 on mon"
    marks = marks_of(job_with(LAMP, form))
    assert marks is not None
    zone = ZoneInfo("Europe/London")
    moments = moments_of(site(), marks, linked, year, year)
    starts = [moment.at for moment in moments]
    for at in sorted({*starts, *range(starts[0], starts[-1], 1800)}):
        moment = moments[bisect_right(starts, at) - 1]
        local = datetime.fromtimestamp(at, zone)
        for between in marks.betweens:
            assert marks.within(between, moment.stretch) == true_between(between, local), local


@pytest.mark.parametrize(("month", "to_night"), [(3, True), (10, False)])
def test_sun_and_clock_that_turn_in_one_second_come_in_either_order(
    month: int, to_night: bool
) -> None:
    """Meaning 2: "when several things are due at the same moment every order is possible"."""
    where = site("Europe/London")
    turn = next(
        t
        for t in sun_turns(where, 2026, 2026)
        if t.to_night == to_night and datetime.fromtimestamp(t.at, UTC).month == month
    )
    local = datetime.fromtimestamp(turn.at, ZoneInfo("Europe/London"))
    time = local.hour * 3600 + local.minute * 60 + local.second
    moments = moments_of(where, Marks(DAY_S, (AtClock(time, None),), (), (time,)), True, 2026, 2026)
    drawn = calendar_of_moments(moments, moments[0].at, 1)
    assert drawn is not None
    spans = [
        (t.since_night if to_night else t.since_day, t.since_clock)
        for t in drawn.turns
        if t.fires and drawn.phases[t.before].night == to_night
    ]
    assert min(span[0] for span, _ in spans if span is not None) == 0
    of_sun = [t.since_clock for t in drawn.turns if t.to_night == to_night]
    assert min(span[0] for span in of_sun if span is not None) == 0
    # Since the clock came to this time the day before, the sun has risen and set.
    for t in drawn.turns:
        since = t.since_night if to_night else t.since_day
        if t.fires and drawn.phases[t.before].night == to_night and since and since[0] == 0:
            assert drawn.phases[t.before].turned == 2
    met = {(m.stretch, m.night, m.turned) for m in moments}
    assert {(p.stretch, p.night, p.turned) for p in drawn.phases} == met


LAMP = 'button push "Push"\nlamp light "Light" 10 W\n'


@pytest.mark.parametrize(
    ("condition", "reads"),
    [("night", True), ("between 22:00 and 06:00", True), ("light is on", False)],
)
def test_which_jobs_read_the_calendar(condition: str, reads: bool) -> None:
    assert reads_calendar(job_with(LAMP, f"never: {condition}")) == reads


NIGHTS = """
site "Quay"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
button push "Push"
lamp light "Light" 10 W
"""


@pytest.mark.parametrize(
    ("form", "verdict"),
    [
        # At 52.2 degrees north the sun is up for 7 h 50 min at the least and 16 h 50 min at the
        # most (a table of day lengths for Cambridge, from memory).
        ("no shorter than 7 h: night", "proved"),
        ("no shorter than 7 h 30 min: night", "refuted"),
        ("no longer than 16 h 30 min: night", "proved"),
        ("no longer than 16 h: night", "refuted"),
        ("no shorter than 7 h 30 min: day", "proved"),
        ("no longer than 17 h: day", "proved"),
    ],
)
def test_how_long_nights_and_days_are(form: str, verdict: str) -> None:
    job = job_with(NIGHTS, form)
    assert in_words(decide(job, job.requirements[0])) == verdict
