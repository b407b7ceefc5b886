"""The measuring itself: what is said of a job is so, and what is not reached is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmarks import measure
from tests.benchmarks.families import FAMILIES, Family
from tests.benchmarks.measure import LIMIT_S, Cold, Results, Row, once
from tests.benchmarks.one import Measured, measured
from tests.benchmarks.report import table, target_table

families = pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)


@families
def test_prover_and_spacer_agree_on_the_smallest_job_and_its_twin(family: Family) -> None:
    for which, verdict in (("job", "proved"), ("twin", "refuted")):
        subject = (family.name, str(family.least), which)
        found = measured("prover", list(subject), 60.0)
        assert found.verdict == verdict
        assert found.seconds > 0
        assert (found.lemmas > 0) == (which == "job")
        # In a process of its own: after others it may find nothing for a long time.
        found = once("spacer", subject)
        assert found.verdict in (verdict, "undecided")
        assert found.lemmas == 0
        assert found.verdict == verdict or family.name != "corridor"


FAST = Measured("proved", "hull zones", 0.01, 0.01, 3, 20.0, 60.0)
SLOW = replace(FAST, seconds=5.0)
COLD = Cold((1.0, 1.2, 1.1), 80.0, 120.0, 0, (("one", 0.02), ("two", 0.03)))


def results(corridor_32: Measured) -> Results:
    rows = (
        Row("corridor", "8", False, FAST, None),
        Row("corridor", "32", False, corridor_32, None),
        Row("corridor", "8", True, replace(FAST, verdict="refuted"), None),
    )
    return Results(rows, COLD, COLD)


@pytest.mark.parametrize(
    ("corridor_32", "reached"),
    [(FAST, "yes"), (SLOW, "**no**"), (replace(FAST, verdict="undecided"), "**no**")],
)
def test_a_target_is_reached_only_by_a_proof_in_time(corridor_32: Measured, reached: str) -> None:
    lines = [line for line in target_table(results(corridor_32)) if "corridor(32)" in line]
    assert len(lines) == 1
    assert lines[0].endswith(f"| {reached} |")


def test_a_ratio_is_spacers_time_by_the_provers() -> None:
    spacer = replace(FAST, seconds=0.3, cpu_seconds=0.25)
    line = table([Row("corridor", "2", False, FAST, spacer)], "n")[-1]
    assert line.endswith("| 0.30 s | 25 |")
    late = replace(spacer, verdict="undecided", cpu_seconds=20.0)
    line = table([Row("corridor", "2", False, FAST, late)], "n")[-1]
    assert line.endswith(f"| none in {LIMIT_S:g} s | over 2000 |")


def test_a_cold_run_keeps_nothing_and_takes_nothing_that_was_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DUSKPROOF_CACHE", str(tmp_path))
    monkeypatch.setattr(measure, "COLD_RUNS", 1)
    assert measure.cold().exit_code == 0
    assert not list(tmp_path.iterdir())
