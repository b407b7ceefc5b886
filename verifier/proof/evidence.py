"""The evidence of a verdict: certificates that two solvers check, runs that the interpreter replays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from verifier.model.job import Rule, statements_of
from verifier.proof.blocked import reasons
from verifier.proof.chain import Chain
from verifier.proof.checker import check_certificate
from verifier.proof.closed import EvidenceFailed, NotOnTheWhole, check_closed
from verifier.proof.earliest import earliest_of_length
from verifier.proof.exact import Reached, path_of
from verifier.proof.fit import MOST_PATHS, NoRealRun, timeline_of
from verifier.proof.formula import Formula
from verifier.proof.question import EndlessChainFound, Question
from verifier.proof.relation import bad_cubes
from verifier.proof.rounding import rounded
from verifier.proof.timing import Timeline, moments_of
from verifier.proof.verdict import Certificate
from verifier.proof.whole import replay_on_whole
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import (
    Concrete,
    DoesNotReplay,
    Replayed,
    fails,
    passed,
    registers_of,
    replay,
)
from verifier.simulate.run import Played, Run, RunClock, Step
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.calendar import WEEK_S
from verifier.surroundings.happenings import Happening, QuietBegins
from verifier.surroundings.state import Registers

# ---------------------------------------------------------------- certificates


def certified(
    question: Question, lemmas: tuple[Formula, ...], claim: int | None = None
) -> Certificate:
    """The certificate of an invariant, checked by both solvers; ``claim`` is a bound in units.

    Raises: EvidenceFailed, NotChecked, TooLarge.
    """
    check_closed(question.job, question.requirement, question.system.job)
    left_out = reasons(question.job) if question.without else ()
    # What fails is read off the monitor anew: the engines' own word does not count.
    relation = replace(question.relation, bad=bad_cubes(question.system))
    limit = question.left_s + 5.0
    return check_certificate(relation, lemmas, limit, left_out, claim, question.job)


# ---------------------------------------------------------------- runs


def best_timeline(question: Question, reached: tuple[Reached, ...]) -> Timeline:
    """Of the shortest paths the one that fails earliest; with dates or fades, of the first few."""
    best: Timeline | None = None
    unreal: NoRealRun | None = None
    placed = question.system.world.in_calendar
    dated = (placed is not None and placed.calendar.site is not None) or question.system.fading
    for one in reached[:MOST_PATHS] if dated else reached:
        start, path = path_of(one.node)
        try:
            found = timeline_of(question.moves, start, path, one.constraints)
        except NoRealRun as none:
            unreal = none
            continue
        if found is not None and (best is None or _sooner(found, best)):
            best = found
    if best is None and unreal is not None:
        raise unreal
    if best is None:
        raise EvidenceFailed("no path to a failing zone has times of its own")
    if not dated and best.timed.end != (0, 0):
        return earliest_of_length(question.moves, len(best.path), best)
    return best


def _sooner(one: Timeline, other: Timeline) -> bool:
    return (one.timed.end, one.timed.moments) < (other.timed.end, other.timed.moments)


def run_of(
    question: Question,
    timeline: Timeline,
    bad: Callable[[Registers], bool] | None,
    *,
    rests: bool = False,
) -> Run:
    """The run of a timeline, replayed, at the moments to tell it with. Raises: EvidenceFailed."""
    usual = rounded(question.moves, timeline)
    if usual is not timeline:
        try:
            return _run_at(question, usual, bad, rests=rests)
        except NotOnTheWhole:
            # What lies outside the slice does not fit these moments; the earliest may.
            pass
    return _run_at(question, timeline, bad, rests=rests)


def _run_at(
    question: Question,
    timeline: Timeline,
    bad: Callable[[Registers], bool] | None,
    *,
    rests: bool,
) -> Run:
    system = question.system
    start, _ = begun(question, timeline)
    replayed, final = _replayed(question, timeline, bad)
    if bad is not None and not fails(system, final, bad):
        raise EvidenceFailed("the run does not fail where it was said to")
    moments, end = moments_of(timeline)
    numbered = zip(moments, timeline.path, strict=True)
    steps = tuple((at, move.happening, move.target) for at, move in numbered)
    played = Played(start.values, steps, end, timeline.begins_s, system.job.seasons)
    return replace(told(question, timeline, replayed, start, rests=rests), played=played)


def begun(question: Question, timeline: Timeline) -> tuple[Concrete, Steps]:
    """The concrete start of a timeline, and its steps as they are replayed."""
    system = question.system
    moments, _ = moments_of(timeline)
    start = Concrete(timeline.start, (Fraction(0),) * len(system.layout.clocks))
    return start, [
        (at, system.happenings[move.happening], move.target)
        for at, move in zip(moments, timeline.path, strict=True)
    ]


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
    moments, _ = moments_of(timeline)
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
                unit.seconds(Fraction(whole)),
                small > 0,
                happening.what,
                changes,
                result.because,
            )
        )
    return Run(
        tuple(seen_values(system, start).items()),
        tuple(steps),
        unit.seconds(Fraction(timeline.timed.end[0])),
        timeline.timed.end[1] > 0,
        None,
        rests,
        clock_of(question.system, timeline),
        *_ends(question, timeline),
    )


def _ends(question: Question, timeline: Timeline) -> tuple[Fraction, bool]:
    """When it fails by the moments with which it is told: seconds, and whether just after."""
    units, small = timeline.timed.end if timeline.ends is None else timeline.ends
    return question.system.unit.seconds(Fraction(units)), small > 0


def clock_of(system: System, timeline: Timeline) -> RunClock | None:
    """The clock by which a run is told, if it reads one."""
    placed = system.world.in_calendar
    if placed is None or timeline.begins_s is None:
        return None
    calendar = placed.calendar
    zone = None if calendar.site is None else calendar.site.timezone
    return RunClock(timeline.begins_s, zone, calendar.marks.period == WEEK_S)


def replayed_to_end(question: Question, timeline: Timeline) -> Concrete:
    """The concrete state at the end of a timeline. Raises: EvidenceFailed."""
    return _replayed(question, timeline)[1]


def _replayed(
    question: Question, timeline: Timeline, bad: Callable[[Registers], bool] | None = None
) -> tuple[list[Replayed], Concrete]:
    system = question.system
    moments, end = moments_of(timeline)
    start, steps = begun(question, timeline)
    replayed, last = replayed_steps(question, start, steps, end, timeline.begins_s, bad)
    final = passed(system, last, end - (moments[-1] if moments else Fraction(0)))
    if final is None:
        raise EvidenceFailed("something runs out before the end of the run")
    return replayed, final


Steps = list[tuple[Fraction, Happening, tuple[int, ...]]]
"""Of each step its moment in units, what happens, and the values wanted afterwards."""


def replayed_steps(
    question: Question,
    start: Concrete,
    steps: Steps,
    end: Fraction,
    begins_s: Fraction | None = None,
    bad: Callable[[Registers], bool] | None = None,
) -> tuple[list[Replayed], Concrete]:
    """The steps of a run and the state after the last, replayed on the slice and on the whole job.

    Raises: EvidenceFailed, NotOnTheWhole.
    """
    try:
        system = question.system
        good = None if bad is None else lambda state: fails(system, state, bad)
        replayed = replay(system, start, steps, end, good)
    except DoesNotReplay as failure:
        raise EvidenceFailed(str(failure)) from failure
    try:
        replay_on_whole(
            question.job,
            question.requirement,
            question.system,
            start.values,
            steps,
            end,
            question.without,
            begins_s,
        )
    except DoesNotReplay as failure:
        raise NotOnTheWhole(str(failure)) from failure
    return replayed, replayed[-1].state if replayed else start


# ---------------------------------------------------------------- endless chains


def places_of(rule: Rule) -> set[Span]:
    """Every place of a rule that a run can name."""
    return {t.span for t in rule.triggers} | {s.span for s in statements_of(rule.body)}


def raise_chain(question: Question) -> None:
    """Raises EndlessChainFound if an endless chain can be reached. Raises: TooLarge."""
    chain = question.explore(want_endless=True)
    if chain.reached:
        raise EndlessChainFound(chain_of(question, chain.reached[0]))


def chain_of(question: Question, one: Reached) -> Chain:
    """The endless chain that a node leads into, replayed. Raises: EvidenceFailed."""
    assert one.endless is not None
    system = question.system
    start, path = path_of(one.node)
    timeline = timeline_of(question.moves, start, path, one.constraints)
    if timeline is None:
        raise EvidenceFailed("no path to an endless chain has times of its own")
    here = replayed_to_end(question, timeline)
    begins = system.happenings[one.endless.happening]
    for outcome in outcomes(system, registers_of(here), begins):
        if outcome.endless:
            rules = tuple(r.name for r in system.job.rules if places_of(r) & {*outcome.because})
            return Chain(begins.what, outcome.because, len(path), rules)
    raise EvidenceFailed("an endless chain does not replay")
