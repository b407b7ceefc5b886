"""Inputs of which one edge alone is noticed: which they are, and runs as short as they can be.

The exhaustive search knows nothing of them and is the oracle.
"""

from __future__ import annotations

from random import Random

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of
from verifier.graph.slice import slice_job
from verifier.proof.decide import decide
from verifier.proof.question import Budget, Question
from verifier.proof.verdict import Proved, Refuted
from verifier.simulate.explicit import TooLarge, search
from verifier.simulate.system import System

SEEDS = range(80)

OFF = "after last motion becomes occupied: light is off within 9 s"


def text(trigger: str, body: str, promise: str, more: str = "", starts: str = "") -> str:
    return (
        f'detector motion "PIR"{starts}\nlamp light "Light" 40 W\n'
        f"rule walk\n  retriggerable\n  upon {trigger}\n  do\n    light on\n    {body}\n"
        f"    light off\nend rule\n{more}require promise\n  {promise}\nend require\n"
    )


def pins(source: str) -> dict[str, str]:
    """The names of the pinned inputs, with the value that they are pinned to."""
    job = job_of(source)
    question = Question(job, job.requirement["promise"], Budget())
    pinned = question.pinned()
    variables = question.system.layout.variables
    if pinned is None:
        return {}
    return {
        variables[v].name: str(variables[v].values[bit.bit_length() - 1])
        for v, bit in pinned.moves.pinned
    }


SILENT = {
    "one edge": text("motion becomes occupied", "wait 9 s", OFF),
    "it starts vacant": text("motion becomes occupied", "wait 9 s", OFF, starts=" starts vacant"),
}

READ = {
    "both edges": text("motion becomes occupied\n  upon motion becomes vacant", "wait 9 s", OFF),
    "any change": text("motion changes", "wait 9 s", OFF),
    "the rule asks": text("motion becomes occupied", "wait until motion is vacant", OFF),
    "the rule asks later": text(
        "motion becomes occupied",
        "wait 5 s\n    if motion is occupied then\n      wait 4 s\n    end if",
        OFF,
    ),
    "the promise asks": text(
        "motion becomes occupied", "wait 9 s", "always: motion is occupied implies light is on"
    ),
    "the promise counts the other edge": text(
        "motion becomes occupied",
        "wait 9 s",
        "after last motion becomes vacant: light is off within 9 s",
    ),
    "a timer runs": text("motion has stayed vacant for 5 s", "wait 9 s", OFF),
    "it is assumed": text(
        "motion becomes occupied", "wait 9 s", OFF, "assume motion stays occupied at most 7 s\n"
    ),
    "it starts occupied": text(
        "motion becomes occupied", "wait 9 s", OFF, starts=" starts occupied"
    ),
}


@pytest.mark.parametrize("name", SILENT)
def test_an_input_with_one_edge_is_pinned_to_where_it_can_be_noticed(name: str) -> None:
    assert pins(SILENT[name]) == {"motion": "vacant"}


@pytest.mark.parametrize("name", READ)
def test_an_input_that_anything_asks_for_is_not(name: str) -> None:
    assert pins(READ[name]) == {}


def random_text(random: Random) -> str:
    """A job of which most inputs are heard on one edge."""
    inputs = [f"input_{k}" for k in range(random.randint(1, 3))]
    lamps = [f"lamp_{k}" for k in range(random.randint(1, 2))]
    edges = [f"{i} becomes {random.choice(['occupied', 'vacant'])}" for i in inputs]
    lines = [f'detector {i} "PIR"{random.choice(["", "", " starts vacant"])}' for i in inputs]
    lines += [f'lamp {lamp} "Light" 40 W' for lamp in lamps]
    for k, edge in enumerate(edges):
        lamp = random.choice(lamps)
        policy = random.choice(["retriggerable", "non-retriggerable", "at once 2"])
        lines += [f"rule rule_{k}", f"  {policy}", f"  upon {edge}", "  do", f"    {lamp} on"]
        lines += [f"    wait {random.randint(1, 2)} s"]
        if random.random() < 0.4:
            lines += [
                f"    if {random.choice(lamps)} is on then",
                f"      {lamp} off",
                "    end if",
            ]
            lines += [f"    wait {random.randint(1, 2)} s"]
        if random.random() < 0.15:
            lines += [f"    wait until {random.choice(inputs)} is vacant"]
        lines += [f"    {lamp} off", "end rule"]
    lamp, some, bound = random.choice(lamps), random.choice(edges), random.randint(1, 4)
    promise = random.choice(
        [
            f"after last {' or '.join(edges)}: {lamp} is off within {bound} s",
            f"when {some}: {lamp} is off within {bound} s",
            f"when {some}: {lamp} is on for at least {bound} s",
            f"no longer than {bound} s: {lamp} is on",
            f"no shorter than {bound} s: {lamp} is on",
            f"at most {random.randint(1, 3)} times in {bound} s: {some}",
            f"at most {random.randint(1, 2)} times in {bound} s: {lamp} becomes on",
            f"never: {' and '.join(f'{one} is on' for one in lamps)}",
            f"never: {lamp} is on and {random.choice(inputs)} is vacant",
            f"possible: {lamp} is on and rule_0 is running",
        ]
    )
    return "\n".join([*lines, "require promise", f"  {promise}", "end require"]) + "\n"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_exhaustive_search_says_the_same(seed: int) -> None:
    job = job_of(random_text(Random(seed)))
    requirement = job.requirement["promise"]
    part = slice_job(job, requirement)
    try:
        found = search(part, requirement, 4_000)
    except TooLarge:
        pytest.skip("more states than the cap of the exhaustive search")
    verdict = decide(job, requirement, Budget(limit_s=30))
    assert type(verdict).__name__.lower() == found.verdict
    match verdict:
        case Refuted(run) | Proved(_, run) if run is not None:
            assert len(run.steps) == found.happenings
            assert found.ticks is not None
            seconds = System(part, requirement).unit.seconds
            late = seconds(1) if run.fails_just_after else 0
            assert run.fails_s <= seconds(found.ticks) / 2 <= run.fails_s + late
        case _:
            pass


def test_most_of_the_random_jobs_have_such_inputs() -> None:
    assert sum(bool(pins(random_text(Random(seed)))) for seed in SEEDS) > 40


def test_a_run_that_needs_an_edge_twice_counts_the_one_between() -> None:
    source = text(
        "motion becomes occupied", "wait 9 s", "at most 1 times in 5 s: motion becomes occupied"
    )
    assert pins(source) == {"motion": "vacant"}
    job = job_of(source)
    verdict = decide(job, job.requirement["promise"])
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    assert [step.what for step in verdict.run.steps] == [
        "motion becomes occupied",
        "motion becomes vacant",
        "motion becomes occupied",
    ]


def test_a_proof_over_fewer_variables_is_one_of_the_whole_slice() -> None:
    job = job_of(FAMILY["corridor"].job(3))  # with more rules it is taken apart
    verdict = decide(job, job.requirement["promise"])
    assert isinstance(verdict, Proved)
    assert verdict.method == "hull zones"
    assert verdict.certificate is not None
    assert verdict.certificate.checked_by == ("z3", "cvc5")
    assert not any("motion_1" in lemma for lemma in verdict.certificate.lemmas)
