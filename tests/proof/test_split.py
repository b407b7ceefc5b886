"""Slices taken apart: what the parts say is checked on the whole slice, and what fails is not proved."""

from __future__ import annotations

from random import Random

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of
from tests.random_jobs import random_job
from verifier.front.reason import reason
from verifier.model.job import LeadsTo, MeasureLongest
from verifier.proof import engines, lasting
from verifier.proof.bounded import NotWithin, Unrolling
from verifier.proof.decide import decide
from verifier.proof.evidence import certified
from verifier.proof.formula import NEVER, Formula
from verifier.proof.moves import TooLarge
from verifier.proof.question import Budget, Question
from verifier.proof.relation import Relation
from verifier.proof.split import Stuck, split_lemmas
from verifier.proof.verdict import Answered, LimitMet, Proved, Refuted, Undecided


def asked(text: str) -> Question:
    job = job_of(text)
    return Question(job, job.requirement["promise"], Budget(limit_s=60))


@pytest.mark.parametrize(
    ("family", "size"),
    [
        ("timers", 1),
        ("timers", 6),
        ("timers", 12),
        ("corridor", 8),
        ("polite", 4),
        ("chain", 5),
        ("waiting", 2),
        ("at_once", 3),
        ("hall", 10),
        ("hall", 14),
    ],
)
def test_the_parts_lemmas_are_a_certificate_of_the_whole_slice(family: str, size: int) -> None:
    question = asked(FAMILY[family].job(size))
    lemmas = split_lemmas(question.relation)
    assert not isinstance(lemmas, Stuck)
    assert certified(question, lemmas).checked_by == ("z3", "cvc5")


@pytest.mark.parametrize(
    ("family", "size", "rule"),
    [
        ("timers", 3, "timer_3"),
        ("corridor", 3, "walk_1"),
        ("polite", 3, "share_3"),
        ("chain", 3, "pass_3"),
        ("at_once", 3, "glow"),
        ("hall", 10, "keep_on"),
    ],
)
def test_of_a_promise_that_fails_the_parts_prove_nothing(family: str, size: int, rule: str) -> None:
    assert split_lemmas(asked(FAMILY[family].twin(size)).relation) == Stuck(rule)


def test_many_unequal_timers_are_proved_by_parts() -> None:
    job = job_of(FAMILY["timers"].job(12))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)
    assert verdict.method == "parts"
    assert verdict.certificate is not None
    assert len(verdict.certificate.lemmas) <= 14
    assert not verdict.vacuous


def test_a_hall_of_twenty_rules_is_proved_and_its_twin_refuted_in_one_step() -> None:
    family = FAMILY["hall"]
    for text, expected in ((family.job(20), Proved), (family.twin(20), Refuted)):
        job = job_of(text)
        verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
        assert isinstance(verdict, expected)


@pytest.mark.parametrize(
    ("family", "size", "rule"), [("timers", 12, "timer_1"), ("hall", 20, "walk_2")]
)
def test_the_longest_time_of_many_rules_is_exact(family: str, size: int, rule: str) -> None:
    text = FAMILY[family].job(size)
    lamp = "hall" if family == "hall" else "light"
    events = text.rpartition("after last ")[2].partition(":")[0]
    job = job_of(
        f"{text}require longest\n  measure longest: {lamp} is on after last {events}\nend require\n"
        f"require comes\n  every trigger of {rule} leads to {lamp} is off\nend require\n"
    )
    longest = decide(job, job.requirement["longest"], Budget(limit_s=60))
    assert isinstance(longest, Answered)
    assert longest.bound_s == FAMILY[family].bound_of(size)
    assert longest.run is not None
    assert longest.run.fails_s == longest.bound_s
    comes = decide(job, job.requirement["comes"], Budget(limit_s=60))
    assert isinstance(comes, Proved)
    assert comes.bound_s == longest.bound_s


@pytest.mark.parametrize("given", [Stuck("share_1"), ()])
@pytest.mark.parametrize(
    "form",
    [
        "every trigger of share_1 leads to light is off",
        "measure longest: light is on after last {}",
    ],
)
def test_a_bound_of_the_parts_without_a_proof_of_theirs_is_proved_by_zones(
    monkeypatch: pytest.MonkeyPatch, form: str, given: Stuck | tuple[Formula, ...]
) -> None:
    """Before, it was undecided, however few states there were. No lemmas prove nothing."""
    text = FAMILY["polite"].job(4)
    events = text.rpartition("after last ")[2].partition(":")[0]
    job = job_of(f"{text}require asked\n  {form.format(events)}\nend require\n")
    usual = decide(job, job.requirement["asked"], Budget(limit_s=60))
    calls: list[object] = []

    def none(relation: Relation) -> Stuck | tuple[Formula, ...]:
        calls.append(relation)
        return given

    monkeypatch.setattr(lasting, "split_lemmas", none)
    found = decide(job, job.requirement["asked"], Budget(limit_s=60))
    assert len(calls) == 1
    assert isinstance(usual, Proved | Answered)
    assert isinstance(found, Proved | Answered)
    assert found.bound_s == usual.bound_s == 90
    assert found.certificate is not None
    assert found.certificate.checked_by == ("z3", "cvc5")


def forms_of_a_hall() -> list[tuple[str, type]]:
    return [
        ("always: kept is yes implies hall is on", Proved),
        ("always: kept is yes implies keep_on is running", Proved),
        ("always: stage is on implies show is yes", Proved),
        ("no longer than 24 h: hall is on", Proved),
        ("no longer than 2 h: kept is yes", Refuted),
        ("after last keep pressed: kept is no within 2 h", Proved),
        ("when keep pressed: hall is on for at least 2 h", Refuted),
        (
            "while between 03:00 and 21:00: when keep pressed: hall is on for at least 2 h",
            Proved,
        ),
        ("when aisle_door becomes open: aisle is on within 1 s", Proved),
        ("when work pressed: hall is on for at least 1 min", Refuted),
        ("no shorter than 30 s: hall is on", Refuted),
        ("possible: hall is on and stage is on and show is yes", Proved),
    ]


@pytest.mark.parametrize(("form", "expected"), forms_of_a_hall())
def test_each_form_of_a_hall_has_a_verdict(form: str, expected: type) -> None:
    job = job_of(f"{FAMILY['hall'].job(16)}require asked\n  {form}\nend require\n")
    verdict = decide(job, job.requirement["asked"], Budget(limit_s=60))
    assert isinstance(verdict, expected)


def test_what_stays_open_names_the_rule_that_held_it_up(monkeypatch: pytest.MonkeyPatch) -> None:
    def too_large(*_: object) -> None:
        raise TooLarge(0)

    monkeypatch.setattr(engines, "by_zones", too_large)
    monkeypatch.setattr(engines, "mined_lemmas", lambda _: None)
    monkeypatch.setattr(engines, "invariant_by_spacer", lambda *_: None)
    monkeypatch.setattr(Unrolling, "search", lambda *_: NotWithin(7))
    job = job_of(FAMILY["timers"].twin(6))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert verdict == Undecided(LimitMet(), 7, "timer_6")
    words = reason(job.requirement["promise"], verdict)
    assert "could not be shown of timer_6" in words
    assert "an assumption" in words


def test_lemmas_that_do_not_pass_are_no_fault_and_the_other_engines_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engines, "split_lemmas", lambda _: (NEVER,))
    job = job_of(FAMILY["timers"].job(6))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)
    assert verdict.method == "hull zones"


RULE_READ_BY_THE_PROMISE = 1536
"""A job whose requirement reads a rule's run: its part shares all that it looks at."""


@pytest.mark.parametrize("seed", [*range(60), RULE_READ_BY_THE_PROMISE])
def test_what_the_parts_prove_of_random_jobs_is_so(seed: int) -> None:
    job, _ = random_job(Random(seed))
    for requirement in job.requirements:
        if isinstance(requirement.form, LeadsTo | MeasureLongest):
            continue
        question = Question(job, requirement, Budget(limit_s=20))
        lemmas = split_lemmas(question.relation)
        if not isinstance(lemmas, Stuck):
            assert certified(question, lemmas).checked_by == ("z3", "cvc5")
