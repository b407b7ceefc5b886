"""The happenings of a job: what the surroundings can do, and what runs out by itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InputTurns:
    """An input, not of a door, takes the value ``bit``; ``lost``: its report does not arrive."""

    point: str
    variable: int
    bit: int
    what: str
    lost: bool = False


@dataclass(frozen=True, slots=True)
class ButtonPressed:
    """A push-button is pressed; ``lost``: its report does not arrive."""

    button: str
    what: str
    lost: bool = False


@dataclass(frozen=True, slots=True)
class SunTurns:
    """Night or day begins."""

    variable: int
    bit: int
    what: str


@dataclass(frozen=True, slots=True)
class CalendarTurns:
    """The calendar turns from one phase to the next (index into the calendar's turns)."""

    turn: int
    what: str


@dataclass(frozen=True, slots=True)
class DoorMoves:
    """A door goes from one of the states ``before`` to the state ``bit``.

    Only if its clock shows ``at_least`` units or more. The reports of the points ``lost`` do not
    arrive.
    """

    door: str
    variable: int
    before: int
    bit: int
    at_least: int
    what: str
    lost: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LimitsTurn:
    """Both limits of a door read reached (``both``), or cease to; the door is where it was.

    ``turns`` are pairs (bit before, bit afterwards), one for each place of the door.
    """

    door: str
    variable: int
    both: bool
    turns: tuple[tuple[int, int], ...]
    what: str
    lost: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportBounces:
    """A report that says the opposite of the last one: there, or ``back`` to the truth."""

    point: str
    back: bool
    what: str


@dataclass(frozen=True, slots=True)
class PointSticks:
    """From now on no report of a point comes any more."""

    point: str
    what: str


@dataclass(frozen=True, slots=True)
class WireBreaks:
    """From now on a point is reported as a broken wire reads."""

    point: str
    what: str


@dataclass(frozen=True, slots=True)
class PeopleCome:
    """Somebody comes into the empty room."""

    room: str
    what: str


@dataclass(frozen=True, slots=True)
class PeopleLeave:
    """The last one leaves the room."""

    room: str
    what: str


@dataclass(frozen=True, slots=True)
class LocalSwitch:
    """A person turns an output at the lamp itself."""

    point: str
    variable: int
    bit: int
    what: str


@dataclass(frozen=True, slots=True)
class PowerCut:
    """The power fails and returns."""

    what: str = "power fails and returns"


@dataclass(frozen=True, slots=True)
class WaitRunsOut:
    """The wait of a run (rule, slot) at a place runs out."""

    rule: int
    slot: int
    place: int
    what: str


@dataclass(frozen=True, slots=True)
class LevelReached:
    """A fade reaches a level that something reads (indices of the way and of its crossing)."""

    dimmer: str
    way: int
    crossing: int
    what: str


@dataclass(frozen=True, slots=True)
class LevelPassed:
    """A fade leaves a level that it has reached, or at which it begins (index of the passing)."""

    dimmer: str
    passing: int
    what: str


@dataclass(frozen=True, slots=True)
class StayedRunsOut:
    """A ``has stayed … for`` timer runs out (index into the timers)."""

    timer: int
    what: str


@dataclass(frozen=True, slots=True)
class ControllerWakes:
    """The controller handles all that waits for it (12)."""

    what: str = "the controller reacts"


@dataclass(frozen=True, slots=True)
class QuietBegins:
    """From here on nothing outside changes any more (guessed; for ``leads to``)."""

    what: str = "from here on nothing outside changes any more"


Outside = (
    InputTurns
    | ButtonPressed
    | SunTurns
    | DoorMoves
    | LimitsTurn
    | ReportBounces
    | PointSticks
    | WireBreaks
    | PeopleCome
    | PeopleLeave
    | LocalSwitch
    | PowerCut
)
Happening = (
    Outside
    | CalendarTurns
    | WaitRunsOut
    | LevelReached
    | LevelPassed
    | StayedRunsOut
    | ControllerWakes
    | QuietBegins
)
