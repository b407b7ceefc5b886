"""Slices that are the same up to names are one; any other difference makes them two."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job, Requirement
from verifier.proof import ProofOptions, prove_job
from verifier.proof.canonical import Keyed, Shapes, canonical, keyed
from verifier.proof.closed import EvidenceFailed
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.renaming import check_renaming
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.source import SourceFile, Sources

ROOM = """\
contact {a} "Door"
detector {b} "PIR" holds 4 s
lamp {c} "Light" 10 W
flag {d} starts no
door {e}
  raised by {f}
  lowered by {g}
  travel 12 s to 20 s
end door
limit {f}
limit {g}
rule {h}
  retriggerable
  upon {b} becomes occupied provided {d} is no
  upon {a} becomes open
  do
    {c} on
    wait until {g} is reached, at most 90 s
    {c} off
    {d} yes
end rule
rule {i}
  upon {c} becomes off
  do
    {d} no
end rule
require {j}
  every trigger of {h} leads to {c} is off
end require
"""

PLAIN = ("door", "pir", "lamp", "flag", "gate", "top", "bottom", "walk", "mend", "off_again")
OTHER = ("z", "last", "up", "on", "k1", "a1", "b", "zz", "aa", "pir")


def read(text: str) -> Job:
    job, findings = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, findings
    return job


def room(names: tuple[str, ...], text: str = ROOM) -> Job:
    given = dict(zip("abcdefghij", (f"n_{n}" if n == "on" else n for n in names), strict=True))
    return read(text.format(**given))


def key_of(job: Job) -> Keyed:
    requirement = job.requirements[0]
    return keyed(Shapes(), slice_job(job, requirement))


def test_names_labels_and_places_do_not_count() -> None:
    one = key_of(room(PLAIN))
    other = key_of(room(OTHER, "# A line before all.\n\n" + ROOM.replace('"PIR"', '"Eye"')))
    assert one.key == other.key
    assert len(one.names) == len(other.names) == len(PLAIN)
    assert one.names[0] == "door"
    assert other.names[0] == "z"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("90 s", "91 s"),
        ("holds 4 s", "holds 5 s"),
        ("12 s to 20 s", "12 s to 21 s"),
        ("retriggerable", "non-retriggerable"),
        ("becomes open", "becomes shut"),
        ("provided {d} is no", "provided {d} is yes"),
        ("starts no", "starts yes"),
        ("upon {c} becomes off", "upon {c} becomes on"),
        ("{c} off\n    {d} yes", "{d} yes\n    {c} off"),
        ("leads to {c} is off", "leads to {c} is on"),
        ("leads to {c} is off", "leads to {d} is no"),
        ('lamp {c} "Light" 10 W', 'lamp {c} "Light" 10 W with local switch'),
        ("flag {d} starts no", "flag {d} retained starts no"),
    ],
)
def test_anything_else_does(old: str, new: str) -> None:
    assert old in ROOM
    changed = room(PLAIN, ROOM.replace(old, new, 1))
    assert key_of(changed).key != key_of(room(PLAIN)).key


def test_the_order_of_declarations_counts() -> None:
    rules = ROOM.index("rule {h}"), ROOM.index("rule {i}"), ROOM.index("require {j}")
    first, second = ROOM[rules[0] : rules[1]], ROOM[rules[1] : rules[2]]
    changed = ROOM.replace(first, "").replace(second, second + first)
    assert key_of(room(PLAIN, changed)).key != key_of(room(PLAIN)).key


def test_faults_years_and_seasons_count() -> None:
    job = room(PLAIN)
    cut = room(PLAIN, ROOM + "consider power cuts\n")
    keys = {key_of(j).key for j in (job, cut, replace(job, seasons=4), replace(job, years=(1, 2)))}
    assert len(keys) == 4


# ---------------------------------------------------------------- the renaming is checked


def parts() -> tuple[Job, Job, Keyed]:
    job = room(PLAIN)
    part = slice_job(job, job.requirements[0])
    own = keyed(Shapes(), part)
    return canonical(part, own).part, part, own


def test_a_renaming_that_is_one_is_accepted() -> None:
    made, part, own = parts()
    check_renaming(made, part, own.names)


def test_no_name_is_left_in_a_canonical_slice() -> None:
    names = tuple(f"own_{name}" for name in PLAIN)
    job = room(names)
    part = slice_job(job, job.requirements[0])
    own = keyed(Shapes(), part)
    assert set(own.names) == set(names)
    assert "own_" not in repr(canonical(part, own).part)


def test_two_names_that_become_one_are_refused() -> None:
    made, part, own = parts()
    with pytest.raises(EvidenceFailed, match="two names"):
        check_renaming(made, part, (own.names[1], *own.names[1:]))


def test_names_that_change_places_are_refused() -> None:
    made, part, own = parts()
    with pytest.raises(EvidenceFailed, match="not what was proved"):
        check_renaming(made, part, (own.names[1], own.names[0], *own.names[2:]))


@pytest.mark.parametrize("group", ["points", "doors", "rules", "requirements"])
def test_a_part_that_is_missing_is_refused(group: str) -> None:
    made, part, own = parts()
    less: dict[str, Any] = {group: getattr(part, group)[1:]}
    with pytest.raises(EvidenceFailed, match=group):
        check_renaming(made, replace(part, **less), own.names)


@pytest.mark.parametrize(
    ("old", "new"), [("90 s", "91 s"), ("12 s to", "11 s to"), ("{c} off", "{c} on")]
)
def test_another_figure_is_refused(old: str, new: str) -> None:
    made, _, own = parts()
    other = room(PLAIN, ROOM.replace(old, new, 1))
    with pytest.raises(EvidenceFailed, match="not what was proved"):
        check_renaming(made, slice_job(other, other.requirements[0]), own.names)


# ---------------------------------------------------------------- the same verdicts


def without_evidence(verdict: Verdict) -> object:
    """A verdict as people see it; certificates are told apart by their number of lemmas alone."""
    match verdict:
        case Proved(_, witness, vacuous, why, bound_s):
            return "proved", witness, vacuous, why, bound_s
        case Refuted(run, certificate):
            return "refuted", run, certificate is None
        case Answered(bound_s, run, _, vacuous, why):
            return "answered", bound_s, run, vacuous, why
        case Undecided():
            return "undecided"


def test_an_endless_chain_is_told_in_the_names_of_the_job() -> None:
    """It was looked for by what would have been a failing case sooner (random job 1914)."""
    job, _ = random_job(Random(1914))
    options = ProofOptions(time_limit_s=5.0, structure=False)
    result = prove_job(job, job.requirements, options, lambda *_: None)
    found = [finding for finding in result.findings if finding.code == "endless-chain"]
    assert len(found) == 1
    assert "$" not in repr(found[0])


@given(st.integers(0, 10_000))
def test_verdicts_are_those_of_the_job_itself(seed: int) -> None:
    """Found on canonical slices and carried over, or found under the job's own names: the same."""
    job, _ = random_job(Random(seed))
    options = ProofOptions(time_limit_s=5.0, structure=False)
    result = prove_job(job, job.requirements, options, lambda *_: None)
    if any(finding.code == "endless-chain" for finding in result.findings):
        return
    for requirement, verdict, _ in result.verdicts:
        try:
            own = decide(job, requirement, Budget(limit_s=5.0))
        except EndlessChainFound:
            continue
        if isinstance(own, Undecided) or isinstance(verdict, Undecided):
            continue
        assert without_evidence(verdict) == without_evidence(own), requirement.name


def test_rooms_of_one_kind_are_proved_once_and_told_in_their_own_names() -> None:
    typical = ROOM.format(**dict(zip("abcdefghij", PLAIN, strict=True)))
    rooms = "".join(f"apply kind to room_{n}\n" for n in range(6))
    job = read(f"typical kind\n{typical}end typical\n{rooms}")
    result = prove_job(job, job.requirements, ProofOptions(certificates=True), lambda *_: None)
    assert result.effort.distinct == 1
    assert len(result.verdicts) == 6
    alone = decide(job, job.requirements[3], Budget())
    requirement, verdict, _ = result.verdicts[3]
    assert isinstance(requirement, Requirement)
    assert without_evidence(verdict) == without_evidence(alone)
    said = repr(result.verdicts[3])
    assert "room_3." in said
    assert "room_2." not in said
    assert "$" not in said
