"""The unfused system: its steps, one after the other, come to what the interpreter's instants do.

Single steps are followed on concrete states by the facts and assignments of the paths alone;
the oracle is the replay of whole instants.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from tests.benchmarks.reading import job_of
from tests.benchmarks.unfused import TooMany, relation_by_steps
from tests.random_jobs import random_job
from verifier.model.job import Job, Requirement
from verifier.proof.relation import Path, Relation
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import Concrete, concrete, passed, position, registers_of
from verifier.simulate.system import System

QUEUED = """button push "Push-button"
lamp light "Sign" 12 W
rule glow
  at once 1, waiting 2
  upon push pressed
  do
    light on
    wait 2 s
    light off
end rule
rule also
  retriggerable
  upon light becomes off
  do
    wait 1 s
end rule
require promise
  at most 2 times in 5 s: glow starts
end require
"""


def applied(path: Path, state: Concrete) -> Concrete | None:
    """The state after a path; None if its facts are not so."""
    if not all(state.values[v] & mask for v, mask in path.before.values):
        return None
    for clock, least, most in path.before.clocks:
        if not least <= position(state.clocks[clock]) <= most:
            return None
    values, clocks = list(state.values), list(state.clocks)
    for variable, source, bit in path.values:
        values[variable] = state.values[source] if source >= 0 else bit
    for clock, source in path.clocks:
        clocks[clock] = state.clocks[source] if source >= 0 else Fraction(0)
    return Concrete(tuple(values), tuple(clocks))


def settled(relation: Relation, busy: int, state: Concrete, number: int) -> set[Concrete]:
    """Every settled state to which single steps lead from a happening."""
    ends: set[Concrete] = set()
    first = [applied(p, state) for p in relation.paths if p.happening == number]
    todo = [one for one in first if one is not None]
    seen = set(todo)
    while todo:
        one = todo.pop()
        if one.values[busy] == 1:
            ends.add(one)
            continue
        for path in relation.paths:
            after = applied(path, one) if path.happening < 0 and not path.endless else None
            if after is not None and after not in seen:
                seen.add(after)
                todo.append(after)
    return ends


def compare(job: Job, requirement: Requirement, random: Random) -> int:
    """How many instants were compared along one random walk."""
    relation, control = relation_by_steps(job, requirement)
    whole, system = System(job, requirement), relation.system
    count = len(whole.layout.variables)
    start = random.choice(relation.starts)
    values = [
        1 << random.choice([i for i in range(f.bit_length()) if f >> i & 1])
        for f in (v.every for v in system.layout.variables)
    ]
    for variable, mask in start.before.values:
        values[variable] = mask & -mask
    zero = (Fraction(0),) * len(system.layout.clocks)
    begun = applied(start, Concrete(tuple(values), zero))
    assert begun is not None
    state, compared = begun, 0
    assert all(state.values[v] == 1 for v in (control.busy, *control.flags(), control.count))
    for _ in range(25):
        later = passed(system, state, Fraction(random.randint(0, 2), 2))
        state = state if later is None else later
        before = Concrete(state.values[:count], state.clocks)
        goes_on = []
        for number, happening in enumerate(whole.happenings):
            found = outcomes(whole, registers_of(before), happening)
            if any(outcome.endless for outcome in found):
                continue
            ends = settled(relation, control.busy, state, number)
            assert {Concrete(one.values[:count], one.clocks) for one in ends} == {
                concrete(outcome, before) for outcome in found
            }
            compared += 1
            goes_on.extend(sorted(ends, key=lambda one: (one.values, one.clocks)))
        if goes_on:
            state = random.choice(goes_on)
    return compared


def test_waiting_triggers_take_their_turns_in_steps() -> None:
    job = job_of(QUEUED)
    for seed in range(20):
        assert compare(job, job.requirement["promise"], Random(seed)) > 20


@pytest.mark.parametrize("seed", range(60))
def test_steps_one_after_the_other_are_the_instants(seed: int) -> None:
    job, requirement = random_job(Random(seed))
    try:
        compare(job, requirement, Random(seed))
    except TooMany:
        pytest.skip("an instant without an end")
