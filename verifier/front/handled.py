"""What became of triggers that found their rule already running: no point shows it.

A run of the job shows what is settled, and a rule that was running and still is looks the same
whether its trigger was dropped or its run began anew. What it did follows from its policy.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from verifier.graph.access import event_name
from verifier.model.job import (
    Cancel,
    Fade,
    FaultKind,
    Job,
    Rule,
    Trigger,
    Wait,
    WaitUntil,
    statements_of,
)
from verifier.simulate.run import Step
from verifier.source import Span

Outcome = Literal["dropped: already running", "run started again"]


@dataclass(frozen=True, slots=True)
class Handled:
    """A rule that was triggered while it was running, and what its policy made of that."""

    rule: str
    outcome: Outcome

    @property
    def words(self) -> str:
        """As the table of a run says it."""
        if self.outcome == "run started again":
            return f"{self.rule}: {self.outcome}"
        return f"trigger of {self.rule} {self.outcome}"


def handled_in(
    job: Job, start: Iterable[tuple[str, str]], steps: Iterable[Step]
) -> tuple[tuple[Handled, ...], ...]:
    """For each step what became of the triggers that found their rule running, in declared order.

    Only what is certain: nothing of rules whose triggers can wait, or of several runs of which
    the oldest gives way; nothing where the run may have ended in the same step (it went on from
    a rest, another rule can cancel it, the power failed).
    """
    values = dict(start)
    found = []
    for step in steps:
        changed = dict(step.changes)
        told = []
        for rule in job.rules:
            before = values.get(rule.name, "idle")
            outcome = _outcome(job, rule, before, step)
            if outcome is not None and rule.name not in changed:
                told.append(Handled(rule.name, outcome))
        values.update(changed)
        found.append(tuple(told))
    return tuple(found)


def _outcome(job: Job, rule: Rule, before: str, step: Step) -> Outcome | None:
    policy = rule.policy
    full = "running" if policy.at_once == 1 else f"{policy.at_once} running"
    if before != full or policy.waiting:
        return None
    if not any(_triggered(job, rule, trigger, step) for trigger in rule.triggers):
        return None
    if job.considers(FaultKind.POWER_CUTS) and step.what.startswith("power "):
        return None
    rests = (s for s in statements_of(rule.body) if isinstance(s, Wait | WaitUntil | Fade))
    if any(rest.span in step.because for rest in rests):
        return None
    for other in job.rules:
        cancels = any(
            isinstance(s, Cancel) and s.rule == rule.name for s in statements_of(other.body)
        )
        acted = any(span in step.because for span in _places(other))
        if cancels and acted:
            return None
    if not policy.oldest_gives_way:
        return "dropped: already running"
    return "run started again" if policy.at_once == 1 else None


def _triggered(job: Job, rule: Rule, trigger: Trigger, step: Step) -> bool:
    """Whether a line of this very rule was handled: rules of one typical share their places."""
    if trigger.span not in step.because:
        return False
    name = event_name(trigger.event)
    others = [
        event_name(line.event)
        for other in job.rules
        for line in other.triggers
        if other.name != rule.name and line.span == trigger.span
    ]
    if not others:
        return True
    return name not in others and name in (*step.what.split(), *dict(step.changes))


def _places(rule: Rule) -> tuple[Span, ...]:
    return (*(t.span for t in rule.triggers), *(s.span for s in statements_of(rule.body)))
