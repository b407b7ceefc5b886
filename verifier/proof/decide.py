"""One requirement, from its slice to a verdict with evidence.

The order: hull zones (is there nothing to fear?), exact zones breadth first (the shortest run,
or that there is none), and for what has too many discrete states the symbolic engine. Whatever
answers, a proof is checked by two solvers on the relation that the interpreter gives, and a run
is replayed on the interpreter.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from verifier.graph.footprints import footprints
from verifier.graph.slice import slice_job
from verifier.model.job import (
    Job,
    LeadsTo,
    MeasureLongest,
    Possible,
    Requirement,
)
from verifier.proof.blocked import comes_to_a_stop, doomed
from verifier.proof.bounded import Shallow, search
from verifier.proof.certificate import texts_of
from verifier.proof.chain import Chain
from verifier.proof.earliest import Found, earliest_of_length
from verifier.proof.exact import Exact, Reached, explore, path_of
from verifier.proof.formula import Compare, Formula, No, Writer, any_of, of_cube, within
from verifier.proof.hull import Hull, hull
from verifier.proof.invariant import invariant_of
from verifier.proof.lemmas import candidates
from verifier.proof.mining import mined
from verifier.proof.moves import Discrete, Move, Moves, TooLarge
from verifier.proof.relation import Relation, relation_of
from verifier.proof.solvers import Answer, check_all_with_z3, check_with_cvc5
from verifier.proof.spacing import lemma_by_spacer
from verifier.proof.timing import Timed, earliest, exact_times
from verifier.proof.verdict import Certificate, Proved, Refuted, Undecided, Verdict
from verifier.proof.whole import replay_on_whole
from verifier.simulate.instant import Commute, outcomes
from verifier.simulate.replay import (
    Concrete,
    DoesNotReplay,
    Replayed,
    fails,
    passed,
    registers_of,
    replay,
)
from verifier.simulate.run import Run, Step
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import System
from verifier.surroundings.happenings import QuietBegins
from verifier.surroundings.state import Registers


class EvidenceFailed(Exception):
    """A certificate or run of our own did not pass its check: the tool's own fault."""


class NotChecked(Exception):
    """A certificate could not be checked within its limits: no verdict, and no fault either."""


class NotOnTheWhole(Exception):
    """A run of a slice did not replay on the whole job (an endless chain elsewhere, say)."""


class EndlessChainFound(Exception):
    """An endless chain can be reached; ``args[0]`` is the :class:`Chain`."""


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
        self.without = doomed(job).cubes
        self.system = System(slice_job(job, requirement), requirement, without=self.without)
        self.commute: Commute | None = commuting(self.system)
        self._relation: Relation | None = None
        self.moves = Moves(self.system, self.commute, bad(self.system) if bad is not None else None)

    @property
    def relation(self) -> Relation:
        """The relation on which proofs are checked (made once; see :meth:`rethink`)."""
        if self._relation is None:
            self._relation = relation_of(self.system, self.commute, self.moves.is_bad)
        return self._relation

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
            raise EndlessChainFound(_chain(self, chain.reached))

    def rethink(self) -> None:
        """Forgets what depends on the monitor's claim, which has changed."""
        self.moves.infos.clear()
        self._relation = None


def commuting(system: System) -> Commute:
    """Whether the handlers of two rules do not touch each other, whatever they set off."""
    prints = footprints(system.job)
    names = [rule.name for rule in system.rules]
    table = [[a != b and not prints[a].meets(prints[b]) for b in names] for a in names]
    return lambda a, b: table[a][b]


# ---------------------------------------------------------------- certificates


def certified(question: Question, lemmas: tuple[Formula, ...]) -> Certificate:
    """The certificate of an invariant, checked by both solvers. Raises: EvidenceFailed."""
    return check_certificate(question.relation, lemmas, question.left_s + 5.0)


def check_certificate(
    relation: Relation, lemmas: tuple[Formula, ...], limit_s: float
) -> Certificate:
    """The certificate of an invariant over a relation, checked by both solvers."""
    texts = texts_of(relation, lemmas)
    answers = check_all_with_z3(tuple(text for _, text in texts), limit_s)
    if [n for (n, _), a in zip(texts, answers, strict=True) if a is not Answer.UNSAT] == ["alive"]:
        texts = texts_of(relation, lemmas, two_steps=True)
        answers = check_all_with_z3(tuple(text for _, text in texts), limit_s)
        if answers[4] is not Answer.UNSAT and relation.system.job.assumptions:
            # Runs that come to a stop are kept in: more runs than there are, never fewer.
            texts = texts_of(relation, lemmas, two_steps=True, own_bounds=True)
            answers = check_all_with_z3(tuple(text for _, text in texts), limit_s)
    others = tuple(check_with_cvc5(text, limit_s) for _, text in texts)
    for solver, given in (("z3", answers), ("cvc5", others)):
        for (name, _), answer in zip(texts, given, strict=True):
            if answer is Answer.UNKNOWN:
                raise NotChecked(f"{solver} gave no answer on the condition “{name}” in time")
            if answer is not Answer.UNSAT:
                raise EvidenceFailed(f"{solver} answers {answer.name} on the condition “{name}”")
    writer = Writer(relation.system)
    return Certificate(tuple(writer.formula(lemma) for lemma in lemmas), texts, ("z3", "cvc5"))


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
    if best.timed.end == (0, 0):
        return best
    found = earliest_of_length(
        question.moves, len(best.path), Found(best.start, best.path, best.timed)
    )
    return Timeline(found.start, found.path, found.timed)


def run_of(
    question: Question,
    timeline: Timeline,
    bad: Callable[[Registers], bool] | None,
    *,
    rests: bool = False,
) -> Run:
    """The run of a timeline, replayed. Raises: EvidenceFailed."""
    system = question.system
    start = Concrete(timeline.start, (Fraction(0),) * len(system.layout.clocks))
    replayed, final = _replayed(question, timeline)
    if bad is not None and not fails(system, final, bad):
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
    moments, _ = exact_times(timeline.timed)
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
    except NotChecked as failure:
        return Undecided(f"a proof was found, but not checked: {failure}", 0)
    except NotOnTheWhole as failure:
        return Undecided(
            f"a run was found in the part that matters, and did not replay on the whole: {failure}",
            0,
        )


@dataclass(frozen=True, slots=True)
class Holds:
    """It holds: the lemmas of an inductive invariant, and how they were found."""

    lemmas: tuple[Formula, ...]
    method: str


@dataclass(frozen=True, slots=True)
class Breaks:
    """It fails: the shortest path to a failing state, with its times."""

    timeline: Timeline
    method: str


@dataclass(frozen=True, slots=True)
class Open:
    """Neither was found; no failing run of up to ``depth`` happenings."""

    depth: int
    reason: str


def holds_or_breaks(question: Question) -> Holds | Breaks | Open:
    """Whether the requirement's monitor is never, or in some run, seen to fail.

    Raises: EndlessChainFound.
    """
    result = _searched(question)
    if isinstance(result, Breaks) and question.job.assumptions:
        final = replayed_to_end(question, result.timeline)
        if comes_to_a_stop(question.job, question.system, final):
            return Open(
                len(result.timeline.path),
                "the run that was found ends where the assumptions leave the surroundings no way "
                "to go on",
            )
    return result


def _searched(question: Question) -> Holds | Breaks | Open:
    quick = replace_budget(question, most_states=FEW_STATES, limit_s=FEW_SECONDS)
    try:
        return _by_zones(question, quick)
    except TooLarge:
        pass
    relation = question.relation
    shallow = search(relation, question.moves, 6, min(2.0, question.left_s))
    if isinstance(shallow, Shallow):
        return Breaks(Timeline(shallow.start, shallow.path, shallow.timed), "bounded search")
    lemmas = mined_lemmas(question)
    if lemmas is not None:
        return Holds(lemmas, "mined lemmas")
    try:
        return _by_zones(question, question.budget)
    except TooLarge:
        pass
    if question.left_s > 1:
        text = lemma_by_spacer(relation, min(10.0, question.left_s / 2))
        if text is not None:
            return Holds((text, *_bounds(question)), "Spacer")
    deep = search(relation, question.moves, 40, question.left_s)
    if isinstance(deep, Shallow):
        return Breaks(Timeline(deep.start, deep.path, deep.timed), "bounded search")
    return Open(deep.depth, "the search grew too large for its limits")


FEW_STATES = 400
FEW_SECONDS = 0.4


def replace_budget(question: Question, *, most_states: int, limit_s: float) -> Budget:
    """A smaller budget for a first try."""
    return Budget(min(limit_s, question.left_s), most_states, 4 * most_states)


def _by_zones(question: Question, budget: Budget) -> Holds | Breaks:
    """The answer of hull and exact zones. Raises: TooLarge, EndlessChainFound."""
    moves = question.moves
    limit = min(budget.limit_s, question.left_s)
    found = hull(moves, most_states=budget.most_states, limit_s=limit)
    if not found.failing and not found.endless:
        zones = {state: [zone] for state, zone in found.zones.items()}
        return Holds((invariant_of(moves, zones),), "hull zones")
    if found.endless:
        question.raise_chain()
    exact = explore(moves, most_nodes=budget.most_nodes, limit_s=limit)
    if any(move.endless for each in moves.moves.values() for move in each):
        question.raise_chain()
    if exact.reached:
        return Breaks(best_timeline(question, exact.reached), "exact zones")
    return Holds((invariant_of(moves, exact.zones),), "exact zones")


def _bounds(question: Question) -> tuple[Formula, ...]:
    """That no clock passes its bound: inductive by themselves, and needed for `alive`."""
    layout = question.system.layout
    return tuple(
        any_of(
            [
                *(within(layout, v, layout.variables[v].every & ~m) for v, m in bound.when),
                Compare(bound.clock + 1, 0, 2 * bound.limit + 1),
            ]
        )
        for bound in layout.bounds
    )


def mined_lemmas(question: Question) -> tuple[Formula, ...] | None:
    """Lemmas from templates, if those that are inductive imply the requirement."""
    relation = question.relation
    guesses = candidates(relation)
    wanted = {any_of([No(of_cube(cube))]) for cube in relation.bad}
    wanted.update(any_of([No(of_cube(p.before))]) for p in relation.paths if p.endless)
    for alone in (False, True):
        lemmas = mined(relation, guesses, min(20.0, question.left_s), alone=alone)
        if lemmas is not None and wanted <= set(lemmas):
            return lemmas
    return None


def _chain(question: Question, reached: tuple[Reached, ...]) -> Chain:
    """The endless chain that a node leads into, replayed. Raises: EvidenceFailed."""
    one = reached[0]
    assert one.endless is not None
    system = question.system
    start, path = path_of(one.node)
    timed = earliest(question.moves, start, path, one.constraints)
    if timed is None:
        raise EvidenceFailed("no path to an endless chain has times of its own")
    timeline = Timeline(start, path, timed)
    here = replayed_to_end(question, timeline)
    begins = system.happenings[one.endless.happening]
    for outcome in outcomes(system, registers_of(here), begins):
        if outcome.endless:
            return Chain(
                begins.what, outcome.because, str(system.unit.seconds(timed.end[0])), len(path)
            )
    raise EvidenceFailed("an endless chain does not replay")


def replayed_to_end(question: Question, timeline: Timeline) -> Concrete:
    """The concrete state at the end of a timeline. Raises: EvidenceFailed."""
    return _replayed(question, timeline)[1]


def _replayed(question: Question, timeline: Timeline) -> tuple[list[Replayed], Concrete]:
    system = question.system
    moments, end = exact_times(timeline.timed)
    start = Concrete(timeline.start, (Fraction(0),) * len(system.layout.clocks))
    steps = [
        (at, system.happenings[move.happening], move.target)
        for at, move in zip(moments, timeline.path, strict=True)
    ]
    try:
        replayed = replay(system, start, steps)
        last = replayed[-1].state if replayed else start
        final = passed(system, last, end - (moments[-1] if moments else Fraction(0)))
        if final is None:
            raise DoesNotReplay("something runs out before the end of the run")
    except DoesNotReplay as failure:
        raise EvidenceFailed(str(failure)) from failure
    try:
        replay_on_whole(
            question.job,
            question.requirement,
            system,
            timeline.start,
            steps,
            end,
            question.without,
        )
    except DoesNotReplay as failure:
        raise NotOnTheWhole(str(failure)) from failure
    return replayed, final


def _safety(question: Question) -> Verdict:
    match holds_or_breaks(question):
        case Breaks(timeline, method):
            return Refuted(run_of(question, timeline, question.system.bad), None, method)
        case Open(depth, reason):
            return Undecided(reason, depth)
        case Holds(lemmas, method):
            certificate = certified(question, lemmas)
            vacuous, why = vacuity(question)
            return Proved(certificate, None, vacuous, why, None, method)


def _possible(question: Question) -> Verdict:
    match holds_or_breaks(question):
        case Breaks(timeline, method):
            run = run_of(question, timeline, question.system.bad)
            return Proved(None, run, False, "", None, method)
        case Open(depth, reason):
            return Undecided(reason, depth)
        case Holds(lemmas, method):
            return Refuted(None, certified(question, lemmas), method)


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
