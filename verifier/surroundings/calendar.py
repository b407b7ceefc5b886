"""The calendar of a job: which stretch of day and week it is, night or day, and what follows.

What a job reads of clock and sun divides time into *phases* (``22:00 to 06:00``; by night, by
day). A :class:`Calendar` is a graph of phases: each :class:`Turn` leads from one to another, with
the shortest and the longest time, since the clock last turned and since the sun last did, at which
it happens. It is drawn from a list of real moments (:func:`calendar_of_moments`), so every
stretch of the real calendar is a way through it, and what holds for all ways holds for the
real ones. That there are more ways than real dates costs an answer at times, never a verdict: a
run is shown only if it fits a real date (``dates``).

Without a site the clock goes round in 24 h and nothing ties the sun to it (13).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from verifier.model.job import (
    AtClock,
    Between,
    DayBegins,
    Job,
    LeadsTo,
    Night,
    NightBegins,
    Site,
    atoms_and_leaves,
    read_by,
)
from verifier.model.words import DAYS

DAY_S = 86_400
WEEK_S = 7 * DAY_S
MOST_TURNS = 16
"""Turns of the sun in one stretch of the clock that are told apart (a week has fourteen)."""

THURSDAY = 3
"""The day of the week of 1 January 1970."""

YEARS = 30
"""For so many years a job is proved that has a site, unless it is asked for others."""

Range = tuple[int, int]
"""Least and greatest, in seconds."""


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the calendar: the ``begins``-th stretch of the clock, by night or not.

    ``turned`` counts how often the sun has turned since it began: the evening is told from the
    morning of a stretch. ``season`` counts parts of the year, where more than one is told apart.
    """

    stretch: int
    night: bool
    turned: int
    season: int


@dataclass(frozen=True, slots=True)
class Turn:
    """What can follow a phase, and when.

    ``fires`` are the clock events that happen with it; ``to_night`` is None of a turn of the clock.
    ``since_clock``, ``since_night`` and ``since_day``: the least and greatest time, in seconds,
    since the clock last turned, since night and since day last began; None where it is not told.
    """

    before: int
    after: int
    fires: tuple[AtClock, ...]
    to_night: bool | None
    since_clock: Range | None
    since_night: Range | None
    since_day: Range | None
    what: str


class Moment(NamedTuple):
    """A real moment, in seconds since 1970, at which the calendar turns, and what is so after it."""

    at: int
    stretch: int
    night: bool
    turned: int
    fires: tuple[AtClock, ...]
    to_night: bool | None
    what: str


@dataclass(frozen=True, slots=True)
class Calendar:
    """Phases and turns. ``linked``: the sun is part of it; ``site``: its moments are real ones."""

    name: str
    phases: tuple[Phase, ...]
    words: tuple[str, ...]
    turns: tuple[Turn, ...]
    begins: frozenset[int]
    within: dict[Between, frozenset[int]]
    linked: bool
    marks: Marks
    site: Site | None
    years: Range
    moments: tuple[Moment, ...] = ()
    """The real moments from which it was drawn."""
    along: tuple[int, ...] = ()
    """The turn that is taken at each of them; -1 of the first."""


@dataclass(frozen=True, slots=True)
class Marks:
    """The times of the clock that a job reads, in seconds of a day or of a week (``period``)."""

    period: int
    events: tuple[AtClock, ...]
    betweens: tuple[Between, ...]
    times: tuple[int, ...]

    def stretch_at(self, second: int) -> int:
        """The stretch in which a second of the week lies; the last one goes round."""
        if not self.times:
            return 0
        return (bisect_right(self.times, second % self.period) - 1) % len(self.times)

    def fired_at(self, second: int) -> tuple[AtClock, ...]:
        """The events that happen when the clock shows a second of the week."""
        day, time = second // DAY_S % 7, second % DAY_S
        return tuple(
            e for e in self.events if e.time_s == time and (e.days is None or day in e.days)
        )

    def words(self, stretch: int) -> str:
        """A stretch for people: ``22:00 to 06:00``."""
        if not self.times:
            return "any time"
        begin, end = self.times[stretch], self.times[(stretch + 1) % len(self.times)]
        return f"{self.shown(begin)} to {self.shown(end)}"

    def shown(self, second: int) -> str:
        """A time of the clock for people, with the day where days are told apart."""
        day = f"{DAYS[second // DAY_S]} " if self.period == WEEK_S else ""
        return f"{day}{clock_text(second % DAY_S)}"

    def within(self, between: Between, stretch: int) -> bool:
        """Whether a stretch lies in what ``between`` names."""
        if not self.times:
            return False
        return holds_at(between, self.times[stretch])


def clock_text(second: int) -> str:
    """A second of the day as the clock shows it.

    >>> clock_text(79_200), clock_text(61)
    ('22:00', '00:01:01')
    """
    text = f"{second // 3600:02}:{second // 60 % 60:02}"
    return f"{text}:{second % 60:02}" if second % 60 else text


def holds_at(between: Between, second: int) -> bool:
    """Whether ``between`` is true at a second of the week (of any day, where it names no days)."""
    day, time = second // DAY_S % 7, second % DAY_S
    if between.from_s < between.to_s:
        begun = day
        inside = between.from_s <= time < between.to_s
    else:
        inside = time >= between.from_s or time < between.to_s
        begun = day if time >= between.from_s else (day - 1) % 7
    return inside and (between.days is None or begun in between.days)


def marks_of(job: Job) -> Marks | None:
    """The times that a job reads; None if it reads no clock."""
    conditions, events = read_by(job)
    found_events = tuple(dict.fromkeys(e for e in events if isinstance(e, AtClock)))
    betweens = tuple(
        dict.fromkeys(
            leaf for c in conditions for leaf in atoms_and_leaves(c) if isinstance(leaf, Between)
        )
    )
    if not found_events and not betweens:
        return None
    days_named = [*(e.days for e in found_events), *(b.days for b in betweens)]
    by_week = any(days is not None for days in days_named)
    days = range(7) if by_week else range(1)
    times: set[int] = set()
    for event in found_events:
        times.update(
            d * DAY_S + event.time_s for d in days if event.days is None or d in event.days
        )
    for between in betweens:
        over = between.to_s <= between.from_s
        for d in days:
            if between.days is None or d in between.days:
                times.add(d * DAY_S + between.from_s)
                times.add((d + over) % len(days) * DAY_S + between.to_s)
    period = WEEK_S if by_week else DAY_S
    return Marks(period, found_events, betweens, tuple(sorted(times)))


def reads_sun(job: Job) -> bool:
    """Whether anything in the job reads night or day."""
    conditions, events = read_by(job)
    return any(isinstance(e, NightBegins | DayBegins) for e in events) or any(
        isinstance(leaf, Night) for c in conditions for leaf in atoms_and_leaves(c)
    )


def reads_calendar(job: Job) -> bool:
    """Whether anything in the job reads the clock, night or day."""
    return reads_sun(job) or marks_of(job) is not None


def calendar_of(job: Job, seasons: int = 1) -> Calendar | None:
    """The calendar of a job; None if it reads no clock and no sun that its site rules.

    With a `leads to` the sun is no part of it: there it stays as it is (16).
    """
    marks = marks_of(job)
    site = job.site if job.site is not None and job.site.latitude_deg is not None else None
    if site is None:
        return None if marks is None else _round_the_clock(marks)
    stays = any(isinstance(r.form, LeadsTo) for r in job.requirements)
    linked = reads_sun(job) and not stays
    if marks is None and not linked:
        return None
    return _of_site(site, marks or NO_MARKS, linked, job.years, seasons)


def warm_up(job: Job) -> None:
    """Works out the sun's times of a job, if it reads them, so that they are there when asked for."""
    from verifier.surroundings.sky import sun_turns

    if job.site is not None and job.site.latitude_deg is not None and reads_sun(job):
        sun_turns(job.site, job.years[0] - 1, job.years[1])


NO_MARKS = Marks(DAY_S, (), (), ())


def _round_the_clock(marks: Marks) -> Calendar:
    """The clock without a site: 24 h a day, seven days a week."""
    count = len(marks.times)
    turns = []
    for k, begin in enumerate(marks.times):
        end = marks.times[(k + 1) % count]
        length = (end - begin - 1) % marks.period + 1
        turns.append(
            Turn(
                k,
                (k + 1) % count,
                marks.fired_at(end),
                None,
                (length, length),
                None,
                None,
                f"it is {marks.shown(end)}",
            )
        )
    phases = tuple(Phase(k, False, 0, 0) for k in range(count))
    return _made(marks, phases, tuple(turns), frozenset(range(count)), None, (0, 0))


def _made(
    marks: Marks,
    phases: tuple[Phase, ...],
    turns: tuple[Turn, ...],
    begins: frozenset[int],
    site: Site | None,
    years: Range,
    *,
    linked: bool = False,
    seasons: int = 1,
) -> Calendar:
    words = []
    for phase in phases:
        parts = [marks.words(phase.stretch)] if marks.times else []
        if linked:
            parts.append("night" if phase.night else "day")
        if phase.turned:
            parts.append(f"sun turned {phase.turned} times" if phase.turned > 1 else "sun turned")
        if seasons > 1:
            parts.append(f"season {phase.season + 1}")
        words.append(", ".join(parts))
    if len(phases) == 1:
        # A variable has at least two values, else nothing could be asked of it.
        words.append("no such time")
    within = {
        b: frozenset(i for i, p in enumerate(phases) if marks.within(b, p.stretch))
        for b in marks.betweens
    }
    # The name tells calendars apart: a slice may read fewer times than the whole job.
    times = " ".join(marks.shown(t) for t in marks.times)
    name = "calendar" if linked else "clock"
    several = f" in {seasons} seasons" if seasons > 1 else ""
    name = f"{name}{several} ({times})" if times else f"{name}{several}"
    return Calendar(name, phases, tuple(words), turns, begins, within, linked, marks, site, years)


# ---------------------------------------------------------------- real moments


def _epoch_day(year: int) -> int:
    return int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) // DAY_S


def first_second(year: int) -> int:
    """The first second of a year, by UTC, since 1970."""
    return _epoch_day(year) * DAY_S


@lru_cache(maxsize=64)
def zone_offsets(timezone: str, first_year: int, last_year: int) -> tuple[tuple[int, int], ...]:
    """From when on (seconds since 1970) the clock is ahead of UTC by how much (seconds)."""
    zone = ZoneInfo(timezone)

    def offset(at: int) -> int:
        ahead = datetime.fromtimestamp(at, zone).utcoffset()
        assert ahead is not None
        return int(ahead.total_seconds())

    begin, end = _epoch_day(first_year) * DAY_S, _epoch_day(last_year + 1) * DAY_S
    found = [(begin, offset(begin))]
    step = 7 * DAY_S
    at = begin
    while at < end:
        later = min(at + step, end)
        if offset(later) != found[-1][1]:
            low, high = at, later
            while high - low > 1:
                middle = (low + high) // 2
                if offset(middle) == found[-1][1]:
                    low = middle
                else:
                    high = middle
            found.append((high, offset(high)))
            at = high
        else:
            at = later
    return tuple(found)


def _clock_moments(
    marks: Marks, timezone: str, first_year: int, last_year: int
) -> list[tuple[int, int, tuple[AtClock, ...], str]]:
    """Every moment at which the clock turns: (at, stretch from then on, events, words)."""
    found: list[tuple[int, int, tuple[AtClock, ...], str]] = []
    if not marks.times:
        return found
    offsets = zone_offsets(timezone, first_year, last_year)
    end = _epoch_day(last_year + 1) * DAY_S
    spans = [*offsets, (end, 0)]
    fired = {time: marks.fired_at(time) for time in marks.times}
    shift = THURSDAY * DAY_S
    for (begin, ahead), (until, _) in pairwise(spans):
        local = begin + ahead + shift
        if found:
            stretch = marks.stretch_at(local)
            if stretch != found[-1][1] and local % marks.period not in fired:
                shown = clock_text(local % DAY_S)
                found.append((begin, stretch, (), f"the clock is put to {shown}"))
        base = local // marks.period * marks.period
        while base - ahead - shift < until:
            for k, time in enumerate(marks.times):
                at = base + time - ahead - shift
                if begin <= at < until:
                    found.append((at, k, fired[time], f"it is {marks.shown(time)}"))
            base += marks.period
    return found


@lru_cache(maxsize=64)
def moments_of(
    site: Site, marks: Marks, linked: bool, first_year: int, last_year: int
) -> tuple[Moment, ...]:
    """Every moment of the years at which the calendar turns, in order."""
    from verifier.surroundings.sky import night_at, sun_turns

    assert site.timezone is not None
    clock = _clock_moments(marks, site.timezone, first_year, last_year)
    sun = sun_turns(site, first_year, last_year) if linked else ()
    events = [
        *((at, 0, stretch, fires, None, what) for at, stretch, fires, what in clock),
        *((t.at, 1, -1, (), t.to_night, "") for t in sun),
    ]
    # Sun and clock are known for the same days only.
    begin, end = first_second(first_year), first_second(last_year + 1)
    events = [event for event in events if begin <= event[0] < end]
    events.sort(key=lambda e: e[:2])
    if not events:
        return ()
    first = events[0][0]
    ahead = zone_offsets(site.timezone, first_year, last_year)[0][1]
    stretch = marks.stretch_at(first - 1 + ahead + THURSDAY * DAY_S)
    night = (not sun[0].to_night) if sun else (linked and night_at(site, first))
    turned = 0
    found: list[Moment] = []
    for at, of_sun, next_stretch, fires, to_night, what in events:
        if of_sun:
            assert to_night is not None
            night = to_night
            turned = min(turned + 1, MOST_TURNS) if clock else 0
            words = "night begins" if to_night else "day begins"
            found.append(Moment(at, stretch, night, turned, (), to_night, words))
        else:
            stretch, turned = next_stretch, 0
            found.append(Moment(at, stretch, night, turned, fires, None, what))
    return tuple(found)


@lru_cache(maxsize=64)
def _of_site(site: Site, marks: Marks, linked: bool, years: Range, seasons: int) -> Calendar:
    """The calendar of a site over the years."""
    moments = moments_of(site, marks, linked, years[0] - 1, years[1])
    begin = first_second(years[0])
    drawn = calendar_of_moments(moments, begin, seasons)
    if drawn is None:
        from verifier.surroundings.sky import night_at

        night = linked and night_at(site, begin)
        drawn = Drawn((Phase(0, night, 0, 0),), (), frozenset((0,)), ())
    made = _made(
        marks,
        drawn.phases,
        drawn.turns,
        drawn.begins,
        site,
        years,
        linked=linked,
        seasons=seasons,
    )
    return replace(made, moments=moments[: len(drawn.along)], along=drawn.along)


class _Drawing:
    """Phases and turns as they are met along a list of moments."""

    def __init__(self, seasons: int, begin: int) -> None:
        self.seasons = seasons
        self.begin = begin
        self.index: dict[tuple[int, bool, int, int], int] = {}
        self.numbers: dict[tuple[int, int, int, str], int] = {}
        self.ends: list[tuple[int, int, Moment]] = []
        self.ranges: list[tuple[list[int], list[int], list[int]]] = []

    def step(self, here: _Place, moment: Moment) -> _Place:
        """Goes through one moment and notes the turn."""
        at, stretch, night, turned, fires, to_night, what = moment
        before, _, clock_at, night_at, day_at = here
        index = self.index
        after = index.setdefault((stretch, night, turned, _season(at, self.seasons)), len(index))
        turn = -1
        if before is not None and at >= self.begin:
            # The events of one time are one tuple, so its identity tells them.
            key = (before, after, id(fires), what)
            turn = self.numbers.setdefault(key, len(self.numbers))
            if turn == len(self.ends):
                self.ends.append((before, after, moment))
                self.ranges.append(([], [], []))
            clocks, nights, days = self.ranges[turn]
            if clock_at is not None:
                _widen(clocks, at - clock_at)
            if night_at is not None:
                _widen(nights, at - night_at)
            if day_at is not None:
                _widen(days, at - day_at)
        if to_night is None:
            return after, turn, at, night_at, day_at
        if to_night:
            return after, turn, clock_at, at, day_at
        return after, turn, clock_at, night_at, at


_Place = tuple[int | None, int, int | None, int | None, int | None]
"""Where one is in a list of moments: phase, turn taken, when clock, night and day last turned."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a list of moments comes to; ``along`` is the turn taken at each of them (-1: none)."""

    phases: tuple[Phase, ...]
    turns: tuple[Turn, ...]
    begins: frozenset[int]
    along: tuple[int, ...]


def calendar_of_moments(moments: tuple[Moment, ...], begin: int, seasons: int) -> Drawn | None:
    """Phases and turns that every stretch of the moments from ``begin`` on goes through.

    What comes before tells only since when clock and sun have not turned.

    None if nothing turns. Where the last phase of the list is met nowhere else, nothing is known
    of what follows it, and the list ends before it.
    """
    drawing = _Drawing(seasons, begin)
    begins: set[int] = set()
    here: _Place = (None, -1, None, None, None)
    along: list[int] = []
    last = len(moments) - 1
    for number, moment in enumerate(moments):
        if here[0] is not None and moment.at >= begin:
            begins.add(here[0])
        if number < last and moments[number + 1].at == moment.at:
            following = moments[number + 1]
            if (following.to_night is None) != (moment.to_night is None):
                # Sun and clock turn in the same second: either may come first.
                first = _as_if_first(following, moments[number - 1] if number else moment)
                second = moment._replace(
                    stretch=following.stretch, night=following.night, turned=following.turned
                )
                drawing.step(drawing.step(here, first), second)
        here = drawing.step(here, moment)
        along.append(here[1])
    if not drawing.ends:
        return None
    if all(before != here[0] for before, _, _ in drawing.ends):
        return calendar_of_moments(moments[:-1], begin, seasons)
    turns = []
    for (before, after, moment), spans in zip(drawing.ends, drawing.ranges, strict=True):
        clock, night, day = (_range(span) for span in spans)
        turns.append(
            Turn(before, after, moment.fires, moment.to_night, clock, night, day, moment.what)
        )
    phases = tuple(Phase(*each) for each in drawing.index)
    return Drawn(phases, tuple(turns), frozenset(begins), tuple(along))


def _as_if_first(turn: Moment, before: Moment) -> Moment:
    """The second of two moments that are one, as if it came right after what was before both."""
    if turn.to_night is None:
        return turn._replace(night=before.night)
    turned = min(before.turned + 1, MOST_TURNS)
    return turn._replace(stretch=before.stretch, turned=turned)


def _range(found: list[int]) -> Range | None:
    return (found[0], found[1]) if found else None


def _widen(found: list[int], value: int) -> None:
    if not found:
        found.extend((value, value))
    elif value < found[0]:
        found[0] = value
    elif value > found[1]:
        found[1] = value


def _season(at: int, seasons: int) -> int:
    """The part of the year in which a moment lies, of ``seasons`` of equal length."""
    if seasons == 1:
        return 0
    when = datetime.fromtimestamp(at, UTC)
    return (when.timetuple().tm_yday - 1) * seasons // 366
