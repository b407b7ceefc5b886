"""What is so, and what happens, in short phrases: for titles, causes and tables."""

from __future__ import annotations

from fractions import Fraction

from verifier.explain.observed import Observed
from verifier.explain.playback import Played
from verifier.explain.why import Cause, at_fault
from verifier.model.job import (
    Between,
    Condition,
    Is,
    Level,
    Night,
    Running,
)
from verifier.model.words import duration, level
from verifier.model.words import words as in_words
from verifier.surroundings.happenings import Happening, StayedRunsOut, WaitRunsOut


def so(
    seen: Observed, condition: Condition, k: int, *, wrong: bool = False, lasting: bool = False
) -> str:
    """What of a condition is so at an instant (``wrong``: what of it is not as it should be).

    ``lasting``: as it goes on to be (``lane is on``), not as it has just come to be.
    """
    leaves = at_fault(seen, condition, k, wanted=wrong)
    said = [
        leaf_words(c.leaf, true=c.true, goes=not lasting and _just(seen, c, k))
        for c in leaves
        if c.leaf is not None
    ]
    if not said:
        return in_words(condition)
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else said[0]


def _just(seen: Observed, cause: Cause, k: int) -> bool:
    """Whether a leaf has come to be as it is in this very instant."""
    assert cause.leaf is not None
    return (
        k > 0 and seen.happenings[k] is not None and seen.true(cause.leaf, k - 1) is not cause.true
    )


_OTHER = {
    "open": "shut", "shut": "open", "reached": "clear", "clear": "reached",
    "occupied": "vacant", "vacant": "occupied", "on": "off", "off": "on",
    "bright": "dark", "dark": "bright", "yes": "no", "no": "yes",
    "peopled": "empty", "empty": "peopled",
}  # fmt: skip
_DENIED = {
    "above": "at most", "at most": "above", "below": "at least", "at least": "below",
}  # fmt: skip


def leaf_words(leaf: Condition, *, true: bool, goes: bool = False) -> str:
    """A leaf of a condition as a fact: ``bay_lights is off``, ``it is night``.

    ``goes``: that it has just come to be so (``bay_lights goes off``).
    """
    verb = "goes" if goes else "is"
    match leaf:
        case Night():
            name = "night" if true else "day"
            return f"{name} begins" if goes else f"it is {name}"
        case Is(subject, value) if true:
            if value in (
                "open",
                "shut",
                "reached",
                "clear",
                "occupied",
                "vacant",
                "moving",
                "stopped",
                "raised",
                "lowered",
            ):
                verb = "becomes" if goes else "is"
            return f"{subject} {verb} {value}"
        case Is(subject, value) if value in _OTHER:
            return leaf_words(Is(subject, _OTHER[value]), true=True, goes=goes)
        case Is(subject, value):
            return f"{subject} is not {value}"
        case Level(subject, comparison, percent):
            if comparison == "above" and percent == 0:
                return f"{subject} {verb} {'on' if true else 'off'}"
            if comparison == "at most" and percent == 0:
                return f"{subject} {verb} {'off' if true else 'on'}"
            if comparison == "equal":
                return f"{subject} is {'' if true else 'not '}at {level(percent)}"
            said = comparison if true else _DENIED[comparison]
            gets = {"at least": "reaches", "at most": "is down to"}.get(said, f"goes {said}")
            return f"{subject} {gets if goes else f'is {said}'} {level(percent)}"
        case Between():
            return f"it is {'' if true else 'not '}{in_words(leaf)}"
        case Running(rule):
            return f"{rule} is {'' if true else 'not '}running"
        case _:
            return in_words(leaf) if true else f"it is not so that {in_words(leaf)}"


def happening_words(played: Played, happening: Happening) -> str:
    """A happening in words: of a wait, which and how long."""
    system = played.system
    match happening:
        case WaitRunsOut(rule, _, number):
            place = system.codes[rule].places[number]
            assert place.for_s is not None
            if place.fade is not None:
                return happening.what
            name = system.rules[rule].name
            if place.until is not None:
                return f"the limit of {name}'s wait is reached ({duration(place.for_s)})"
            return f"{name} has waited {duration(place.for_s)}"
        case StayedRunsOut(number):
            timer = system.timers[number]
            name = system.layout.variables[timer.variable].name
            seconds = system.unit.seconds(Fraction(timer.limit))
            return f"{name} has been {system.world.words(timer.variable, timer.mask)} for {duration(seconds)}"
        case _:
            return happening.what
