"""The engines in their order: whether a monitor is ever seen to fail, by lemmas or by a path.

Hull zones (is there nothing to fear?), exact zones breadth first (the shortest run, or that there
is none), both at first over the variables that matter (:mod:`verifier.proof.silent`); where many
rules work together the slice is taken apart before they have their turn in full
(:mod:`verifier.proof.split`); and for what has too many discrete states bounded search, mined
lemmas and Spacer. None is trusted: what they
find is checked as evidence.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.proof.blocked import comes_to_a_stop
from verifier.proof.bounded import Unrolling
from verifier.proof.evidence import best_timeline, raise_chain, replayed_to_end
from verifier.proof.exact import explore
from verifier.proof.formula import Formula, Quoted
from verifier.proof.hull import Hull, hull
from verifier.proof.invariant import invariant_of
from verifier.proof.lemmas import bound_lemmas, candidates, wanted
from verifier.proof.mining import mined
from verifier.proof.moves import Moves, TooLarge
from verifier.proof.question import Budget, Question
from verifier.proof.silent import lifted
from verifier.proof.spacer import invariant_by_spacer
from verifier.proof.split import FEWEST, Stuck, resting, split_lemmas
from verifier.proof.timing import Timeline
from verifier.proof.verdict import LimitMet, Reason, RunComesToAStop

FEW_STATES = 400
LITTLE_WORK = 400_000
"""What the zones are given at first, before the engines for large slices have their turn.

Half a second of a quiet machine; counted, not timed, so that a busy one gives the same answer.
"""

FIRST_WORK = 1_200
"""What they are given before the slice is taken apart: a run of few happenings is found in it."""

SEARCH_S = 8.0
"""Seconds for each of the first two bounded searches, which take tenths as a rule."""

WIDE = 8
"""Rules that can rest from which on a shallow failure is looked for before a slice is taken apart."""

SHALLOW, DEEPER, DEEPEST = 2, 6, 40
"""Happenings up to which a failure is looked for before lemmas are mined, after, and at the end."""


@dataclass(frozen=True, slots=True)
class Holds:
    """It holds: the lemmas of an inductive invariant, and how they were found."""

    lemmas: tuple[Formula, ...]
    method: str
    sure: bool = True
    """Whether a certificate that does not pass is the tool's fault.

    Not of lemmas from parts of a slice: whether time goes on may hang on more than they look at.
    """


@dataclass(frozen=True, slots=True)
class Breaks:
    """It fails: the shortest path to a failing state, with its times."""

    timeline: Timeline
    method: str


@dataclass(frozen=True, slots=True)
class Open:
    """Neither was found: why, how many happenings deep the search went, and what held it up."""

    depth: int
    reason: Reason
    held_up: str = ""


def holds_or_breaks(question: Question, *, apart: bool = True) -> Holds | Breaks | Open:
    """Whether the requirement's monitor is never, or in some run, seen to fail.

    ``apart``: whether the slice may be taken apart. Raises: EndlessChainFound.
    """
    result = _searched(question, apart=apart)
    if isinstance(result, Breaks) and question.job.assumptions:
        final = replayed_to_end(question, result.timeline)
        if comes_to_a_stop(question.job, question.system, final):
            return Open(
                len(result.timeline.path),
                RunComesToAStop(),
            )
    return result


def _searched(question: Question, *, apart: bool) -> Holds | Breaks | Open:
    pinned = question.pinned()
    held_up = ""
    relation = question.relation
    unrolling: Unrolling | None = None
    rules = resting(question.system)
    if apart and rules >= FEWEST:
        if rules >= WIDE:
            unrolling = Unrolling(relation, question.moves)
        answer = _apart(question, pinned, unrolling)
        if not isinstance(answer, Stuck):
            return answer
        held_up = answer.rule
    try:
        return by_zones(question, pinned, _quick(question))
    except TooLarge:
        pass
    if unrolling is None:
        unrolling = Unrolling(relation, question.moves)
    found = unrolling.search(SHALLOW, min(SEARCH_S, question.left_s))
    if isinstance(found, Timeline):
        return Breaks(found, "bounded search")
    lemmas = mined_lemmas(question)
    if lemmas is not None:
        return Holds(lemmas, "mined lemmas")
    found = unrolling.search(DEEPER, min(SEARCH_S, question.left_s))
    if isinstance(found, Timeline):
        return Breaks(found, "bounded search")
    try:
        return by_zones(question, pinned, question.budget)
    except TooLarge:
        pass
    if question.left_s > 1:
        text = invariant_by_spacer(relation, min(10.0, question.left_s / 2))
        if text is not None:
            return Holds((Quoted(text), *bound_lemmas(question.system)), "Spacer")
    found = unrolling.search(DEEPEST, question.left_s)
    if isinstance(found, Timeline):
        return Breaks(found, "bounded search")
    return Open(found.depth, LimitMet(), held_up)


def _apart(
    question: Question, pinned: Question | None, unrolling: Unrolling | None
) -> Holds | Breaks | Stuck:
    """The answer of a slice taken apart, or where that came to its end. Raises: EndlessChainFound."""
    first = Budget(question.left_s, FEW_STATES, 4 * FEW_STATES, FIRST_WORK)
    try:
        return by_zones(question, pinned, first)
    except TooLarge:
        pass
    if unrolling is not None:
        shallow = unrolling.search(SHALLOW, min(SEARCH_S, question.left_s))
        if isinstance(shallow, Timeline):
            return _as_zones_tell(question, pinned, Breaks(shallow, "bounded search"))
    found = split_lemmas(question.relation)
    return found if isinstance(found, Stuck) else Holds(found, "parts", sure=False)


def _quick(question: Question) -> Budget:
    return Budget(question.left_s, FEW_STATES, 4 * FEW_STATES, LITTLE_WORK)


def _as_zones_tell(question: Question, pinned: Question | None, found: Breaks) -> Holds | Breaks:
    """The failure that zones find, which is the earliest; ``found`` if it takes them too long.

    Raises: EndlessChainFound.
    """
    try:
        return by_zones(question, pinned, _quick(question))
    except TooLarge:
        return found


def by_zones(question: Question, pinned: Question | None, budget: Budget) -> Holds | Breaks:
    """The answer of hull and exact zones. Raises: TooLarge, EndlessChainFound."""
    if pinned is not None:
        result = _by_pinned_zones(pinned, budget)
        if result is not None:
            return result
    moves = question.moves
    limit = min(budget.limit_s, question.left_s)
    work = budget.most_work
    found = hull(moves, most_states=budget.most_states, limit_s=limit, most_work=work)
    if not found.failing and not found.endless:
        return Holds((_invariant(moves, found),), "hull zones")
    if found.endless:
        raise_chain(question)
    exact = explore(moves, most_nodes=budget.most_nodes, limit_s=limit, most_work=work)
    if _meets_a_chain(moves):
        raise_chain(question)
    if exact.reached:
        return Breaks(best_timeline(question, exact.reached), "exact zones")
    return Holds((invariant_of(moves, exact.zones),), "exact zones")


def _by_pinned_zones(pinned: Question, budget: Budget) -> Holds | Breaks | None:
    """The answer of zones over fewer variables; None where only all of them can tell.

    Raises: TooLarge (then there are too many states with all of them, too).
    """
    moves = pinned.moves
    limit = min(budget.limit_s, pinned.left_s)
    work = budget.most_work
    found = hull(moves, most_states=budget.most_states, limit_s=limit, most_work=work)
    if found.endless:
        return None
    if not found.failing:
        return Holds((_invariant(moves, found),), "hull zones")
    exact = explore(moves, most_nodes=budget.most_nodes, limit_s=limit, most_work=work)
    if _meets_a_chain(moves):
        return None
    if not exact.reached:
        return Holds((invariant_of(moves, exact.zones),), "exact zones")
    timeline = lifted(moves, best_timeline(pinned, exact.reached))
    return None if timeline is None else Breaks(timeline, "exact zones")


def _invariant(moves: Moves, found: Hull) -> Formula:
    return invariant_of(moves, {state: [zone] for state, zone in found.zones.items()})


def _meets_a_chain(moves: Moves) -> bool:
    return any(move.endless for each in moves.moves.values() for move in each)


def mined_lemmas(question: Question) -> tuple[Formula, ...] | None:
    """Lemmas from templates, if those that are inductive imply the requirement."""
    relation = question.relation
    guesses = candidates(relation)
    needed = frozenset(wanted(relation))
    for alone in (False, True):
        limit = min(20.0, question.left_s)
        lemmas = mined(relation, guesses, limit, alone=alone, needed=needed)
        if lemmas is not None and needed <= set(lemmas):
            return lemmas
    return None
