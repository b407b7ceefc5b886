"""What makes a happening of a slice and one of the whole job the same."""

from __future__ import annotations

from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LevelPassed,
    LevelReached,
    LimitsTurn,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    PowerCut,
    QuietBegins,
    ReportBounces,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
    WireBreaks,
)


def key_of(system: System, happening: Happening) -> tuple[object, ...]:
    """A value that is the same for the same happening of a slice and of the whole."""
    match happening:
        case InputTurns(point, _, bit, _, lost):
            return "input", point, bit, lost
        case ButtonPressed(button, _, lost):
            return "button", button, lost
        case SunTurns(_, bit):
            return "sun", bit
        case DoorMoves(door, _, before, bit, _, _, gone):
            return "door", door, before, bit, gone
        case LimitsTurn(door, _, both, _, _, gone):
            return "limits", door, both, gone
        case ReportBounces(point, back):
            return "bounce", point, back
        case PointSticks(point):
            return "sticks", point
        case WireBreaks(point):
            return "breaks", point
        case PeopleCome(room):
            return "come", room
        case PeopleLeave(room):
            return "leave", room
        case LocalSwitch(point, _, bit):
            return "local", point, bit
        case PowerCut():
            return ("cut",)
        case LevelReached(dimmer, w, c):
            return "reached", dimmer, system.fading[dimmer].ways[w].reaches[c].what
        case LevelPassed(dimmer, _, what):
            return "passed", dimmer, what
        case CalendarTurns(turn, what):
            return "calendar", turn, what
        case ControllerWakes():
            return ("wakes",)
        case WaitRunsOut(rule, slot, place):
            return "wait", system.rules[rule].name, slot, place
        case StayedRunsOut(number):
            timer = system.timers[number]
            name = system.layout.variables[timer.variable].name
            seconds = system.unit.seconds(timer.limit)
            alone = timer.twin is not None and not timer.of_truth
            return "stayed", name, timer.mask, seconds, alone
        case QuietBegins():
            return ("quiet",)
