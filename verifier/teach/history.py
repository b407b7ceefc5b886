"""What a room has lived through: moments with every way in which they can come out; and a run as such."""

from __future__ import annotations

from dataclasses import dataclass, replace

from verifier.explain.playback import (
    JUST_AFTER_S,
    Impossible,
    PlayedStep,
    Seek,
    case_on,
    play,
    starts_of,
)
from verifier.explain.playback import Played as PlayedBack
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.same import key_of
from verifier.simulate.run import Run
from verifier.simulate.seen import seen_values
from verifier.simulate.system import System
from verifier.surroundings.happenings import CalendarTurns, Happening
from verifier.teach.playing import By, Happened, Now, Playing, Way


@dataclass(frozen=True, slots=True)
class Group:
    """What happened at one moment: every way in which it can come out, and the one that did."""

    ways: tuple[Way, ...]
    chosen: int

    @property
    def way(self) -> Way:
        """The way that it came out."""
        return self.ways[self.chosen]


@dataclass(frozen=True, slots=True)
class History:
    """All that a session has lived through; ``stopped`` is why time did not pass as far as asked."""

    start: Now
    groups: tuple[Group, ...]
    now: Now
    stopped: str = ""


def frames_of(
    job: Job, run: Run, requirement: Requirement
) -> tuple[Playing, tuple[History, ...]] | None:
    """A run step by step, as the room plays it; None if it does not come out again.

    On the whole job if it fails there as it did; else on the part that the requirement reads. Where
    the order that is most like the run's own does not fail there, another one may.
    """
    begins = None if run.clock is None else run.clock.begins_s
    case = case_on(job, requirement, run)
    part = slice_job(job, requirement)
    tries: tuple[tuple[Job, Seek, bool], ...] = (
        (job, "like", True),
        (part, "like", True),
        (part, "fails", True),
        (part, "like", False),
    )
    for on, seek, has_to_fail in tries:
        playing = Playing(on, begins, turns_first=_turns_first(on, run))
        played = play(System(playing.job, requirement), requirement, case, seek)
        if isinstance(played, Impossible) or (has_to_fail and played.fails is None):
            continue
        frames = _followed(playing, run, played)
        if frames:
            return playing, frames
    return None


def _turns_first(job: Job, run: Run) -> bool:
    """Whether a run begins with a turn of the calendar at its very beginning."""
    if not run.steps or run.steps[0].at_s:
        return False
    placed = System(job, None).world.in_calendar
    turns = () if placed is None else placed.calendar.turns
    return any(turn.what == run.steps[0].what for turn in turns)


def _followed(playing: Playing, run: Run, played: PlayedBack) -> tuple[History, ...]:
    """The frames of a run that was played on a system with a monitor of its own; empty: none."""
    start = next(starts_of(playing.system, run.start, playing.phase), None)
    if start is None:
        return ()
    by_key: dict[tuple[object, ...], list[Happening]] = {}
    for happening in playing.system.happenings:
        by_key.setdefault(key_of(playing.system, happening), []).append(happening)
    now = playing.at_start(start)
    past = History(now, (), now)
    frames = [past]
    for step in played.steps:
        mine = by_key.get(key_of(played.system, step.happening))
        if mine is None:
            continue  # a timer of the requirement's own
        due = playing.due_at(past.now)
        if due is not None and due < step.at_s:
            return ()
        happened = _same_step(playing, past.now, mine, step, played)
        if happened is None:
            return ()
        past = History(past.start, (*past.groups, Group(((happened,),), 0)), happened.now)
        frames.append(past)
    ends_s, just_after = run.end_s
    due, end = playing.due_at(past.now), ends_s + (JUST_AFTER_S if just_after else 0)
    if end > past.now.at_s and (due is None or due >= end):
        frames.append(replace(past, now=playing.later(past.now, end)))
    return tuple(frames)


def _same_step(
    playing: Playing,
    now: Now,
    mine: list[Happening],
    step: PlayedStep,
    played: PlayedBack,
) -> Happened | None:
    """A step of a played run in the room: the outcome that is seen to be the same."""
    later = playing.later(now, step.at_s)
    wanted = seen_values(played.system, step.state)
    by: By = "person" if step.happening.what in playing.outside else "rules"
    if isinstance(step.happening, CalendarTurns):
        by = "calendar"
    first: Happened | None = None
    for happening in mine:
        for happened in playing.happened(later, happening, by):
            seen = playing.seen(happened.now)
            if all(wanted.get(name, value) == value for name, value in seen.items()):
                if happened.because == step.because:
                    return happened
                first = first or happened
    return first
