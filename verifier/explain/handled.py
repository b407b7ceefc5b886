"""What became of triggers that found their rule already running: no point shows it.

A run of the job shows what is settled, and a rule that was running and still is looks the same
whether its trigger was dropped or its run began anew. What it did follows from its policy.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from verifier.graph.access import event_name
from verifier.graph.recent import Recent
from verifier.model.job import (
    Cancel,
    Fade,
    FaultKind,
    Job,
    Rule,
    Wait,
    WaitUntil,
    statements_of,
)
from verifier.simulate.run import Step
from verifier.source import Span

Outcome = Literal[
    "dropped: already running",
    "dropped: all places taken",
    "waits its turn",
    "run started again",
    "oldest run gave way",
]


@dataclass(frozen=True, slots=True)
class Handled:
    """A rule that was triggered while it was running, and what its policy made of that."""

    rule: str
    outcome: Outcome

    @property
    def words(self) -> str:
        """As the table of a run says it."""
        if self.outcome in ("run started again", "oldest run gave way"):
            return f"{self.rule}: {self.outcome}"
        return f"trigger of {self.rule} {self.outcome}"


@dataclass(frozen=True, slots=True)
class _Places:
    """How many runs a rule has, and how many triggers wait."""

    runs: int
    waiting: int

    @classmethod
    def of(cls, value: str) -> _Places:
        """From the value that a run shows: ``idle``, ``running``, ``2 running, 1 waiting``."""
        runs = waiting = 0
        for part in value.split(", "):
            count, _, what = part.rpartition(" ")
            if what == "running":
                runs = int(count or 1)
            elif what == "waiting":
                waiting = int(count)
        return cls(runs, waiting)


class _Lines:
    """The rules of a job by their ``upon`` lines, and by whom they cancel."""

    def __init__(self, job: Job) -> None:
        self.number = {rule.name: k for k, rule in enumerate(job.rules)}
        self.with_line: dict[Span, dict[str, list[Rule]]] = {}
        """The rules that have a line, by what its event speaks of: those of one typical share it."""
        self.cancelling: dict[str, list[Rule]] = {}
        for rule in job.rules:
            for trigger in rule.triggers:
                by_name = self.with_line.setdefault(trigger.span, {})
                by_name.setdefault(event_name(trigger.event), []).append(rule)
            cancelled = (s.rule for s in statements_of(rule.body) if isinstance(s, Cancel))
            for name in dict.fromkeys(cancelled):
                self.cancelling.setdefault(name, []).append(rule)

    def triggered_by(self, step: Step) -> list[Rule]:
        """The rules of which a line was handled in a step for certain, in declared order."""
        told = {*step.what.split(), *dict(step.changes)}
        found: dict[str, Rule] = {}
        for span in step.because:
            by_name = self.with_line.get(span, {})
            # Of rules that share their line the one of whose event something is told.
            names = by_name if len(by_name) == 1 else told & by_name.keys()
            for rules in (by_name[name] for name in names):
                if len(rules) == 1:
                    found[rules[0].name] = rules[0]
        return sorted(found.values(), key=lambda rule: self.number[rule.name])


_lines = Recent(_Lines)


def handled_in(
    job: Job, start: Iterable[tuple[str, str]], steps: Iterable[Step]
) -> tuple[tuple[Handled, ...], ...]:
    """For each step what became of the triggers that found their rule running, in declared order.

    Only what is certain: nothing where the run may have ended in the same step (it went on from a
    rest, another rule can cancel it, the power failed), but for a trigger that waits afterwards.
    """
    lines = _lines.of(job)
    values = dict(start)
    found = []
    for step in steps:
        changed = dict(step.changes)
        told = []
        for rule in lines.triggered_by(step):
            old = values.get(rule.name, "idle")
            outcome = _outcome(
                job, rule, _Places.of(old), _Places.of(changed.get(rule.name, old)), step
            )
            if outcome is not None:
                told.append(Handled(rule.name, outcome))
        values.update(changed)
        found.append(tuple(told))
    return tuple(found)


def _outcome(job: Job, rule: Rule, before: _Places, after: _Places, step: Step) -> Outcome | None:
    policy = rule.policy
    if after.waiting > before.waiting:
        return "waits its turn"
    if before != _Places(policy.at_once, policy.waiting) or after.runs != before.runs:
        return None
    if _may_have_ended(job, rule, step):
        return None
    if policy.oldest_gives_way:
        alone = (policy.at_once, policy.waiting) == (1, 0)
        return "run started again" if alone else "oldest run gave way"
    return "dropped: all places taken" if policy.waiting else "dropped: already running"


def _may_have_ended(job: Job, rule: Rule, step: Step) -> bool:
    """Whether a run of the rule may have ended in a step, for all that the step shows."""
    if job.considers(FaultKind.POWER_CUTS) and step.what.startswith("power "):
        return True
    rests = (s for s in statements_of(rule.body) if isinstance(s, Wait | WaitUntil | Fade))
    if any(rest.span in step.because for rest in rests):
        return True
    return any(
        span in step.because
        for other in _lines.of(job).cancelling.get(rule.name, ())
        for span in _places(other)
    )


def _places(rule: Rule) -> tuple[Span, ...]:
    return (*(t.span for t in rule.triggers), *(s.span for s in statements_of(rule.body)))
