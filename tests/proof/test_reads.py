"""Guards and branches that are dead, or always taken, for reasons that the structure cannot see.

The verdicts are worked out by hand beside each job (no outside source); on random jobs what is
told is compared with all states that the exhaustive search comes to.
"""

from __future__ import annotations

from random import Random

from tests.random_jobs import random_job
from verifier.diagnostics.codes import all_codes, page_text
from verifier.graph.findings import findings
from verifier.model import check
from verifier.model.job import Job
from verifier.proof import ProofOptions, prove_job
from verifier.proof.reads import asked_of, reading_system, reads_task
from verifier.simulate.explicit import EndlessChain, Space, TooLarge
from verifier.source import SourceFile, Sources
from verifier.surroundings.world import TRUE

Told = list[tuple[str, str]]

HEAD = """
button push "Push-button"
switch key "Key switch"
contact gate "Gate"
detector pir "PIR"
lamp light "Light" 10 W
lamp sign "Sign" 5 W
"""

LIT = (
    HEAD
    + """
rule lit "A minute of light after the last press"
  retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
"""
)


def job_of(text: str) -> Job:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def by_structure(text: str) -> Told:
    """(code, first line of the place) of what the graph alone tells of conditions."""
    return [t for t in told(text, findings(job_of(text))) if t[0] in CODES]


def by_proof(text: str) -> Told:
    """The same of what is told by proof."""
    job = job_of(text)
    result = prove_job(job, job.requirements, ProofOptions(workers=2), lambda *_: None)
    return [t for t in told(text, result.findings) if t[0] in CODES]


CODES = {"guard-always-true", "guard-always-false", "branch-never-reached", "wait-without-way-out"}


def told(text: str, found: tuple[object, ...]) -> Told:
    places = []
    for finding in found:
        span = finding.labels[0].span  # type: ignore[attr-defined]
        places.append(
            (finding.code, text[span.start : span.end].split("\n")[0])  # type: ignore[attr-defined]
        )
    return places


def look(wait: str) -> str:
    """A rule that looks at the light some time after the last press."""
    return (
        LIT
        + f"""
rule look "Whether the light is still on"
  retriggerable
  upon push pressed
  do
    wait {wait}
    if light is off then
      sign on
    else
      sign off
    end if
end rule
"""
    )


def test_a_branch_that_only_time_rules_out_is_told() -> None:
    # 59 s after the last press the light has another second to go.
    assert by_structure(look("59 s")) == []
    assert by_proof(look("59 s")) == [("branch-never-reached", "light is off then")]


def test_a_branch_that_one_order_at_one_moment_reaches_is_live() -> None:
    # At 60 s both waits run out at the same moment, in either order.
    assert by_proof(look("60 s")) == []


def test_a_branch_that_is_always_taken_is_told() -> None:
    assert by_proof(look("61 s")) == [("guard-always-true", "light is off then")]


def guarded(guard: str, assumption: str = "") -> str:
    return (
        LIT
        + f"""
{assumption}
rule by_key "The sign with the key"
  upon key becomes on provided {guard}
  upon gate changes
  do
    sign on
end rule
rule out "Off"
  upon key becomes off
  do
    sign off
end rule
"""
    )


def test_a_guard_that_an_assumption_makes_false_is_told() -> None:
    assume = "assume always (key is on implies gate is shut)"
    assert by_proof(guarded("gate is open")) == []
    assert by_structure(guarded("gate is open", assume)) == []
    assert by_proof(guarded("gate is open", assume)) == [
        ("guard-always-false", "upon key becomes on provided gate is open")
    ]
    assert by_proof(guarded("gate is shut", assume)) == [
        ("guard-always-true", "upon key becomes on provided gate is shut")
    ]


def test_a_guard_of_all_lines_that_no_run_makes_false_is_told() -> None:
    text = (
        LIT
        + """
rule twice "While the light is on"
  upon light becomes off
  provided not lit is running
  do
    sign on
end rule
rule out "Off"
  upon key becomes off
  do
    sign off
end rule
"""
    )
    # The light goes off at the end of the run; the trigger waits until that has ended.
    assert by_structure(text) == []
    assert by_proof(text) == [("guard-always-true", "upon light becomes off")]


def test_a_guard_that_is_needed_for_another_line_is_not_told() -> None:
    text = (
        LIT
        + """
rule twice "Two lines, one guard"
  upon light becomes off
  upon key becomes on
  provided not lit is running
  do
    sign on
end rule
rule out "Off"
  upon key becomes off
  do
    sign off
end rule
"""
    )
    assert by_proof(text) == []


def waiting(limit: str) -> str:
    return (
        LIT
        + f"""
rule watch "Until the light is off"
  retriggerable
  upon push pressed
  do
    wait 10 s
    wait until light is off, at most {limit}
    if timed out then
      sign on
    end if
    sign off
end rule
"""
    )


def test_a_wait_that_always_times_out_is_told_and_so_is_what_follows_from_it() -> None:
    assert by_proof(waiting("49 s")) == [
        ("wait-without-way-out", "wait until light is off, at most 49 s"),
        ("guard-always-true", "timed out then"),
    ]
    assert by_proof(waiting("50 s")) == []
    assert by_proof(waiting("51 s")) == [("branch-never-reached", "timed out then")]


def test_what_stands_in_a_dead_branch_is_not_told_a_second_time() -> None:
    text = look("59 s").replace(
        "      sign on\n", "      if key is on then\n        sign on\n      end if\n"
    )
    assert by_proof(text) == [("branch-never-reached", "light is off then")]


def test_what_the_structure_tells_is_not_told_by_proof_again() -> None:
    text = guarded("gate is open").replace(
        "upon gate changes", "upon gate becomes open provided gate is open"
    )
    assert by_structure(text) == [
        ("guard-always-true", "upon gate becomes open provided gate is open")
    ]
    assert by_proof(text) == []


def test_what_is_told_by_proof_has_a_page_that_says_so() -> None:
    for code in CODES:
        assert all_codes()[code].known == ("structure", "proof")
    assert "or by proof, for all runs" in page_text(all_codes()["branch-never-reached"])


def test_a_guard_is_read_when_a_waiting_trigger_takes_its_turn() -> None:
    text = (
        HEAD
        + """
rule lit "One after the other"
  at once 1, waiting 1
  upon push pressed provided key is on
  do
    light on
    wait 1 min
    light off
end rule
"""
    )
    assert by_proof(text) == []


def test_what_some_run_reads_is_never_said_to_be_impossible() -> None:
    compared = impossible = 0
    for seed in range(2000, 2060):
        job, _ = random_job(Random(seed))
        for rule, asked in asked_of(job).items():
            answer = reads_task(job, rule, asked, 10**9)
            system = reading_system(job, rule, asked)
            try:
                space = Space(system, 1_500)
            except (TooLarge, EndlessChain):
                continue
            if answer is None:
                continue
            states = [space.states[n][0] for n in space.reachable()]
            for found, sides in zip(answer, system.notes.sides, strict=True):
                for possible, side in zip(found, reversed(sides), strict=True):
                    seen = any(values[side] == TRUE for values in states)
                    assert possible or not seen, (seed, rule)
                    compared += 1
                    impossible += not possible
    assert compared > 60, compared
    assert impossible > 10, impossible
