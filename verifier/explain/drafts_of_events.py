"""Drafts of runs for the forms in which an event counts."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.explain.draft import LEAD_S, Draft, Span, charging, margin
from verifier.explain.plain_words import plain_condition, plain_denial
from verifier.explain.timeline_search import Plan, Want
from verifier.model.job import (
    AfterLast,
    Before,
    HasStayed,
    Job,
    MeasureLongest,
    WhenFor,
    WhenWithin,
    conditions_and_events_of,
)
from verifier.model.words import duration


def within_drafts(form: WhenWithin, job: Job) -> Iterator[Draft]:
    """Runs of ``when E: C within D``."""
    so, d = plain_condition(form.condition, job), form.within_s
    small = margin(d)
    for event_at, charge in event_moments(form):
        span = Span(event_at, d, duration(d)) if d else None
        for first in (False, None):
            begin = Want(Fraction(0), first)
            if d:
                late = (Want(event_at, False, True), Want(event_at + d - small, True, None))
                yield Draft(
                    "keeps",
                    f"After {duration(d - small)} {so}: in time.",
                    Plan((begin, *charge, *late), event_at + d + LEAD_S, None),
                    event_at,
                    span,
                )
            yield Draft(
                "keeps",
                f"In the same moment {so}: in time.",
                Plan((begin, *charge, Want(event_at, True, True)), event_at + d + LEAD_S, None),
                event_at,
                span,
            )
        for first in (False, None):
            begin = Want(Fraction(0), first)
            for last in (
                Want(event_at + d + small, True, None),
                Want(event_at + d + small, False, None),
            ):
                over = duration(d + small)
                told = f"Only after {over} {so}: too late."
                if not last.holds:
                    told = f"After {over} still not: too late."
                steps = (Want(event_at, False, True), last)
                end = event_at + d + small + LEAD_S
                yield Draft(
                    "breaks", told, Plan((begin, *charge, *steps), end, event_at), event_at, span
                )


def event_moments(
    form: WhenWithin | WhenFor | AfterLast | MeasureLongest,
) -> Iterator[tuple[Fraction, tuple[Want, ...]]]:
    """When the event may occur, and what has to begin before it."""
    yield LEAD_S, ()
    stays = [e.timer.for_s for e in form.events if isinstance(e, HasStayed)]
    for seconds in dict.fromkeys(stays):
        yield LEAD_S + seconds, (Want(LEAD_S, None, None),)
    (condition,), _ = conditions_and_events_of(form)
    at, charge = charging(condition, LEAD_S)
    if charge and at - LEAD_S not in stays:
        yield at, charge


def for_drafts(form: WhenFor, gap: Fraction, job: Job) -> Iterator[Draft]:
    """Runs of ``when E: C for at least D``."""
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    d, small = form.for_s, margin(form.for_s)
    little = margin(gap)
    for at, charge in event_moments(form):
        span = Span(at, d, f"at least {duration(d)}")
        for first in (False, None):
            begin = Want(Fraction(0), first)
            over = Want(at + d + small, False, False)
            if gap and gap > little and gap - little < d:
                late = (Want(at, False, True), Want(at + gap - little, True, False), over)
                yield Draft(
                    "keeps",
                    f"After {duration(gap - little)} {so} (so short a delay is allowed), and until "
                    f"{duration(d + small)} have passed.",
                    Plan((begin, *charge, *late), at + d + small + LEAD_S, None),
                    at,
                    span,
                )
            steps = (Want(at, True, True), over)
            yield Draft(
                "keeps",
                f"In the same moment {so}; only after {duration(d + small)} {not_so}.",
                Plan((begin, *charge, *steps), at + d + small + LEAD_S, None),
                at,
                span,
            )
            yield Draft(
                "keeps",
                f"In the same moment {so}, and it stays so.",
                Plan((begin, *charge, Want(at, True, True)), at + d + LEAD_S, None),
                at,
                span,
            )
        for first in (False, None):
            begin = Want(Fraction(0), first)
            gone = Want(at + d - small, False, False)
            end = at + d - small + gap + little + LEAD_S
            yield Draft(
                "breaks",
                f"After {duration(d - small)} already {not_so}: too early.",
                Plan((begin, *charge, Want(at, True, True), gone), end, at),
                at,
                span,
            )
            yield Draft(
                "breaks",
                f"In that moment {not_so}.",
                Plan((begin, *charge, Want(at, False, True)), end, at),
                at,
                span,
            )


def after_last_drafts(form: AfterLast, job: Job) -> Iterator[Draft]:
    """Runs of ``after last E: C within D``, with two events where there can be."""
    so, d = plain_condition(form.condition, job), form.within_s
    small = margin(d)
    half = Fraction(int(d / 2)) or d / 2
    for at, charge in event_moments(form):
        for again in (True, False):
            last = at + half if again and d else at
            steps: tuple[Want, ...] = (Want(at, False, True),)
            if last > at:
                steps = (*steps, Want(last, False, True))
            span = Span(last, d, duration(d))
            of_last = " after the last time" if last > at else ""
            for first in (False, None):
                begin = Want(Fraction(0), first)
                if d:
                    end = (Want(last + d - small, True, False),)
                    yield Draft(
                        "keeps",
                        f"{duration(d - small)}{of_last or ' after it'} {so}: in time.",
                        Plan((begin, *charge, *steps, *end), last + d + LEAD_S, None),
                        at,
                        span,
                    )
            for first in (False, None):
                begin = Want(Fraction(0), first)
                for close in (True, False):
                    moment = Want(last + d + small, close, False)
                    told = f"Only {duration(d + small)}{of_last or ' after it'} {so}: too late."
                    if not close:
                        told = f"{duration(d + small)}{of_last or ' after it'} it is still not so."
                    yield Draft(
                        "breaks",
                        told,
                        Plan((begin, *charge, *steps, moment), last + d + small + LEAD_S, last + d),
                        at,
                        span,
                    )
        for first in (False, None):
            at_once = Want(at, True, True)
            plan = Plan((Want(Fraction(0), first), *charge, at_once), at + d + LEAD_S, None)
            yield Draft("keeps", f"At once {so}: in time.", plan, at, Span(at, d, duration(d)))


def before_drafts(form: Before, job: Job) -> Iterator[Draft]:
    """Runs of ``before E: C for at least D``."""
    so, d = plain_condition(form.condition, job), form.for_s
    small = margin(d)
    stays = [e.timer.for_s for e in form.events if isinstance(e, HasStayed)]
    for first in (False, None):
        for kind, after in (("keeps", d + small), ("breaks", d - small)):
            event = LEAD_S + after
            # Where the event is that something has stayed so, that has to begin so long before.
            for stay in (Fraction(0), *dict.fromkeys(stays)):
                shift = max(Fraction(0), stay - event + LEAD_S)
                begins = LEAD_S + shift
                at = event + shift
                wants = [Want(Fraction(0), first), Want(begins, True, None)]
                if stay:
                    wants.append(Want(at - stay, None, None))
                wants.append(Want(at, None, True))
                wants.sort(key=lambda want: want.at_s)
                told = (
                    f"For {duration(after)} it had been so that {so}: long enough."
                    if kind == "keeps"
                    else f"Only for {duration(after)} it had been so that {so}: too short."
                )
                yield Draft(
                    "keeps" if kind == "keeps" else "breaks",
                    told,
                    Plan(tuple(wants), at + LEAD_S, None if kind == "keeps" else at),
                    begins,
                    Span(begins, d, f"at least {duration(d)}"),
                )
