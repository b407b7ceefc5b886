"""A rule's body as a flow: its statements in their order of control, its rests numbered.

Before: ``if night then lamp on  wait 5 s  end if  lamp off``. After: a test, a setting, a rest
and a setting, each knowing what comes next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, assert_never

from verifier.model.job import (
    Cancel,
    Condition,
    EndRun,
    Fade,
    If,
    Put,
    Repeat,
    Rule,
    Statement,
    Wait,
    WaitUntil,
    statements_of,
)
from verifier.model.words import statement_words
from verifier.source import Span

IDLE = 0
"""The number of the place at which a rule has no run."""

ENDLESS = -1
"""The number of what is no place: a run that goes round and never comes to rest."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place of a rule's body at which a run can rest; number 0 is ``idle``.

    Rests are numbered from 1 in order of the text.
    """

    rule: str
    number: int
    statement: Wait | WaitUntil | Fade | None
    span: Span

    @property
    def words(self) -> str:
        """The place in the contract's words."""
        if self.statement is not None:
            return statement_words(self.statement)
        return "idle" if self.number == IDLE else "goes round for ever"


@dataclass(frozen=True, slots=True)
class Act:
    """A setting or a cancelling, then ``next``."""

    statement: Put | Cancel
    next: int


@dataclass(frozen=True, slots=True)
class Rest:
    """A place to rest at; a run that goes on from it comes to ``next``."""

    place: int
    statement: Wait | WaitUntil | Fade
    next: int


@dataclass(frozen=True, slots=True)
class Test:
    """A condition that is read: of an ``if``/``elsif`` arm, or of a ``repeat … until``."""

    __test__ = False  # no test class

    condition: Condition
    of: Literal["if", "until"]
    if_true: int
    if_false: int
    span: Span


@dataclass(frozen=True, slots=True)
class End:
    """The end of a run: of its body (None) or an ``end run``."""

    statement: EndRun | None


Step = Act | Rest | Test | End


@dataclass(frozen=True, slots=True)
class Flow:
    """A rule's flow: steps by index, where it begins, its places by number.

    ``dead`` are the statements that nothing can reach by their place in the text alone (what
    follows an ``end run``), the first of each stretch.
    """

    rule: str
    steps: tuple[Step, ...]
    entry: int
    places: tuple[Place, ...]
    dead: tuple[Statement, ...]

    @property
    def rests(self) -> tuple[Rest, ...]:
        """The rests by number."""
        rests = [step for step in self.steps if isinstance(step, Rest)]
        return tuple(sorted(rests, key=lambda rest: rest.place))

    def next_of(self, at: int) -> tuple[int, ...]:
        """The steps that can follow a step in zero time."""
        match self.steps[at]:
            case Act(Cancel(name)) if name == self.rule:
                return ()
            case Act(_, following):
                return (following,)
            case Rest(_, WaitUntil(), following):
                return (following,)
            case Test(_, _, if_true, if_false):
                return (if_true, if_false)
            case _:
                return ()

    def goes_round(self, at: int) -> bool:
        """Whether the text lets a run come back to a step in zero time."""
        seen: set[int] = set()
        waiting = list(self.next_of(at))
        while waiting:
            step = waiting.pop()
            if step == at:
                return True
            if step not in seen:
                seen.add(step)
                waiting.extend(self.next_of(step))
        return False


def flow_of(rule: Rule) -> Flow:
    """The flow of a rule's body."""
    builder = _Builder(rule)
    entry = builder.body(rule.body, builder.add(End(None)))
    idle = Place(rule.name, IDLE, None, rule.span)
    places = (idle, *reversed(builder.places))
    return Flow(rule.name, tuple(builder.steps), entry, places, tuple(reversed(builder.dead)))


def always_ends(statement: Statement) -> bool:
    """Whether nothing behind a statement can be reached: each way through it ends the run."""
    match statement:
        case EndRun():
            return True
        case If(branches, otherwise):
            bodies = (*(branch.body for branch in branches), otherwise)
            return all(any(always_ends(inner) for inner in body) for body in bodies)
        case Repeat(body):
            return any(always_ends(inner) for inner in body)
        case _:
            return False


class _Builder:
    """Builds the steps of one body from its end to its beginning, so each knows what is next."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule.name
        self.steps: list[Step] = []
        self.places: list[Place] = []
        self.dead: list[Statement] = []
        self.number = sum(
            isinstance(statement, Wait | WaitUntil | Fade) for statement in statements_of(rule.body)
        )

    def add(self, step: Step) -> int:
        """The index of a step just added."""
        self.steps.append(step)
        return len(self.steps) - 1

    def body(self, body: tuple[Statement, ...], after: int) -> int:
        """The index at which a body begins that goes on at ``after``."""
        ends = [always_ends(statement) for statement in body]
        first_dead = ends.index(True) + 1 if True in ends else len(body)
        begin = after
        for position in range(len(body) - 1, -1, -1):
            begin = self._statement(body[position], begin)
            if position == first_dead:
                self.dead.append(body[position])
        return begin

    def _statement(self, statement: Statement, after: int) -> int:
        match statement:
            case Put() | Cancel():
                return self.add(Act(statement, after))
            case Wait() | WaitUntil() | Fade():
                number, self.number = self.number, self.number - 1
                self.places.append(Place(self.rule, number, statement, statement.span))
                return self.add(Rest(number, statement, after))
            case EndRun():
                return self.add(End(statement))
            case If(branches, otherwise):
                begin = self.body(otherwise, after)
                for branch in reversed(branches):
                    into = self.body(branch.body, after)
                    begin = self.add(Test(branch.condition, "if", into, begin, branch.span))
                return begin
            case Repeat(inner, until):
                test = self.add(Test(until, "until", after, after, statement.span))
                begin = self.body(inner, test)
                self.steps[test] = Test(until, "until", after, begin, statement.span)
                return begin
            case _:
                assert_never(statement)
