"""Mutants of the rules of a job: the slips of the pen that a test on site should notice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.model.job import (
    Branch,
    Cancel,
    If,
    Job,
    Not,
    Policy,
    Put,
    Repeat,
    Rule,
    Statement,
    Wait,
    WaitUntil,
    can_wait,
)


@dataclass(frozen=True, slots=True)
class Mutant:
    """A changed rule, and what was changed, in words."""

    words: str
    rule: Rule


def mutants_of(rule: Rule) -> Iterator[Mutant]:
    """Every mutant of a rule with one thing changed."""
    for n, trigger in enumerate(rule.triggers):
        rest = (*rule.triggers[:n], *rule.triggers[n + 1 :])
        yield Mutant(f"{rule.name}: trigger {n + 1} left out", replace(rule, triggers=rest))
        if trigger.guard is not None:
            for words, guard in (("left out", None), ("turned round", Not(trigger.guard))):
                lines = (*rule.triggers[:n], replace(trigger, guard=guard), *rule.triggers[n + 1 :])
                yield Mutant(
                    f"{rule.name}: guard of trigger {n + 1} {words}", replace(rule, triggers=lines)
                )
    if rule.provided is not None:
        yield Mutant(f"{rule.name}: provided left out", replace(rule, provided=None))
    if can_wait(rule):
        other = Policy(1, 0, not rule.policy.oldest_gives_way)
        yield Mutant(f"{rule.name}: the other policy", replace(rule, policy=other))
    for words, body in _bodies(rule.body):
        yield Mutant(f"{rule.name}: {words}", replace(rule, body=body))


def _bodies(body: tuple[Statement, ...]) -> Iterator[tuple[str, tuple[Statement, ...]]]:
    """A body with one statement changed or left out."""
    for n, statement in enumerate(body):
        before, after = body[:n], body[n + 1 :]
        for words, changed in _statements(statement):
            yield words, (*before, *changed, *after)


def _statements(statement: Statement) -> Iterator[tuple[str, tuple[Statement, ...]]]:
    match statement:
        case Put(point, value):
            yield f"{point} not set to {value}", ()
            yield f"{point} set otherwise than {value}", (replace(statement, value=_other(value)),)
        case Wait(for_s):
            yield f"wait of {for_s} s left out", ()
            for factor in (Fraction(1, 2), Fraction(3, 2)):
                yield (
                    f"wait of {for_s} s times {factor}",
                    (replace(statement, for_s=for_s * factor),),
                )
        case WaitUntil(_, at_most_s):
            yield "wait until left out", ()
            if at_most_s is not None:
                for factor in (Fraction(1, 2), Fraction(3, 2)):
                    limit = at_most_s * factor
                    yield f"limit times {factor}", (replace(statement, at_most_s=limit),)
        case Cancel(rule):
            yield f"cancel of {rule} left out", ()
        case If(branches, otherwise):
            for n, branch in enumerate(branches):
                turned = Branch(Not(branch.condition), branch.body, branch.span)
                changed = (*branches[:n], turned, *branches[n + 1 :])
                yield "condition turned round", (replace(statement, branches=changed),)
                for words, body in _bodies(branch.body):
                    inner = (*branches[:n], replace(branch, body=body), *branches[n + 1 :])
                    yield words, (replace(statement, branches=inner),)
            for words, body in _bodies(otherwise):
                yield words, (replace(statement, otherwise=body),)
        case Repeat(inner):
            for words, body in _bodies(inner):
                if any(isinstance(s, Wait | WaitUntil) for s in body):
                    yield words, (replace(statement, body=body),)
        case _:
            return


def _other(value: object) -> str | Fraction:
    if isinstance(value, Fraction):
        return Fraction(0) if value else Fraction(100)
    return {"on": "off", "off": "on", "yes": "no", "no": "yes"}[str(value)]


def mutated(job: Job, mutant: Mutant) -> Job:
    """The job with the mutant in its place."""
    rules = tuple(mutant.rule if r.name == mutant.rule.name else r for r in job.rules)
    return replace(job, rules=rules)
