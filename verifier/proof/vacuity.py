"""Whether a proved requirement ever came into play."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AtMostTimes,
    Before,
    Condition,
    Form,
    Implies,
    Job,
    LeadsTo,
    Never,
    NoLonger,
    NoShorter,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)
from verifier.model.words import words
from verifier.proof.engines import Breaks, Open, holds_or_breaks
from verifier.proof.moves import TooLarge
from verifier.proof.question import Budget, Question
from verifier.simulate.instant import beginnings
from verifier.simulate.system import System
from verifier.surroundings.state import Registers


def question_of(requirement: Requirement) -> tuple[Requirement | None, str]:
    """What has to be possible for a requirement to come into play, and what is said if it is not.

    None: only that there is a run at all (a plain ``always`` or ``never``), or it is asked otherwise.
    """

    def asked(form: Form) -> Requirement:
        return replace(requirement, form=form, allowing_s=Fraction(0))

    def scoped(condition: Condition) -> Requirement:
        if requirement.scope is None:
            return asked(Possible(condition))
        return replace(asked(Possible(And((requirement.scope, condition)))), scope=None)

    match requirement.form:
        case Always(Implies(left, _)):
            return scoped(left), "its condition (before `implies`) is never true"
        case Always() | Never():
            if requirement.scope is None:
                return None, ""
            return (
                replace(asked(Possible(requirement.scope)), scope=None),
                "the scope of `while` is never true",
            )
        case NoLonger(_, condition) | NoShorter(_, condition):
            return scoped(condition), "its condition is never true"
        case (
            WhenWithin(events)
            | WhenFor(events)
            | AfterLast(events)
            | Before(events)
            | AtMostTimes(_, _, events)
        ):
            # "At most 0 times" fails at the first occurrence, in the scope.
            return asked(AtMostTimes(0, Fraction(1), events)), "its event never occurs"
        case _:
            return None, ""


def _is_quiet(system: System) -> Callable[[Registers], bool]:
    assert system.monitor is not None
    return system.monitor.is_quiet


def _was_handled(system: System) -> Callable[[Registers], bool]:
    assert system.monitor is not None
    return system.monitor.was_handled


def comes_into_play(job: Job, requirement: Requirement, budget: Budget) -> tuple[bool, str]:
    """Whether a requirement can come into play; if not, why, in words. Raises: TooLarge."""

    def reached(question: Question) -> bool:
        result = holds_or_breaks(question)
        if isinstance(result, Open):
            raise TooLarge(result.depth)
        return isinstance(result, Breaks)

    if isinstance(requirement.form, LeadsTo):
        quiet = Question(job, requirement, budget, _is_quiet)
        if reached(quiet):
            return True, ""
        handled = Question(job, requirement, budget, _was_handled)
        if reached(handled):
            return False, "no state that may last follows a trigger of the rule"
        return False, "no trigger of the rule is ever handled with its guard true"
    asked, why = question_of(requirement)
    if asked is None:
        question = Question(job, requirement, budget)
        alive = bool(beginnings(question.system))
        return alive, "" if alive else "there is no run at all"
    return (True, "") if reached(Question(job, asked, budget)) else (False, why)


def why_vacuous(job: Job, requirement: Requirement, budget: Budget) -> str:
    """Why a proved requirement is vacuous, in words; empty if it is not. Raises: TooLarge."""
    plays, why = comes_into_play(job, requirement, budget)
    if plays:
        return ""
    if not job.assumptions:
        return why
    without = replace(job, assumptions=())
    if not comes_into_play(without, requirement, budget)[0]:
        return why
    guilty = [
        assumption
        for assumption in job.assumptions
        if comes_into_play(
            replace(job, assumptions=tuple(a for a in job.assumptions if a is not assumption)),
            requirement,
            budget,
        )[0]
    ] or list(job.assumptions)
    named = "; ".join(f"`{words(assumption)}`" for assumption in guilty)
    return f"{why}, because of what is assumed: {named}"


def vacuity(question: Question) -> tuple[bool, str]:
    """Whether a proved requirement never came into play, and why. Raises: TooLarge."""
    why = why_vacuous(question.job, question.requirement, question.budget)
    return bool(why), why
