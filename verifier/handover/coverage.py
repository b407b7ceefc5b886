"""Which lines of the rules each requirement rests on, and which none of them does.

A requirement is judged on its slice: the part of the job that can matter to it. A line that is in
no slice could say anything, and every verdict would be the same.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement, Rule, statements_of
from verifier.model.words import trigger_words
from verifier.model.words import words as in_words
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Line:
    """A trigger or statement of a rule, and the requirements whose verdict rests on it."""

    rule: str
    span: Span
    words: str
    requirements: tuple[str, ...]


def coverage_of(job: Job, requirements: tuple[Requirement, ...]) -> tuple[Line, ...]:
    """Every line of every rule, in declared order."""
    resting: dict[tuple[str, Span], list[str]] = {}
    for requirement in requirements:
        for rule in slice_job(job, requirement).rules:
            for span, _ in _lines(rule):
                resting.setdefault((rule.name, span), []).append(requirement.name)
    return tuple(
        Line(rule.name, span, words, tuple(dict.fromkeys(resting.get((rule.name, span), ()))))
        for rule in job.rules
        for span, words in _lines(rule)
    )


def _lines(rule: Rule) -> list[tuple[Span, str]]:
    found = [(trigger.span, trigger_words(trigger)) for trigger in rule.triggers]
    found.extend((s.span, in_words(s)) for s in statements_of(rule.body))
    return found
