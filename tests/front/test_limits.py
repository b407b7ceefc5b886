"""An undecided requirement says which of its limits was met, and what to do."""

from __future__ import annotations

from fractions import Fraction

from tests.meaning.test_meaning import job_of
from verifier.front.reason import reason
from verifier.proof.proving import Told, decide_task, which_limit
from verifier.proof.verdict import LimitMet, OutOfRoom, OutOfTime, Proved, Undecided, WorkerEnded


def test_what_ran_out_of_time_says_so_and_names_the_option() -> None:
    job, _ = job_of("33-waiting-m")
    assert job is not None
    told = decide_task(job, job.requirements[0], 1e-6, False)
    assert isinstance(told, Told)
    assert isinstance(told.verdict, Undecided)
    assert told.verdict.reason == OutOfTime(1e-6)
    said = reason(job.requirements[0], told.verdict)
    assert said.startswith("Its time ran out (1e-06 s)")
    assert "--time-limit" in said


def test_what_met_too_many_states_does_not_ask_for_time() -> None:
    found = which_limit(Undecided(LimitMet(), 7), 3.0, 60.0)
    assert found == Undecided(OutOfRoom(), 7)
    job, _ = job_of("33-waiting-m")
    assert job is not None
    said = reason(job.requirements[0], found)
    assert said.startswith("There are more states than the search may hold, and more time")
    assert "--time-limit" not in said
    assert said.endswith("The search went 7 happenings deep.")


def test_other_verdicts_and_reasons_stay_as_they_are() -> None:
    killed = Undecided(WorkerEnded("it was stopped at its limit of 60 s"), 0)
    proved = Proved(None, None, False, "", Fraction(3), "hull zones")
    assert which_limit(killed, 60.0, 60.0) is killed
    assert which_limit(proved, 60.0, 60.0) is proved
