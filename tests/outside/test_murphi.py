"""The prover against a model checker that shares nothing with it: Rumur, on the jobs written in Murphi
by ``murphi.py`` from the contract alone.

Outside source: Rumur (M. Fernandez), a model checker for the language of D. Dill's Murphi (1992).
"""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from tests.meaning.test_by_hand import CASES, job_with
from tests.meaning.test_meaning import expected, job_of, names
from tests.outside import murphi
from tests.outside.murphi_long import as_measure, compare, dusk_text
from tests.outside.murphi_model import NotExported
from tests.random_jobs import random_job
from verifier.model import check
from verifier.model.job import Fade, Job, LeadsTo, MeasureLongest
from verifier.source import NOWHERE, SourceFile, Sources

pytestmark = pytest.mark.skipif(
    not murphi.is_there(), reason=f"needs the model checker: {murphi.INSTALL}"
)

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"

SEEDS = range(5000, 8000) if LONG else range(5000, 5030)
"""Random jobs of the long and of the quick profile (see ``tests/conftest.py``)."""

LIMIT_S = 20.0 if LONG else 4.0


@pytest.mark.parametrize("seed", SEEDS)
def test_the_prover_agrees_with_the_model_checker(seed: int) -> None:
    job, requirement = random_job(Random(seed))
    found = compare(job, requirement, limit_s=LIMIT_S, length=LONG or seed % 3 == 0)
    assert not found.differs, f"{found.differs}\n{dusk_text(job, requirement)}"
    if found.kind.startswith(("not exported", "too large", "undecided")):
        pytest.skip(found.kind)


@pytest.mark.parametrize("seed", SEEDS if LONG else SEEDS[:10])
def test_the_prover_measures_the_bound_that_the_model_checker_finds_exact(seed: int) -> None:
    job, requirement = random_job(Random(seed))
    measure = as_measure(job, requirement)
    job = replace(job, requirements=(measure,))
    found = compare(job, measure, limit_s=LIMIT_S)
    assert not found.differs, f"{found.differs}\n{dusk_text(job, measure)}"
    if found.kind.startswith(("not exported", "too large", "undecided")):
        pytest.skip(found.kind)


# ---------------------------------------------------------------- the contract's own cases

REJECTED = ("62-assume-output",)
"""Not a job at all."""


def claims() -> list[tuple[str, str]]:
    """(case, requirement) of all cases; of a job to be rejected "exit". The first of some if quick."""
    every = [(case, name) for case in names() for name in expected(case)]
    if LONG:
        return every
    return [(case, next(iter(expected(case)))) for case in names()[::2]]


@pytest.mark.parametrize(("case", "name"), claims())
def test_the_model_checker_gives_the_verdict_that_the_contract_demands(
    case: str, name: str
) -> None:
    job, errors = job_of(case)
    if case in REJECTED:
        assert job is None
        return
    if job is None or (name != "exit" and name not in job.requirement):
        pytest.skip(f"no checked job yet: {', '.join(errors)}")
    demanded = expected(case)[name]
    try:
        assert verdict(job, name, demanded) == demanded
    except (NotExported, murphi.TooLarge) as reason:
        pytest.skip(f"{type(reason).__name__}: {reason.args[0]}")


def verdict(job: Job, name: str, demanded: object) -> object:
    """The model checker's verdict as ``expect.json`` writes it."""
    if name == "exit":
        found = murphi.look(job, job.requirements[0], limit_s=LIMIT_S)
        return 2 if found.endless else 0
    requirement = job.requirement[name]
    if isinstance(requirement.form, MeasureLongest):
        assert isinstance(demanded, list)
        given = demanded[1]
        bound = Fraction(str(given)) if isinstance(given, int | float) else given
        checked = murphi.bound_is(job, requirement, bound, limit_s=LIMIT_S)
        return demanded if checked == "exact" else checked
    word, vacuous = murphi.answer_and_vacuity(job, requirement, limit_s=LIMIT_S)
    return f"{word}/vacuous" if vacuous else word


@pytest.mark.parametrize("case", sorted(CASES) if LONG else sorted(CASES)[::2])
def test_the_model_checker_gives_the_verdict_worked_out_by_hand(case: str) -> None:
    text, form, demanded = CASES[case]
    job = job_with(text, form)
    try:
        assert verdict(job, job.requirements[0].name, demanded) == demanded
    except (NotExported, murphi.TooLarge) as reason:
        pytest.skip(f"{type(reason).__name__}: {reason.args[0]}")


NEVER_SET = """
button push
dimmer strip
rule rule_0
  at once 2, oldest gives way
  upon push pressed
  upon strip becomes 100 %
  do
    strip off
    strip 40 %
end rule
require claim
  possible: strip is on
end require
"""


def test_a_trigger_on_a_level_that_is_never_set_makes_no_endless_chain() -> None:
    # Random job 1266 came to this: the prover heard the dimmer's other changes and saw a chain.
    job, found = check(Sources((SourceFile("job.dusk", NEVER_SET),)), "never set")
    assert job is not None, found
    compared = compare(job, job.requirements[0])
    assert (compared.kind, compared.differs, compared.length) == ("proved", "", True)


# ---------------------------------------------------------------- known ways to be wrong

TIMER = """
button push
lamp light
rule press
  retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
require in_time
  after last push pressed: light is off within 60 s
end require
require just_below
  after last push pressed: light is off within 59 s
end require
require never_long
  when push pressed: light is off within 60 s
end require
require measured
  measure longest: light is on after last push pressed
end require
require pressed_on
  every trigger of press leads to light is off
end require
require stays_on
  every trigger of press leads to light is on
end require
"""


def timer_job() -> Job:
    """A retriggerable staircase timer of one minute."""
    job, found = check(Sources((SourceFile("job.dusk", TIMER),)), "timer")
    assert job is not None, found
    return job


@pytest.mark.parametrize("split", [1, 2, 3])
def test_a_timer_that_runs_out_is_a_step_of_its_own(split: int) -> None:
    # With "a tick passes" and "the timer fires" as one step, 59 s would come out as proved.
    job = timer_job()
    given = {
        name: murphi.answer(job, job.requirement[name], split=split)
        for name in ("in_time", "just_below", "never_long", "pressed_on", "stays_on")
    }
    assert given == {
        "in_time": "proved",
        "just_below": "refuted",
        "never_long": "refuted",
        "pressed_on": "proved",
        "stays_on": "refuted",
    }


@pytest.mark.parametrize(
    ("bound", "found"),
    [(Fraction(60), "exact"), (Fraction(59), "too low"), (Fraction(61), "too high"),
     (None, "too low"), ("unbounded", "too high")],
)  # fmt: skip
def test_a_bound_is_exact_or_it_is_not(bound: Fraction | None, found: str) -> None:
    job = timer_job()
    assert murphi.bound_is(job, job.requirement["measured"], bound) == found


@pytest.mark.parametrize(
    ("bound", "found"),
    [(Fraction(60), "exact"), (Fraction(59), "too low"), (Fraction(61), "too high")],
)
def test_the_longest_time_of_leads_to_is_exact_or_it_is_not(bound: Fraction, found: str) -> None:
    job = timer_job()
    assert murphi.bound_is(job, job.requirement["pressed_on"], bound) == found


def test_the_fewest_happenings_are_counted() -> None:
    job = timer_job()
    # A press; the 59 s pass by themselves.
    assert murphi.fewest_happenings(job, job.requirement["just_below"], 3) == 1
    assert murphi.fewest_happenings(job, job.requirement["in_time"], 3) is None
    # Two presses: the second one a little later.
    assert murphi.fewest_happenings(job, job.requirement["never_long"], 3) == 2


def test_what_is_not_exported_says_so() -> None:
    job = timer_job()
    fade = Fade("light", Fraction(30), Fraction(10), NOWHERE)
    faded = replace(job, rules=(replace(job.rules[0], body=(fade,)),))
    with pytest.raises(NotExported, match="fade"):
        murphi.answer(faded, job.requirements[0])


def test_random_jobs_have_every_form() -> None:
    kinds = {type(random_job(Random(seed))[1].form) for seed in range(5000, 5200)}
    assert LeadsTo in kinds
    assert MeasureLongest in kinds
    assert len(kinds) == 12
