"""Rules as straight code: each body a list of instructions, each wait in it a place to rest at."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

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
    TimedOut,
    Value,
    Wait,
    WaitUntil,
    atoms_and_leaves,
    read_by_rule,
)
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class SetPoint:
    """Set a point."""

    point: str
    value: Value


@dataclass(frozen=True, slots=True)
class Rest:
    """Rest at a place for a time (``for_s``), then go on."""

    place: int


@dataclass(frozen=True, slots=True)
class BeginFade:
    """Begin the fade of the place and rest there until it ends."""

    place: int


@dataclass(frozen=True, slots=True)
class RestUntil:
    """Go on if the place's condition is true, else rest there."""

    place: int


@dataclass(frozen=True, slots=True)
class JumpUnless:
    """Go to ``target`` unless the condition is true."""

    condition: Condition
    target: int


@dataclass(frozen=True, slots=True)
class Jump:
    """Go to ``target``."""

    target: int


@dataclass(frozen=True, slots=True)
class CancelRule:
    """Cancel a rule by name."""

    rule: str


@dataclass(frozen=True, slots=True)
class Finish:
    """The run ends."""


Instruction = SetPoint | Rest | BeginFade | RestUntil | JumpUnless | Jump | CancelRule | Finish


@dataclass(frozen=True, slots=True)
class Place:
    """A wait in a body: where a run rests, and where it goes on (``next``)."""

    number: int
    for_s: Fraction | None
    until: Condition | None
    next: int
    span: Span
    fade: tuple[str, Fraction] | None = None
    """The dimmer that is faded meanwhile, and to which level."""


@dataclass(frozen=True, slots=True)
class Code:
    """A rule's body, linear; a run begins at instruction 0."""

    instructions: tuple[Instruction, ...]
    places: tuple[Place, ...]
    asks_timed_out: bool


class _Writer:
    def __init__(self) -> None:
        self.instructions: list[Instruction] = []
        self.places: list[Place] = []

    def body(self, statements: tuple[Statement, ...]) -> None:
        for statement in statements:
            self.statement(statement)

    def statement(self, statement: Statement) -> None:
        out = self.instructions
        match statement:
            case Put(point, value):
                out.append(SetPoint(point, value))
            case Wait(for_s, span):
                out.append(Rest(len(self.places)))
                self.places.append(Place(len(self.places), for_s, None, len(out), span))
            case WaitUntil(condition, at_most_s, span):
                out.append(RestUntil(len(self.places)))
                self.places.append(Place(len(self.places), at_most_s, condition, len(out), span))
            case If(branches, otherwise):
                ends: list[int] = []
                for branch in branches:
                    test = len(out)
                    out.append(JumpUnless(branch.condition, -1))
                    self.body(branch.body)
                    ends.append(len(out))
                    out.append(Jump(-1))
                    out[test] = JumpUnless(branch.condition, len(out))
                self.body(otherwise)
                for end in ends:
                    out[end] = Jump(len(out))
            case Repeat(body, until):
                start = len(out)
                self.body(body)
                out.append(JumpUnless(until, start))
            case Cancel(rule):
                out.append(CancelRule(rule))
            case EndRun():
                out.append(Finish())
            case Fade(dimmer, percent, over_s, span):
                number = len(self.places)
                out.append(BeginFade(number))
                fade = (dimmer, percent)
                self.places.append(Place(number, over_s, None, len(out), span, fade))


def code_of(rule: Rule) -> Code:
    """The code of a rule's body."""
    writer = _Writer()
    writer.body(rule.body)
    writer.instructions.append(Finish())
    conditions, _ = read_by_rule(rule)
    asks = any(isinstance(leaf, TimedOut) for c in conditions for leaf in atoms_and_leaves(c))
    return Code(tuple(writer.instructions), tuple(writer.places), asks)
