"""How long an answer is likely to take, by the looks of what is asked: to put the quick ones first.

A guess, from what costs most as a rule: how much the rules of a slice say, how many runs of a rule
there can be at once, and what the requirement has to count. Nothing hangs on it but the order of
work. Where it is far out, the rounds of :mod:`verifier.proof.turns` put it right.
"""

from __future__ import annotations

from collections.abc import Iterable

from verifier.model.job import (
    AtMostTimes,
    Form,
    Job,
    LeadsTo,
    MeasureLongest,
    Possible,
    Rule,
    statements_of,
)


class Weights:
    """The weights of what is asked of a job; those of its rules are made once."""

    def __init__(self, job: Job) -> None:
        self._rules = job.rule
        self._known: dict[str, int] = {}

    def of(self, form: Form, names: Iterable[str]) -> int:
        """The weight of a requirement whose slice has these names: a number without a unit."""
        inside = sum(self._rule(name) for name in names)
        return inside * _of_form(form)

    def _rule(self, name: str) -> int:
        """The weight of a rule; 1 of any other name."""
        found = self._known.get(name)
        if found is None:
            rule = self._rules.get(name)
            found = self._known[name] = 1 if rule is None else _of_rule(rule)
        return found


def _of_rule(rule: Rule) -> int:
    """What a rule says, once for each run that there can be of it or that can wait its turn."""
    said = 1 + len(rule.triggers) + sum(1 for _ in statements_of(rule.body))
    return said * (rule.policy.at_once + rule.policy.waiting)


def _of_form(form: Form) -> int:
    """What a form multiplies the work by, as was measured (two for nearly all, from 20 to 80 ms)."""
    match form:
        case Possible():
            return 1
        case LeadsTo() | MeasureLongest():
            return 4
        case AtMostTimes(times):
            return 2 * (times + 1)
        case _:
            return 2
