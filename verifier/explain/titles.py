"""The title of a failing case: one sentence that says what goes wrong, and when."""

from __future__ import annotations

from typing import assert_never

from verifier.explain.clock_words import ClockTold
from verifier.explain.figures import moment, rounded
from verifier.explain.observed import Observed
from verifier.explain.phrases import so
from verifier.explain.why import Why
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Condition,
    Event,
    Implies,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
    conditions_and_events_of,
)
from verifier.model.words import duration, event_words, events_words
from verifier.model.words import words as in_words
from verifier.simulate.run import Run


def title_of(
    requirement: Requirement, seen: Observed, found: Why, run: Run, told: ClockTold | None
) -> str:
    """The sentence; with the time of day where the run has one, else counted from its start."""
    last = seen.last
    end_s, just_after = run.end_s

    def at(k: int) -> str:
        return told.at(seen.at_s[k]) if told is not None else moment(seen.at_s[k], False)

    here = moment(end_s, just_after) if told is None else told.at(end_s)
    opening = here[0].upper() + here[1:] if just_after and told is None else f"At {here}"
    if not last or (told is None and not run.steps and not end_s and not just_after):
        opening = "Right at the start"
    since = found.since
    form = requirement.form
    asked = last if isinstance(form, Before | AtMostTimes) else since
    _, events = conditions_and_events_of(form)
    if events and not any(seen.occurs(event, asked) for event in events):
        # It comes and is gone again in one moment, so that no state before or after shows it.
        return f"{opening} the promise is broken, by what happens in one moment."
    match form:
        case Always(Implies(left, right)):
            return (
                f"{opening} {so(seen, right, last, wrong=True)}, although {so(seen, left, last)}"
                f"{_long(seen, requirement, found)}."
            )
        case Always(condition):
            return f"{opening} {so(seen, condition, last, wrong=True)}{_long(seen, requirement, found)}."
        case Never(condition) | Possible(condition):
            return f"{opening} {so(seen, condition, last)}{_long(seen, requirement, found)}."
        case WhenWithin(events, condition, within_s):
            what = _occurred(seen, events, since)
            after = "right after that" if not within_s else f"{duration(within_s)} later"
            return f"{what} at {at(since)}, and {after} {so(seen, condition, last, wrong=True)}."
        case WhenFor(events, condition, for_s):
            what = _occurred(seen, events, since)
            passed = seen.at_s[last] - seen.at_s[since]
            late = f"only {rounded(passed)} later" if passed else "at that very moment"
            return (
                f"{what} at {at(since)}, and {late} {so(seen, condition, last, wrong=True)} "
                f"({duration(for_s)} was promised)."
            )
        case AfterLast(events, condition, within_s):
            what = _occurred(seen, events, since)
            return (
                f"{what} for the last time at {at(since)}, and more than {duration(within_s)} later "
                f"{so(seen, condition, last, wrong=True)}."
            )
        case Before(events, condition, for_s):
            what = _occurred(seen, events, last)
            return (
                f"{opening} {what}, but before that it had not been so for "
                f"{duration(for_s)} that {_wished(condition)}."
            )
        case NoLonger(most_s, condition):
            return f"{opening} {so(seen, condition, last)} for longer than {duration(most_s)}."
        case NoShorter(least_s, condition):
            gone = rounded(seen.at_s[last] - seen.at_s[since])
            return (
                f"{opening} it is over that {_wished(condition)}, after {gone} only "
                f"({duration(least_s)} was promised)."
            )
        case AtMostTimes(times, in_s, events):
            return f"{opening} {events_words(events)}: time number {times + 1} within {duration(in_s)}."
        case LeadsTo(rule, condition):
            if run.cycle_from is not None:
                return (
                    f"{rule} was triggered, and {_wished(condition)} never comes to stay: "
                    "it goes round for ever."
                )
            lasts = so(seen, condition, last, wrong=True, lasting=True)
            return f"{rule} was triggered, and in the end {lasts}, for good."
        case MeasureLongest(condition, events):
            opened = f"{_occurred(seen, events, since)} for the last time at {at(since)}"
            lasts = so(seen, condition, last, lasting=True)
            if run.rests or run.cycle_from is not None:
                return f"{opened}, and {lasts} for ever after."
            return (
                f"{opened}, and {lasts} up to {rounded(seen.at_s[last] - seen.at_s[since])} later."
            )
        case _:
            assert_never(form)


def _occurred(seen: Observed, events: tuple[Event, ...], k: int) -> str:
    """Which of several events it was."""
    it_was = [event_words(event) for event in events if seen.occurs(event, k)]
    return it_was[0] if it_was else events_words(events)


def _wished(condition: Condition) -> str:
    return in_words(condition)


def _long(seen: Observed, requirement: Requirement, found: Why) -> str:
    """For how long it has been so, where some of that was allowed."""
    if not requirement.allowing_s:
        return ""
    gone = seen.at_s[seen.last] - seen.at_s[found.since]
    over = "more than " if gone <= requirement.allowing_s else ""
    return f" (for {over}{rounded(gone)} by then; {duration(requirement.allowing_s)} is allowed)"
