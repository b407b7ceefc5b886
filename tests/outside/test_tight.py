"""Claims whose figure is moved to where the answer turns: prover against exhaustive search."""

from __future__ import annotations

import os

import pytest

from tests.outside.tight import claims_of

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"


@pytest.mark.parametrize("seed", range(1_000) if LONG else (14, 16, 19, 22))
def test_where_the_answer_turns_the_prover_turns_too(seed: int) -> None:
    for one in claims_of(seed):
        assert not one.differs, (one.requirement, one.differs)


def test_some_answers_turn() -> None:
    kinds = [one.kind for seed in (14, 19, 22) for one in claims_of(seed)]
    assert any(kind.endswith(" refuted") for kind in kinds)
    assert any(kind.endswith(" proved") for kind in kinds)
