"""The same result, whoever was quicker: many workers or one, what was kept or nothing."""

from __future__ import annotations

import pytest

from verifier.model import check
from verifier.model.job import Job
from verifier.proof import ProofOptions, prove_job
from verifier.proof.cache import Memory
from verifier.source import SourceFile, Sources

STEPS = "".join(
    f"""
button push_{k}
flag step_{k}
rule go_{k}
  retriggerable
  upon push_{k} pressed provided {f"step_{k - 1} is yes" if k else "begun is no"}
  do
    wait {k + 2} s
    step_{k} yes
end rule
"""
    for k in range(5)
)
"""The first chain can be reached after ten happenings, the second at once."""

CHAINS = f"""
flag begun
button begin
button other
lamp a
lamp b
lamp c
lamp d
{STEPS}
rule a_to_b
  upon a changes provided step_4 is yes
  do
    b on
    b off
end rule
rule b_to_a
  upon b changes provided step_4 is yes
  do
    a on
    a off
end rule
rule start
  upon begin pressed
  do
    a on
end rule
rule c_to_d
  upon c changes
  do
    d on
    d off
end rule
rule d_to_c
  upon d changes
  do
    c on
    c off
end rule
rule start_too
  upon other pressed
  do
    c on
end rule
require not_both
  never: a is on and begun is yes
end require
"""


def read(text: str) -> Job:
    job, findings = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, findings
    return job


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_of_two_endless_chains_the_first_as_declared_is_told(workers: int) -> None:
    """Before, with two workers, the one that was found first."""
    job, kept = read(CHAINS), Memory()
    for _ in range(2):
        options = ProofOptions(30.0, workers=workers, cache=kept)
        result = prove_job(job, job.requirements, options, lambda *_: None)
        assert result.verdicts == ()
        assert [finding.code for finding in result.findings] == ["endless-chain"]
        assert result.findings[0].message.startswith("a_to_b and b_to_a and start go round")
