"""How a watched requirement stands, against metric temporal logic from the published formulas.

The formulas and the logic (``tests/outside``) share no line with the monitors.
"""

from __future__ import annotations

from collections import Counter

from tests.outside.mtl import Timeline, first_broken
from tests.outside.mtl_timelines import Recorder, played
from tests.outside.test_mtl import safety_of
from tests.teach.test_room import random_session
from verifier.model.job import (
    HasStayed,
    LeadsTo,
    MeasureLongest,
    Requirement,
    Stayed,
    atoms_and_leaves,
    read_by_requirement,
)
from verifier.simulate.run import Run, Step
from verifier.teach.room import RoomSession


def reads_a_timer(requirement: Requirement) -> bool:
    """Whether it has timers of its own, which no run of the room shows."""
    conditions, events = read_by_requirement(requirement)
    leaves = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
    return any(isinstance(e, HasStayed) for e in events) or any(
        isinstance(leaf, Stayed) for leaf in leaves
    )


def run_of(session: RoomSession) -> Run:
    steps = tuple(
        Step(m.at_s, m.at_s, False, h.happening.what, m.changes, m.lines)
        for m, h in zip(
            session.moments,
            (h for group in session.history.groups for h in group.way),
            strict=True,
        )
    )
    start = tuple(session.playing.seen(session.history.start).items())
    return Run(start, steps, session.now_s, False, None, False)


def test_a_requirement_is_broken_in_a_room_when_the_published_formula_says() -> None:
    came: Counter[str] = Counter()
    for seed in range(1, 240, 2):
        made = random_session(seed)
        if made is None:
            continue
        session, requirement = made
        placed = session.playing.system.world.in_calendar
        if isinstance(requirement.form, LeadsTo | MeasureLongest) or placed is not None:
            continue
        if reads_a_timer(requirement):
            continue
        judged = session.against(requirement)
        assert judged is not None
        recorder = Recorder(session.playing.job, requirement)
        ways = played(recorder, requirement, run_of(session))
        assert ways, "what happened in the room does not play"
        formula = safety_of(requirement)
        found = [first_broken(formula, Timeline(way.instants, session.now_s)) for way in ways]
        moments = [None if m is None else (m.at_s, m.just_after) for m in found]
        mine = None if judged.at_s is None else (judged.at_s, judged.just_after)
        assert mine in moments, (seed, requirement.form)
        came["broken" if mine else "kept"] += 1
    assert min(came["broken"], came["kept"]) >= 15, came
