"""The reason of a verdict in a sentence or two that an installer can read."""

from __future__ import annotations

from fractions import Fraction
from typing import assert_never

from verifier.explain.clock_words import ClockTold
from verifier.front.figures import counted, is_short, listed, moment, rounded
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Form,
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
)
from verifier.model.words import condition_words, duration, events_words, number
from verifier.proof.verdict import (
    Answered,
    Certificate,
    LimitMet,
    OutOfRoom,
    OutOfTime,
    ProofNotChecked,
    Proved,
    Reason,
    Refuted,
    RunCannotBe,
    RunComesToAStop,
    RunNotOnTheWhole,
    Undecided,
    Verdict,
    WorkerEnded,
)
from verifier.simulate.run import Run


def verdict_word(verdict: Verdict) -> str:
    """The word for a verdict, as programs are told."""
    match verdict:
        case Proved():
            return "proved"
        case Refuted():
            return "refuted"
        case Undecided():
            return "undecided"
        case Answered():
            return "answered"
        case _:
            assert_never(verdict)


def reason(requirement: Requirement, verdict: Verdict) -> str:
    """Why the verdict is what it is, without how it was found."""
    match verdict:
        case Proved():
            return _proved(requirement, verdict)
        case Refuted(None):
            return "No run reaches it: it is impossible, however long the installation runs."
        case Refuted(run):
            assert run is not None
            return _refuted(requirement, run)
        case Undecided(why, depth, held_up):
            # Not "no run of that length fails": one may have been found that could not be used.
            searched = f" The search went {counted(depth, 'happening')} deep." if depth > 0 else ""
            return f"{_sentence(undecided_words(why))}{searched}{_held_up(held_up)}"
        case Answered():
            return _answered(verdict)
        case _:
            assert_never(verdict)


def _held_up(rule: str) -> str:
    """What stood in the way of a proof rule by rule, and what helps; empty if nothing is known."""
    if not rule:
        return ""
    return (
        f" Taken rule by rule, it could not be shown of {rule}: what {rule} relies on other rules "
        "for can be a requirement of its own, and what it relies on outside an assumption; "
        f"or ask for the part that {rule} plays in it alone."
    )


def undecided_words(why: Reason) -> str:
    """Why there is no verdict, and what helps if something does."""
    match why:
        case LimitMet():
            return "the search grew too large for its limits"
        case OutOfTime(limit_s):
            return (
                f"its time ran out ({limit_s:g} s): give it more with --time-limit, or ask for "
                "less at once"
            )
        case OutOfRoom():
            return (
                "there are more states than the search may hold, and more time does not help: ask "
                "for less at once, or take fewer faults into account"
            )
        case ProofNotChecked(failure):
            return f"a proof was found, but not checked: {failure}"
        case RunNotOnTheWhole(failure):
            return (
                "a run was found in the part that matters, and did not replay on the whole: "
                f"{failure}"
            )
        case RunCannotBe(failure):
            return f"a run was found, but it cannot really be: {failure}"
        case RunComesToAStop():
            return (
                "the run that was found ends where the assumptions leave the surroundings no way "
                "to go on"
            )
        case WorkerEnded(how):
            return how
        case _:
            assert_never(why)


def method(verdict: Verdict) -> str:
    """How the verdict was found and which solvers checked it; empty if there is nothing to say."""
    match verdict:
        case Undecided():
            return ""
        case Proved(certificate) | Refuted(_, certificate) | Answered(_, _, certificate):
            said = verdict.method
        case _:
            assert_never(verdict)
    parts = []
    if said:
        parts.append(f"by {said}")
    if certificate is not None:
        parts.append(_checked(certificate))
    elif _run_of(verdict) is not None:
        parts.append("the run was replayed step by step")
    return "; ".join(parts)


def _checked(certificate: Certificate) -> str:
    return f"checked by {listed(certificate.checked_by)}, each on its own"


def _run_of(verdict: Verdict) -> Run | None:
    match verdict:
        case Proved():
            return verdict.witness
        case Refuted() | Answered():
            return verdict.run
        case Undecided():
            return None
        case _:
            assert_never(verdict)


def _proved(requirement: Requirement, verdict: Proved) -> str:
    if verdict.vacuous:
        because = verdict.vacuous_because or "what it speaks of never happens"
        return f"It holds, but it never came into play: {because}."
    if isinstance(requirement.form, Possible):
        return "It can happen: the run below gets there."
    text = "It holds in every possible run, of any length."
    if verdict.bound_s is not None:
        text += f" It takes at most {rounded(verdict.bound_s)}."
    return text


def _answered(verdict: Answered) -> str:
    if verdict.bound_s is None:
        because = verdict.vacuous_because or "what is to be measured never happens"
        return f"There is nothing to measure: {because}."
    if verdict.bound_s == "unbounded":
        return "There is no longest time: it can last for ever."
    if verdict.bound_s < 60 and is_short(verdict.bound_s):
        return f"The longest time is {duration(verdict.bound_s)}."
    return f"The longest time is {rounded(verdict.bound_s)} ({number(verdict.bound_s)} s)."


def _sentence(words: str) -> str:
    text = words.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _refuted(requirement: Requirement, run: Run) -> str:
    when = moment(run.fails_s, run.fails_just_after)
    if run.clock is not None:
        when += f" ({ClockTold(run.clock).dated(run.fails_s)})"
    at = when[:1].upper() + when[1:] if run.fails_just_after else f"At {when}"
    text = _failure(requirement.form, at, run)
    if requirement.allowing_s:
        text += f" Gaps of up to {duration(requirement.allowing_s)} were allowed."
    return text


def _failure(form: Form, at: str, run: Run) -> str:
    match form:
        case Always(Implies(left, right)):
            return f"{at}: {condition_words(left)}, and yet not: {condition_words(right)}."
        case Always(condition):
            return f"{at} this is not so: {condition_words(condition)}."
        case Never(condition):
            return f"{at} this is so: {condition_words(condition)}."
        case WhenWithin(events, condition, within_s):
            return (
                f"After {events_words(events)}, this did not come true within "
                f"{duration(within_s)}: {condition_words(condition)}."
            )
        case WhenFor(events, condition, for_s):
            return (
                f"{at}, less than {duration(for_s)} after {events_words(events)}, "
                f"this is not so: {condition_words(condition)}."
            )
        case AfterLast(events, condition, within_s):
            return (
                f"{at} more than {duration(within_s)} has passed since the last "
                f"{events_words(events)}, and this is not so: {condition_words(condition)}."
            )
        case Before(events, condition, for_s):
            return (
                f"{at}: {events_words(events)}; but before that, this had not been so for "
                f"{duration(for_s)}: {condition_words(condition)}."
            )
        case NoLonger(most_s, condition):
            return f"{at} this has been so for longer than {duration(most_s)}: " + (
                f"{condition_words(condition)}."
            )
        case NoShorter(least_s, condition):
            return f"{at} this ends after less than {duration(least_s)}: " + (
                f"{condition_words(condition)}."
            )
        case AtMostTimes(times, in_s, events):
            return (
                f"{at} this happens for time number {times + 1} within {duration(in_s)}: "
                f"{events_words(events)}."
            )
        case LeadsTo(rule, condition):
            return _no_end(rule, condition_words(condition), run)
        case Possible() | MeasureLongest():
            return f"{at} the run ends."
        case _:
            assert_never(form)


def _no_end(rule: str, wanted: str, run: Run) -> str:
    if run.cycle_from is not None:
        return (
            f"After a trigger of {rule} the steps marked below go round for ever, "
            f"and this does not come to stay: {wanted}."
        )
    return (
        f"After a trigger of {rule} the run ends in a state in which nothing more will happen, "
        f"and this is not so: {wanted}."
    )


def bound_words(bound: Fraction | str | None) -> str | None:
    """A bound as JSON holds it: exact seconds, ``unbounded`` or None."""
    return number(bound) if isinstance(bound, Fraction) else bound
