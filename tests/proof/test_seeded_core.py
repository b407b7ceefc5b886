"""Faults seeded into the trusted core: each is noticed by the checks that the table names.

The faults are in ``core_faults.py``, the checks in ``seeded_checks.py``, which also finds witnesses.
A fault in monitors or in what the interpreter does is in prover and exhaustive search alike, so
that an independent reading has to see it; an order that the prover loses is seen by the others.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.outside import murphi
from tests.proof.core_faults import FAULTS, ORDERS
from tests.proof.order_jobs import JOBS
from tests.proof.seeded_checks import asked, noticed_by, notices, verdict_of
from tests.proof.seeded_table import NOTICED, SEEN_BY_NONE
from verifier.proof.decide import decide
from verifier.simulate.explicit import search


@pytest.mark.parametrize(("fault", "check", "witness"), NOTICED)
def test_a_fault_of_the_core_is_noticed(
    fault: str, check: str, witness: tuple[object, ...]
) -> None:
    if check == "Rumur" and not murphi.is_there():
        pytest.skip(f"needs the model checker: {murphi.INSTALL}")
    assert noticed_by(FAULTS[fault], check, witness), f"{check} does not notice: {fault}"


HONEST = sorted(
    {
        (check, witness)
        for _, check, witness in NOTICED
        if check != "temporal logic" or isinstance(witness[0], tuple)
    },
    key=str,
)
"""What notices something, without the random timelines: ``outside/test_mtl.py`` looks at these."""


@pytest.mark.parametrize(("check", "witness"), HONEST)
def test_without_a_fault_nothing_is_noticed(check: str, witness: tuple[object, ...]) -> None:
    if check == "Rumur" and not murphi.is_there():
        pytest.skip(f"needs the model checker: {murphi.INSTALL}")
    assert not notices(check, witness)


def test_every_fault_is_noticed_or_its_reason_stands_beside_it() -> None:
    assert {fault for fault, _, _ in NOTICED} | set(SEEN_BY_NONE) == set(FAULTS)
    assert not {fault for fault, _, _ in NOTICED} & set(SEEN_BY_NONE)


def test_every_order_that_can_be_lost_is_noticed_by_two_checks_of_different_kinds() -> None:
    """The comparison over every order sees them all; so does the exhaustive search."""
    for fault in ORDERS:
        checks = {check for other, check, _ in NOTICED if other == fault}
        assert checks >= {"every order", "exhaustive search"}, fault


@pytest.mark.parametrize("name", JOBS)
def test_the_claims_about_orders_fail_by_prover_and_by_search(name: str) -> None:
    job, requirement = asked((name,))
    assert search(job, requirement).verdict == "refuted"
    assert verdict_of(job, requirement) == "refuted"
    assert decide(job, requirement) == decide(job, requirement)


def test_the_table_in_the_readme_names_every_check_that_notices_something() -> None:
    text = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    for check in {check for _, check, _ in NOTICED}:
        assert check in text, check
    assert f"{len(FAULTS)} faults" in text
