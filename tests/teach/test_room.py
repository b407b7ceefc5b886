"""A room that a person operates does what the interpreter does, and says how a requirement stands."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from tests.explain.jobs import draft
from tests.random_composites import composite
from tests.random_jobs import random_job
from tests.random_more import random_more
from verifier.explain.explained import failing_run
from verifier.explain.playback import Case, Impossible, Occurs, play
from verifier.model.job import LeadsTo, MeasureLongest, Possible, Requirement
from verifier.proof import ProofOptions, prove_job
from verifier.proof.verdict import Answered, Proved, Refuted
from verifier.simulate.replay import replay
from verifier.simulate.script import Happens, Script
from verifier.simulate.script_play import play as play_script
from verifier.simulate.system import System
from verifier.source import NOWHERE
from verifier.teach.playing import CannotBegin
from verifier.teach.room import NotPossible, RoomSession

TIMES = tuple(Fraction(s) for s in ("0.5", "1", "2", "3", "7", "30"))


def random_session(seed: int, *, choosing: bool = True) -> tuple[RoomSession, Requirement] | None:
    """A session in which something was done at random; None of a job that cannot begin."""
    rng = Random(seed)
    job, requirement = random_job(rng) if seed % 2 else random_more(rng)
    job = replace(job, requirements=(requirement,))
    try:
        session = RoomSession(job)
    except CannotBegin:
        return None
    for _ in range(12):
        try:
            operate(session, rng, choosing)
        except NotPossible as never:
            if "never settles" not in never.why:
                raise
            return None
        if "never settles" in session.stopped:
            return None
    return session, requirement


def operate(session: RoomSession, rng: Random, choosing: bool) -> None:
    actions = session.possible()
    if actions and rng.random() < 0.6:
        moments = session.do(rng.choice(actions).key)
    else:
        moments = session.pass_time(rng.choice(TIMES), leave_due=choosing and rng.random() < 0.3)
    orders = [order for moment in moments for order in moment.orders]
    if choosing and orders and rng.random() < 0.5:
        session.choose(rng.choice(orders).key)


@pytest.mark.parametrize("seed", range(70))
def test_what_happens_in_a_room_is_what_the_interpreter_replays(seed: int) -> None:
    made = random_session(seed)
    if made is None:
        return
    session, _ = made
    system, size = session.playing.system, session.playing.size
    steps = [
        (happened.now.at_s / size, happened.happening, happened.now.state.values)
        for group in session.history.groups
        for happened in group.way
    ]
    replayed = replay(system, session.history.start.state, steps, session.now_s / size)
    assert len(replayed) == len(steps) == len(session.moments)
    for step, moment in zip(replayed, session.moments, strict=True):
        assert step.because == moment.lines or set(step.because) == set(moment.lines)
    if replayed:
        last = session.history.groups[-1].way[-1].now.state
        assert replayed[-1].state.values == last.values


@pytest.mark.parametrize("seed", range(70))
def test_the_same_as_a_script_comes_out_the_same(seed: int) -> None:
    """What a person does, written as a script, is played by another player of the interpreter."""
    made = random_session(seed, choosing=False)
    if made is None:
        return
    session, _ = made
    placed = session.playing.system.world.in_calendar
    if placed is not None or session.stopped or session.playing.system.fading:
        return
    lines = tuple(
        Happens(happened.now.at_s, happened.happening.what, NOWHERE)
        for group in session.history.groups
        for happened in group.way
        if happened.by in ("person", "surroundings")
    )
    played = play_script(session.playing.job, Script((), lines, session.now_s, NOWHERE))
    assert [(s.at_s, s.changes) for s in played.run.steps] == [
        (m.at_s, m.changes) for m in session.moments
    ]


def refused_because(session: RoomSession, key: str) -> str | None:
    """Does something; why it could not be done, if it could not."""
    try:
        session.do(key)
    except NotPossible as no:
        return no.why
    return None


@pytest.mark.parametrize("seed", range(40))
def test_everything_that_is_offered_can_be_done_and_nothing_else(seed: int) -> None:
    made = random_session(seed)
    if made is None:
        return
    session, _ = made
    offered = {action.key for action in session.possible()}
    before = session.as_json()
    for key in session.playing.outside:
        why = refused_because(session, key)
        if why is None:
            assert key in offered
            assert session.undo()
        else:
            assert key not in offered or "never settles" in why
        assert session.as_json() == before
    assert not offered & {refused.key for refused in session.refused()}


@pytest.mark.parametrize("seed", range(110))
def test_the_watched_requirement_stands_as_a_playback_finds_it(seed: int) -> None:
    made = random_session(seed)
    if made is None:
        return
    session, requirement = made
    if isinstance(requirement.form, LeadsTo | MeasureLongest):
        return
    judged = session.against(requirement)
    assert judged is not None
    job = session.playing.job
    begins = None if session.playing.clock is None else session.playing.clock.begins_s
    start = tuple(session.playing.seen(session.history.start).items())
    happened = [h for group in session.history.groups for h in group.way]
    occurs = tuple(
        Occurs(h.now.at_s, h.happening.what)
        for h in happened
        if h.happening.what in session.playing.outside
    )
    case = Case(start, occurs, session.now_s, begins, tuple(h.happening.what for h in happened))
    broken = judged.standing in ("broken", "reached")
    assert broken is (judged.at_s is not None)
    other = play(System(job, requirement), requirement, case, "fails" if broken else "keeps")
    if isinstance(other, Impossible):
        assert "more to try" in other.why
        return
    if not other.whole:
        return
    assert (other.fails is not None) is broken
    assert isinstance(requirement.form, Possible) is (judged.standing in ("reached", "not reached"))


DRAFTS = ("boathouse", "stair", "dock", "path")


@pytest.mark.parametrize("name", DRAFTS)
def test_every_failing_run_of_the_drafts_is_shown_step_by_step_up_to_where_it_breaks(
    name: str,
) -> None:
    result = draft(name)
    assert result.job is not None
    for requirement, verdict, _ in result.verdicts:
        run = failing_run(verdict)
        if run is None:
            continue
        session = RoomSession(result.job)
        count = session.play(run, requirement)
        assert session.showing == (0, count)
        assert not session.moments
        for _ in range(count):
            session.step()
        assert session.showing == (count, count)
        words = [h.happening.what for g in session.history.groups for h in g.way]
        assert [w for w in words if w in {s.what for s in run.steps}] == [
            s.what for s in run.steps if s.what in set(words)
        ], requirement.name
        judged = session.judged
        assert judged is not None
        if isinstance(requirement.form, MeasureLongest | LeadsTo):
            continue
        assert judged.standing == "broken", requirement.name
        assert judged.at_s is not None
        assert (judged.at_s, judged.just_after) == run.end_s
        session.step(-1)
        assert session.showing == (count - 1, count)
        # Who takes over from here goes on from this very moment.
        at = session.now_s
        session.pass_time(Fraction(0))
        assert session.now_s == at
        assert session.showing is None


@pytest.mark.parametrize("seed", range(60))
def test_nobody_breaks_by_hand_what_is_proved(seed: int) -> None:
    """Against the prover, which knows nothing of rooms: also of what comes true in the end, and of
    questions, whose answer no measured time goes beyond."""
    rng = Random(seed)
    job, requirement = random_job(rng) if seed % 2 else random_more(rng)
    job = replace(job, requirements=(requirement,))
    options = ProofOptions(time_limit_s=4.0, workers=1, certificates=False)
    judged = prove_job(job, (requirement,), options, lambda *_: None)
    if not judged.verdicts:
        return
    ((_, verdict, _),) = judged.verdicts
    seeks = isinstance(requirement.form, Possible)
    if not isinstance(verdict, Answered | (Refuted if seeks else Proved)):
        return
    for doings in range(4):
        doing = Random(seed * 10 + doings)
        session = RoomSession(job)
        session.against(requirement)
        for _ in range(12):
            operate(session, doing, True)
            stands = session.judged
            assert stands is not None
            assert stands.standing not in ("broken", "reached"), stands
            if isinstance(verdict, Answered) and stands.longest_s is not None:
                bound_s = verdict.bound_s
                assert bound_s is not None
                assert bound_s == "unbounded" or stands.longest_s <= bound_s


@pytest.mark.parametrize("seed", [8, 24, 54, 66, *range(100, 112)])
def test_every_run_is_shown_up_to_where_it_breaks_and_any_other_requirement_may_be_asked_for(
    seed: int,
) -> None:
    """Jobs of several parts: a run may come out again on one part alone, which has no more in it."""
    job, _ = composite(Random(seed))
    options = ProofOptions(time_limit_s=4.0, workers=1, certificates=False)
    judged = prove_job(job, job.requirements, options, lambda *_: None)
    try:
        session = RoomSession(job)
    except CannotBegin:
        return
    for requirement, verdict, _ in judged.verdicts:
        if not isinstance(verdict, Refuted) or verdict.run is None:
            continue
        steps = session.play(verdict.run, requirement)
        session.step(steps)
        shown = session.judged
        assert shown is not None
        assert shown.standing == "broken"
        for other in job.requirements:
            try:
                session.against(other.name)
            except NotPossible as no:
                assert len(session.playing.job.requirements) == 1
                assert "has only what" in no.why  # noqa: PT017
            assert session.as_json()["judged"] is not None
