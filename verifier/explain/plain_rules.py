"""Rules in plain words: when one begins, what it does step by step, what a further trigger does.

What people take differently is said each time: that a condition after the trigger is looked at
once, that a wait for something that is so already takes no time, that ending a run leaves lamps as
they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from verifier.explain.naming import named
from verifier.explain.plain_words import plain_condition, plain_event
from verifier.model.job import (
    And,
    Cancel,
    Condition,
    EndRun,
    Fade,
    If,
    Job,
    PointKind,
    Policy,
    Put,
    Repeat,
    Rule,
    Statement,
    Trigger,
    Value,
    Wait,
    WaitUntil,
)
from verifier.model.words import duration, level
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class PlainStep:
    """A step of a rule: ``2.1`` is the first step inside step 2, ``span`` the line that says it."""

    number: str
    words: str
    span: Span

    @property
    def depth(self) -> int:
        """How deep it stands inside other steps; 0: in none."""
        return self.number.count(".")


@dataclass(frozen=True, slots=True)
class PlainRule:
    """A rule read back: what begins it, its steps, what a further trigger does, and what that means.

    ``again`` is empty where the rule is done in one moment, so that nothing can find it at work.
    """

    begins: tuple[str, ...]
    steps: tuple[PlainStep, ...]
    again: str
    exactly: tuple[str, ...]

    @property
    def text(self) -> str:
        """All of it, a line each."""
        steps = (f"{'   ' * step.depth}{step.number}. {step.words}" for step in self.steps)
        return "\n".join(filter(None, (*self.begins, *steps, self.again, *self.exactly)))


def plain_rule(rule: Rule, job: Job) -> PlainRule:
    """A rule in plain words."""
    lasts = _lasts(rule.body)
    begins = tuple(
        _begins(trigger, rule.provided, job, "Also whenever" if place else "Whenever")
        for place, trigger in enumerate(rule.triggers)
    )
    steps = tuple(_steps(rule.body, rule, job, ""))
    return PlainRule(begins, steps, _again(rule.policy) if lasts else "", _exactly(rule, lasts))


# ---------------------------------------------------------------- when it begins


def _begins(trigger: Trigger, provided: Condition | None, job: Job, opening: str) -> str:
    guards = [each for each in (trigger.guard, provided) if each is not None]
    when = f"{opening} {plain_event(trigger.event, job)}"
    if not guards:
        return f"{when}."
    if len(guards) == 1:
        return f"{when}, provided that {plain_condition(guards[0], job)}."
    return f"{when}, provided that {plain_condition(And(tuple(guards)), job)}."


def _exactly(rule: Rule, lasts: bool) -> tuple[str, ...]:
    found = [] if lasts else ["All of it happens in one moment."]
    if rule.provided is not None or any(each.guard for each in rule.triggers):
        when = (
            "when a trigger comes, and once more when its turn has come"
            if rule.policy.waiting
            else "only at that moment"
        )
        found.append(
            f"What has to be so for it to begin is looked at {when}: what changes later neither "
            "starts nor stops it."
        )
    return tuple(found)


def _again(policy: Policy) -> str:
    at_work = "Triggered again while it is at work,"
    match policy:
        case Policy(1, 0, True):
            return f"{at_work} it drops what it is doing and begins anew with step 1."
        case Policy(1, 0, False):
            return f"{at_work} it takes no notice and goes on."
        case Policy(places, 0, oldest):
            full = (
                "a further trigger drops the oldest run and takes its place"
                if oldest
                else "a further trigger is lost"
            )
            return f"Up to {places} runs of it go on side by side; when all are at work, {full}."
        case Policy(places, waiting, oldest):
            runs = "One run of it goes on at a time" if places == 1 else (
                f"Up to {places} runs of it go on side by side"
            )  # fmt: skip
            wait = "one further trigger waits its turn" if waiting == 1 else (
                f"up to {waiting} further triggers wait their turn"
            )  # fmt: skip
            full = (
                "the oldest run is dropped, the first that waits takes its place, and the new "
                "trigger waits last"
                if oldest
                else "one more is lost"
            )
            return f"{runs}, and {wait}; when these places are taken, too, {full}."


def _lasts(body: tuple[Statement, ...]) -> bool:
    """Whether a body can take time."""
    for statement in body:
        match statement:
            case Wait() | WaitUntil() | Fade():
                return True
            case If(branches, otherwise):
                if _lasts(otherwise) or any(_lasts(branch.body) for branch in branches):
                    return True
            case Repeat(inner, _):
                if _lasts(inner):
                    return True
            case _:
                pass
    return False


# ---------------------------------------------------------------- steps


def _steps(body: tuple[Statement, ...], rule: Rule, job: Job, inside: str) -> Iterator[PlainStep]:
    if not body:
        yield PlainStep(f"{inside}1", "Nothing is done.", Span("", 0, 0))
    number = 0
    for statement in body:
        number += 1
        match statement:
            case If(branches, otherwise):
                for place, branch in enumerate(branches):
                    number += bool(place)
                    word = "Otherwise, if" if place else "If"
                    condition = plain_condition(branch.condition, job)
                    yield PlainStep(f"{inside}{number}", f"{word} {condition}:", branch.span)
                    yield from _steps(branch.body, rule, job, f"{inside}{number}.")
                if otherwise:
                    number += 1
                    yield PlainStep(f"{inside}{number}", "Otherwise:", statement.span)
                    yield from _steps(otherwise, rule, job, f"{inside}{number}.")
            case Repeat(inner, until):
                words = (
                    f"Again and again, until at the end of a round {plain_condition(until, job)}:"
                )
                yield PlainStep(f"{inside}{number}", words, statement.span)
                yield from _steps(inner, rule, job, f"{inside}{number}.")
            case _:
                yield PlainStep(f"{inside}{number}", _step(statement, rule, job), statement.span)


def _step(statement: Put | Fade | Wait | WaitUntil | Cancel | EndRun, rule: Rule, job: Job) -> str:
    match statement:
        case Put(point, value):
            return _put(point, value, job)
        case Fade(dimmer, percent, over_s):
            to = "off" if percent == 0 else level(percent)
            return (
                f"It fades {named(job, dimmer).words} evenly to {to}, and takes "
                f"{duration(over_s)} for it."
            )
        case Wait(for_s):
            return f"It waits {duration(for_s)}."
        case WaitUntil(condition, at_most_s):
            return _wait_until(condition, at_most_s, job)
        case Cancel(other) if other == rule.name:
            return "It breaks itself off here, with all its runs; what they have switched stays as it is."
        case Cancel(other):
            return (
                f"It breaks off {named(job, other).words}, if that is at work; what that has "
                "switched stays as it is."
            )
        case EndRun():
            return "It ends here."
        case _:
            assert_never(statement)


def _wait_until(condition: Condition, at_most_s: Fraction | None, job: Job) -> str:
    until = f"It waits until {plain_condition(condition, job)}"
    if at_most_s is not None:
        until += f", but no longer than {duration(at_most_s)}"
    return f"{until}; if that is so already, it goes on at once."


def _put(point: str, value: Value, job: Job) -> str:
    name = named(job, point).words
    kind = job.point[point].kind
    if isinstance(value, Fraction):
        if value == 0:
            return f"It switches {name} off."
        full = " (full light)" if value == 100 else ""
        return f"It sets {name} to {level(value)}{full}."
    if kind is PointKind.FLAG:
        return f"It sets {name} to {value}."
    return f"It switches {name} {value}."
