"""What a typical brought forth in many places is looked at once, and only where that is the same."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest

import verifier.graph.findings as graph_findings
import verifier.proof.obligations as obligations
from tests.random_jobs import random_job
from tests.random_more import with_faults
from verifier.diagnostics import Diagnostic
from verifier.graph.findings import findings
from verifier.graph.slice import slice_job
from verifier.graph.twins import Twins, twins_of
from verifier.model import check
from verifier.model.job import Job
from verifier.proof import ProofOptions, prove_job
from verifier.proof.canonical import Renaming
from verifier.proof.verdict import Refuted
from verifier.source import SourceFile, Sources

ROOMS = """\
typical room
  setting stay 30 s
  detector pir holds 4 s
  lamp light 10 W
  switch hand starts off
  rule walk
    retriggerable
    upon pir becomes occupied
    do
      light on
      wait stay
      light off
  end rule
  require goes_off
    after last pir becomes occupied: light is off within stay
  end require
  require dark
    never: light is on
  end require
end typical
"""


def read(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def whole_findings(job: Job) -> set[Diagnostic]:
    return set(graph_findings._findings(job))


def names(twins: Twins) -> dict[str, tuple[str, ...]]:
    return twins.of


def test_rooms_of_one_kind_are_twins() -> None:
    job = read(f"{ROOMS}apply room to a, b, c\n")
    twins = twins_of(job)
    assert names(twins) == {"a.": ("b.", "c.")}
    assert [rule.name for rule in twins.firsts.rules] == ["a.walk"]
    assert list(twins.names_of("a.light")) == ["b.light", "c.light"]
    assert list(twins.names_of("b.light")) == []


def test_a_room_with_another_setting_is_of_another_kind() -> None:
    text = f"{ROOMS}apply room to a, c, e\napply room to b, d with stay 40 s\n"
    assert names(twins_of(read(text))) == {"a.": ("c.", "e."), "b.": ("d.",)}


@pytest.mark.parametrize(
    ("more", "kept"),
    [
        ("", {"a.": ("b.", "c.")}),
        ("lamp alone\nrequire r\n  never: alone is on\nend require\n", {"a.": ("b.", "c.")}),
        # A rule, a requirement, an assumption, a door or a fault outside speaks of one of them.
        ("rule all\n  upon a.hand becomes on\n  do\n    b.light off\nend rule\n", {}),
        ("require r\n  never: b.light is on\nend require\n", {"a.": ("c.",)}),
        ("require r\n  never: a.light is on\nend require\n", {}),
        ("assume c.pir stays occupied at least 9 s\n", {"a.": ("b.",)}),
        ("assume a.pir stays occupied at least 9 s\n", {"b.": ("c.",)}),
        ("consider bounce of b.hand up to 50 ms\n", {"a.": ("c.",)}),
        ("consider power cuts\n", {"a.": ("b.", "c.")}),
        # Through the sun an assumption reaches everything that reads the sun.
        ("assume always night implies b.hand is off\n", {}),
        ("assume never night and day\n", {"a.": ("b.", "c.")}),
        # `leads to` depends on all that is assumed anywhere.
        (
            "assume b.pir stays occupied at least 9 s\n"
            "require l\n  every trigger of a.walk leads to a.light is off\nend require\n",
            {},
        ),
    ],
)
def test_what_is_tied_to_something_is_no_island(
    more: str, kept: dict[str, tuple[str, ...]]
) -> None:
    job = read(f"{ROOMS}apply room to a, b, c\n{more}")
    assert names(twins_of(job)) == kept
    same_in_both_ways(job)


def test_a_typical_that_reads_something_outside_has_no_twins() -> None:
    text = ROOMS.replace("  switch hand starts off\n", "").replace("light on\n", "light on\n", 1)
    text = text.replace("becomes occupied\n    do", "becomes occupied provided hand is off\n    do")
    job = read(f"switch hand starts off\n{text}apply room to a, b, c\n")
    assert names(twins_of(job)) == {}
    same_in_both_ways(job)


def test_rooms_within_floors_are_twins_by_floor() -> None:
    floors = "typical floor\n  apply room to left, right\nend typical\napply floor to f1, f2, f3\n"
    twins = twins_of(read(ROOMS + floors))
    assert names(twins) == {"f1.": ("f2.", "f3.")}
    assert list(twins.names_of("f1.left.light")) == ["f2.left.light", "f3.left.light"]


def test_slices_of_the_firsts_are_those_of_the_job() -> None:
    more = "consider power cuts\nlamp alone\nrequire r\n  never: alone is on\nend require\n"
    job = read(f"{ROOMS}apply room to a, b, c\napply room to d, e with stay 9 s\n{more}")
    firsts = twins_of(job).firsts
    assert len(firsts.requirements) == 5
    for requirement in firsts.requirements:
        assert slice_job(firsts, requirement) == slice_job(job, requirement)


def test_what_is_found_of_one_is_told_of_all() -> None:
    unused = "apply room to a, b, c\napply room to d, e with stay 9 s\nlamp alone\n"
    job = read(ROOMS + unused)
    told = findings(job)
    assert sum("hand is declared, and nothing uses it" in each.message for each in told) == 5
    assert {"d.hand", "e.hand"} <= {each.message.split()[0] for each in told}
    assert set(told) == whole_findings(job)


def test_verdicts_and_runs_come_under_the_names_of_each() -> None:
    job = read(f"{ROOMS}apply room to a, b, c\n")
    result = prove_job(job, job.requirements, ProofOptions(), lambda *_: None)
    assert [requirement.name for requirement, _, _ in result.verdicts] == [
        requirement.name for requirement in job.requirements
    ]
    assert result.effort.distinct == 2
    for requirement, verdict, _ in result.verdicts:
        room, claim = requirement.name.split(".")
        if claim == "dark":
            assert isinstance(verdict, Refuted)
            assert verdict.run is not None
            assert {name.split(".")[0] for name, _ in verdict.run.start} == {room}


def test_what_proof_tells_of_the_rules_is_told_of_all() -> None:
    """A rule that fires only with two flags that are never both up: the graph cannot see it."""
    text = ROOMS.replace(
        "  rule walk",
        """\
  flag one starts no
  flag two starts yes
  rule turn
    upon hand becomes on
    do
      if one is no then
        one yes
        two no
      else
        one no
        two yes
      end if
  end rule
  rule idle
    upon pir becomes vacant provided one is yes and two is yes
    do
      light off
  end rule
  rule walk""",
    )
    job = read(f"{text}apply room to a, b, c\n")
    result = prove_job(job, job.requirements, ProofOptions(), lambda *_: None)
    said = [each.message for each in result.findings if each.code == "rule-never-fires"]
    assert [message.split()[1] for message in said] == ["a.idle", "b.idle", "c.idle"]
    same_in_both_ways(job)


# ---------------------------------------------------------------- both ways


def same_in_both_ways(job: Job) -> None:
    """What is found and proved is the same as without looking for twins."""
    assert set(findings(job)) == whole_findings(job)
    options = ProofOptions(time_limit_s=20.0)
    once = prove_job(job, job.requirements, options, lambda *_: None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(obligations, "twins_of", lambda job: Twins(job, job, {}))
        each = prove_job(job, job.requirements, options, lambda *_: None)
    assert [(r, v) for r, v, _ in once.verdicts] == [(r, v) for r, v, _ in each.verdicts]
    assert once.findings == each.findings


def copied(rng: Random, job: Job, prefixes: tuple[str, ...]) -> Job:
    """A job with all of another under each prefix, as a typical would bring it forth."""

    def under(prefix: str) -> Job:
        rename = Renaming(lambda name: prefix + name, lambda span: span, labels=True)
        return replace(
            job,
            points=rename(job.points),
            doors=rename(job.doors),
            rooms=rename(job.rooms),
            rules=rename(job.rules),
            assumptions=rename(job.assumptions),
            requirements=rename(job.requirements),
            faults=rename(tuple(f for f in job.faults if f.subject is not None)),
        )

    def joined(group: str) -> Any:
        return tuple(part for copy in copies for part in getattr(copy, group))

    copies = [under(prefix) for prefix in prefixes]
    odd = rng.randrange(2 * len(copies))
    if odd < len(copies):  # one of them is another
        other = copies[odd]
        copies[odd] = replace(other, rules=other.rules[::-1], requirements=other.requirements[1:])
    groups = ("points", "doors", "rooms", "rules", "assumptions", "requirements")
    parts: dict[str, Any] = {group: joined(group) for group in groups}
    whole = replace(job, **parts)
    everywhere = tuple(f for f in job.faults if f.subject is None)
    return replace(whole, faults=(*everywhere, *joined("faults")))


@pytest.mark.parametrize("seed", range(16))
def test_random_jobs_several_times_over(seed: int) -> None:
    rng = Random(seed)
    job = with_faults(rng, random_job(rng)[0]) if seed % 3 == 0 else random_job(rng)[0]
    same_in_both_ways(copied(rng, job, ("a.", "b.", "c.")))


def test_an_endless_chain_names_the_rules_of_one_room() -> None:
    text = ROOMS.replace(
        "  rule walk",
        """\
  flag here starts no
  rule there
    upon here becomes yes
    do
      here no
  end rule
  rule back
    upon here becomes no
    upon hand becomes on
    do
      here yes
  end rule
  rule walk""",
    )
    job = read(f"{text}apply room to a, b, c\n")
    result = prove_job(job, job.requirements, ProofOptions(), lambda *_: None)
    said = [each.message for each in result.findings if each.code == "endless-chain"]
    assert [message.split(" go ")[0] for message in said] == ["a.there and a.back"]
    same_in_both_ways(job)


def test_random_jobs_have_twins() -> None:
    """The test above is about something: most of its jobs have twins."""
    found = 0
    for seed in range(60):
        rng = Random(seed)
        job = with_faults(rng, random_job(rng)[0]) if seed % 3 == 0 else random_job(rng)[0]
        found += bool(twins_of(copied(rng, job, ("a.", "b.", "c."))).of)
    assert found > 20
