"""An undecided requirement says which of its limits was met, and what to do."""

from __future__ import annotations

from fractions import Fraction

from tests.meaning.test_meaning import job_of
from verifier.proof.proving import GREW_TOO_LARGE, Told, decide_task, which_limit
from verifier.proof.verdict import Proved, Undecided


def test_what_ran_out_of_time_says_so_and_names_the_option() -> None:
    job, _ = job_of("33-waiting-m")
    assert job is not None
    told = decide_task(job, job.requirements[0], 1e-6, False)
    assert isinstance(told, Told)
    assert isinstance(told.verdict, Undecided)
    assert told.verdict.reason.startswith("its time ran out (1e-06 s)")
    assert "--time-limit" in told.verdict.reason


def test_what_met_too_many_states_does_not_ask_for_time() -> None:
    found = which_limit(Undecided(GREW_TOO_LARGE, 7), 3.0, 60.0)
    assert found == Undecided(
        "there are more states than the search may hold, and more time does not help: ask for less "
        "at once, or take fewer faults into account",
        7,
    )


def test_other_verdicts_and_reasons_stay_as_they_are() -> None:
    killed = Undecided("it was stopped at its limit of 60 s", 0)
    proved = Proved(None, None, False, "", Fraction(3), "hull zones")
    assert which_limit(killed, 60.0, 60.0) is killed
    assert which_limit(proved, 60.0, 60.0) is proved
