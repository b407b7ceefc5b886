"""How the rules reacted to a happening: which ones acted, what became of the others' triggers, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from verifier.explain.handled import Handled, handled_in
from verifier.model.words import condition_words, duration
from verifier.simulate.replay import registers_of
from verifier.simulate.run import Step
from verifier.simulate.seen import changes_between
from verifier.simulate.structure import Instant
from verifier.source import Span
from verifier.surroundings.happenings import (
    ControllerWakes,
    Happening,
    StayedRunsOut,
    WaitRunsOut,
)
from verifier.surroundings.state import Registers, each_way
from verifier.teach.playing import Happened, Now, Playing

Outcome = Literal[
    "runs",
    "ran and ended",
    "went on",
    "went on and ended",
    "dropped: already running",
    "dropped: all places taken",
    "waits its turn",
    "run started again",
    "oldest run gave way",
    "its condition was not true",
    "the controller has yet to react",
]


@dataclass(frozen=True, slots=True)
class Reaction:
    """A rule that was triggered or went on, what came of it, and the place that says so."""

    rule: str
    outcome: Outcome
    words: str
    span: Span


class Reactions:
    """Tells the reactions of one job's rules."""

    def __init__(self, playing: Playing) -> None:
        self.playing = playing
        self.system = playing.system
        self.lines: dict[Span, list[tuple[int, bool]]] = {}
        """The rules that have a place, and whether it is an `upon` line (else a rest)."""
        for number, rule in enumerate(self.system.rules):
            for trigger in rule.triggers:
                self.lines.setdefault(trigger.span, []).append((number, True))
            for place in self.system.codes[number].places:
                self.lines.setdefault(place.span, []).append((number, False))

    def of(self, happened: Happened) -> tuple[Reaction, ...]:
        """The reactions to one happening: those that acted in their order, then those that did not."""
        before, after = self.playing.seen(happened.before), self.playing.seen(happened.now)
        step = Step(
            happened.now.at_s,
            happened.now.at_s,
            False,
            happened.happening.what,
            changes_between(self.system, happened.before.state, happened.now.state),
            happened.because,
        )
        handled = {
            each.rule: each for each in handled_in(self.playing.job, before.items(), (step,))[0]
        }
        heard = self._heard(happened)
        found: dict[tuple[int, Span], Reaction] = {}
        acted: set[int] = set()
        for span in happened.because:
            for number, upon in self._whose(span, happened, heard):
                name = self.system.rules[number].name
                acted.add(number)
                outcome = self._acted(upon, before[name], after[name], handled.get(name))
                found.setdefault(
                    (number, span), Reaction(name, outcome, _words(name, outcome), span)
                )
        waits = self.system.reaction is not None and not isinstance(
            happened.happening, ControllerWakes
        )
        silent = [
            self._not_acted(number, lines, waits)
            for number, lines in heard.items()
            if number not in acted
        ]
        return (*found.values(), *silent)

    def _whose(
        self, span: Span, happened: Happened, heard: dict[int, int]
    ) -> list[tuple[int, bool]]:
        """The rules of a place that acted; rules of one typical share their places."""
        own = self.lines.get(span, [])
        if len(own) < 2:
            return own
        touched = [
            (number, upon)
            for number, upon in own
            if (upon and number in heard) or self._moved(number, happened)
        ]
        return touched or own[:1]

    def _moved(self, number: int, happened: Happened) -> bool:
        before, after = happened.before.state, happened.now.state
        slots = (*self.system.slots[number], *self.system.queues[number])
        clocks = self.system.slot_clocks[number]
        return any(before.values[v] != after.values[v] for v in slots) or any(
            before.clocks[c] != after.clocks[c] for c in clocks
        )

    def _heard(self, happened: Happened) -> dict[int, int]:
        """The rules that the happening itself triggers, with the lines that matched."""

        def begin(reg: Registers) -> list[tuple[int, int]]:
            now = Instant(self.system.reaction is None)
            self.system.happen(reg, now, happened.happening)
            return now.pending

        regs = registers_of(happened.before.state)
        pending = next((pending for _, pending in each_way(regs, begin)), [])
        return dict(sorted(pending))

    @staticmethod
    def _acted(upon: bool, before: str, after: str, handled: Handled | None) -> Outcome:
        if upon and handled is not None:
            return handled.outcome
        if upon:
            return "ran and ended" if after == "idle" else "runs"
        return "went on and ended" if after == "idle" and before != "idle" else "went on"

    def _not_acted(self, number: int, lines: int, waits: bool) -> Reaction:
        rule = self.system.rules[number]
        trigger = next(t for k, t in enumerate(rule.triggers) if lines >> k & 1)
        if waits:
            outcome: Outcome = "the controller has yet to react"
            return Reaction(rule.name, outcome, _words(rule.name, outcome), trigger.span)
        asked = [c for c in (rule.provided, trigger.guard) if c is not None]
        said = " and ".join(f"`{condition_words(condition)}`" for condition in asked)
        words = f"{rule.name} did not run: {said} was not true"
        return Reaction(rule.name, "its condition was not true", words, trigger.span)


def _words(name: str, outcome: Outcome) -> str:
    match outcome:
        case "run started again" | "oldest run gave way" | "the controller has yet to react":
            return f"{name}: {outcome}"
        case "dropped: already running" | "dropped: all places taken" | "waits its turn":
            return f"trigger of {name} {outcome}"
        case _:
            return f"{name} {outcome}"


def happening_words(playing: Playing, happening: Happening, now: Now) -> str:
    """A happening in words: of a wait, whose and how long; of a timer, what has been so for how long."""
    system = playing.system
    match happening:
        case WaitRunsOut(rule, _, number):
            place = system.codes[rule].places[number]
            assert place.for_s is not None
            name = system.rules[rule].name
            if place.fade is not None:
                return happening.what
            if place.until is not None:
                return f"the limit of {name}'s wait is reached ({duration(place.for_s)})"
            return f"{name} has waited {duration(place.for_s)}"
        case StayedRunsOut(number):
            timer = system.timers[number]
            name = system.layout.variables[timer.variable].name
            words = system.world.words(timer.variable, timer.mask)
            return f"{name} has been {words} for {duration(system.unit.seconds(timer.limit))}"
        case _:
            return happening.what
