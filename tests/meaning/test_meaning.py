"""The small jobs of ``shared/cases/meaning``: each verdict that the contract demands.

Twice: by the prover, and by the exhaustive search on the reference interpreter, which shares no
engine with it; where ticks are too many for that, with ticks taken in stretches
(:mod:`tests.meaning.stretches`), which itself is compared with single ticks. What waits for a
later feature is listed with the reason.
"""

from __future__ import annotations

import functools
import json
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.meaning import stretches
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job, LeadsTo, MeasureLongest, Requirement
from verifier.proof.chain import Chain
from verifier.proof.decide import decide
from verifier.proof.proving import chain_task, suspects
from verifier.proof.question import Budget
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.explicit import EndlessChain, Found, TooLarge, search
from verifier.simulate.system import System
from verifier.source import SourceFile, Sources

CASES = Path(__file__).parents[2] / "shared" / "cases" / "meaning"

SITES = ("76-site-60-north", "77-site-52-north", "78-site-clock-change")
"""Cases of a site: thirty years are more states than an exhaustive search can hold."""

ENDLESS = ("17-repeat-endless", "36-endless-chain")

FINE = {
    ("41-for-at-least-open-end", "beyond"),
    ("42-after-last-closed-end", "just_below"),
    ("43-before-boundary", "more_before"),
    ("56-fade-stays", "stays"),
    ("59-fade-wait-until", "at_thirty_below"),
    ("44-stretch-length", "shorter"),
    ("44-stretch-length", "dark_stretch"),
    ("55-allowing-joins", "not_joined"),
    ("55-allowing-joins", "filled_less"),
    ("58-while-cut", "not_cut"),
    ("58-while-cut", "from_scope_below"),
    ("70-detector-holds-rearm", "holds_more"),
    ("70-detector-holds-rearm", "rearm_more"),
    ("70-detector-holds-rearm", "both_below"),
    ("71-room", "noticed_below"),
}
"""A millisecond beside seconds: more ticks than :data:`CAP`, so ticks are taken in stretches."""

UNCLEAR = {("61-assumptions-block-time", "reached"), ("61-assumptions-block-time", "claimed")}
"""What fails only in states that are left out, which the search in stretches cannot tell."""

CAP = 25_000


@functools.cache
def job_of(case: str) -> tuple[Job | None, tuple[str, ...]]:
    """The job of a case, and the codes of its errors."""
    return checked(text_of(case), case)


def text_of(case: str) -> str:
    """The text of a case."""
    return (CASES / case / "job.dusk").read_text(encoding="utf-8")


def checked(text: str, name: str) -> tuple[Job | None, tuple[str, ...]]:
    """The job of a text, and the codes of its errors."""
    job, found = check(Sources((SourceFile("job.dusk", text),)), name)
    return job, tuple(d.code for d in found if d.severity.value == "error")


def expected(case: str) -> dict[str, Any]:
    """What the contract demands of a case."""
    found: dict[str, Any] = json.loads((CASES / case / "expect.json").read_text(encoding="utf-8"))
    return found


def names() -> list[str]:
    """All cases."""
    return sorted(path.name for path in CASES.iterdir())


def claims() -> list[tuple[str, str]]:
    """(case, requirement) of all cases."""
    return [(case, name) for case in names() for name in expected(case) if name != "exit"]


def in_words(verdict: Verdict) -> Any:
    """A verdict as ``expect.json`` writes it."""
    match verdict:
        case Proved(vacuous=vacuous):
            return "proved/vacuous" if vacuous else "proved"
        case Refuted():
            return "refuted"
        case Answered(bound):
            return ["answered", float(bound) if isinstance(bound, Fraction) else bound]
        case Undecided(reason):
            return f"undecided: {reason}"


def found_in_words(part: Job, requirement: Requirement, found: Found) -> Any:
    """What the exhaustive search of a slice found, as ``expect.json`` writes it (never "vacuous")."""
    if found.verdict != "answered":
        return found.verdict
    bound = found.bound_units
    unit = System(part, requirement).unit
    return ["answered", float(unit.seconds(bound)) if isinstance(bound, Fraction) else bound]


@pytest.mark.parametrize(("case", "name"), claims())
def test_the_prover_gives_the_verdict_that_the_contract_demands(case: str, name: str) -> None:
    job, errors = job_of(case)
    assert job is not None, errors
    verdict = decide(job, job.requirement[name], Budget(limit_s=60))
    assert in_words(verdict) == expected(case)[name]


def searched() -> list[tuple[str, str]]:
    """The claims that an exhaustive search can decide: all but those of a site."""
    return [(case, name) for case, name in claims() if case not in SITES]


@pytest.mark.parametrize(("case", "name"), searched())
def test_the_exhaustive_search_gives_the_same_verdict(case: str, name: str) -> None:
    job, errors = job_of(case)
    assert job is not None, errors
    requirement = job.requirement[name]
    if (case, name) in FINE:
        in_few = stretches.search(slice_job(job, requirement), requirement, CAP)
        assert in_few == expected(case)[name].split("/")[0]
        return
    found = search(slice_job(job, requirement), requirement, CAP)
    demanded = expected(case)[name]
    plain = demanded if isinstance(demanded, list) else demanded.split("/")[0]
    assert found_in_words(slice_job(job, requirement), requirement, found) == plain


def in_stretches() -> list[tuple[str, str]]:
    """The claims that both exhaustive searches can decide."""
    found = []
    for case, name in searched():
        job, _ = job_of(case)
        if job is not None and (case, name) not in FINE | UNCLEAR:
            form = job.requirement[name].form
            found += [] if isinstance(form, LeadsTo | MeasureLongest) else [(case, name)]
    return found


@pytest.mark.parametrize(("case", "name"), in_stretches())
def test_ticks_taken_in_stretches_give_the_same_verdict(case: str, name: str) -> None:
    job, _ = job_of(case)
    assert job is not None
    requirement = job.requirement[name]
    got = stretches.search(slice_job(job, requirement), requirement, CAP)
    assert got == expected(case)[name].split("/")[0]


@pytest.mark.parametrize(("case", "name"), sorted(UNCLEAR))
def test_a_failure_in_states_that_are_left_out_is_not_taken_for_a_verdict(
    case: str, name: str
) -> None:
    job, _ = job_of(case)
    assert job is not None
    requirement = job.requirement[name]
    with pytest.raises(stretches.Unclear):
        stretches.search(slice_job(job, requirement), requirement, CAP)


def test_ticks_taken_in_stretches_agree_with_single_ticks_on_random_jobs() -> None:
    decided = {"proved": 0, "refuted": 0}
    for seed in range(150):
        job, requirement = random_job(Random(seed))
        part = slice_job(job, requirement)
        if isinstance(requirement.form, LeadsTo | MeasureLongest):
            continue
        try:
            single = search(part, requirement, 1_500).verdict
        except (TooLarge, EndlessChain):
            continue
        try:
            assert stretches.search(part, requirement, 1_500) == single, seed
        except stretches.Unclear:
            continue
        decided[single] += 1
    assert min(decided.values()) > 15, decided


@pytest.mark.parametrize("case", ENDLESS)
def test_an_endless_chain_is_found(case: str) -> None:
    job, errors = job_of(case)
    assert job is not None, errors
    assert expected(case) == {"exit": 2}
    chains = [chain_task(job, rule, 20.0) for rule in suspects(job)]
    assert any(isinstance(chain, Chain) for chain in chains)


def test_a_chain_that_no_run_comes_to_is_no_error() -> None:
    job, _ = job_of("37-chain-out-of-reach")
    assert job is not None
    found = suspects(job)
    assert found, "the structure alone does not rule the chain out"
    assert [chain_task(job, rule, 20.0) for rule in found] == [None] * len(found)


def test_an_assumption_about_an_output_is_rejected() -> None:
    job, errors = job_of("62-assume-output")
    assert job is None
    assert "assumes-own" in errors


def test_every_case_is_run() -> None:
    run = {case for case, _ in claims()} | set(ENDLESS) | {"62-assume-output"}
    assert run == set(names())
