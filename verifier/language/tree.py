"""The syntax tree: frozen nodes that mirror the grammar, as written, nothing resolved.

Names are not looked up and figures not typed here. Every node has a ``span`` that takes no
part in comparing, so that two texts with the same tree compare equal.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from verifier.source import NOWHERE, Span

# ---------------------------------------------------------------- leaves


@dataclass(frozen=True, slots=True)
class Name:
    """A name or a word that stands for a value."""

    text: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Label:
    """A label, without its quotation marks."""

    text: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as written, blanks made even: ``1 min 30 s``, ``60 %``, ``22:30``, ``2 x 20 W``, ``3``."""

    text: str
    span: Span = field(default=NOWHERE, compare=False)


Amount = Name | Figure
"""A figure, or the name of a setting (or, as a value, a word)."""


# ---------------------------------------------------------------- conditions


@dataclass(frozen=True, slots=True)
class Is:
    """``SUBJECT is VALUE`` (``RULE is running`` too)."""

    subject: Name
    value: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Compare:
    """``DIMMER above | below | at least | at most LEVEL``."""

    subject: Name
    comparison: Literal["above", "below", "at least", "at most"]
    amount: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Stayed:
    """``POINT has stayed VALUE for DURATION``, as a condition or an event."""

    subject: Name
    value: Amount
    duration: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Sun:
    """``night`` or ``day``."""

    phase: Literal["night", "day"]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Between:
    """``between CLOCK and CLOCK [on DAYS]``; no days: every day."""

    begin: Amount
    end: Amount
    days: tuple[Name, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class TimedOut:
    """``timed out``."""

    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Not:
    """``not C``."""

    item: Condition
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class And:
    """``A and B and …``."""

    items: tuple[Condition, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Or:
    """``A or B or …``."""

    items: tuple[Condition, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Implies:
    """``A implies B``."""

    left: Condition
    right: Condition
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Group:
    """``( C )``: kept, as it says how the author reads it."""

    item: Condition
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class OfEach:
    """``all of PARAMETER is VALUE``, ``any of …``: in a standard requirement, of each thing given."""

    quantifier: Literal["all of", "any of"]
    item: Is | Compare | Stayed
    span: Span = field(default=NOWHERE, compare=False)


Condition = (
    Is | Compare | Stayed | Sun | Between | TimedOut | Not | And | Or | Implies | Group | OfEach
)


# ---------------------------------------------------------------- events


@dataclass(frozen=True, slots=True)
class Becomes:
    """``SUBJECT becomes VALUE``."""

    subject: Name
    value: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class NamedEvent:
    """``NAME changes | pressed | starts | ends``."""

    subject: Name
    word: Literal["changes", "pressed", "starts", "ends"]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class WorldEvent:
    """``night begins``, ``day begins`` or ``power returns``."""

    words: Literal["night begins", "day begins", "power returns"]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class AtClock:
    """``at CLOCK [on DAYS]``; no days: every day."""

    time: Amount
    days: tuple[Name, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class AnyEvent:
    """``any of PARAMETER becomes VALUE``: in a standard requirement, of whichever thing given."""

    item: Becomes | NamedEvent | Stayed
    span: Span = field(default=NOWHERE, compare=False)


Event = Becomes | NamedEvent | Stayed | WorldEvent | AtClock | AnyEvent


# ---------------------------------------------------------------- statements


@dataclass(frozen=True, slots=True)
class Put:
    """``POINT VALUE``."""

    point: Name
    value: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Fade:
    """``fade DIMMER to LEVEL over DURATION``."""

    dimmer: Name
    level: Amount
    over: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Wait:
    """``wait DURATION``."""

    duration: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class WaitUntil:
    """``wait until C[, at most DURATION]``."""

    condition: Condition
    at_most: Amount | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Arm:
    """One ``if`` or ``elsif`` with its body."""

    condition: Condition
    body: tuple[Statement, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class If:
    """``if … elsif … else … end if``; ``otherwise`` is None where no ``else`` is written."""

    arms: tuple[Arm, ...]
    otherwise: tuple[Statement, ...] | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Repeat:
    """``repeat … until C end repeat``."""

    body: tuple[Statement, ...]
    until: Condition
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Cancel:
    """``cancel RULE``."""

    rule: Name
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class EndRun:
    """``end run``."""

    span: Span = field(default=NOWHERE, compare=False)


Statement = Put | Fade | Wait | WaitUntil | If | Repeat | Cancel | EndRun


# ---------------------------------------------------------------- declarations


@dataclass(frozen=True, slots=True)
class Clause:
    """A line of a site, door or room, or an option of a point: words and what stands in them.

    ``words`` are the clause's own (``"still at most"``, ``"on power return"``, ``"power"`` for a
    bare figure).
    """

    words: str
    operands: tuple[Name | Figure | Label, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Site:
    """``site … end site``."""

    label: Label
    clauses: tuple[Clause, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Setting:
    """``setting NAME FIGURE``."""

    name: Name
    figure: Figure
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Point:
    """One point and its options."""

    kind: str
    name: Name
    label: Label | None
    clauses: tuple[Clause, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Door:
    """``door … end door``."""

    name: Name
    label: Label | None
    clauses: tuple[Clause, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Room:
    """``room … end room``."""

    name: Name
    label: Label | None
    clauses: tuple[Clause, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Policy:
    """What a trigger does while the rule runs, as written.

    ``word`` is ``retriggerable``, ``non-retriggerable`` or ``at once``; the figures belong to the last.
    """

    word: Literal["retriggerable", "non-retriggerable", "at once"]
    at_once: Figure | None
    waiting: Figure | None
    oldest_gives_way: bool
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Upon:
    """``upon EVENT [provided C]``."""

    event: Event
    guard: Condition | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Provided:
    """``provided C`` on a line of its own."""

    condition: Condition
    span: Span = field(default=NOWHERE, compare=False)


HeadLine = Policy | Upon | Provided


@dataclass(frozen=True, slots=True)
class Rule:
    """``rule … do … end rule``; the lines of its head in the order in which they are written."""

    name: Name
    label: Label | None
    head: tuple[HeadLine, ...]
    body: tuple[Statement, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class AssumeCondition:
    """``assume always C`` or ``assume never C``."""

    word: Literal["always", "never"]
    condition: Condition
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class AssumeStays:
    """``assume SUBJECT stays VALUE at least | at most DURATION``."""

    subject: Name
    value: Amount
    bound: Literal["at least", "at most"]
    duration: Amount
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Fault:
    """``consider …``; ``words`` as the contract names the fault."""

    words: Literal[
        "power cuts", "lost reports", "bounce", "stuck", "broken wire", "both limits reached"
    ]
    subject: Name | None
    within: Amount | None
    span: Span = field(default=NOWHERE, compare=False)


# ---------------------------------------------------------------- requirements


@dataclass(frozen=True, slots=True)
class Form:
    """A requirement form: which, and what fills it, in the order of the words.

    Shape: ``events`` and ``condition`` as the form takes them; ``amount`` its duration;
    ``count`` the N of ``at most N times``; ``rule`` the R of ``every trigger of R``.
    """

    kind: FormKind
    events: tuple[Event, ...]
    condition: Condition | None
    amount: Amount | None
    count: Figure | None
    rule: Name | None
    span: Span = field(default=NOWHERE, compare=False)


FormKind = Literal[
    "always",
    "never",
    "when_within",
    "when_for",
    "after_last",
    "before",
    "no_longer",
    "no_shorter",
    "at_most_times",
    "leads_to",
    "possible",
    "measure",
]


@dataclass(frozen=True, slots=True)
class ScopedForm:
    """``[while C:] FORM [allowing D]``."""

    scope: Condition | None
    form: Form
    allowing: Amount | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Requirement:
    """``require … end require``."""

    name: Name
    label: Label | None
    scoped: ScopedForm
    span: Span = field(default=NOWHERE, compare=False)


# ---------------------------------------------------------------- standard requirements


@dataclass(frozen=True, slots=True)
class Argument:
    """``PARAMETER GIVEN and GIVEN …`` after the ``with`` of a claim."""

    parameter: Name
    given: tuple[Amount, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Claim:
    """``require NAME as STANDARD [with …]``: a standard requirement taken into the job."""

    name: Name
    label: Label | None
    standard: Name
    arguments: tuple[Argument, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class ModelledOn:
    """``modelled on "CLAUSE" edition "…" READ``; ``read`` says how the clause was read."""

    clause: Label
    edition: Label | None
    read: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Remark:
    """``applies to "…"`` or ``caution "…"``."""

    words: Literal["applies to", "caution"]
    text: Label
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Usual:
    """The figure that a parameter has if none is given; by its words also how far it may go."""

    words: Literal["at most", "at least", "usually"]
    figure: Figure
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Takes:
    """``takes [several] NAME KINDS [at most | at least | usually FIGURE] ["…"]``: one parameter."""

    several: bool
    name: Name
    kinds: tuple[Name, ...]
    usual: Usual | None
    label: Label | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Needs:
    """``needs FAULT``: what a job has to consider, else the requirement says nothing new."""

    fault: Fault
    span: Span = field(default=NOWHERE, compare=False)


StandardLine = ModelledOn | Remark | Takes | Needs


@dataclass(frozen=True, slots=True)
class Standard:
    """``standard … end standard``: a requirement with parameters, and where it comes from."""

    name: Name
    label: Label | None
    lines: tuple[StandardLine, ...]
    scoped: ScopedForm
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def parameters(self) -> tuple[Takes, ...]:
        """Its parameters, in order."""
        return tuple(line for line in self.lines if isinstance(line, Takes))

    @property
    def sources(self) -> tuple[ModelledOn, ...]:
        """What it is modelled on."""
        return tuple(line for line in self.lines if isinstance(line, ModelledOn))

    @property
    def needs(self) -> tuple[Fault, ...]:
        """The faults that a job has to consider."""
        return tuple(line.fault for line in self.lines if isinstance(line, Needs))

    def remarks(self, words: Literal["applies to", "caution"]) -> tuple[str, ...]:
        """The texts of its remarks of one kind."""
        remarks = (line for line in self.lines if isinstance(line, Remark))
        return tuple(line.text.text for line in remarks if line.words == words)


# ---------------------------------------------------------------- usage


@dataclass(frozen=True, slots=True)
class Often:
    """``N times a day | once a day [between CLOCK and CLOCK] [on DAYS]``; ``once`` is the figure 1."""

    times: Figure
    begin: Amount | None
    end: Amount | None
    days: tuple[Name, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Use:
    """``BUTTON pressed OFTEN`` (no value) or ``THING becomes VALUE for DURATION OFTEN``."""

    subject: Name
    value: Amount | None
    lasts: Amount | None
    often: Often
    source: Label | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class NightHours:
    """``night between CLOCK and CLOCK``: for a job without a sun of its own."""

    begin: Amount
    end: Amount
    source: Label | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Price:
    """``a kWh costs NUMBER CURRENCY``."""

    figure: Figure
    currency: Name
    source: Label | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Standby:
    """``LAMP draws POWER when off``."""

    point: Name
    power: Amount
    source: Label | None
    span: Span = field(default=NOWHERE, compare=False)


UsageLine = Use | NightHours | Price | Standby


@dataclass(frozen=True, slots=True)
class Usage:
    """``usage … end usage``: how the house is used, for sums of energy; no verdict reads it."""

    label: Label | None
    lines: tuple[UsageLine, ...]
    span: Span = field(default=NOWHERE, compare=False)


# ---------------------------------------------------------------- typicals, the whole


@dataclass(frozen=True, slots=True)
class Typical:
    """``typical … end typical``."""

    name: Name
    label: Label | None
    declarations: tuple[Declaration, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Override:
    """``SETTING FIGURE`` after ``with``."""

    setting: Name
    figure: Figure
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Apply:
    """``apply TYPICAL to NAMES [with …]``."""

    typical: Name
    names: tuple[Name, ...]
    overrides: tuple[Override, ...]
    span: Span = field(default=NOWHERE, compare=False)


Declaration = (
    Site
    | Setting
    | Point
    | Door
    | Room
    | Rule
    | AssumeCondition
    | AssumeStays
    | Fault
    | Requirement
    | Claim
    | Standard
    | Usage
    | Typical
    | Apply
)


@dataclass(frozen=True, slots=True)
class File:
    """All declarations of one file, in order."""

    declarations: tuple[Declaration, ...]
    span: Span = field(default=NOWHERE, compare=False)
