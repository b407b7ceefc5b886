"""The cause-and-effect table: worked out by hand for two jobs, and nothing lost on random ones.

The form of the table (causes as rows, outputs as columns) is common practice, no source.
"""

from __future__ import annotations

from random import Random

import pytest

from tests.explain.jobs import SPECS, job_of
from tests.random_jobs import random_job
from verifier.front.folder import read_folder
from verifier.graph.branches import reachable_ways
from verifier.graph.values import structure_of
from verifier.handover.effects import MOST_COLUMNS, NEVER, Effects, effects_of
from verifier.model import check
from verifier.model.job import Cancel, Fade, Job, Put
from verifier.model.words import duration, value


def spec(name: str) -> Job:
    reading = read_folder(str(SPECS / name))
    job, _ = check(reading.sources, reading.name)
    assert job is not None
    return job


def table(effects: Effects) -> list[tuple[str, str, str, str, str]]:
    """(row, cause, only if, cells that are not empty, then)."""
    found = []
    for part in effects.parts:
        for row in part.rows:
            cells = ", ".join(
                f"{column.name} {cell}"
                for column, cell in zip(part.columns, row.cells, strict=True)
                if cell
            )
            found.append((row.number, row.cause, row.only_if, cells, row.then))
    return found


def test_the_stair_by_hand() -> None:
    assert table(effects_of(spec("stair"))) == [
        (
            "1a",
            "the push-button in the hall is pressed",
            "",
            "stair 100 %",
            "waits 3 min (row 1.1)",
        ),
        (
            "1b",
            "the push-button on the second landing is pressed",
            "",
            "stair 100 %",
            "waits 3 min (row 1.1)",
        ),
        ("1.1", "3 min later", "", "stair to 40 % over 5 s", "fades for 5 s (row 1.2)"),
        ("1.2", "5 s later", "", "", "waits 25 s (row 1.3)"),
        ("1.3", "25 s later", "", "stair off", "done"),
    ]


def test_guards_branches_limits_flags_and_cancelling_by_hand() -> None:
    job = job_of("""
contact door "Door"
button push "Push"
lamp a "Lamp a" with local switch on power return last
lamp b "Lamp b" on power return on
flag held "Held" retained
rule one "One"
  at once 2
  upon door becomes open provided night
  provided held is no
  do
    if b is on then
      a on
    else
      b on
    end if
    wait until door is shut, at most 5 min
    if timed out then
      a off
    else
      held yes
    end if
  end rule
rule two "Two"
  upon push pressed
  do
    cancel one
    a off
  end rule
""")
    effects = effects_of(job)
    opened = "the note “Held” says no and it is night"
    assert table(effects) == [
        ("1a", "the door opens", f"{opened} and the lamp b is on", "a on",
         "waits for row 1.1, at most 5 min"),
        ("1b", "the door opens", f"{opened} and the lamp b is off", "b on",
         "waits for row 1.1, at most 5 min"),
        ("1.1a", "as soon as the door is shut", "", "held yes", "done"),
        ("1.1b", "or 5 min later at the latest", "", "a off", "done"),
        ("2", "the push is pressed", "", "a off", "done"),
    ]  # fmt: skip
    (part,) = effects.parts
    assert part.rows[-1].also == "stops the rule “One”"
    assert part.rules[0][2] == ("up to 2 at once; when full, a further trigger is ignored")
    assert part.rules[1][2] == ""
    assert [(c.name, what) for c, what in effects.returning] == [
        ("a", "as before"), ("b", "on"), ("held", "as before"),
    ]  # fmt: skip
    assert [c.name for c in effects.by_hand] == ["a"]


def test_nothing_that_a_rule_does_is_lost_and_nothing_is_added() -> None:
    """Row by row what the transitions of the graph do, in any table that a random job has."""
    for seed in range(150):
        job, _ = random_job(Random(seed))
        effects = effects_of(job)
        structure = structure_of(job)
        wanted: list[tuple[str, list[tuple[str, str]], int]] = []
        for rule in job.rules:
            for way in reachable_ways(job, rule, structure):
                did = set()
                for effect in way.effects:
                    if isinstance(effect, Put):
                        did.add((effect.point, value(effect.value)))
                    elif isinstance(effect, Fade):
                        words = f"to {value(effect.percent)} over {duration(effect.over_s)}"
                        did.add((effect.dimmer, words))
                stops = len({e.rule for e in way.effects if isinstance(e, Cancel)})
                wanted.append((rule.name, sorted(did), stops))
        told: list[tuple[str, list[tuple[str, str]], int]] = []
        for part in effects.parts:
            for row in part.rows:
                cells = {
                    (column.name, one)
                    for column, cell in zip(part.columns, row.cells, strict=True)
                    for one in cell.split(", then ")
                    if cell
                }
                told.append(
                    (row.rule, sorted(cells), len(list(filter(None, row.also.split("; ")))))
                )
        assert sorted(told) == sorted(wanted)


@pytest.mark.parametrize("name", ["boathouse", "boathouse-first-draft", "dock", "washroom"])
def test_a_large_table_is_split_and_no_output_stands_in_two_parts(name: str) -> None:
    effects = effects_of(spec(name))
    columns = [column.name for part in effects.parts for column in part.columns]
    assert len(columns) == len(set(columns))
    numbers = [row.number for part in effects.parts for row in part.rows]
    assert len(numbers) == len(set(numbers))
    rules = sorted(number for part in effects.parts for number, _, _ in part.rules)
    assert rules == list(range(1, len(effects.job.rules) + 1))
    if len(effects.parts) > 1:
        assert all(len(part.columns) <= MOST_COLUMNS for part in effects.parts)


def test_a_wait_of_a_row_is_the_row_that_it_names() -> None:
    effects = effects_of(spec("boathouse"))
    rows = {row.number: row for part in effects.parts for row in part.rows}
    named = 0
    for row in rows.values():
        if "(row " in row.then:
            number = row.then.split("(row ")[1].rstrip(")")
            target = next(r for n, r in rows.items() if n.rstrip("abcdef") == number)
            seconds = row.then.removeprefix("waits ").split(" (row")[0]
            assert target.cause.startswith(f"{seconds} later")
            named += 1
        elif row.then.startswith("waits for row "):
            number = row.then.removeprefix("waits for row ")
            target = next(r for n, r in rows.items() if n.rstrip("abcdef") == number)
            assert target.cause.startswith("as soon as ")
            named += 1
    assert named > 10


def test_a_rule_that_nothing_sets_going_says_so() -> None:
    job = job_of("""
lamp a
button push
flag held starts yes
rule one "One"
  upon push pressed provided held is no
  do
    a on
  end rule
""")
    ((part,), *_) = (effects_of(job).parts,)
    assert part.rules == ((1, "One", NEVER),)
    assert part.rows == ()
