"""A played run as a path of what is true at each settled instant: what causes are looked for on."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from verifier.explain.playback import Played
from verifier.model.job import (
    AtClock,
    Becomes,
    Changes,
    Condition,
    DayBegins,
    Event,
    HasStayed,
    Night,
    NightBegins,
    Not,
    PowerReturns,
    Pressed,
    RuleEnds,
    RuleStarts,
    Running,
)
from verifier.model.words import event_words
from verifier.simulate.replay import Concrete, registers_of
from verifier.simulate.script import BY_ITSELF
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    Happening,
    PowerCut,
    StayedRunsOut,
)
from verifier.surroundings.state import each_way


@dataclass(frozen=True, slots=True)
class Observed:
    """A played run, instant by instant.

    Shape: one entry for the start, one for each step, and one for the end if time passes before
    it. ``happenings`` has None for start and end.
    """

    played: Played
    at_s: tuple[Fraction, ...]
    states: tuple[Concrete, ...]
    happenings: tuple[Happening | None, ...]
    because: tuple[tuple[Span, ...], ...]
    """The lines that acted in each instant."""

    def true(self, condition: Condition, k: int) -> bool:
        """Whether a condition holds, in truth, from instant ``k`` on."""
        return holds_in(self.played.system, condition, self.states[k])

    def occurs(self, event: Event, k: int) -> bool:
        """Whether an event occurs in instant ``k``."""
        happening = self.happenings[k]
        if happening is None or k == 0:
            return False
        before, after = self.states[k - 1], self.states[k]
        if event_occurs(self.played.system, event, before, happening, after):
            return True
        return isinstance(event, RuleStarts | RuleEnds) and self._at_once(event.rule, k)

    def _at_once(self, name: str, k: int) -> bool:
        """Whether a rule starts and ends in one instant."""
        if self.true(Running(name), k - 1) or self.true(Running(name), k):
            return False
        rules = [rule for rule in self.played.system.rules if rule.name == name]
        return any(t.span in self.because[k] for rule in rules for t in rule.triggers)

    @property
    def last(self) -> int:
        """The number of the last instant."""
        return len(self.states) - 1


def shown_steps(played: Played) -> list[int]:
    """The steps in which something changes or comes from outside, by number."""
    states = played.states
    return [
        k
        for k, step in enumerate(played.steps)
        if step.because
        or not isinstance(step.happening, BY_ITSELF)
        or _asked_for(played, step.happening)
        or changes_between(played.system, states[k], states[k + 1])
    ]


def _asked_for(played: Played, happening: Happening) -> bool:
    """Whether a timer runs out that the requirement reads."""
    if not isinstance(happening, StayedRunsOut):
        return False
    return played.system.timers[happening.timer].of_truth


def observed(played: Played) -> Observed:
    """The instants of a played run, with the moment at which it fails as the last."""
    steps = [played.steps[k] for k in shown_steps(played)]
    at: list[Fraction] = [Fraction(0), *(step.at_s for step in steps)]
    states = [played.start, *(step.state for step in steps)]
    happenings: list[Happening | None] = [None, *(step.happening for step in steps)]
    because = [(), *(step.because for step in steps)]
    end, just_after = played.fails if played.fails is not None else (at[-1], False)
    if end > at[-1] or just_after or len(at) == 1:
        last = played.steps[-1].at_s if played.steps else Fraction(0)
        units = (end - last) / played.system.unit.size_s + (Fraction(1, 8) if just_after else 0)
        at.append(end)
        clocks = tuple(clock + units for clock in played.states[-1].clocks)
        states.append(Concrete(states[-1].values, clocks))
        happenings.append(None)
        because.append(())
    return Observed(played, tuple(at), tuple(states), tuple(happenings), tuple(because))


def holds_in(system: System, condition: Condition, state: Concrete) -> bool:
    """Whether a condition holds, in truth, in a concrete state."""
    found = each_way(registers_of(state), lambda reg: system.holds(reg, condition, True))
    return any(result for _, result in found)


def event_occurs(
    system: System, event: Event, before: Concrete, happening: Happening, after: Concrete
) -> bool:
    """Whether an event occurs in an instant, as far as its two ends show."""

    def turns(condition: Condition) -> bool:
        return not holds_in(system, condition, before) and holds_in(system, condition, after)

    match event:
        case Becomes(atom):
            return turns(atom)
        case Changes(subject):
            old, new = (seen_values(system, s).get(subject) for s in (before, after))
            return old != new
        case Pressed(button):
            return isinstance(happening, ButtonPressed) and happening.button == button
        case HasStayed(timer):
            return isinstance(happening, StayedRunsOut) and turns(timer)
        case NightBegins():
            return turns(Night())
        case DayBegins():
            return turns(Not(Night()))
        case PowerReturns():
            return isinstance(happening, PowerCut)
        case RuleStarts(rule):
            return turns(Running(rule))
        case RuleEnds(rule):
            return turns(Not(Running(rule)))
        case AtClock():
            words = event_words(event).removeprefix("at ")
            return isinstance(happening, CalendarTurns) and words.split(" on ")[0] in happening.what
        case _:
            assert_never(event)
