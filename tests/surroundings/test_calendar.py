"""The calendar against the clock of Python's own zones, minute by minute, and runs on their dates.

Source of the zones: the time zone database, read by `zoneinfo` alone here (the calendar works out
the changes of a clock by itself); of the sun: astral's altitude at the moment.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from random import Random
from zoneinfo import ZoneInfo

import pytest

from verifier.model import check
from verifier.model.job import (
    Always,
    AtClock,
    Between,
    Job,
    Policy,
    Requirement,
    Rule,
    Site,
    Trigger,
)
from verifier.proof.decide import decide
from verifier.proof.verdict import Answered, Proved, Refuted
from verifier.simulate.run import Run
from verifier.source import NOWHERE, SourceFile, Sources
from verifier.surroundings.calendar import (
    DAY_S,
    WEEK_S,
    Calendar,
    Marks,
    calendar_of,
    marks_of,
    moments_of,
    zone_offsets,
)
from verifier.surroundings.sky import night_at

ZONES = (
    "Europe/London",
    "America/St_Johns",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "Africa/Casablanca",
)
"""Among them a change by half an hour, an offset of 45 min, and a clock that changes for Ramadan."""


def site(timezone: str = "Europe/London") -> Site:
    """A site with sunset to sunrise as its night."""
    latitude, longitude = Fraction("52.21"), Fraction("0.12")
    altitude = Fraction("-0.833")
    return Site("Quay", latitude, longitude, timezone, altitude, Fraction(0), NOWHERE)


def random_marks(rng: Random) -> Marks:
    """Events and stretches at odd times, some on some days only."""

    def days() -> frozenset[int] | None:
        return None if rng.random() < 0.5 else frozenset(rng.sample(range(7), rng.randrange(1, 6)))

    def time() -> int:
        return rng.choice((1800, 3600, 5400, 7200, 9000, 10_800, 79_200, 60 * rng.randrange(1440)))

    begin = time()
    between = Between(begin, (begin + 60 * rng.randrange(1, 1440)) % DAY_S, days())
    triggers = tuple(Trigger(AtClock(time(), days()), None, NOWHERE) for _ in range(2))
    rule = Rule("r", "", Policy(1, 0, False), triggers, None, (), NOWHERE)
    asked = Requirement("a", "", None, Always(between), Fraction(0), NOWHERE)
    found = marks_of(Job("j", None, (), (), (), (rule,), (), (), (asked,)))
    assert found is not None
    return found


def true_between(between: Between, when: datetime) -> bool:
    """Whether it is between two times on a wall clock, by the contract's words."""
    time = when.hour * 3600 + when.minute * 60 + when.second
    if between.from_s < between.to_s:
        inside, begun = between.from_s <= time < between.to_s, when.weekday()
    else:
        inside = time >= between.from_s or time < between.to_s
        begun = when.weekday() if time >= between.from_s else (when.weekday() - 1) % 7
    return inside and (between.days is None or begun in between.days)


@pytest.mark.parametrize("timezone", ZONES)
def test_the_offsets_of_a_zone_are_those_of_its_own_clock(timezone: str) -> None:
    zone, offsets = ZoneInfo(timezone), zone_offsets(timezone, 2026, 2028)
    starts = [at for at, _ in offsets]
    for at in range(starts[0], starts[0] + 1000 * DAY_S, 6007):
        told = offsets[bisect_right(starts, at) - 1][1]
        ahead = datetime.fromtimestamp(at, zone).utcoffset()
        assert ahead is not None
        assert told == ahead.total_seconds()


@pytest.mark.parametrize("timezone", ZONES)
def test_the_clock_stands_where_its_zone_says(timezone: str) -> None:
    zone, rng = ZoneInfo(timezone), Random(timezone)
    for _ in range(3):
        marks = random_marks(rng)
        moments = moments_of(site(timezone), marks, False, 2026, 2026)
        starts = [moment.at for moment in moments]
        between = marks.betweens[0]
        for at in range(starts[0], starts[-1], 420):
            moment = moments[bisect_right(starts, at) - 1]
            local = datetime.fromtimestamp(at, zone)
            assert marks.within(between, moment.stretch) == true_between(between, local), local


@pytest.mark.parametrize("timezone", ZONES)
def test_an_event_happens_whenever_the_clock_shows_its_time(timezone: str) -> None:
    zone, rng = ZoneInfo(timezone), Random(timezone)
    marks = random_marks(rng)
    moments = moments_of(site(timezone), marks, False, 2026, 2026)
    for event in marks.events:
        fired = {m.at for m in moments if event in m.fires}
        shown = set()
        for at in range(moments[0].at - moments[0].at % 60, moments[-1].at + 1, 60):
            local = datetime.fromtimestamp(at, zone)
            at_time = local.hour * 3600 + local.minute * 60 == event.time_s
            if at_time and (event.days is None or local.weekday() in event.days):
                shown.add(at)
        assert fired == shown


def test_two_thirty_comes_twice_in_autumn_and_not_in_spring() -> None:
    """Summer time in Berlin 2026: 29 March to 25 October (Directive 2000/84/EC: last Sundays)."""
    zone = ZoneInfo("Europe/Berlin")
    marks = Marks(DAY_S, (AtClock(9000, None),), (), (9000,))
    moments = moments_of(site("Europe/Berlin"), marks, False, 2026, 2026)
    days = [datetime.fromtimestamp(m.at, zone).date().isoformat() for m in moments if m.fires]
    assert [day for day in days if days.count(day) == 2] == ["2026-10-25"] * 2
    assert "2026-03-29" not in days
    assert len(days) == 365


def job_of(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def walk(calendar: Calendar) -> None:
    """Goes along the real moments by the calendar's turns, and by what each asks of its clocks."""
    last: dict[str, int] = {}
    for moment, number in zip(calendar.moments, calendar.along, strict=True):
        if number >= 0:
            turn = calendar.turns[number]
            phase = calendar.phases[turn.after]
            assert (phase.stretch, phase.night) == (moment.stretch, moment.night)
            spans = {"clock": turn.since_clock, "night": turn.since_night, "day": turn.since_day}
            for name, span in spans.items():
                if name in last:
                    assert span is not None
                    assert span[0] <= moment.at - last[name] <= span[1]
        last["clock" if moment.to_night is None else "night" if moment.to_night else "day"] = (
            moment.at
        )


@pytest.mark.parametrize("seasons", [1, 4, 12])
@pytest.mark.parametrize(
    ("timezone", "latitude", "longitude"),
    [
        ("Europe/London", "52.21", "0.12"),
        ("Europe/Oslo", "69.65", "18.96"),
        ("Pacific/Auckland", "-36.8", "174.7"),
    ],
)
def test_every_real_stretch_is_a_way_through_the_calendar(
    timezone: str, latitude: str, longitude: str, seasons: int
) -> None:
    job = job_of(
        f'site "S"\n latitude {latitude} deg\n longitude {longitude} deg\n'
        f' timezone "{timezone}"\nend site\nlamp path\nrule a\n'
        " upon at 06:00 on mon, sat provided night\n"
        " upon night begins provided between 16:00 and 22:30\n do\n path on\nend rule\n"
        "require r\n never: day and path is on\nend require\n"
    )
    calendar = calendar_of(job, seasons)
    assert calendar is not None
    assert calendar.marks.period == WEEK_S
    walk(calendar)
    left = {turn.before for turn in calendar.turns}
    assert {turn.after for turn in calendar.turns} <= left, "a phase leads nowhere"
    assert calendar.begins <= left


QUAY = """\
site "Hatherley quay"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp path "Path lamp" 20 W
rule morning
  upon at 06:00 provided night
  do
    path on
end rule
rule off
  upon day begins
  do
    path off
end rule
require by_day
  never: day and path is on
end require
require three
  no longer than 3 h: path is on
end require
require one
  no longer than 1 h: path is on
end require
require longest
  measure longest: path is on after last at 06:00
end require
require off_in_the_end
  every trigger of morning leads to path is off
end require
require from_half_past_six
  always: (night and between 06:30 and 12:00) implies path is on
end require
"""


def on_its_date(run: Run | None, job: Job) -> None:
    """Sun and clock of a run are those of its date, by zone and altitude alone."""
    assert run is not None
    assert run.clock is not None
    assert run.clock.timezone is not None
    assert job.site is not None
    zone = ZoneInfo(run.clock.timezone)
    begins = datetime.fromtimestamp(float(run.clock.begins_s), zone)
    assert job.years[0] <= begins.year <= job.years[1]
    for step in run.steps:
        at = run.clock.begins_s + step.at_s
        local = datetime.fromtimestamp(float(at), zone)
        if step.what.startswith("it is "):
            assert f"{local:%H:%M}" in step.what
            assert local.second == 0
        if step.what in ("day begins", "night begins"):
            to_night = step.what == "night begins"
            assert night_at(job.site, int(at) - 60) is not to_night
            assert night_at(job.site, int(at) + 60) is to_night


def test_a_lamp_from_six_to_sunrise_at_52_north() -> None:
    job = job_of(QUAY)
    verdicts = {r.name: decide(job, r) for r in job.requirements}
    assert isinstance(verdicts["by_day"], Proved)
    assert isinstance(verdicts["three"], Proved)
    refuted = verdicts["one"]
    assert isinstance(refuted, Refuted)
    on_its_date(refuted.run, job)
    longest = verdicts["longest"]
    assert isinstance(longest, Answered)
    on_its_date(longest.run, job)
    # The latest sunrise by the clock of all mornings of the years, worked out on its own.
    asked = replace(job, requirements=(job.requirement["longest"],))
    calendar, zone, latest = calendar_of(asked), ZoneInfo("Europe/London"), 0
    assert calendar is not None
    for moment in calendar.moments:
        local = datetime.fromtimestamp(moment.at, zone)
        if moment.to_night is False and job.years[0] <= local.year <= job.years[1]:
            second = local.hour * 3600 + local.minute * 60 + local.second
            latest = max(latest, second - 6 * 3600)
    assert longest.bound_s == latest


def test_where_nothing_changes_any_more_the_sun_stays_as_it_is() -> None:
    """Meaning 16: so a lamp that goes out at sunrise alone burns on."""
    job = job_of(QUAY)
    verdict = decide(job, job.requirement["off_in_the_end"])
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert verdict.run.rests


def test_a_run_may_begin_in_the_middle_of_a_morning() -> None:
    """At 06:30 on a winter morning the lamp starts off, though at 06:00 it would have come on."""
    job = job_of(QUAY)
    verdict = decide(job, job.requirement["from_half_past_six"])
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert verdict.run.steps == ()
    assert verdict.run.clock is not None
    local = datetime.fromtimestamp(float(verdict.run.clock.begins_s), ZoneInfo("Europe/London"))
    assert true_between(Between(6 * 3600 + 1800, 12 * 3600, None), local)
