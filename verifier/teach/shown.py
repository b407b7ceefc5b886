"""What there is to see of a room at a moment: things, rules, what is due, what a person can do."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from verifier.explain.clock_words import ClockTold
from verifier.explain.labels import labels_of, with_labels
from verifier.explain.naming import value_words
from verifier.explain.told import REPORTED
from verifier.model.job import FaultKind, Job, PointKind
from verifier.model.words import condition_words, duration, level
from verifier.simulate.script_reason import Reason, why_not
from verifier.source import Span
from verifier.surroundings.happenings import (
    ButtonPressed,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LimitsTurn,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    ReportBounces,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
    WireBreaks,
)
from verifier.surroundings.levels import FULL
from verifier.teach.playing import Now, Playing, is_fault
from verifier.teach.reactions import happening_words

Whose = Literal["people", "sun", "controller", "faults"]
"""Who can do it: people, the sun and the light of day, the controller that reacts; or it fails."""


@dataclass(frozen=True, slots=True)
class Thing:
    """Something to show.

    ``kind`` is the word that declares it, or ``sun``, ``clock``, ``power``. ``value`` is the word of
    the language, ``words`` how people say it. ``level`` (0 to 1) is how bright a lamp is, or how far
    up a door stands as it is drawn. ``of`` is what it belongs to: the door of a limit switch, the
    room of a detector. ``reported`` is what the controller last heard, where that can differ.
    """

    name: str
    label: str
    kind: str
    value: str
    words: str
    level: Fraction | None = None
    of: str = ""
    reported: str = ""
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunOfRule:
    """One run of a rule: the line at which it waits, for what, for how long it has, and what is left.

    ``left_s`` is None where it waits for a condition without a limit.
    """

    line: Span
    waits: str
    since_s: Fraction
    left_s: Fraction | None


@dataclass(frozen=True, slots=True)
class RuleShown:
    """A rule: ``value`` as a run shows it (``idle``, ``running``, ``2 running, 1 waiting``)."""

    name: str
    label: str
    value: str
    span: Span
    runs: tuple[RunOfRule, ...]


@dataclass(frozen=True, slots=True)
class Due:
    """What happens by itself, or has to happen outside, in so many seconds if nothing else does."""

    in_s: Fraction
    words: str
    outside: bool


@dataclass(frozen=True, slots=True)
class Action:
    """Something that can be done now: its key, in words, whose it is, and the thing that it is of."""

    key: str
    words: str
    whose: Whose
    thing: str
    value: str


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that cannot be done now, why, and what to do about it."""

    key: str
    words: str
    thing: str
    why: str
    hint: str


# ---------------------------------------------------------------- things


def things_of(playing: Playing, now: Now) -> tuple[Thing, ...]:
    """Everything that is to be shown but the rules, in declared order."""
    job, seen = playing.job, playing.seen(now)
    found: list[Thing] = []
    for place, door in zip(now.places, job.doors, strict=True):
        words = value_words(job, door.name, seen[door.name])
        heading = _heading(playing, now, door.name)
        shown = heading or words
        found.append(Thing(door.name, door.label, "door", seen[door.name], shown, place))
    for room in job.rooms:
        words = value_words(job, room.name, seen[room.name])
        found.append(Thing(room.name, room.label, "room", seen[room.name], words))
    for point in job.points:
        of = ""
        if point.name in job.door_of_point:
            of = job.door_of_point[point.name].name
        elif point.kind is PointKind.DETECTOR:
            of = next((r.name for r in job.rooms if point.name in r.seen_by), "")
        value = seen.get(point.name, "")
        words = value_words(job, point.name, value) if value else ""
        bright = None
        if point.kind.is_output:
            bright = Fraction(value != "off")
        if point.kind is PointKind.DIMMER:
            percent = _percent(playing, now, point.name)
            bright = percent / FULL
            words = "off" if percent == 0 else level(_rounded(percent))
        reported = seen.get(f"{point.name}{REPORTED}", "")
        faults = _set_in(playing, now, point.name)
        found.append(
            Thing(
                point.name,
                point.label,
                point.kind.value,
                value,
                words,
                bright,
                of,
                reported,
                faults,
            )
        )
    if "sun" in seen:
        found.append(Thing("sun", "", "sun", seen["sun"], seen["sun"]))
    if playing.clock is not None:
        told = ClockTold(playing.clock).dated(Fraction(int(now.at_s)))
        found.append(Thing("clock", "", "clock", seen.get("clock", ""), told))
    if job.considers(FaultKind.POWER_CUTS):
        found.append(Thing("power", "", "power", "on", "on"))
    return tuple(found)


def _heading(playing: Playing, now: Now, door: str) -> str:
    variable = playing.system.world.of_door[door]
    state = playing.system.world.words(variable, now.state.values[variable])
    return "going up" if "rising" in state else "going down" if "sinking" in state else ""


def _percent(playing: Playing, now: Now, dimmer: str) -> Fraction:
    exact = playing.level(now, dimmer)
    if exact is not None:
        return exact
    variable = playing.system.world.of_point[dimmer]
    value = playing.system.layout.variables[variable].values[
        now.state.values[variable].bit_length() - 1
    ]
    assert isinstance(value, Fraction)
    return value


def _rounded(percent: Fraction) -> Fraction:
    return Fraction(round(percent * 10), 10)


def _set_in(playing: Playing, now: Now, point: str) -> tuple[str, ...]:
    """The faults of a point that have set in."""
    reporting = playing.system.world.reporting.get(point)
    if reporting is None:
        return ()
    pairs = ((reporting.stuck, "stuck"), (reporting.broken, "broken wire"))
    return tuple(w for v, w in pairs if v is not None and now.state.values[v] == 2)


def rules_of(playing: Playing, now: Now) -> tuple[RuleShown, ...]:
    """The rules, each with its runs, the oldest first."""
    system, seen = playing.system, playing.seen(now)
    found: list[RuleShown] = []
    for rule, slots, clocks, code in zip(
        system.rules, system.slots, system.slot_clocks, system.codes, strict=True
    ):
        runs: list[RunOfRule] = []
        for slot, clock in zip(slots, clocks, strict=True):
            bit = now.state.values[slot]
            if bit == 1:
                continue
            place = code.places[bit.bit_length() - 2]
            since = now.state.clocks[clock] * playing.size
            left = None if place.for_s is None else place.for_s - since
            if place.fade is not None:
                waits = f"fades {place.fade[0]} to {level(place.fade[1])}"
            elif place.until is not None:
                waits = f"waits until {condition_words(place.until)}"
            else:
                assert place.for_s is not None
                waits = f"waits {duration(place.for_s)}"
            runs.append(RunOfRule(place.span, waits, since, left))
        found.append(RuleShown(rule.name, rule.label, seen[rule.name], rule.span, tuple(runs)))
    return tuple(found)


# ---------------------------------------------------------------- what is due


def due_of(playing: Playing, now: Now) -> tuple[Due, ...]:
    """Everything that is due, the soonest first; what comes by itself before what is owed."""
    system, state = playing.system, now.state
    found: list[Due] = []
    for at, happening in playing.planned(now):
        found.append(Due(at - now.at_s, happening_words(playing, happening, now), False))
    for happening in playing.itself:
        left = _left(playing, now, happening)
        if left is not None:
            found.append(Due(left, happening_words(playing, happening, now), False))
    placed = system.world.in_calendar
    calendar = frozenset() if placed is None else placed.clocks()
    for bound in system.layout.bounds:
        owed = bound.outside and bound.clock not in calendar
        if owed and all(state.values[v] & m for v, m in bound.when):
            left = (bound.limit - state.clocks[bound.clock]) * playing.size
            found.append(Due(left, playing.owed_words(bound), True))
    return tuple(sorted(found, key=lambda due: (due.in_s, due.outside)))


def _left(playing: Playing, now: Now, happening: Happening) -> Fraction | None:
    """Seconds until a wait, a timer or the controller's time runs out; None: it does not run."""
    system, state = playing.system, now.state
    match happening:
        case WaitRunsOut(rule, slot, number):
            place = system.codes[rule].places[number]
            if state.values[system.slots[rule][slot]] != system.at(number):
                return None
            assert place.for_s is not None
            return place.for_s - state.clocks[system.slot_clocks[rule][slot]] * playing.size
        case StayedRunsOut(number):
            timer = system.timers[number]
            if not state.values[timer.variable] & timer.mask or state.values[timer.ran_out] != 1:
                return None
            return (timer.limit - state.clocks[timer.clock]) * playing.size
        case ControllerWakes():
            reaction = system.reaction
            assert reaction is not None
            if state.values[reaction.due] != 2:
                return None
            limit = next(b.limit for b in system.layout.bounds if b.clock == reaction.clock)
            return (limit - state.clocks[reaction.clock]) * playing.size
        case _:
            return None


# ---------------------------------------------------------------- what can be done


def possible_in(playing: Playing, now: Now) -> tuple[Action, ...]:
    """What can be done now, in declared order."""
    found: list[Action] = []
    for key, happenings in playing.outside.items():
        if playing.can_be_done(now, key):
            found.append(_action(playing.job, key, happenings[0]))
    return tuple(found)


def refused_in(playing: Playing, now: Now) -> tuple[Refused, ...]:
    """What cannot be done now and is not so already, with the reason."""
    found: list[Refused] = []
    for key, happenings in playing.outside.items():
        if any(isinstance(h, ControllerWakes) for h in happenings):
            continue
        if playing.can_be_done(now, key) or all(
            _goes_without_saying(playing, now, h) for h in happenings
        ):
            continue
        why, hint = in_a_room(why_not(playing.system, now.state, key, now.at_s))
        action = _action(playing.job, key, happenings[0])
        found.append(Refused(key, action.words, action.thing, why, hint))
    return tuple(found)


def _goes_without_saying(playing: Playing, now: Now, happening: Happening) -> bool:
    """Whether it is so already, or a door does not stand where it could do that."""
    match happening:
        case InputTurns() | SunTurns() | LocalSwitch():
            return bool(now.state.values[happening.variable] & happening.bit)
        case DoorMoves():
            return not now.state.values[happening.variable] & happening.before
        case PeopleCome(room):
            return now.state.values[playing.system.world.of_room[room]] == 2
        case PeopleLeave(room):
            return now.state.values[playing.system.world.of_room[room]] == 1
        case LimitsTurn() | ReportBounces() | PointSticks() | WireBreaks():
            return True
        case _:
            return False


_BEFORE = re.compile(r"Write (.+) before\.")
_LATER = re.compile(r"Write it at (.+) or later\.")


def in_a_room(reason: Reason) -> Reason:
    """Why something cannot be done, with what a person does about it (and no line of a script).

    >>> in_a_room(("nobody is in hall", "Write `somebody comes into hall` before."))
    ('nobody is in hall', 'First: somebody comes into hall.')
    >>> in_a_room(("pir is held", "Write it at 8 s or later."))
    ('pir is held', 'It can be done at 8 s.')
    """
    why, hint = reason
    before, later = _BEFORE.fullmatch(hint), _LATER.fullmatch(hint)
    if before is not None:
        said = before[1].replace("`", "")
        return why, "" if said.startswith("what has to") else f"First: {said}."
    return why, "" if later is None else f"It can be done at {later[1]}."


def _action(job: Job, key: str, happening: Happening) -> Action:
    words = with_labels(key, labels_of(job))
    thing, value = _of(key, happening)
    whose: Whose = "people"
    if isinstance(happening, ControllerWakes):
        whose = "controller"
    elif is_fault(happening):
        whose = "faults"
    elif isinstance(happening, SunTurns) or (
        isinstance(happening, InputTurns) and job.point[happening.point].kind is PointKind.PHOTOCELL
    ):
        whose = "sun"
    return Action(key, words, whose, thing, value)


def _of(key: str, happening: Happening) -> tuple[str, str]:
    """The thing that a happening is of, and the value that it brings (a word for a button)."""
    match happening:
        case InputTurns(point, _, _, what):
            return point, what.removeprefix(f"{point} becomes ").split(",")[0]
        case ButtonPressed(button):
            return button, "pressed"
        case SunTurns(_, bit):
            return "sun", "night" if bit == 2 else "day"
        case DoorMoves(door):
            return door, key.removeprefix(f"{door} ").split(",")[0]
        case LimitsTurn(door, _, both):
            return door, "both limits reached" if both else "not both limits reached"
        case ReportBounces(point, back):
            return point, "bounces back" if back else "bounces"
        case PointSticks(point):
            return point, "stuck"
        case WireBreaks(point):
            return point, "broken wire"
        case PeopleCome(room):
            return room, "peopled"
        case PeopleLeave(room):
            return room, "empty"
        case LocalSwitch(point, _, bit):
            return point, "off" if bit == 1 else "on"
        case _:
            return ("", "") if isinstance(happening, ControllerWakes) else ("power", "cut")
