"""Prover against exhaustive search on random jobs with faults, reaction time and fades."""

from __future__ import annotations

import os
from random import Random

import pytest

from tests.random_more import compared, random_more, what_is_more

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"


@pytest.mark.parametrize("seed", range(1_000 if LONG else 40))
def test_the_prover_agrees_with_the_exhaustive_search(seed: int) -> None:
    kind, differs = compared(*random_more(Random(seed)))
    assert not differs
    if kind == "too large" or kind.startswith("undecided"):
        pytest.skip(f"not compared: {kind}")


def test_each_addition_occurs() -> None:
    seen = " + ".join(what_is_more(random_more(Random(seed))[0]) for seed in range(200))
    for word in (
        "lost reports",
        "stuck",
        "bounce",
        "broken wire",
        "both limits",
        "reaction",
        "fades",
    ):
        assert word in seen
