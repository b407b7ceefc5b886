"""Which single rule has to do with a failing case: relaxed, or left out, the case would go well.

Each is tried on the interpreter: the case is played on the job with that one thing changed, and
has to keep the requirement in every order. That a case goes well so is no proof that the changed
job keeps the requirement in every other case.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from verifier.explain.playback import Case, Played, play
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Policy, Requirement, Rule, can_wait
from verifier.model.words import policy_words
from verifier.model.words import words as in_words
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Blame:
    """A rule, its place, and with what change of it the case goes well, in words."""

    rule: str
    span: Span
    words: str


def blamed(job: Job, requirement: Requirement, case: Case) -> tuple[Blame, ...]:
    """The rules of which one single change lets the case go well; in declared order."""
    inside = {rule.name for rule in slice_job(job, requirement).rules}
    found: list[Blame] = []
    for rule in job.rules:
        if rule.name in inside:
            found.extend(
                blame
                for blame, changed in _changes(rule)
                if goes_well(with_rule(job, changed), requirement, case)
            )
    return tuple(found)


def with_rule(job: Job, changed: Rule) -> Job:
    """The job with one of its rules replaced by a rule of the same name."""
    rules = tuple(changed if rule.name == changed.name else rule for rule in job.rules)
    return replace(job, rules=rules)


def goes_well(job: Job, requirement: Requirement, case: Case) -> bool:
    """Whether a case keeps the requirement, in every order."""
    played = play(job, requirement, case, "fails")
    return isinstance(played, Played) and played.keeps


def _changes(rule: Rule) -> list[tuple[Blame, Rule]]:
    """A rule relaxed in each way, and left out (a rule without triggers never runs)."""
    name = rule.name
    found: list[tuple[Blame, Rule]] = []
    for number, trigger in enumerate(rule.triggers):
        if trigger.guard is None:
            continue
        words = f"if {name} did not ask for “{in_words(trigger.guard)}” there"
        lines = tuple(
            replace(t, guard=None) if n == number else t for n, t in enumerate(rule.triggers)
        )
        found.append((Blame(name, trigger.span, words), replace(rule, triggers=lines)))
    if rule.provided is not None:
        words = f"if {name} did not ask for “{in_words(rule.provided)}”"
        found.append((Blame(name, rule.span, words), replace(rule, provided=None)))
    again = Policy(1, 0, True)
    if can_wait(rule) and rule.policy != again:
        words = f"if {name} were {policy_words(again)}"
        found.append((Blame(name, rule.span, words), replace(rule, policy=again)))
    found.append((Blame(name, rule.span, f"without {name}"), replace(rule, triggers=())))
    return found
