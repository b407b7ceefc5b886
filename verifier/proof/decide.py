"""One requirement, from its slice to a verdict with evidence.

The order: hull zones (is there nothing to fear?), exact zones breadth first (the shortest run,
or that there is none), and for what has too many discrete states the symbolic engine. Whatever
answers, a proof is checked by two solvers on the relation that the interpreter gives, and a run
is replayed on the interpreter.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.graph.slice import slice_job
from verifier.model.job import (
    Job,
    LeadsTo,
    MeasureLongest,
    Possible,
    Requirement,
)
from verifier.proof.certificate import texts_of
from verifier.proof.exact import Exact, Reached, explore, path_of
from verifier.proof.formula import Formula, Writer
from verifier.proof.hull import Hull, TooLarge, hull
from verifier.proof.invariant import invariant_of
from verifier.proof.moves import Discrete, Move, Moves
from verifier.proof.relation import Relation, relation_of
from verifier.proof.solvers import Answer, check_with_cvc5, check_with_z3
from verifier.proof.timing import Timed, earliest, exact_times
from verifier.proof.verdict import Answered, Certificate, Proved, Refuted, Undecided, Verdict
from verifier.proof.zones import INFINITE, Zone, constrained_all
from verifier.simulate.instant import Commute
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.replay import Concrete, DoesNotReplay, Replayed, fails, passed, replay
from verifier.simulate.run import Run, Step
from verifier.simulate.system import System
from verifier.surroundings.happenings import QuietBegins
from verifier.surroundings.state import Registers


class EvidenceFailed(Exception):
    """A certificate or run of our own did not pass its check: the tool's own fault."""


class EndlessChainFound(Exception):
    """An endless chain can be reached; ``args[0]`` is the run to it."""


@dataclass(frozen=True, slots=True)
class Budget:
    """How long one requirement may take, and where the engines give up."""

    limit_s: float = 60.0
    most_states: int = 4_000
    most_nodes: int = 40_000


class Question:
    """A system with its moves, and what has been found out about it."""

    def __init__(
        self,
        job: Job,
        requirement: Requirement,
        budget: Budget,
        bad: Callable[[System], Callable[[Registers], bool]] | None = None,
    ) -> None:
        self.job = job
        self.requirement = requirement
        self.budget = budget
        self.until = time.monotonic() + budget.limit_s
        self.system = System(slice_job(job, requirement), requirement)
        self.commute: Commute | None = None
        self.moves = Moves(
            self.system, self.commute, bad(self.system) if bad is not None else None
        )

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return max(0.0, self.until - time.monotonic())

    def hull(self, *, stop_when_failing: bool = True) -> Hull:
        """The hull of all that can be reached. Raises: TooLarge."""
        return hull(
            self.moves,
            most_states=self.budget.most_states,
            limit_s=self.left_s,
            stop_when_failing=stop_when_failing,
        )

    def explore(self, *, want_endless: bool = False) -> Exact:
        """The shortest runs to what fails. Raises: TooLarge."""
        return explore(
            self.moves,
            most_nodes=self.budget.most_nodes,
            limit_s=self.left_s,
            want_endless=want_endless,
        )

    def raise_chain(self) -> None:
        """Raises EndlessChainFound if an endless chain can be reached. Raises: TooLarge."""
        chain = self.explore(want_endless=True)
        if chain.reached:
            raise EndlessChainFound(_chain_run(self, chain.reached))

    def rethink(self) -> None:
        """Forgets what depends on the monitor's claim, which has changed."""
        self.moves.infos.clear()


# ---------------------------------------------------------------- certificates


def certified(question: Question, lemmas: tuple[Formula, ...]) -> Certificate:
    """The certificate of an invariant, checked by both solvers. Raises: EvidenceFailed."""
    relation = relation_of(question.system, question.commute)
    return check_certificate(relation, lemmas, question.left_s + 5.0)


def check_certificate(
    relation: Relation, lemmas: tuple[Formula, ...], limit_s: float
) -> Certificate:
    """The certificate of an invariant over a relation, checked by both solvers."""
    texts = texts_of(relation, lemmas)
    for name, text in texts:
        for solver, check in (("z3", check_with_z3), ("cvc5", check_with_cvc5)):
            answer = check(text, limit_s)
            if answer is not Answer.UNSAT:
                raise EvidenceFailed(f"{solver} answers {answer.name} on the condition “{name}”")
    writer = Writer(relation.system)
    return Certificate(
        tuple(writer.formula(lemma) for lemma in lemmas), texts, ("z3", "cvc5")
    )


# ---------------------------------------------------------------- runs


@dataclass(frozen=True, slots=True)
class Timeline:
    """A path with its times, ready to be replayed."""

    start: Discrete
    path: tuple[Move, ...]
    timed: Timed


def best_timeline(question: Question, reached: tuple[Reached, ...]) -> Timeline:
    """Of the shortest paths the one that fails earliest."""
    best: Timeline | None = None
    for one in reached:
        start, path = path_of(one.node)
        timed = earliest(question.moves, start, path, one.constraints)
        if timed is None:
            continue
        if best is None or (timed.end, timed.moments) < (best.timed.end, best.timed.moments):
            best = Timeline(start, path, timed)
    if best is None:
        raise EvidenceFailed("no path to a failing zone has times of its own")
    return best


def run_of(
    question: Question,
    timeline: Timeline,
    bad: Callable[[Registers], bool] | None,
    *,
    rests: bool = False,
) -> Run:
    """The run of a timeline, replayed. Raises: EvidenceFailed."""
    system = question.system
    moments, end = exact_times(timeline.timed)
    start = Concrete(timeline.start, (Fraction(0),) * len(system.layout.clocks))
    steps = [
        (at, system.happenings[move.happening], move.target)
        for at, move in zip(moments, timeline.path, strict=True)
    ]
    try:
        replayed = replay(system, start, steps)
    except DoesNotReplay as failure:
        raise EvidenceFailed(str(failure)) from failure
    last = replayed[-1].state if replayed else start
    final = passed(system, last, end - (moments[-1] if moments else Fraction(0)))
    if final is None or (bad is not None and not fails(system, final, bad)):
        raise EvidenceFailed("the run does not fail where it was said to")
    return told(question, timeline, replayed, start, rests=rests)


def told(
    question: Question,
    timeline: Timeline,
    replayed: list[Replayed],
    start: Concrete,
    *,
    rests: bool,
) -> Run:
    """A replayed run in the contract's words."""
    system, unit = question.system, question.system.unit
    moments, end = exact_times(timeline.timed)
    before = start
    steps: list[Step] = []
    for k, (move, result) in enumerate(zip(timeline.path, replayed, strict=True)):
        happening = system.happenings[move.happening]
        changes = changes_between(system, before, result.state)
        before = result.state
        if isinstance(happening, QuietBegins):
            continue
        whole, small = timeline.timed.moments[k]
        steps.append(
            Step(
                unit.seconds(moments[k]),
                unit.seconds(whole),
                small > 0,
                happening.what,
                changes,
                result.because,
            )
        )
    return Run(
        tuple(seen_values(system, start).items()),
        tuple(steps),
        unit.seconds(timeline.timed.end[0]),
        timeline.timed.end[1] > 0,
        None,
        rests,
    )


def seen_values(system: System, state: Concrete) -> dict[str, str]:
    """What a person could see of a state: (subject, value) in declared order."""
    return {name: value for name, value, _ in _seen(system, state)}


def changes_between(
    system: System, before: Concrete, after: Concrete
) -> tuple[tuple[str, str], ...]:
    """What differs, in declared order."""
    old = seen_values(system, before)
    return tuple((n, v) for n, v in seen_values(system, after).items() if old[n] != v)


def _seen(system: System, state: Concrete) -> list[tuple[str, str, int]]:
    from verifier.model.job import DOOR_VALUES, Is
    from verifier.model.words import words

    world, layout = system.world, system.layout
    found: list[tuple[str, str, int]] = []
    for point in system.job.points:
        if point.name in system.job.door_of_point:
            variable, mask = world.locate(Is(point.name, point.kind.values[1]))
            on = bool(state.values[variable] & mask)
            found.append((point.name, point.kind.values[1 if on else 0], variable))
        elif point.name in world.of_point:
            variable = world.of_point[point.name]
            value = layout.variables[variable].values[state.values[variable].bit_length() - 1]
            text = words(value) if isinstance(value, Fraction) else str(value)
            found.append((point.name, text, variable))
    for door in system.job.doors:
        variable = world.of_door[door.name]
        for value in DOOR_VALUES:
            if state.values[variable] & world.locate(Is(door.name, value))[1]:
                found.append((door.name, value, variable))
    for room in system.job.rooms:
        variable = world.of_room[room.name]
        peopled = state.values[variable] == 2
        found.append((room.name, "peopled" if peopled else "empty", variable))
    if world.night is not None:
        found.append(("sun", "night" if state.values[world.night] == 2 else "day", world.night))
    for rule, slots in zip(system.rules, system.slots, strict=True):
        count = sum(state.values[slot] != 1 for slot in slots)
        text = "idle" if count == 0 else "running" if len(slots) == 1 else f"{count} running"
        found.append((rule.name, text, slots[0]))
    return found


# ---------------------------------------------------------------- verdicts


def decide(job: Job, requirement: Requirement, budget: Budget | None = None) -> Verdict:
    """The verdict on one requirement of a job.

    Raises: EvidenceFailed, EndlessChainFound.
    """
    question = Question(job, requirement, budget or Budget())
    try:
        match requirement.form:
            case MeasureLongest():
                return _measure(question)
            case LeadsTo():
                return _leads_to(question)
            case Possible():
                return _possible(question)
            case _:
                return _safety(question)
    except TooLarge as large:
        depth = large.args[0] if large.args else 0
        return Undecided("the search grew too large for its limits", depth)


def holds_or_run(question: Question) -> tuple[Formula, ...] | tuple[Reached, ...]:
    """The lemmas of an invariant that keeps the requirement, or the shortest ways to break it.

    Raises: TooLarge, EndlessChainFound.
    """
    found = question.hull()
    if not found.failing and not found.endless:
        return (invariant_of(question.moves, {s: [z] for s, z in found.zones.items()}),)
    exact = question.explore()
    if found.endless or any(m.endless for moves in question.moves.moves.values() for m in moves):
        question.raise_chain()
    if exact.reached:
        return exact.reached
    return (invariant_of(question.moves, exact.zones),)


def _chain_run(question: Question, reached: tuple[Reached, ...]) -> Run:
    timeline = best_timeline(question, reached)
    return run_of(question, timeline, None)


def _safety(question: Question) -> Verdict:
    result = holds_or_run(question)
    if result and isinstance(result[0], Reached):
        reached = tuple(r for r in result if isinstance(r, Reached))
        timeline = best_timeline(question, reached)
        return Refuted(run_of(question, timeline, question.system.bad), None, "shortest run")
    lemmas = tuple(r for r in result if not isinstance(r, Reached))
    certificate = certified(question, lemmas)
    vacuous, why = vacuity(question)
    return Proved(certificate, None, vacuous, why, None, "inductive invariant")


def _possible(question: Question) -> Verdict:
    result = holds_or_run(question)
    if result and isinstance(result[0], Reached):
        reached = tuple(r for r in result if isinstance(r, Reached))
        timeline = best_timeline(question, reached)
        run = run_of(question, timeline, question.system.bad)
        return Proved(None, run, False, "", None, "a run that reaches it")
    lemmas = tuple(r for r in result if not isinstance(r, Reached))
    return Refuted(None, certified(question, lemmas), "inductive invariant")


def reachable(
    job: Job, requirement: Requirement, budget: Budget
) -> bool:
    """Whether a ``possible`` requirement can be reached. Raises: TooLarge."""
    question = Question(job, requirement, budget)
    result = holds_or_run(question)
    return bool(result) and isinstance(result[0], Reached)


def vacuity(question: Question) -> tuple[bool, str]:
    """Whether a proved requirement never came into play, and why."""
    from verifier.proof.vacuity import why_vacuous

    why = why_vacuous(question.job, question.requirement, question.budget)
    return bool(why), why


# ---------------------------------------------------------------- leads to


def _leads_to(question: Question) -> Verdict:
    from verifier.proof.lasting import leads_to

    return leads_to(question)


def _measure(question: Question) -> Verdict:
    from verifier.proof.lasting import measure

    return measure(question)


