"""The jobs of ``features`` by the prover, by the exhaustive search, and by concrete execution."""

from __future__ import annotations

from random import Random

import pytest

from tests.proof.features import FEATURES, TOO_LARGE
from tests.proof.test_certificate_texts import by_hand
from tests.proof.test_differential import agree
from tests.proof.test_driver import differences
from verifier.proof.question import commuting
from verifier.proof.relation import relation_of
from verifier.simulate.system import System


@pytest.mark.parametrize("name", [name for name in FEATURES if name not in TOO_LARGE])
def test_the_prover_agrees_with_the_exhaustive_search(name: str) -> None:
    assert agree(*by_hand(FEATURES[name]), cap=60_000) == ""


@pytest.mark.parametrize("name", FEATURES)
def test_the_relation_agrees_with_concrete_execution_over_all_orders(name: str) -> None:
    system = System(*by_hand(FEATURES[name]))
    relation = relation_of(system, commuting(system))
    assert next(differences(relation, Random(name), 120), None) is None
