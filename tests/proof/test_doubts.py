"""What only a proof can say of the rules' structure: a rule that no run ever triggers, say."""

from __future__ import annotations

import pytest

from tests.meaning.test_meaning import job_of
from verifier.model import check
from verifier.proof import ProofOptions, prove_job
from verifier.source import SourceFile, Sources


def told(case: str) -> set[tuple[str, str]]:
    """(code, the word before which the finding stands) of a meaning case."""
    job, _ = job_of(case)
    assert job is not None
    result = prove_job(job, job.requirements, ProofOptions(workers=2), lambda *_: None)
    return {(f.code, f.message.split()[1]) for f in result.findings}


@pytest.mark.parametrize(
    ("case", "rule"),
    [
        ("05-body-in-one-go", "react"),  # its guard is false each time it is triggered
        ("26-power-cut-one-instant", "echo"),  # the changes of a power cut trigger no rule
        ("37-chain-out-of-reach", "pong"),  # only a rule that never fires would trigger it
    ],
)
def test_a_rule_that_no_run_triggers_is_told(case: str, rule: str) -> None:
    assert ("rule-never-fires", rule) in told(case)


def test_nothing_is_told_of_rules_that_do_fire() -> None:
    assert told("31-retriggerable-or-not") == set()


def test_a_lamp_whose_off_is_never_reached_is_told() -> None:
    text = """
button push "Push-button"
lamp light "Light" 10 W
flag ready "Ready"
rule glow
  non-retriggerable
  upon push pressed
  do
    light on
    wait until ready is yes
    light off
end rule
rule prepare
  upon light becomes off
  do
    ready yes
end rule
require lit
  possible: light is on
end require
"""
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    result = prove_job(job, job.requirements, ProofOptions(workers=2), lambda *_: None)
    assert "never-turned-off" in {f.code for f in result.findings}


def test_a_part_of_the_requirements_asks_nothing_more() -> None:
    job, _ = job_of("05-body-in-one-go")
    assert job is not None
    result = prove_job(job, (), ProofOptions(), lambda *_: None)
    assert result.findings == ()
