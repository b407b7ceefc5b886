"""Drafts of runs for stretches, numbers of times, and what comes in the end."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.explain.draft import LEAD_S, MOST_EVENTS, Draft, Span, charging, margin
from verifier.explain.drafts_of_events import event_moments
from verifier.explain.figures import counted
from verifier.explain.plain_words import plain_condition, plain_denial
from verifier.explain.timeline import DAY_S
from verifier.explain.timeline_search import Plan, Want
from verifier.model.job import (
    AtClock,
    AtMostTimes,
    Condition,
    Job,
    LeadsTo,
    MeasureLongest,
    NoLonger,
    NoShorter,
)
from verifier.model.words import duration


def no_longer_drafts(form: NoLonger, gap: Fraction, job: Job) -> Iterator[Draft]:
    """Runs of ``no longer than D: C``."""
    d, small, little = form.most_s, margin(form.most_s), margin(gap)
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    at, charge = charging(form.condition, LEAD_S)
    span = Span(at, d, f"at most {duration(d)}")
    begin = Want(Fraction(0), False)
    keeps = (Want(at, True), Want(at + d - small, False))
    yield Draft(
        "keeps",
        f"After {duration(d - small)} {not_so}: short enough.",
        Plan((begin, *charge, *keeps), at + d + gap + LEAD_S, None),
        at,
        span,
    )
    breaks: tuple[Want, ...] = (Want(at, True), Want(at + d + small, False))
    told = f"Only after {duration(d + small)} {not_so}: too long."
    if gap and gap > little and d > 3 * gap:
        half = at + Fraction(int(d / 2))
        pause = (Want(half, False), Want(half + gap - little, True))
        breaks = (Want(at, True), *pause, Want(at + d + small, False))
        told = (
            f"Only after {duration(d + small)} {not_so}: too long, as a pause of "
            f"{duration(gap - little)} does not count."
        )
        yield Draft(
            "breaks", told, Plan((begin, *charge, *breaks), at + d + 2 * LEAD_S, at), at, span
        )
        breaks, told = (breaks[0], breaks[-1]), f"For {duration(d + small)} {so}: too long."
    end = at + d + small + LEAD_S
    yield Draft("breaks", told, Plan((begin, *charge, *breaks), end, at), at, span)


def no_shorter_drafts(form: NoShorter, gap: Fraction, job: Job) -> Iterator[Draft]:
    """Runs of ``no shorter than D: C``."""
    d, small, little = form.least_s, margin(form.least_s), margin(gap)
    not_so = plain_denial(form.condition, job)
    at, charge = charging(form.condition, LEAD_S)
    span = Span(at, d, f"at least {duration(d)}")
    begin = Want(Fraction(0), False)
    keeps = (Want(at, True), Want(at + d + small, False))
    yield Draft(
        "keeps",
        f"After {duration(d + small)} {not_so}: long enough.",
        Plan((begin, *charge, *keeps), at + d + small + LEAD_S, None),
        at,
        span,
    )
    breaks = (Want(at, True), Want(at + d - small, False))
    end = at + d + gap + little + LEAD_S
    yield Draft(
        "breaks",
        f"After {duration(d - small)} already {not_so}: too short.",
        Plan((begin, *charge, *breaks), end, at),
        at,
        span,
    )


def at_most_drafts(form: AtMostTimes) -> Iterator[Draft]:
    """Runs of ``at most N times in D: E``: N + 1 events, in a little more or less than D."""
    number, d = form.times + 1, form.in_s
    if number > MOST_EVENTS:
        return
    small = margin(d)
    keeps, breaks = [d + small], [d - small]
    if any(isinstance(event, AtClock) for event in form.events):
        # The clock comes to a time once a day: the boundary may lie out of reach.
        days = Fraction(number - 1) * DAY_S
        keeps.append(days)
        breaks.append(days)
    for kind, totals in (("keeps", keeps), ("breaks", breaks)):
        for total in totals:
            times = _times(number, total, soon=kind == "keeps")
            for between in (False, True):
                wants = [Want(Fraction(0), None)]
                for k, at in enumerate(times):
                    wants.append(Want(at, None, True))
                    if between and k + 1 < number:
                        half = _round((times[k + 1] - at) / 2)
                        wants.append(Want(at + half, None, False))
                whole, long = counted(number, "time"), duration(total)
                told = (
                    f"From the first to the last of {whole}: {long}, which is long enough."
                    if kind == "keeps"
                    else f"{whole} within {long}: once too often."
                )
                plan = Plan(
                    tuple(wants), times[-1] + LEAD_S, None if kind == "keeps" else times[-1]
                )
                span = Span(LEAD_S, d, duration(d))
                yield Draft("keeps" if kind == "keeps" else "breaks", told, plan, LEAD_S, span)


def _times(number: int, total: Fraction, *, soon: bool) -> list[Fraction]:
    """When the events occur: spread evenly, or all but the last soon after each other."""
    apart = total / (number - 1)
    if soon and number > 2:
        apart = min(total / number, LEAD_S) if total > LEAD_S else total / (2 * number)
    times = [LEAD_S + _round(apart * k) for k in range(number - 1)]
    return [*times, LEAD_S + total]


def _round(seconds: Fraction) -> Fraction:
    """To a whole number of seconds or tenths, where there are several."""
    for step in (1, 10, 100):
        if seconds * step >= 3:
            return Fraction(int(seconds * step), step)
    return seconds


def leads_to_drafts(form: LeadsTo, job: Job) -> Iterator[Draft]:
    """Runs of ``every trigger of R leads to C``."""
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    at = LEAD_S
    for first in (True, None):
        begin = Want(Fraction(0), first)
        going = Want(at, False, None, handled=True)
        end = Want(at + 60, True)
        yield Draft(
            "keeps",
            f"In the end {so}, and it stays so. (How long it takes is not promised.)",
            Plan((begin, going, end), at + 120, None),
            at,
        )
        yield Draft(
            "breaks",
            f"Nothing more happens, and {not_so} for good.",
            Plan((begin, going), at + 120, at),
            at,
        )


def possible_drafts(condition: Condition, job: Job) -> Iterator[Draft]:
    """Runs of ``possible: C``."""
    at, charge = charging(condition, LEAD_S)
    for first in (False, None):
        wants = (Want(Fraction(0), first, inside=None), *charge, Want(at, True))
        caption = f"Here it comes to be so that {plain_condition(condition, job)}."
        yield Draft("reaches", caption, Plan(wants, at + LEAD_S, Fraction(0)), at)


def measure_drafts(form: MeasureLongest, job: Job) -> Iterator[Draft]:
    """Runs of ``measure longest: C after last E``."""
    so = plain_condition(form.condition, job)
    for at, charge in event_moments(form):
        for first in (False, None):
            for holds in (True, None):
                end = at + 60
                wants = (Want(Fraction(0), first), *charge, Want(at, holds, True))
                after = () if holds else (Want(at + 1, True, False),)
                last = Want(end, False, False)
                yield Draft(
                    "asks",
                    f"The time that is asked for: from the event to the last moment at which {so}.",
                    Plan((*wants, *after, last), end + LEAD_S, None),
                    at,
                    Span(at, Fraction(60), "how long at most?"),
                )
