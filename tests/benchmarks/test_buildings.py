"""The buildings: what they are said to be, and that they keep what they promise."""

from __future__ import annotations

import re

import pytest

from tests.benchmarks.buildings import (
    PROMISES_OF_A_ROOM,
    RULES_OF_A_ROOM,
    building,
    by_hand,
    edited,
    files,
    house,
)
from tests.benchmarks.reading import job_of
from verifier.diagnostics import Severity
from verifier.language.parser import SIZE_LIMIT
from verifier.model import check
from verifier.model.job import Job, PointKind
from verifier.proof.decide import decide
from verifier.proof.obligations import Plan
from verifier.proof.question import Budget
from verifier.proof.verdict import Proved, Refuted
from verifier.source import SourceFile, Sources

LIT = (PointKind.LAMP, PointKind.DIMMER)


def verdicts(job: Job, *names: str) -> dict[str, type]:
    """The kind of verdict on each requirement, or on those that are named."""
    found: dict[str, type] = {}
    for name in names or [requirement.name for requirement in job.requirements]:
        verdict = decide(job, job.requirement[name], Budget(limit_s=60))
        assert not (isinstance(verdict, Proved) and verdict.vacuous), name
        found[name] = type(verdict)
    return found


def questions(job: Job) -> int:
    """How many of a job's requirements are different questions."""
    plan = Plan(job, twins=True)
    plan.ask_all((), job.requirements, ())
    return len(plan.obligations)


def test_the_house_is_as_large_as_it_is_said_to_be_and_no_two_promises_are_alike() -> None:
    job = job_of(house())
    assert (len(job.rules), len(job.requirements)) == (60, 45)
    assert sum(point.kind in LIT for point in job.points) == 25
    assert questions(job) == 45


def test_the_house_keeps_its_promises() -> None:
    assert set(verdicts(job_of(house())).values()) == {Proved}


@pytest.mark.parametrize("text", [house(), building(8, 3), by_hand(8), *dict(files(9, 4)).values()])
def test_nothing_in_a_building_is_an_error_or_a_warning(text: str) -> None:
    job, findings = check(Sources((SourceFile("job.dusk", text),)), "building")
    assert job is not None
    assert all(finding.severity is Severity.NOTE for finding in findings)


def test_rooms_have_as_many_rules_and_promises_as_they_are_said_to_have() -> None:
    for job in (job_of(building(4, 3)), job_of(by_hand(12))):
        assert len(job.rules) == 12 * RULES_OF_A_ROOM
        assert len(job.requirements) == 12 * PROMISES_OF_A_ROOM


def test_rooms_of_a_kind_are_alike_and_rooms_written_by_hand_are_not() -> None:
    alike = job_of(building(8, 3))
    assert questions(alike) == questions(job_of(building(8, 1)))
    assert questions(alike) <= len(alike.requirements) // 3
    assert questions(job_of(by_hand(200))) == 200 * PROMISES_OF_A_ROOM


def test_one_room_of_each_shape_keeps_its_promises_and_so_it_does_edited() -> None:
    for text in (by_hand(4), building(4, 1), edited(by_hand(4))):
        assert set(verdicts(job_of(text)).values()) == {Proved}


def test_every_bound_is_exact() -> None:
    text = by_hand(4)
    sharper = re.sub(
        r"(within |no longer than )([1-9]\d*) s", lambda m: f"{m[1]}{int(m[2]) - 1} s", text
    )
    bounded = re.findall(r"require (\w+)\n.*(?:within [1-9]|no longer than)", text)
    assert len(bounded) == 9
    assert set(verdicts(job_of(sharper), *bounded).values()) == {Refuted}


def test_an_edit_changes_one_line() -> None:
    for text in (house(), building(4, 2), by_hand(4)):
        lines = zip(text.split("\n"), edited(text).split("\n"), strict=True)
        assert sum(before != after for before, after in lines) == 1


def test_a_building_in_files_is_the_same_building() -> None:
    floors = files(10, 4)
    assert [name for name, _ in floors] == ["floor_000.dusk", "floor_001.dusk", "floor_002.dusk"]
    assert "".join(text for _, text in floors) == by_hand(10)
    assert max(len(text) for _, text in files(2000)) < SIZE_LIMIT
