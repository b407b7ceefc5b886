"""What is not proving costs no more than linear in the number of rooms: steps are counted, not time.

A step is one instruction of the interpreter in the verifier's own code. Between two sizes the
difference is what the further rooms cost; twice as many further rooms may cost twice as much.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any, TypeVar

import pytest

from tests.benchmarks.buildings import building
from verifier.diagnostics import Severity
from verifier.front.junit import junit_xml
from verifier.front.paint import PLAIN
from verifier.front.result_json import results_json
from verifier.front.result_text import result_text
from verifier.front.sarif import sarif_json
from verifier.graph.dead import dead_parts
from verifier.graph.findings import findings
from verifier.model import check
from verifier.model.job import Job
from verifier.pipeline import Question, Result, prove
from verifier.proof.doubts import structure_questions
from verifier.proof.may_block import may_block
from verifier.proof.obligations import Plan
from verifier.proof.proving import suspects
from verifier.source import SourceFile, Sources

T = TypeVar("T")

SIZES = (6, 12, 24)
MOST = 2.4
"""What twice as many further rooms may cost; 2 is linear, 4 is quadratic."""

PART = """
contact way_{n} "Door" starts shut
detector seen_{n} "PIR" holds 8 s
detector near_{n} "PIR at the shutter"
limit up_{n} "Upper limit"
limit down_{n} "Lower limit"
lamp light_{n} "Light" 9 W
dimmer strip_{n} "Strip" 9 W
flag lit_{n} "Lit"
door shutter_{n} "Shutter"
  raised by up_{n}
  lowered by down_{n}
  travel 12 s to 20 s
end door
room room_{n} "Room"
  entered by way_{n}
  seen by seen_{n}
  still at most 10 min
end room
assume near_{n} stays occupied at most 5 min
consider bounce of way_{n} up to 5 ms
consider near_{n} stuck
rule walk_{n}
  retriggerable
  upon seen_{n} becomes occupied
  upon way_{n} becomes open provided lit_{n} is no
  provided key is off
  do
    light_{n} on
    if way_{n} is open then
      lit_{n} yes
    else
      lit_{n} no
    end if
    wait until seen_{n} is vacant, at most {s} s
    light_{n} off
end rule
rule glow_{n}
  retriggerable
  upon lit_{n} becomes yes
  do
    fade strip_{n} to 30 % over 10 s
    wait 20 s
    strip_{n} off
end rule
rule next_{n}
  upon lit_{n} becomes no provided glow_{n} is running
  do
    cancel glow_{n}
    strip_{n} off
    lit_{m} yes
end rule
require off_{n}
  no longer than {s} s: light_{n} is on
end require
"""


def street(rooms: int) -> str:
    """A job in which everything stands that a job can have, room after room, each setting off the next."""
    parts = [PART.format(n=n, m=(n + 1) % rooms, s=60 + n) for n in range(rooms)]
    return 'switch key "Key"\n' + "".join(parts)


def sources(text: str) -> Sources:
    return Sources((SourceFile("job.dusk", text),))


def job_of(text: str) -> Job:
    job, found = check(sources(text), "street")
    assert job is not None, [f.message for f in found if f.severity is Severity.ERROR]
    return job


def steps_of(work: Callable[[T], object], subject: T) -> int:
    """The instructions that some work on a subject takes in the verifier's own code."""
    count = 0

    def local(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal count
        count += event == "opcode"
        return local

    def begun(frame: FrameType, _: str, __: Any) -> Any:
        if "verifier" not in frame.f_code.co_filename:
            return None
        frame.f_trace_opcodes = True
        return local

    before = sys.gettrace()
    sys.settrace(begun)
    try:
        work(subject)
    finally:
        sys.settrace(before)
    return count


def is_linear(counts: list[int]) -> bool:
    """Whether the second difference is about twice the first."""
    first, second, third = counts
    assert second > first
    return third - second <= MOST * (second - first)


def every_plan(job: Job) -> None:
    plan = Plan(job, twins=True)
    plan.ask_all(suspects(plan.firsts), job.requirements, structure_questions(plan.firsts))


WORK: dict[str, Callable[[Job], object]] = {
    "findings": findings,
    "dead parts": lambda job: dead_parts(job, findings(job)),
    "suspects": suspects,
    "structure questions": structure_questions,
    "what may block": may_block,
}


@pytest.mark.parametrize("text_of", [street, lambda rooms: building(4, rooms)])
def test_reading_and_checking_are_linear(text_of: Callable[[int], str]) -> None:
    assert is_linear([steps_of(job_of, text_of(n)) for n in SIZES])


@pytest.mark.parametrize("name", WORK)
@pytest.mark.parametrize("text_of", [street, lambda rooms: building(4, rooms)])
def test_what_the_structure_shows_is_linear(name: str, text_of: Callable[[int], str]) -> None:
    jobs = [job_of(text_of(n)) for n in SIZES]
    assert is_linear([steps_of(WORK[name], job) for job in jobs])


def test_what_has_to_be_answered_is_found_in_linear_time() -> None:
    jobs = [job_of(building(4, n)) for n in SIZES]
    assert is_linear([steps_of(every_plan, job) for job in jobs])


# ---------------------------------------------------------------- results


def failing(rooms: int) -> Result:
    """A building in which each room breaks a promise."""
    text = building(4, rooms)
    for bound in (120, 130, 140, 165):
        text = text.replace(f"within {bound} s", f"within {bound - 1} s")
    return prove(sources(text), "failing", Question(), lambda *_: None)


@pytest.fixture(scope="module")
def results() -> tuple[Result, ...]:
    found = tuple(failing(rooms) for rooms in SIZES)
    for result, rooms in zip(found, SIZES, strict=True):
        assert sum(type(verdict).__name__ == "Refuted" for _, verdict, _ in result.verdicts) >= (
            4 * rooms
        )
    return found


TOLD: dict[str, Callable[[Result], object]] = {
    "text": lambda result: result_text(result, False, PLAIN, 100),
    "json": lambda result: results_json((result,), False),
    "sarif": lambda result: sarif_json((result,), ("job",), False),
    "junit": lambda result: junit_xml((result,), False),
}


@pytest.mark.parametrize("form", TOLD)
def test_results_are_told_in_linear_time(form: str, results: tuple[Result, ...]) -> None:
    assert is_linear([steps_of(TOLD[form], result) for result in results])


def test_failing_runs_are_replayed_in_linear_time(results: tuple[Result, ...]) -> None:
    from verifier.proof.renaming import carried

    def carry(result: Result) -> None:
        assert result.job is not None
        for requirement, verdict, _ in result.verdicts:
            carried(result.job, requirement, verdict, ())

    assert is_linear([steps_of(carry, result) for result in results])


def test_counting_tells_linear_from_quadratic() -> None:
    job = job_of(building(4, 2))

    def look(times: int) -> None:
        for _ in range(times):
            may_block(job)

    assert is_linear([steps_of(look, n) for n in SIZES])
    assert not is_linear([steps_of(look, n * n) for n in SIZES])
