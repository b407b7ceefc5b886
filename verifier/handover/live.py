"""Which rules a stated usage ever sets off, and which of their conditions it leaves no choice."""

from __future__ import annotations

from verifier.handover.simulated import resting
from verifier.model.job import (
    And,
    AtClock,
    Becomes,
    Cancel,
    Changes,
    Condition,
    DayBegins,
    Event,
    Fade,
    HasStayed,
    Implies,
    Is,
    Job,
    NightBegins,
    Not,
    Or,
    PowerReturns,
    Pressed,
    Put,
    Rule,
    RuleEnds,
    RuleStarts,
    Running,
    Trigger,
    statements_of,
)

Folded = Condition | bool
"""A condition with what is always so taken out; True or False where nothing is left."""


class Live:
    """The rules that the usage of a job can set off; ``rules`` in declared order.

    A rule is dead if nothing that triggers it ever happens: an input that no line of the usage moves,
    power cuts, the end of a dead rule, or a guard that asks for what is never so.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.rest = resting(job)
        uses = () if job.usage is None else job.usage.uses
        self.used = {use.subject for use in uses}
        self.names: set[str] = set()
        while True:
            more = {
                rule.name
                for rule in job.rules
                if any(self.guard(rule, trigger) is not False for trigger in self.triggers(rule))
            }
            if more <= self.names:
                break
            self.names |= more
        self.rules = tuple(rule for rule in job.rules if rule.name in self.names)

    def triggers(self, rule: Rule) -> list[Trigger]:
        """Those triggers of a rule that can happen."""
        return [trigger for trigger in rule.triggers if self._happens(trigger.event)]

    def guard(self, rule: Rule, trigger: Trigger) -> Folded:
        """What a trigger asks, with what is always so taken out."""
        asked = [c for c in (rule.provided, trigger.guard) if c is not None]
        return self.folded(And(tuple(asked))) if asked else True

    def writers(self, point: str) -> list[Rule]:
        """The live rules that set a point."""
        return [
            rule
            for rule in self.job.rules
            if rule.name in self.names and any(_writes(s, point) for s in statements_of(rule.body))
        ]

    def cancelled(self, name: str) -> bool:
        """Whether a live rule cancels a rule."""
        return any(
            isinstance(s, Cancel) and s.rule == name
            for rule in self.job.rules
            if rule.name in self.names
            for s in statements_of(rule.body)
        )

    def _happens(self, event: Event) -> bool:
        match event:
            case Becomes(atom):
                return self._moves(atom.subject)
            case Changes(subject):
                return self._moves(subject)
            case Pressed(button):
                return button in self.used
            case PowerReturns():
                return False
            case RuleStarts(rule) | RuleEnds(rule):
                return rule in self.names
            case HasStayed() | NightBegins() | DayBegins() | AtClock():
                return True

    def _moves(self, subject: str) -> bool:
        """Whether a point is ever other than it is at the start."""
        door = self.job.door_of_point.get(subject)
        if door is not None:
            return door.name in self.used
        point = self.job.point.get(subject)
        if point is None or point.kind.is_input:
            return subject in self.used
        return bool(self.writers(subject))

    def folded(self, condition: Condition) -> Folded:
        """A condition with what is always so, or never, taken out."""
        match condition:
            case Is(subject, value) if not self._moves(subject):
                stays = self._stays(subject)
                return condition if stays is None else stays == value
            case Running(rule) if rule not in self.names:
                return False
            case Not(item):
                inner = self.folded(item)
                return not inner if isinstance(inner, bool) else Not(inner)
            case And(items):
                return _joined([self.folded(item) for item in items], every=True)
            case Or(items):
                return _joined([self.folded(item) for item in items], every=False)
            case Implies(left, right):
                return self.folded(Or((Not(left), right)))
            case _:
                return condition

    def _stays(self, subject: str) -> str | None:
        """The value that a point has all the time, which nothing moves; None if that is not told."""
        if subject in self.rest:
            return self.rest[subject]
        point = self.job.point.get(subject)
        if point is None or not point.kind.values or not isinstance(point.starts, str | None):
            return None
        return point.starts or (point.kind.values[0] if not point.kind.is_input else None)


def _writes(statement: object, point: str) -> bool:
    match statement:
        case Put(name) | Fade(name):
            return name == point
        case _:
            return False


def _joined(items: list[Folded], *, every: bool) -> Folded:
    """Several conditions joined by `and` (``every``) or `or`."""
    if any(item is (not every) for item in items):
        return not every
    left = tuple(item for item in items if not isinstance(item, bool))
    if not left:
        return every
    if len(left) == 1:
        return left[0]
    return And(left) if every else Or(left)
