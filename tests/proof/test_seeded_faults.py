"""Faults seeded into what need not be right: each costs an answer, and none a wrong one.

The engines, the slice and the lemmas are made wrong on purpose; over many jobs the verdict then is
the right one, none at all, or the tool's own fault (exit 70).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from tests.meaning.test_meaning import claims, expected, in_words, job_of
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof import engines, exact, hull, moves, question
from verifier.proof.closed import EvidenceFailed
from verifier.proof.decide import decide
from verifier.proof.formula import YES, all_of, any_of
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Undecided
from verifier.simulate.explicit import EndlessChain, TooLarge, search

Seed = Callable[[pytest.MonkeyPatch], None]

EASY = [
    (case, name)
    for case, name in claims()
    if expected(case)[name] in ("proved", "refuted") and not case.startswith(("36", "37"))
][::3]
"""Every third requirement of the meaning cases with a plain verdict."""


def no_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    """The slice loses its last rule."""

    def cut(job: Job, requirement: Requirement, *, tied: bool = False) -> Job:
        part = slice_job(job, requirement, tied=tied)
        return replace(part, rules=part.rules[:-1])

    monkeypatch.setattr(question, "slice_job", cut)


def no_assumption(monkeypatch: pytest.MonkeyPatch) -> None:
    """The slice loses its assumptions: more runs than there are, found out by their replay."""

    def cut(job: Job, requirement: Requirement, *, tied: bool = False) -> Job:
        return replace(slice_job(job, requirement, tied=tied), assumptions=())

    monkeypatch.setattr(question, "slice_job", cut)


def a_lost_move(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zones never see the last move from a state."""
    honest = moves.Moves.of

    def of(self: moves.Moves, state: Any) -> Any:
        return honest(self, state)[:-1]

    monkeypatch.setattr(moves.Moves, "of", of)


def no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zones let no time pass."""
    monkeypatch.setattr(moves.Moves, "settled", lambda self, state, zone: zone)


def nothing_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zones never see that a requirement fails."""
    honest = moves.Moves.__init__

    def made(self: moves.Moves, *given: Any, **named: Any) -> None:
        honest(self, *given, **named)
        self.is_bad = lambda reg: False

    monkeypatch.setattr(moves.Moves, "__init__", made)


def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """The invariant that the zones give is true of everything."""
    monkeypatch.setattr(engines, "invariant_of", lambda *_: YES)


def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    """The invariant that the zones give is true of nothing."""
    monkeypatch.setattr(engines, "invariant_of", lambda *_: any_of(()))


def any_lemma(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zones give up, and every lemma that was guessed is taken for true."""

    def all_of_them(relation: Any, guesses: Any, *_: Any, **__: Any) -> Any:
        return tuple(guesses)

    def too_large(*_: Any, **__: Any) -> Any:
        raise moves.TooLarge

    monkeypatch.setattr(engines, "mined", all_of_them)
    for module in (engines, hull):
        monkeypatch.setattr(module, "hull", too_large)
    for module in (engines, exact):
        monkeypatch.setattr(module, "explore", too_large)


def no_lemma(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zones give up, and the lemmas that imply the requirement are taken for the invariant."""
    any_lemma(monkeypatch)
    monkeypatch.setattr(
        engines, "mined", lambda relation, guesses, *_, **__: (all_of(guesses[:1]),)
    )
    monkeypatch.setattr(engines, "wanted", lambda relation: ())


SEEDS: dict[str, Seed] = {
    "the slice loses a rule": no_rules,
    "the slice loses assumptions": no_assumption,
    "zones lose a move": a_lost_move,
    "zones let no time pass": no_time,
    "zones see no failure": nothing_fails,
    "an invariant of everything": wide,
    "an invariant of nothing": narrow,
    "every guess a lemma": any_lemma,
    "lemmas that imply nothing": no_lemma,
}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_fault_outside_the_core_is_never_a_wrong_verdict(
    seed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    SEEDS[seed](monkeypatch)
    caught = 0
    for case, name in EASY:
        job, _ = job_of(case)
        assert job is not None
        try:
            verdict = decide(job, job.requirement[name], Budget(limit_s=2))
        except (EvidenceFailed, EndlessChainFound, AssertionError, KeyError):
            caught += 1
            continue
        if isinstance(verdict, Undecided):
            caught += 1
            continue
        assert in_words(verdict).split("/")[0] == expected(case)[name], (case, name)
    assert caught, "the fault was not noticed, so nothing was shown"


@pytest.mark.parametrize("seed", ["the slice loses a rule", "zones lose a move"])
def test_the_same_on_random_jobs(seed: str, monkeypatch: pytest.MonkeyPatch) -> None:
    jobs = []
    for number in range(60):
        job, requirement = random_job(Random(number))
        try:
            jobs.append((job, requirement, search(slice_job(job, requirement), requirement, 1_500)))
        except (TooLarge, EndlessChain):
            continue
    assert len(jobs) > 20
    SEEDS[seed](monkeypatch)
    caught = 0
    for job, requirement, found in jobs:
        try:
            verdict = decide(job, requirement, Budget(limit_s=2))
        except (EvidenceFailed, EndlessChainFound, AssertionError, KeyError):
            caught += 1
            continue
        if isinstance(verdict, Undecided):
            caught += 1
            continue
        assert type(verdict).__name__.lower() == found.verdict
    assert caught
