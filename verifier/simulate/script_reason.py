"""Why a happening of a script is not possible, or what of the surroundings is overdue."""

from __future__ import annotations

import copy
from fractions import Fraction

from verifier.model.job import AssumeStays, Condition, Room
from verifier.model.words import atom_value, condition_words, duration
from verifier.simulate.instant import outcomes
from verifier.simulate.replay import Concrete, happen, position, registers_of
from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    DoorMoves,
    Happening,
    InputTurns,
    LimitsTurn,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    QuietBegins,
    ReportBounces,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
    WireBreaks,
)
from verifier.surroundings.state import Bound
from verifier.surroundings.world import FALSE, LOWERED, MOVING, RAISED, TRUE

_GENERAL = (
    "the surroundings do not allow it now",
    "Look at the doors, the hold times and the assumptions of the job.",
)

Reason = tuple[str, str]
"""What is so, and what to do."""


def clock_words(seconds: Fraction) -> str:
    """A time from the start, nought too."""
    return duration(seconds) if seconds else "0 s"


def why_not(system: System, state: Concrete, words: str, now_s: Fraction) -> Reason:
    """Why no happening of these words is possible in a state."""
    happenings = [h for h in system.happenings if h.what == words]
    broken = _broken_assumption(system, state, happenings)
    if broken is not None:
        return broken
    reasons = [_why_not(system, state, happening, now_s) for happening in happenings]
    # Of the moves of a door that share their words the one that fits its place tells most.
    fitting = [
        reason
        for happening, reason in zip(happenings, reasons, strict=True)
        if isinstance(happening, DoorMoves) and state.values[happening.variable] & happening.before
    ]
    return (fitting or reasons or [_GENERAL])[0]


def _broken_assumption(
    system: System, state: Concrete, happenings: list[Happening]
) -> Reason | None:
    """The first assumption that it would break, if nothing else stands in its way."""

    def possible(kept: list[tuple[Condition, frozenset[int]]]) -> bool:
        looser = copy.copy(system)
        looser.always_reads = kept
        return any(outcomes(looser, registers_of(state), happening) for happening in happenings)

    if not possible([]):
        return None
    for condition, reads in system.always_reads:
        if not possible([(condition, reads)]):
            return (
                f"it would break the assumption `{condition_words(condition)}`",
                "Write what has to happen before, or take the assumption out of the job.",
            )
    return None


def _why_not(system: System, state: Concrete, happening: Happening, now_s: Fraction) -> Reason:
    world = system.world
    match happening:
        case InputTurns(point, variable, bit):
            if state.values[variable] & bit:
                return _already(point, world.words(variable, bit))
            held = _held(system, state, point, variable, bit, now_s)
            if held is not None:
                return held
            rooms = world.rooms_seen_by(point)
            if bit == TRUE and rooms:
                names = " and ".join(room.name for room in rooms)
                hint = f"Write `somebody comes into {rooms[0].name}` before."
                return f"nobody is in {names}", hint
        case SunTurns(variable, bit, _):
            if state.values[variable] & bit:
                return _already("it", world.words(variable, bit))
            return _held(system, state, "it", variable, bit, now_s) or _GENERAL
        case LocalSwitch(point, variable, bit, _):
            if state.values[variable] & bit:
                return _already(point, "off" if bit == FALSE else "on")
        case DoorMoves():
            return _door(system, state, happening, now_s)
        case PeopleCome(name, _) | PeopleLeave(name, _):
            comes = isinstance(happening, PeopleCome)
            variable, room = world.of_room[name], system.job.room[name]
            if state.values[variable] & (TRUE if comes else FALSE):
                if comes:
                    return (
                        f"somebody is in {name} already",
                        "Take the line away: more people make no difference.",
                    )
                return f"nobody is in {name}", f"Write `somebody comes into {name}` before."
            if not world.open_for(registers_of(state), room):
                return _shut(system, room)
            bit = TRUE if comes else FALSE
            return _held(system, state, name, variable, bit, now_s) or _GENERAL
        case LimitsTurn(door, _, both):
            now = "are reached together already" if both else "are not reached together"
            return f"both limits of {door} {now}", "Look at the lines above it."
        case ReportBounces(point):
            limit = clock_words(world.reporting[point].limit * system.unit.size_s)
            return (
                f"{point} has not just been reported, or has bounced since",
                f"It bounces once, within {limit} of a change of it that was reported.",
            )
        case PointSticks(point):
            return f"{point} is stuck already", "Take the line away: it stays stuck for good."
        case WireBreaks(point):
            return (
                f"the wire of {point} is broken already",
                "Take the line away: it stays broken for good.",
            )
        case _:
            pass
    return _GENERAL


def _already(subject: str, value: str) -> Reason:
    return f"{subject} is {value} already", "Take the line away, or look at the lines above it."


def _shut(system: System, room: Room) -> Reason:
    names = " and ".join(room.entered_by)
    first = room.entered_by[0]
    opens = f"{first} becomes open"
    if first in system.world.of_door:
        opens = f"{first} starts to go up"
    return (
        f"{room.name} is entered by {names}, and no way in is open",
        f"Write `{opens}` before.",
    )


def _held(
    system: System, state: Concrete, subject: str, variable: int, bit: int, now_s: Fraction
) -> Reason | None:
    """The stretch that has to last longer before the variable may change."""
    world, size = system.world, system.unit.size_s
    for stretch in world.stretches.get(variable, ()):
        inside = state.values[variable] & stretch.mask and not stretch.mask & bit
        if not inside or state.values[world.first[variable]] == TRUE:
            continue
        lasted = state.clocks[stretch.clock]
        if lasted < stretch.limit:
            value = world.words(variable, stretch.mask)
            return (
                f"{subject} has been {value} for {clock_words(lasted * size)} and stays so for "
                f"at least {duration(stretch.limit * size)}",
                f"Write it at {clock_words(now_s + (stretch.limit - lasted) * size)} or later.",
            )
    return None


def _door(system: System, state: Concrete, move: DoorMoves, now_s: Fraction) -> Reason:
    size, now = system.unit.size_s, state.values[move.variable]
    if not now & move.before:
        place = (
            "raised" if now == RAISED else "lowered" if now == LOWERED
            else f"{'rising' if 'rising' in _state(system, state, move) else 'sinking'}"
            if now & MOVING else "standing part way"
        )  # fmt: skip
        return f"{move.door} is {place}", "Look at what the lines above make it do."
    lasted = state.clocks[system.world.travel[move.door]]
    if position(lasted) < 2 * move.at_least:
        return (
            f"{move.door} has moved for {clock_words(lasted * size)}, and a full run takes at "
            f"least {duration(move.at_least * size)}",
            f"Write it at {clock_words(now_s + (move.at_least - lasted) * size)} or later.",
        )
    return _held(system, state, move.door, move.variable, move.bit, now_s) or _GENERAL


def _state(system: System, state: Concrete, move: DoorMoves) -> str:
    return system.world.words(move.variable, state.values[move.variable])


# ---------------------------------------------------------------- what is overdue


def what_is_due(system: System, state: Concrete, bound: Bound) -> Reason:
    """What the surroundings have to do in a state in which time cannot pass, and what to write."""
    said = due_words(system, bound)
    ways = dict.fromkeys(
        happening.what
        for happening in system.happenings
        if not isinstance(happening, WaitRunsOut | StayedRunsOut | QuietBegins)
        and any(not _still_due(result.state, bound) for result in happen(system, state, happening))
    )
    if not ways:
        return said, "Write what ends it, in a line before this one."
    return said, f"By then write {' or '.join(f'`{way}`' for way in list(ways)[:4])}."


def _still_due(state: Concrete, bound: Bound) -> bool:
    return state.clocks[bound.clock] >= bound.limit and all(
        state.values[variable] & mask for variable, mask in bound.when
    )


def due_words(system: System, bound: Bound) -> str:
    """What the surroundings have to do before a bound is passed, in words."""
    world, limit = system.world, duration(bound.limit * system.unit.size_s)
    for door, clock in world.travel.items():
        if clock == bound.clock:
            return f"{door} moves no longer than {limit} without a stop"
    for entered, clock in world.entered.items():
        if clock == bound.clock:
            awaiting = {v: detector for (_, detector), v in world.awaiting.items()}
            detector = next(awaiting[v] for v, _ in bound.when if v in awaiting)
            return f"{detector} notices within {limit} who comes into {entered}"
    watched = {variable for variable, _ in bound.when}
    for room in system.job.rooms:
        for detector in room.seen_by:
            if {world.of_room[room.name], world.of_point[detector]} <= watched:
                return f"nobody in {room.name} stays unseen by {detector} for longer than {limit}"
    for assumption in system.job.assumptions:
        if not isinstance(assumption, AssumeStays) or assumption.bound != "at most":
            continue
        if (world.locate(assumption.atom),) == bound.when:
            subject, value = assumption.atom.subject, atom_value(assumption.atom)
            return f"it is assumed that {subject} stays {value} at most {limit}"
    return f"something outside lasts no longer than {limit}"
