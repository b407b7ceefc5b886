"""What a stated usage comes to on given days: when which input changes, drawn by a seeded generator.

The moments of one line are those of a Poisson process: N a day on average, evenly spread over its
hours, none knowing of another. A stretch that begins while the last one lasts lengthens it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from verifier.handover.year import Year
from verifier.model.job import Job
from verifier.model.used import Use
from verifier.surroundings.calendar import DAY_S

Seconds = int | Fraction


@dataclass(frozen=True, slots=True)
class Stretch:
    """A subject is away from rest from one second to another; a button is pressed at the first."""

    subject: str
    value: str | None
    begin: Seconds
    end: Seconds


def window(use: Use) -> tuple[int, int]:
    """The seconds of the day between which a use happens; the second may lie on the next day."""
    if use.begins_s is None or use.ends_s is None:
        return 0, DAY_S
    over = use.ends_s <= use.begins_s
    return use.begins_s, use.ends_s + (DAY_S if over else 0)


def lasts_s(job: Job, use: Use) -> Fraction:
    """How long one stretch keeps its subject away from rest: of a door its two ways too."""
    if use.lasts_s is None:
        return Fraction(0)
    door = job.door.get(use.subject)
    if door is not None:
        return use.lasts_s + 2 * travel_s(job, use.subject)
    holds = job.point[use.subject].holds_s
    return max(use.lasts_s, holds or Fraction(0))


def travel_s(job: Job, door: str) -> Fraction:
    """How long a full run of a door is taken to last: the mean of its two figures."""
    return (job.door[door].travel_least_s + job.door[door].travel_most_s) / 2


def times_a_year(use: Use, year: Year) -> Fraction:
    """How often a use happens in a year, on average."""
    days = sum(
        1 for day in range(year.days) if use.days is None or year.day_of_week(day) in use.days
    )
    return use.times * days


def stretches(job: Job, year: Year, first: int, last: int, random: Random) -> tuple[Stretch, ...]:
    """All that happens on the days from ``first`` up to, not including, ``last``, in order."""
    assert job.usage is not None
    found: list[Stretch] = []
    subjects = dict.fromkeys(use.subject for use in job.usage.uses)
    for subject in subjects:
        drawn: list[tuple[int, Fraction, str | None]] = []
        for use in job.usage.uses:
            if use.subject == subject:
                lasting = lasts_s(job, use)
                drawn.extend(
                    (at, lasting, use.value) for at in _drawn(use, year, first, last, random)
                )
        drawn.sort(key=lambda each: each[:2])
        found.extend(_joined(job, subject, drawn))
    return tuple(sorted(found, key=lambda each: each.begin))


def _drawn(use: Use, year: Year, first: int, last: int, random: Random) -> list[int]:
    """The moments of one use, in whole seconds."""
    begin, end = window(use)
    rate = float(use.times) / (end - begin)
    found: list[int] = []
    for day in range(first, last):
        if use.days is not None and year.day_of_week(day) not in use.days:
            continue
        at = random.expovariate(rate)
        while at < end - begin:
            found.append(day * DAY_S + begin + int(at))
            at += random.expovariate(rate)
    return found


def _joined(job: Job, subject: str, drawn: list[tuple[int, Fraction, str | None]]) -> list[Stretch]:
    """Stretches of one subject, those joined that touch or leave less between than it can rest."""
    found: list[Stretch] = []
    point = job.point.get(subject)
    rearm = (point.rearm_s if point is not None else None) or Fraction(0)
    for at, lasting, value in drawn:
        before = found[-1] if found else None
        end: Seconds = at + (int(lasting) if lasting.denominator == 1 else lasting)
        if value is not None and before is not None and at - before.end <= rearm:
            found[-1] = Stretch(subject, value, before.begin, max(before.end, end))
        else:
            found.append(Stretch(subject, value, at, end))
    return found
