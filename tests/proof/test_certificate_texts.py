"""The texts of a certificate against the interpreter, state by state.

The solvers say whether a text can be satisfied; nothing but this says that it speaks of the job.
Each text is read by a reader of its own (``smt.py``) and asked about concrete states, such as runs
come to and such as they do not: it must be true of exactly what the interpreter does there.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from fractions import Fraction
from random import Random

import pytest

from tests.proof.features import FEATURES, LEFT_OUT
from tests.proof.smt import Holds, assertions, holds
from tests.proof.test_checker import ONE_AFTER_THE_OTHER
from tests.proof.test_driver import some_states
from tests.random_jobs import random_job
from verifier.model import check
from verifier.model.job import Job, Requirement
from verifier.proof.certificate import possible, texts_of
from verifier.proof.formula import Writer
from verifier.proof.relation import Relation, relation_of
from verifier.simulate.explicit import starts
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import Concrete, fails, happen, passed, registers_of
from verifier.simulate.system import System
from verifier.source import SourceFile, Sources
from verifier.surroundings.happenings import DoorMoves, InputTurns, SunTurns
from verifier.surroundings.state import Bound

SEEDS = range(300) if os.environ.get("DUSKPROOF_PROFILE") == "long" else range(28)
MOST_PATHS = 120
"""A job with more (a few of a hundred) is left for the next: every path is tried for every step."""

STATES = 16
"""Of each job: half of them walked to, half at random."""


# Where time stops and something outside has to happen first.
BY_HAND = {
    **FEATURES,
    "one after the other": ONE_AFTER_THE_OTHER,
    "two in the way": """
contact first "First door" starts open
contact second "Second door" starts shut
detector pir "Passage" holds 2 s rearm 1 s
assume first stays open at most 3 s
assume second stays open at most 2 s
assume second stays shut at least 1 s
assume always (first is open or second is open or pir is occupied)
require one_is_open
  no longer than 2 s: first is shut
end require
""",
    "a door with people": """
limit up "Upper limit"
limit down "Lower limit"
detector pir "Hall" holds 1 s
door gate
  raised by up
  lowered by down
  travel 2 s to 3 s
end door
room hall
  entered by gate
  seen by pir
  still at most 2 s
  noticed within 1 s
end room
assume always (gate is moving implies night)
require seen
  no longer than 2 s: hall is peopled and pir is vacant
end require
""",
}


class Case:
    """A job with its relation, its texts as functions, and states to ask about."""

    def __init__(self, which: int | str) -> None:
        self.rng = Random(which)
        while True:
            if isinstance(which, int):
                job, requirement = random_job(self.rng)
            else:
                job, requirement = by_hand(BY_HAND[which])
            without = LEFT_OUT.get(which, ()) if isinstance(which, str) else ()
            self.system = System(job, requirement, without=without)
            self.relation: Relation = relation_of(self.system)
            if len(self.relation.paths) <= MOST_PATHS or isinstance(which, str):
                break
        self.writer = Writer(self.system)
        self.texts = dict(texts_of(self.relation, ()))
        walked = some_states(self.system, self.rng, 8 * STATES)
        most = STATES if isinstance(which, int) else 8 * STATES
        chosen = self.rng.sample(walked, min(len(walked), most // 2))
        self.walked = [
            Concrete(values, tuple(Fraction(c, 2) for c in clocks)) for values, clocks in chosen
        ]
        self.states = [*self.walked, *(self.any_state() for _ in range(most // 2))]

    def any_state(self) -> Concrete:
        """A state of the right shape, whether a run comes to it or not."""
        layout = self.system.layout
        return Concrete(
            tuple(self.one_of(v.every) for v in layout.variables),
            tuple(Fraction(self.rng.randrange(2 * most + 3), 2) for most in layout.greatest),
        )

    def one_of(self, mask: int) -> int:
        return self.rng.choice([1 << i for i in range(mask.bit_length()) if mask >> i & 1])

    def another(self, state: Concrete) -> Concrete:
        """The state with one value or one clock that matters turned to something else."""
        layout = self.system.layout
        places = [
            v for v, variable in enumerate(layout.variables) if variable.every.bit_count() > 1
        ]
        values, clocks = list(state.values), list(state.clocks)
        if places and (not self.writer.clocks or self.rng.random() < 0.7):
            place = self.rng.choice(places)
            values[place] = self.one_of(layout.variables[place].every & ~values[place])
        elif self.writer.clocks:
            place = self.rng.choice(self.writer.clocks)
            clocks[place] += Fraction(1, 2)
        return Concrete(tuple(values), tuple(clocks))

    def named(self, state: Concrete, mark: str = "") -> dict[str, bool | float]:
        """A state by the names of the texts, written here from the layout alone."""
        layout, found = self.system.layout, dict[str, bool | float]()
        for variable, bit in zip(layout.variables, state.values, strict=True):
            if len(variable.values) == 2 and not variable.passing:
                found[variable.name + mark] = bit == 2
            else:
                for i, value in enumerate(variable.values):
                    found[f"{variable.name} = {value}{mark}"] = bit == 1 << i
        for clock, time in zip(layout.clocks, state.clocks, strict=True):
            found[clock + mark] = float(time)
        return found

    def shown(self, state: Concrete) -> tuple[object, ...]:
        """What the texts see of a state: clocks that nothing compares are not in them."""
        return state.values, tuple(state.clocks[c] for c in self.writer.clocks)


def by_hand(text: str) -> tuple[Job, Requirement]:
    """The job of a text and its one requirement."""
    job, told = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, told
    return job, job.requirements[0]


@pytest.fixture(scope="module", params=[*SEEDS, *BY_HAND])
def case(request: pytest.FixtureRequest) -> Case:
    """A case for each seed."""
    return Case(request.param)


def taken(paths: int, now: dict[str, bool | float]) -> Iterator[dict[str, bool | float]]:
    """The values with each path taken in turn, alone."""
    digits = (paths - 1).bit_length() if paths else 0
    for number in range(paths):
        yield {
            **now,
            **{f"path {k}": k == number for k in range(paths)},
            **{f"digit {i}": bool(number >> i & 1) for i in range(digits)},
        }


def leads(
    case: Case, conditions: list[Holds], before: Concrete, after: Concrete, paths: int
) -> bool:
    """Whether some path leads from one state to another, by the text."""
    now = {**case.named(before), **case.named(after, "'")}
    return any(all(c(values) for c in conditions) for values in taken(paths, now))


def relation_in(text: str) -> list[Holds]:
    """The assertions of a text but for the last, which says that the invariant is broken."""
    return assertions(text)[:-1]


def test_kept_is_true_of_each_step_and_of_no_other(case: Case) -> None:
    paths = sum(not path.endless for path in case.relation.paths)
    conditions = relation_in(case.texts["kept"])
    for state in case.states[:: 2 if paths < 60 else 6]:
        ends = {
            case.shown(end.state): end.state
            for happening in case.system.happenings
            for end in happen(case.system, state, happening)
        }
        for end in list(ends.values())[:6]:
            assert leads(case, conditions, state, end, paths)
            other = case.another(end)
            assert leads(case, conditions, state, other, paths) == (case.shown(other) in ends)


def test_kept_in_time_is_true_of_the_time_that_may_pass(case: Case) -> None:
    conditions = relation_in(case.texts["kept in time"])
    for state in case.states:
        for half in range(-1, 9):
            units = Fraction(half, 2)
            after = passed(case.system, state, units)
            target = Concrete(state.values, tuple(c + units for c in state.clocks))
            values = {**case.named(state), **case.named(target, "'"), "time passed": float(units)}
            assert all(c(values) for c in conditions) == (after is not None and units >= 0)
            other = case.named(case.another(target), "'")
            assert not all(c({**values, **other}) for c in conditions)


def test_initial_is_true_of_each_start(case: Case) -> None:
    paths = len(case.relation.starts)
    conditions = relation_in(case.texts["initial"])
    begins = {
        case.shown(state): state
        for state in (
            Concrete(values, tuple(Fraction(c, 2) for c in clocks))
            for values, clocks in starts(case.system)
        )
    }
    for start in list(begins.values())[:8]:
        assert leads(case, conditions, start, start, paths)
        other = case.another(start)
        assert leads(case, conditions, other, other, paths) == (case.shown(other) in begins)


def test_implies_is_true_of_each_failing_state(case: Case) -> None:
    text = case.texts["implies"]
    for state in case.states:
        values = case.named(state)
        assert all(c(values) for c in assertions(text)) == fails(case.system, state)


def test_possible_says_what_the_interpreter_does(case: Case) -> None:
    """What `cover` demands of the paths is read off the job: it must be no more and no less."""
    for happening in case.system.happenings:
        told = holds(case.writer.formula(possible(case.system, happening)))
        for state in case.states:
            does = bool(outcomes(case.system, registers_of(state), happening))
            assert told(case.named(state)) == does, happening.what


def test_cover_and_chain_are_true_where_a_path_lacks_or_never_ends(case: Case) -> None:
    endless = [path for path in case.relation.paths if path.endless]
    less = Relation(
        case.system,
        case.relation.starts,
        tuple(p for p in case.relation.paths if p.happening != 0),
        case.relation.bad,
    )
    lost = dict(texts_of(less, ()))["cover"]
    for state in case.states:
        values = case.named(state)
        assert not all(c(values) for c in assertions(case.texts["cover"]))
        first = bool(outcomes(case.system, registers_of(state), case.system.happenings[0]))
        assert all(c(values) for c in assertions(lost)) == first
        goes_round = any(
            outcome.endless
            for happening in (case.system.happenings if endless else ())
            for outcome in outcomes(case.system, registers_of(state), happening)
        )
        assert all(c(values) for c in assertions(case.texts["chain"])) == goes_round


def test_alive_is_true_where_time_stops_and_nothing_due_can_happen(case: Case) -> None:
    conditions = assertions(case.texts["alive"])
    own = assertions(dict(texts_of(case.relation, (), own_bounds=True))["alive"])
    two = assertions(dict(texts_of(case.relation, (), two_steps=True))["alive"])
    for state in case.states:
        stuck = [
            b for b in case.system.layout.bounds if tight(b, state) and not ends(case, state, b)
        ]
        values = case.named(state)
        assert all(c(values) for c in conditions) == bool(stuck)
        assert all(c(values) for c in own) == any(not b.outside for b in stuck)
        assert all(c(values) for c in two) == any(not ends_later(case, state, b) for b in stuck)


def tight(bound: Bound, state: Concrete) -> bool:
    """Whether a bound stops time in a state."""
    return state.clocks[bound.clock] >= bound.limit and all(
        state.values[v] & mask for v, mask in bound.when
    )


def ends(case: Case, state: Concrete, bound: Bound) -> bool:
    """Whether something can happen that writes what the bound reads, so that it no longer stops time."""
    for happening in case.system.happenings:
        for outcome in outcomes(case.system, registers_of(state), happening):
            reg = outcome.registers
            if outcome.endless:
                continue
            if reg.clock_from[bound.clock] != bound.clock:
                return True
            if any(reg.source[v] < 0 and not reg.value[v] & mask for v, mask in bound.when):
                return True
    return False


def ends_later(case: Case, state: Concrete, bound: Bound) -> bool:
    """Whether something outside can happen first, so that the bound can then be ended."""
    return any(
        ends(case, step.state, bound)
        for happening in case.system.happenings
        if isinstance(happening, InputTurns | SunTurns | DoorMoves)
        for step in happen(case.system, state, happening)
    )
