"""What the calendar of a site does that a rule may not expect: nights that never come, clock changes.

Source of the sun's times: astral; of the clock's changes: the time zone database (tzdata).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model.job import AtClock, Job, Site, read_by_requirement, read_by_rule
from verifier.model.words import event_words, number
from verifier.source import Span
from verifier.surroundings.calendar import DAY_S, clock_text, first_second, reads_sun, zone_offsets


def calendar_findings(job: Job) -> Iterator[Diagnostic]:
    """Notes on dates without night or day, and on times that a clock change skips or repeats."""
    site = job.site
    if site is None or site.timezone is None:
        return
    if reads_sun(job):
        yield from _not_reached(job, site)
    yield from _clock_changes(job, site, site.timezone)


def _not_reached(job: Job, site: Site) -> Iterator[Diagnostic]:
    from verifier.surroundings.sky import not_reached

    assert site.timezone is not None
    zone, year = ZoneInfo(site.timezone), job.years[0]
    stretches = not_reached(site, year, lambda at: datetime.fromtimestamp(at, zone).date())
    for always_night, missing, goes in ((False, "night", "below"), (True, "day", "above")):
        dates = [
            f"{_day(s.first)} to {_day(s.last)}" if s.first != s.last else _day(s.first)
            for s in stretches
            if s.always_night is always_night
        ]
        if not dates:
            continue
        altitude = number(site.night_below_deg)
        yield Diagnostic(
            "sun-never-turns",
            Severity.NOTE,
            f"{' and '.join(dates)} ({year}) the sun does not go {goes} {altitude} deg here: there "
            f"is no {missing}",
            (Label(site.span),),
            f"Let every rule that waits for {missing} say what happens on such dates: a time of the "
            "clock, or a limit on the wait.",
        )


def _clock_changes(job: Job, site: Site, timezone: str) -> Iterator[Diagnostic]:
    year = job.years[0]
    begin = first_second(year)
    changes = [
        (at, before, after)
        for (_, before), (at, after) in pairwise(zone_offsets(timezone, year - 1, year))
        if at >= begin
    ]
    seen: set[AtClock] = set()
    for event, span in _clock_events(job):
        if event in seen:
            continue
        seen.add(event)
        told = [t for change in changes if (t := _told(event, *change))]
        if told:
            yield Diagnostic(
                "clock-change",
                Severity.NOTE,
                f"`{event_words(event)}` {' and '.join(told)}",
                (Label(span),),
                "Choose a time outside the hour that changes, or have a requirement say what must "
                "hold on these two nights.",
            )


def _clock_events(job: Job) -> Iterator[tuple[AtClock, Span]]:
    for rule in job.rules:
        for trigger in rule.triggers:
            if isinstance(trigger.event, AtClock):
                yield trigger.event, trigger.span
        for event in read_by_rule(rule)[1]:
            if isinstance(event, AtClock):
                yield event, rule.span
    for requirement in job.requirements:
        for event in read_by_requirement(requirement)[1]:
            if isinstance(event, AtClock):
                yield event, requirement.span


def _told(event: AtClock, at: int, before: int, after: int) -> str:
    """What a change of the clock at a moment does to an event; empty if nothing."""
    low, high = sorted((at + before, at + after))
    day = low // DAY_S * DAY_S
    for local in (day + event.time_s, day + DAY_S + event.time_s):
        weekday = (local // DAY_S + 3) % 7
        if event.days is not None and weekday not in event.days:
            continue
        when = _day(datetime.fromtimestamp(local, UTC).date())
        if after > before and low <= local < high:
            return f"does not come on {when} (the clock goes on to {clock_text(high % DAY_S)})"
        if after < before and low <= local < high:
            return f"comes twice on {when}"
    return ""


def _day(when: date) -> str:
    return f"{when.day} {when:%B}"
