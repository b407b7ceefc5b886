"""Runs of one rule side by side: against a plain list of runs, and no more states than ages.

The list knows nothing of slots: it holds when each run ends, and a press beyond the most is dropped
(paragraph 5 of the meaning).
"""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of
from verifier.proof.decide import decide
from verifier.proof.hull import hull
from verifier.proof.question import Budget, Question
from verifier.proof.verdict import Proved, Refuted
from verifier.simulate.replay import Concrete, happen, passed
from verifier.simulate.system import System
from verifier.surroundings.happenings import ButtonPressed, WaitRunsOut

IDLE = 1


def job_text(at_once: int) -> str:
    return (
        'button push "Push-button"\nlamp light "Sign" 12 W\n'
        f"rule glow\n  at once {at_once}\n  upon push pressed\n  do\n"
        "    light on\n    wait 3 s\n    wait 4 s\n    light off\nend rule\n"
        "require promise\n  never: light is on and not (glow is running)\nend require\n"
    )


@pytest.mark.parametrize("seed", range(40))
def test_runs_are_those_of_a_plain_list(seed: int) -> None:
    random = Random(seed)
    at_once = random.randint(2, 4)
    job = job_of(job_text(at_once))
    system = System(job, job.requirement["promise"])
    assert system.unit.size_s == 1
    press = next(h for h in system.happenings if isinstance(h, ButtonPressed))
    slots, clocks = system.slots[0], system.slot_clocks[0]
    start = [variable.bit(variable.values[0]) for variable in system.layout.variables]
    state = Concrete(tuple(start), (Fraction(0),) * len(system.layout.clocks))
    runs: list[tuple[int, int]] = []
    """(place, moment from which it rests there), the oldest run first."""
    now = 0
    for _ in range(60):
        due = [k for k, (place, at) in enumerate(runs) if now - at == (3, 4)[place]]
        if due and random.random() < 0.7:
            k = random.choice(due)
            place = runs[k][0]
            expiry = next(
                h
                for h in system.happenings
                if isinstance(h, WaitRunsOut) and (h.slot, h.place) == (k, place)
            )
            (after,) = happen(system, state, expiry)
            if place == 0:
                runs[k] = (1, now)
            else:
                del runs[k]
        elif not due and random.random() < 0.5:
            later = passed(system, state, Fraction(1))
            assert later is not None
            state, now = later, now + 1
            continue
        else:
            (after,) = happen(system, state, press)
            if len(runs) < at_once:
                runs.append((0, now))
        state = after.state
        busy = [slot for slot in slots if state.values[slot] != IDLE]
        assert busy == slots[: len(runs)], "runs fill the first slots"
        assert [state.values[slot] for slot in busy] == [system.at(p) for p, _ in runs]
        assert [state.clocks[clocks[k]] for k in range(len(runs))] == [now - at for _, at in runs]


@pytest.mark.parametrize("size", [2, 4, 8])
def test_what_runs_side_by_side_is_told_apart_by_age_alone(size: int) -> None:
    job = job_of(FAMILY["at_once"].job(size))
    question = Question(job, job.requirement["promise"], Budget())
    # So many runs, light on or off, a press seen or not: no subsets and no orders of slots.
    assert len(hull(question.moves).zones) <= 4 * (size + 1)
    assert len(question.relation.paths) <= 4 * (size + 1) ** 2


def test_many_runs_side_by_side_are_proved() -> None:
    job = job_of(FAMILY["at_once"].job(16))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)
    job = job_of(FAMILY["starts"].job(8))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Proved)


def test_many_starts_fail_by_the_shortest_run() -> None:
    job = job_of(FAMILY["starts"].twin(8))
    verdict = decide(job, job.requirement["promise"], Budget(limit_s=60))
    assert isinstance(verdict, Refuted)
    assert verdict.run is not None
    # Eight presses, one end, and the ninth start: 10 s after the first.
    assert len(verdict.run.steps) == 10
    assert verdict.run.fails_s == 10
