"""States from which the surroundings have no way to go on: their leaving out is checked as well."""

from __future__ import annotations

from dataclasses import replace

import pytest

from verifier.model import check
from verifier.model.job import Job
from verifier.proof import ProofOptions, blocked, left_out, prove_job, question
from verifier.proof.blocked import reasons
from verifier.proof.closed import EvidenceFailed
from verifier.proof.decide import decide
from verifier.proof.hull import hull
from verifier.proof.left_out import left_out_texts
from verifier.proof.may_block import Doomed, doomed
from verifier.proof.moves import Moves
from verifier.proof.solvers import Answer, check_with_cvc5, check_with_z3
from verifier.proof.tied import world_of
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided
from verifier.simulate.explicit import search
from verifier.source import SourceFile, Sources

# The hatch may not stay open for longer than it must: so no run opens it, by hand.
OPENS_NEVER = """
contact hatch "Hatch" starts shut
contact gate "Gate" starts shut
lamp light "Light" 10 W
assume always (hatch is open implies gate is open)
assume hatch stays open at least 10 s
assume gate stays open at most 5 s
rule on_open
  non-retriggerable
  upon hatch becomes open
  do
    light on
end rule
require dark
  never: light is on
end require
"""
# With the gate allowed 15 s the hatch is opened, and shut again while the gate is still open.
OPENS = OPENS_NEVER.replace("at most 5 s", "at most 15 s")

CONDITIONS = [
    "left out: reached, initial",
    "left out: reached, kept",
    "left out: reached, kept in time",
    "left out: reached, cover",
    "left out: after, begun",
    "left out: after, kept",
    "left out: after, kept in time",
    "left out: after, ends",
]


def job_of(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def test_what_is_left_out_comes_with_the_certificate() -> None:
    job = job_of(OPENS_NEVER)
    verdict = decide(job, job.requirement["dark"])
    assert isinstance(verdict, Proved)
    assert verdict.certificate is not None
    assert [name for name, _ in verdict.certificate.texts][7:] == CONDITIONS


def test_nothing_is_added_where_nothing_is_left_out() -> None:
    assert reasons(job_of(OPENS)) == ()


def test_a_state_that_is_left_out_wrongly_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that can be reached but the start is said to have no way to go on, and has one."""
    job = job_of(OPENS)
    system, _ = left_out.watched_world(world_of(job), ())
    moves = Moves(system)
    names = [v.name for v in system.layout.variables]
    wrong = tuple(
        tuple((n, bit) for n, bit in zip(names, state, strict=True) if not n.startswith("claim"))
        for state in hull(moves).zones
        if state not in set(moves.starts())
    )
    assert wrong
    for module in (blocked, question):
        monkeypatch.setattr(module, "doomed", lambda _: Doomed((wrong,), False))
    unmet = {
        name
        for name, text in left_out_texts(job, reasons(job))
        if check_with_z3(text, 10) is not Answer.UNSAT
        and check_with_cvc5(text, 10) is not Answer.UNSAT
    }
    assert unmet == {"left out: after, ends"}
    with pytest.raises(EvidenceFailed, match="left out"):
        decide(job, job.requirement["dark"])


def test_several_states_are_left_out_together() -> None:
    """The flap must stay open for longer than that may be so which lets it open."""
    text = """
contact hatch "Hatch" starts shut
contact gate "Gate" starts shut
contact flap "Flap" starts shut
lamp light "Light" 10 W
assume always (hatch is open implies gate is open)
assume hatch stays open at least 10 s
assume gate stays open at most 5 s
assume always (flap is open implies gate is open or hatch is open)
assume flap stays open at least 20 s
require dark
  never: light is on
end require
"""
    job = job_of(text)
    found = doomed(job)
    assert len(found.cubes) == 3
    verdict = decide(job, job.requirement["dark"])
    assert isinstance(verdict, Proved)
    for _, one in left_out_texts(job, reasons(job)):
        assert check_with_z3(one, 10) is Answer.UNSAT
        assert check_with_cvc5(one, 10) is Answer.UNSAT


CURFEW = """\
switch key "Key" starts off
lamp a "A" 5 W
assume never (between 22:00 and 06:00 and key is on)
assume key stays on at least 8 h
rule r
  upon key becomes on
  do
    a on
end rule
require late
  never: between 15:00 and 22:00 and not key has stayed on for 1 h and key is on
end require
require early
  never: between 13:00 and 14:00 and not key has stayed on for 1 h and key is on
end require
"""


def test_a_run_that_the_clock_brings_to_a_stop_is_no_refutation() -> None:
    """From 15:00 on a key turned on cannot be off by 22:00, and then it may not be on (15)."""
    job, found = check(Sources((SourceFile("job.dusk", CURFEW),)), "job")
    assert job is not None, found
    assert isinstance(decide(job, job.requirement["late"]), Undecided)
    assert isinstance(decide(job, job.requirement["early"]), Refuted)


# ---------------------------------------------------------------- other parts of the job

LAMP = """
button push "Push-button"
lamp light "Light" 10 W
rule lit
  retriggerable
  upon push pressed
  do
    light on
    wait 2 s
    light off
end rule
require soon
  after last push pressed: light is off within 1 s
end require
require in_time
  after last push pressed: light is off within 2 s
end require
require dark
  never: light is on
end require
require can_be_lit
  possible: light is on
end require
require longest
  measure longest: light is on after last push pressed
end require
require goes_off
  every trigger of lit leads to light is off
end require
"""

NO_RUN = (
    "contact far\nassume never far is open\nassume never far is shut\n",
    "contact far starts open\nassume always far is shut\n",
    "contact far\nassume always far is open implies night\nassume always far is shut implies day\n"
    "assume far stays open at most 2 s\nassume far stays shut at most 2 s\n",
)


@pytest.mark.parametrize("far", NO_RUN)
def test_without_any_run_all_hold_of_nothing_wherever_that_is_assumed(far: str) -> None:
    """Before, of what lies in no slice: proved and not vacuous, or undecided for no run fits."""
    job = job_of(LAMP + far)
    result = prove_job(job, job.requirements, ProofOptions(structure=False), lambda *_: None)
    for requirement, verdict, _ in result.verdicts:
        found = search(replace(job, requirements=(requirement,)), requirement)
        assert type(verdict).__name__.lower() == found.verdict, requirement.name
        if isinstance(verdict, Proved | Answered):
            assert verdict.vacuous
    assert ["leave no run" in finding.message for finding in result.findings] == [True]
    assert "start with" in result.findings[0].hint


FAR = """
contact gate "Gate"
lamp sign "Sign" 10 W
assume always (gate is open implies night)
assume always (gate is shut implies day)
assume gate stays open at most 2 s
rule on_open
  upon gate becomes open
  do
    sign on
end rule
require says_so
  always: gate is open implies sign is off
end require
require says_nothing
  always: gate is open implies (sign is on or sign is off)
end require
require not_long
  no longer than 1 s: gate is open
end require
"""


@pytest.mark.parametrize(
    "other",
    [
        "",
        "contact yard\nassume yard stays open at most 3 s\n",
        "contact yard\ncontact hut\nassume always (yard is open implies hut is open)\n",
    ],
)
def test_what_is_assumed_of_another_part_changes_nothing(other: str) -> None:
    """Before, states that are left out were not known in a slice with less than all assumptions."""
    job = job_of(FAR + other)
    result = prove_job(job, job.requirements, ProofOptions(structure=False), lambda *_: None)
    for requirement, verdict, _ in result.verdicts:
        assert isinstance(verdict, Proved), requirement.name
        assert verdict.vacuous
        found = search(replace(job, requirements=(requirement,)), requirement)
        assert found.verdict == "proved"
