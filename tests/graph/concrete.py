"""A second, concrete meaning of one run's zero-time code, for the tests: no paths, no guards.

It walks the statements with a known valuation, as the contract's page says, and stops at each
rest. Nothing of the compiler is used.
"""

from __future__ import annotations

import contextlib
from collections.abc import Generator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from verifier.model.job import (
    And,
    Between,
    Branch,
    Cancel,
    Condition,
    EndRun,
    Fade,
    If,
    Implies,
    Is,
    Job,
    Level,
    Night,
    Not,
    Or,
    PointKind,
    Put,
    Repeat,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Value,
    Wait,
    WaitUntil,
)
from verifier.source import Span

ENDLESS_AFTER = 400
"""Statements without a rest after which a run counts as endless."""


@dataclass
class Valuation:
    """What is so at one moment."""

    values: dict[str, Value]
    stayed: set[Stayed]
    running: set[str]
    night: bool
    day: int
    second: int
    timed_out: bool = False

    def put(self, name: str, value: Value) -> None:
        self.values[name] = value
        self.stayed = {t for t in self.stayed if t.atom.subject != name or self.holds(t.atom)}

    def holds(self, condition: Condition) -> bool:
        match condition:
            case Is(subject, word):
                return self.values[subject] == word
            case Level(subject):
                value = self.values[subject]
                assert isinstance(value, Fraction)
                return condition.holds_of(value)
            case Stayed():
                return condition in self.stayed
            case Night():
                return self.night
            case Between(79200, 21600, chosen):  # the only one of the random jobs
                late, early = self.second >= 22 * 3600, self.second < 6 * 3600
                begun = self.day if late else (self.day - 1) % 7
                return (late or early) and (chosen is None or begun in chosen)
            case Running(rule):
                return rule in self.running
            case TimedOut():
                return self.timed_out
            case Not(item):
                return not self.holds(item)
            case And(items):
                return all(self.holds(item) for item in items)
            case Or(items):
                return any(self.holds(item) for item in items)
            case Implies(left, right):
                return not self.holds(left) or self.holds(right)
            case _:
                raise AssertionError(condition)


def valuation(job: Job, timers: set[Stayed], rng: Random) -> Valuation:
    """A random valuation in which a timer has run out only if its value is there."""
    values: dict[str, Value] = {}
    for point in job.points:
        if point.kind is PointKind.DIMMER:
            values[point.name] = Fraction(rng.choice((0, 1, 30, 50, 60, 99, 100)))
        elif point.kind is not PointKind.BUTTON:
            values[point.name] = rng.choice(point.kind.values)
    found = Valuation(
        values=values,
        stayed=set(),
        running={rule.name for rule in job.rules if rng.random() < 0.5},
        night=rng.random() < 0.5,
        day=rng.randrange(7),
        second=rng.choice((0, 5 * 3600, 6 * 3600, 12 * 3600, 22 * 3600, 23 * 3600)),
    )
    ordered = sorted(timers, key=repr)
    found.stayed = {t for t in ordered if found.holds(t.atom) and rng.random() < 0.5}
    return found


@dataclass(frozen=True)
class Stop:
    """How a stretch of zero-time code ended: where it rests (None: not), and what it did."""

    at: Statement | None
    effects: tuple[Statement, ...]
    how: str


class _Ended(Exception):
    pass


class Walker:
    """One run of a rule's body."""

    def __init__(self, rule: str, state: Valuation) -> None:
        self.rule = rule
        self.state = state
        self.effects: list[Statement] = []
        self.how = "ends"
        self.steps = 0

    def run(self, body: tuple[Statement, ...]) -> Generator[Stop, None, None]:
        """Each stretch's end; between two of them ``state`` may be changed from outside."""
        with contextlib.suppress(_Ended):
            yield from self._body(body)
        yield self._stop(None, self.how)

    def _stop(self, at: Statement | None, how: str) -> Stop:
        done, self.effects, self.steps = tuple(self.effects), [], 0
        return Stop(at, done, how)

    def _end(self, how: str) -> None:
        self.how = how
        raise _Ended

    def _body(self, body: tuple[Statement, ...]) -> Generator[Stop, None, None]:
        for statement in body:
            self.steps += 1
            if self.steps > ENDLESS_AFTER:
                self._end("endless candidate")
            match statement:
                case Put(point, value):
                    self.state.put(point, value)
                    self.effects.append(statement)
                case Cancel(rule):
                    self.effects.append(statement)
                    if rule == self.rule:
                        self._end("cancels itself")
                    self.state.running.discard(rule)
                case EndRun():
                    self._end("ended")
                case Wait():
                    yield self._stop(statement, "rests")
                case Fade():
                    self.effects.append(statement)
                    yield self._stop(statement, "rests")
                case WaitUntil(condition, limit):
                    if not self.state.holds(condition):
                        yield self._stop(statement, "rests")
                        self.state.timed_out = not self.state.holds(condition)
                        assert limit is not None or not self.state.timed_out
                    else:
                        self.state.timed_out = False
                case If(branches, otherwise):
                    taken = next(
                        (b.body for b in branches if self.state.holds(b.condition)), otherwise
                    )
                    yield from self._body(taken)
                case Repeat(inner, until):
                    while True:
                        self.steps += 1
                        yield from self._body(inner)
                        if self.steps > ENDLESS_AFTER:
                            self._end("endless candidate")
                        if self.state.holds(until):
                            break


# ---------------------------------------------------------------- places in a body


class _Numbers:
    def __init__(self) -> None:
        self.last = 0

    def next(self) -> Span:
        self.last += 1
        return Span("job.dusk", self.last, self.last + 1)


def placed(body: tuple[Statement, ...]) -> tuple[Statement, ...]:
    """The same body with a span of its own for each statement and branch, in order of the text."""
    return _placed(body, _Numbers())


def _placed(body: tuple[Statement, ...], numbers: _Numbers) -> tuple[Statement, ...]:
    found: list[Statement] = []
    for statement in body:
        made = replace(statement, span=numbers.next())
        match made:
            case If(branches, otherwise):
                arms = []
                for branch in branches:
                    span = numbers.next()
                    arms.append(Branch(branch.condition, _placed(branch.body, numbers), span))
                made = replace(made, branches=tuple(arms), otherwise=_placed(otherwise, numbers))
            case Repeat(inner):
                made = replace(made, body=_placed(inner, numbers))
            case _:
                pass
        found.append(made)
    return tuple(found)
