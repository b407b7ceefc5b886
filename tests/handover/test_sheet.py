"""The test sheet: every way is taken, what is expected comes, and slips of the pen are caught."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from tests.explain.jobs import job_of
from tests.handover.mutants import Mutant, mutants_of, mutated
from verifier import pipeline
from verifier.front.folder import read_folder
from verifier.front.sheet_csv import sheet_csv
from verifier.front.sheet_html import COLUMNS, sheet_body
from verifier.handover.fingerprint import fingerprint_of
from verifier.handover.goals import Goals
from verifier.handover.parts import parts_of
from verifier.handover.sheet import Sheet, changed_since, sample_of, sheet_of
from verifier.handover.walk import Walker
from verifier.model.job import Job
from verifier.simulate.script_play import CannotPlay, play
from verifier.source import Sources

SPECS = Path(__file__).parents[2] / "specs"


@cache
def job_in(name: str) -> tuple[Job, Sources]:
    reading = read_folder(str(SPECS / name))
    job = pipeline.checked(reading.sources, reading.name).job
    assert job is not None
    return job, reading.sources


@cache
def sheet_for(name: str) -> Sheet:
    return sheet_of(job_in(name)[0])


SMALL = ("washroom", "stair", "dock")

EQUIVALENT = {
    "room_on: the other policy": "a new start waits for what the old run waits for",
    "left_open: the other policy": "the door cannot have stayed open again while it blinks",
    "beacon_reset: the other policy": "power that fails ends the run before it triggers the rule",
    "beacon_reset: guard of trigger 1 left out": "it only turns off what is off already",
}
"""Mutants of the boathouse that no run can tell from the rule, and why."""


def caught(sheet: Sheet, mutant: Mutant) -> bool:
    """Whether a section of the sheet, played on the changed rules, comes out otherwise."""
    for section in sheet.sections:
        if mutant.rule.name not in section.part.rule:
            continue
        try:
            played = play(mutated(section.part, mutant), section.script)
        except CannotPlay:
            return True
        if played.impossible or not all(each.kept for each in played.expected):
            return True
    return False


def test_every_reachable_way_of_the_boathouse_is_taken() -> None:
    sheet = sheet_for("boathouse")
    ways = {
        goals.words(goal)
        for part in parts_of(job_in("boathouse")[0])
        for goals in [Goals(Walker(part))]
        for goal in goals.all
        if goal.kind == "way"
    }
    assert ways <= set(sheet.covered)


def test_at_least_95_of_100_mutants_of_the_boathouse_are_caught() -> None:
    job, sheet = job_in("boathouse")[0], sheet_for("boathouse")
    mutants = [m for rule in job.rules for m in mutants_of(rule) if m.words not in EQUIVALENT]
    missed = [m.words for m in mutants if not caught(sheet, m)]
    assert len(missed) <= 0.05 * len(mutants), missed


def test_a_mutant_that_is_told_to_be_equivalent_is_not_caught() -> None:
    """Were one of them caught it would not be equivalent, and the list above wrong."""
    job, sheet = job_in("boathouse")[0], sheet_for("boathouse")
    mutants = [m for rule in job.rules for m in mutants_of(rule) if m.words in EQUIVALENT]
    assert len(mutants) == len(EQUIVALENT)
    assert not any(caught(sheet, m) for m in mutants)


@pytest.mark.parametrize("name", ["boathouse", *SMALL])
def test_what_is_expected_comes_in_every_order(name: str) -> None:
    for section in sheet_for(name).sections:
        played = play(section.part, section.script)
        assert played.expected
        assert all(each.kept for each in played.expected)
        assert not played.impossible


@pytest.mark.parametrize("name", SMALL)
def test_most_mutants_of_small_jobs_are_caught(name: str) -> None:
    job, sheet = job_in(name)[0], sheet_for(name)
    mutants = [m for rule in job.rules for m in mutants_of(rule)]
    missed = [m.words for m in mutants if not caught(sheet, m)]
    assert len(missed) <= 0.25 * len(mutants), missed


@pytest.mark.parametrize("name", ["boathouse", *SMALL])
def test_the_sheet_is_shorter_than_a_test_for_each_goal_and_keeps_to_the_bound(name: str) -> None:
    sheet = sheet_for(name)
    doings = sum(bool(step.do) for s in sheet.sections for step in s.steps)
    looks = sum(max(1, len(step.looks)) for s in sheet.sections for step in s.steps)
    assert looks < sheet.naive[0]
    assert doings >= sheet.least


@pytest.mark.parametrize("name", ["boathouse", *SMALL])
def test_a_person_has_time_for_each_step(name: str) -> None:
    """Common practice, no source: half a second at least, and hardly ever less than a second and a half."""
    for section in sheet_for(name).sections:
        at = [step.at_s for step in section.steps if step.do]
        gaps = [b - a for a, b in pairwise(at)]
        assert all(gap >= 0.2 for gap in gaps)
        assert sum(gap < 1.5 for gap in gaps) <= 0.2 * len(gaps) + 1


def test_the_boundary_of_a_figure_is_looked_at_just_before_and_just_after() -> None:
    text = """
button push
lamp yard
rule light
  retriggerable
  upon push pressed
  do
    yard on
    wait 3 min
    yard off
end rule
require full
  when push pressed: yard is on for at least 2 min
end require
"""
    sheet = sheet_of(job_of(text))
    (section,) = sheet.sections
    press = [step.at_s for step in section.steps if step.do == "push pressed"]
    looks = {look.at_s for step in section.steps for look in step.looks}
    assert any(
        any(0 < p + 120 - look <= 5 for look in looks)
        and any(0 < look - p - 120 <= 5 for look in looks)
        for p in press
    )
    assert not sheet.unlooked


def test_after_an_edit_only_what_it_touches_is_tested_again() -> None:
    old = job_in("boathouse")[0]
    rules = tuple(replace(r, body=r.body[:-1]) if r.name == "bench_light" else r for r in old.rules)
    new = replace(old, rules=rules)
    assert changed_since(old, new) == {"bench_light"}
    sheet = sheet_of(new, only=changed_since(old, new))
    assert {rule.name for s in sheet.sections for rule in s.part.rules} == {"bench_light"}


def test_nothing_is_tested_again_where_nothing_changed() -> None:
    job = job_in("boathouse")[0]
    assert changed_since(job, replace(job)) == frozenset()


def test_a_changed_point_has_all_its_part_tested_again() -> None:
    old = job_in("boathouse")[0]
    points = tuple(replace(p, holds_s=None) if p.name == "bench_motion" else p for p in old.points)
    assert changed_since(old, replace(old, points=points)) == {"bench_light"}


def test_the_csv_is_one_that_a_general_reader_reads() -> None:
    rows = list(csv.reader(io.StringIO(sheet_csv(sheet_for("dock")), newline=""), strict=True))
    assert tuple(rows[0]) == COLUMNS
    assert all(len(row) == len(COLUMNS) for row in rows)
    assert all(not cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row)


def test_the_page_has_the_cautions_and_a_place_to_sign() -> None:
    body = sheet_body(sheet_for("washroom"), fingerprint_of(job_in("washroom")[1]))
    for words in ("licensed electricians", "local code", "Powered doors", "Witnessed by"):
        assert words in body


def test_parts_that_do_not_touch_are_tested_apart() -> None:
    parts = [{rule.name for rule in part.rules} for part in parts_of(job_in("boathouse")[0])]
    assert {"bench_light"} in parts
    assert {"shutter_light"} in parts
    assert sum(len(part) for part in parts) == len(job_in("boathouse")[0].rules)


MANY = """
typical stall
  button push
  lamp light
  rule run
    retriggerable
    upon push pressed
    do
      light on
      wait 1 min
      light off
  end rule
end typical
apply stall to NAMES
require r
  possible: s1.light is on
end require
"""


@pytest.mark.parametrize(("count", "tested"), [(3, 3), (7, 7), (8, 1), (20, 2), (41, 5)])
def test_of_many_rooms_of_one_kind_a_tenth_is_tested(count: int, tested: int) -> None:
    """IECC C408.3 (seen): all of up to seven, at least a tenth above that."""
    names = ", ".join(f"s{n}" for n in range(1, count + 1))
    parts, sampled = sample_of(parts_of(job_of(MANY.replace("NAMES", names))))
    assert len(parts) == tested
    assert [(len(each.rooms), each.tested) for each in sampled] == (
        [] if count <= 7 else [(count, tested)]
    )
