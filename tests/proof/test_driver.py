"""The relation that the interpreter gives when driven over unknown states, against concrete runs.

The six conditions cannot see a lost order; only this comparison does. Concrete execution tries
every order; the relation uses one order where handlers commute.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import pytest

from tests.random_jobs import random_job
from verifier.proof.question import commuting
from verifier.proof.relation import Path, Relation, relation_of
from verifier.simulate.explicit import (
    State,
    can_tick,
    registers_of,
    starts,
    state_of,
    ticked,
    tidied,
)
from verifier.simulate.instant import outcomes
from verifier.simulate.system import System

ENDLESS: State = ((), ())


def some_states(system: System, rng: Random, most: int) -> list[State]:
    """States that runs come to, found by walking about."""
    seen = dict.fromkeys(starts(system)[:20])
    todo = list(seen)
    while todo and len(seen) < most:
        state = todo.pop(rng.randrange(len(todo)))
        following = [ticked(system, state)] if can_tick(system, state) else []
        for happening in system.happenings:
            for outcome in outcomes(system, registers_of(state), happening):
                if not outcome.endless:
                    following.append(state_of(system, outcome.registers))
        for target in following:
            if target not in seen:
                seen[target] = None
                todo.append(target)
    return list(seen)


def concretely(system: System, state: State, happening: int) -> set[State]:
    """Where a happening can lead from a state, by concrete execution over every order."""
    found = set()
    for outcome in outcomes(system, registers_of(state), system.happenings[happening]):
        found.add(ENDLESS if outcome.endless else state_of(system, outcome.registers))
    return found


def by_paths(relation: Relation, state: State, happening: int) -> set[State]:
    """Where the relation says that it can lead."""
    return {
        ENDLESS if path.endless else applied(relation.system, path, state)
        for path in relation.paths
        if path.happening == happening and fits(path, state)
    }


def fits(path: Path, state: State) -> bool:
    """Whether a state is in the cube of a path."""
    values, clocks = state
    return all(values[v] & m for v, m in path.before.values) and all(
        low <= clocks[c] <= high for c, low, high in path.before.clocks
    )


def applied(system: System, path: Path, state: State) -> State:
    """The state after a path."""
    values, clocks = list(state[0]), list(state[1])
    for variable, source, bit in path.values:
        values[variable] = state[0][source] if source >= 0 else bit
    for clock, source in path.clocks:
        clocks[clock] = state[1][source] if source >= 0 else 0
    return tuple(values), tidied(system, tuple(values), clocks)


def differences(relation: Relation, rng: Random, most: int) -> Iterator[tuple[State, int]]:
    """(state, happening) at which the relation and concrete execution disagree."""
    system = relation.system
    for state in some_states(system, rng, most):
        for happening in range(len(system.happenings)):
            if concretely(system, state, happening) != by_paths(relation, state, happening):
                yield state, happening


@pytest.mark.parametrize("seed", range(40))
def test_the_relation_agrees_with_concrete_execution_over_all_orders(seed: int) -> None:
    job, requirement = random_job(Random(seed))
    system = System(job, requirement)
    relation = relation_of(system, commuting(system))
    assert next(differences(relation, Random(seed), 60), None) is None
