"""What a proof is asked about the structure of the rules, beside the requirements.

The graph tells what is impossible by structure; what it leaves open is asked here, in the workers
and last: does each rule ever fire, is what is turned on ever turned off, which conditions are
ever true or false. Without an answer in time nothing is told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Any, Literal

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model.job import (
    AtMostTimes,
    Atom,
    Becomes,
    Event,
    Is,
    Job,
    Level,
    PointKind,
    Put,
    Requirement,
    RuleStarts,
    statements_of,
)
from verifier.source import Span

DOUBT_WORK = 800_000
"""Cells of zones for each question: about a second, and the same on a busy machine."""

DOUBT_S = 30.0
"""Seconds after which a worker is ended all the same."""

STRUCTURE_S = 60.0
"""Seconds for all that are still open when every requirement has its verdict."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that ought to be possible to ``name``, and what is told if it is proved not to be."""

    name: str
    requirement: Requirement
    finding: Diagnostic


def doubts(job: Job) -> tuple[Doubt, ...]:
    """What a proof can say of the rules' structure that the graph alone cannot.

    "At most 0 times" fails at the first occurrence; where it holds there is none.
    """
    found = [
        Doubt(
            rule.name,
            _never(RuleStarts(rule.name), rule.span),
            Diagnostic(
                "rule-never-fires",
                Severity.WARNING,
                f"rule {rule.name} never fires in any run: no trigger ever finds its guard true",
                (Label(rule.span),),
                "Look at what would have to be true together, and at what is assumed.",
            ),
        )
        for rule in job.rules
    ]
    puts_of: dict[str, list[Put]] = {}
    for rule in job.rules:
        for statement in statements_of(rule.body):
            if isinstance(statement, Put):
                puts_of.setdefault(statement.point, []).append(statement)
    for point in job.points:
        puts = puts_of.get(point.name, [])
        on = [s for s in puts if s.value not in ("off", 0)]
        if not point.kind.is_output or not on or len(on) == len(puts):
            continue
        off: Atom = (
            Level(point.name, "at most", Fraction(0))
            if point.kind is PointKind.DIMMER
            else Is(point.name, "off")
        )
        found.append(
            Doubt(
                point.name,
                _never(Becomes(off), on[0].span),
                Diagnostic(
                    "never-turned-off",
                    Severity.WARNING,
                    f"no run ever turns {point.name} off, though a rule has the `off`",
                    (Label(on[0].span, "turned on here"),),
                    "Look at why its `off` is never reached.",
                ),
            )
        )
    return tuple(found)


def _never(event: Event, span: Span) -> Requirement:
    form = AtMostTimes(0, Fraction(1), (event,))
    return Requirement("doubt", "", None, form, Fraction(0), span)


def doubt_task(job: Job, requirement: Requirement, most_work: int) -> bool:
    """Whether it is certain that an event never occurs."""
    from verifier.proof.engines import Holds, by_zones
    from verifier.proof.moves import TooLarge
    from verifier.proof.question import Budget, EndlessChainFound, Question

    budget = Budget(DOUBT_S, most_work=most_work)
    try:
        question = Question(job, requirement, budget)
        return isinstance(by_zones(question, question.pinned(), budget), Holds)
    except (TooLarge, EndlessChainFound):
        return False


@dataclass(frozen=True, slots=True)
class StructureQuestion:
    """A question about the rules' structure: what is asked, and what its answer tells.

    ``requirement`` has in its slice what the answer depends on; ``extra`` is what else is asked.
    """

    kind: Literal["doubt", "reads"]
    name: str
    """The rule or point that it is about."""
    requirement: Requirement
    told: Callable[[Any], tuple[Diagnostic, ...]]
    extra: Any = None


def structure_questions(job: Job) -> tuple[StructureQuestion, ...]:
    """What is asked of the rules' structure by proof, in declared order."""
    from verifier.graph.slice import about_rule
    from verifier.proof.reads import asked_of, read_findings

    def if_never(doubt: Doubt, never: bool) -> tuple[Diagnostic, ...]:
        return (doubt.finding,) if never else ()

    return (
        *(
            StructureQuestion("doubt", doubt.name, doubt.requirement, partial(if_never, doubt))
            for doubt in doubts(job)
        ),
        *(
            StructureQuestion(
                "reads",
                rule,
                about_rule(job, rule),
                partial(read_findings, job, conditions),
                conditions,
            )
            for rule, conditions in asked_of(job).items()
        ),
    )
