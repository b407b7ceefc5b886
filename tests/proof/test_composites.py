"""Jobs of several parts: cut into slices, under other names, kept and edited, at their exact figures."""

from __future__ import annotations

import os
from collections import Counter
from random import Random

import pytest

from tests.outside.murphi_long import dusk_text
from tests.proof.composites import compared
from tests.random_composites import JOINTS, composite, edited
from verifier.graph.slice import check_slice, slice_job
from verifier.model import check
from verifier.source import SourceFile, Sources

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"


@pytest.mark.parametrize("seed", range(2_000) if LONG else (1, 9))
def test_however_a_composite_is_judged_it_comes_to_the_same(seed: int) -> None:
    for one in compared(seed, cap=4_000 if LONG else 800):
        assert not one.differs, (one.kind, one.requirement, one.differs)


def test_slices_of_composites_are_closed_and_smaller_than_the_whole() -> None:
    smaller: Counter[str] = Counter()
    for seed in range(200):
        job, joint = composite(Random(seed))
        for requirement in job.requirements:
            part = slice_job(job, requirement)
            assert check_slice(job, part) == ()
            smaller[joint] += len(part.points) < len(job.points)
    assert set(JOINTS) <= {joint.removeprefix("alike, ") for joint in smaller}
    assert min(smaller[joint] for joint in JOINTS) > 0


def test_a_composite_and_an_edit_of_it_can_be_written() -> None:
    for seed in range(60):
        rng = Random(seed)
        job, joint = composite(rng)
        if "fault" in joint or "alike" in joint:
            # What a broken wire reads, and typicals, are not among what is printed of random jobs.
            continue
        for one in (job, edited(rng, job)):
            text = dusk_text(one, one.requirements[0])
            read, told = check(Sources((SourceFile("job.dusk", text),)), "composite")
            assert read is not None, (text, told)
