"""A year at a house by the clock on its wall: which day is which, and when night begins and ends.

Times are seconds since midnight of 1 January by that clock, every day having 24 hours: of the two
days on which clocks are changed the lost or doubled hour is left out. Days are counted from 0.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from verifier.model.job import Job, Site
from verifier.surroundings.calendar import DAY_S, reads_sun, zone_offsets

AROUND = 9
"""Days before and after the year whose nights are known too."""


@dataclass(frozen=True, slots=True)
class Nights:
    """The moments at which night begins and ends, by turns; ``first`` says what is so before them."""

    turns: tuple[tuple[int, bool], ...]
    first: bool
    source: str

    def is_night(self, at: int) -> bool:
        """Whether it is night at a moment."""
        before = bisect_right(self.turns, (at, True))
        return self.turns[before - 1][1] if before else self.first

    def seconds(self, begin: int, end: int) -> int:
        """How much of a stretch of time is night."""
        marks = [begin, *(at for at, _ in self.turns if begin < at < end), end]
        return sum(b - a for a, b in pairwise(marks) if self.is_night(a))


@dataclass(frozen=True, slots=True)
class Year:
    """A year of so many days, beginning on a day of the week; ``nights`` None where nothing tells."""

    year: int
    days: int
    weekday: int
    nights: Nights | None

    def day_of_week(self, day: int) -> int:
        """The day of the week, 0 being Monday."""
        return (self.weekday + day) % 7


class NoNights(Exception):
    """The rules read night and day, and the job does not say when they are."""


def year_of(job: Job, year: int) -> Year:
    """The year as a job has it. Raises: NoNights."""
    first = date(year, 1, 1)
    days = (date(year + 1, 1, 1) - first).days
    nights: Nights | None = None
    stated = None if job.usage is None else job.usage.night
    if job.site is not None and job.site.latitude_deg is not None:
        nights = _of_site(job.site, year, days)
    elif stated is not None:
        turns = [
            (day * DAY_S + second, to_night)
            for day in range(-AROUND, days + AROUND)
            for second, to_night in ((stated.begins_s, True), (stated.ends_s, False))
        ]
        turns.sort()
        nights = Nights(tuple(turns), not turns[0][1], "stated")
    elif reads_sun(job):
        raise NoNights
    return Year(year, days, first.weekday(), nights)


def _of_site(site: Site, year: int, days: int) -> Nights:
    from verifier.surroundings.sky import night_at, sun_turns

    assert site.timezone is not None
    offsets = zone_offsets(site.timezone, year - 1, year + 1)
    begins = [begin for begin, _ in offsets]

    def ahead(at: int) -> int:
        return offsets[max(bisect_right(begins, at) - 1, 0)][1]

    epoch = (date(year, 1, 1) - date(1970, 1, 1)).days * DAY_S
    start = epoch - AROUND * DAY_S
    found: list[tuple[int, bool]] = []
    for turn in sun_turns(site, year - 1, year + 1):
        shown = turn.at + ahead(turn.at) - epoch
        if -AROUND * DAY_S <= shown < (days + AROUND) * DAY_S:
            found.append((shown, turn.to_night))
    return Nights(tuple(found), not found[0][1] if found else night_at(site, start), "site")
