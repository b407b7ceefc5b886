"""What a test sheet has to bring about: each way through each rule, and what must not happen.

Goals of a rule: every transition of its graph is taken; each trigger that has a guard comes once
while the guard is false; a rule that can be running is triggered once more while it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from verifier.graph.build import build_graph, transitions_in
from verifier.graph.transitions import OnCondition, OnEvent, OnExpiry, OnLimit, Transition, on_words
from verifier.handover.walk import Taken, Walker
from verifier.model.job import (
    Condition,
    Is,
    Job,
    PowerReturns,
    Put,
    Rule,
    Stayed,
    TimedOut,
    statements_of,
)
from verifier.model.words import trigger_words
from verifier.model.words import value as value_words
from verifier.model.words import words as in_words
from verifier.simulate.replay import Concrete, registers_of
from verifier.simulate.script import BY_ITSELF
from verifier.simulate.structure import Instant
from verifier.source import Span
from verifier.surroundings.happenings import PowerCut
from verifier.surroundings.state import Registers, each_way

Kind = Literal["way", "shown", "refused", "again"]

LEAST_GONE_S = Fraction(15)
"""How long a wait has been going on, at least, when its rule is triggered again to see the difference."""


QUICKEST_S = Fraction(4)
"""In a shorter wait nobody can trigger a rule again by hand."""


@dataclass(frozen=True, slots=True)
class Goal:
    """One thing to bring about.

    A ``way`` through a rule (``number`` among the transitions), an output that a way sets
    ``shown`` by its change (``detail`` among the way's effects), a trigger that is ``refused`` by
    its guard (``number`` among the rule's) where the rule would do something to be seen, a rule
    triggered ``again`` while it rests at a place (``number``).
    """

    kind: Kind
    rule: str
    number: int
    detail: int = 0


class Goals:
    """The goals of a part, and which of them a happening reaches."""

    def __init__(self, walker: Walker) -> None:
        self.walker = walker
        self.job: Job = walker.part
        self.transitions = transitions_in(build_graph(self.job))
        found = [
            Goal("way", t.rule, n)
            for n, t in enumerate(self.transitions)
            if not t.summarised and t.outcome != "endless candidate" and not _cannot_be(t)
        ]
        found.extend(
            Goal("shown", goal.rule, goal.number, k)
            for goal in tuple(found)
            for k, effect in enumerate(self.transitions[goal.number].effects)
            if isinstance(effect, Put)
            and self.job.point[effect.point].kind.is_output
            and Is(effect.point, str(effect.value)) not in self.transitions[goal.number].guard
        )
        for rule in self.job.rules:
            for n, trigger in enumerate(rule.triggers):
                if trigger.guard is not None or rule.provided is not None:
                    found.append(Goal("refused", rule.name, n))
            if rule.triggers:
                places = walker.system.codes[walker.system.rule_index[rule.name]].places
                found.extend(
                    Goal("again", rule.name, p.number + 1)
                    for p in places
                    if p.for_s is None or p.for_s >= QUICKEST_S
                )
        self.all = tuple(found)

    def words(self, goal: Goal) -> str:
        """A goal in words, for lists of what is covered and what is not."""
        if goal.kind == "way":
            t = self.transitions[goal.number]
            guard = " and ".join(in_words(c) for c in t.guard)
            effects = ", ".join(in_words(e) for e in t.effects)
            return (
                f"{t.rule}: {on_words(t.on)}{f', if {guard}' if guard else ''}"
                f"{f': {effects}' if effects else ''}"
            )
        if goal.kind == "shown":
            t = self.transitions[goal.number]
            return f"{t.rule}: {on_words(t.on)}: {in_words(t.effects[goal.detail])}, to be seen"
        rule = self.job.rule[goal.rule]
        if goal.kind == "refused":
            return f"{rule.name}: {trigger_words(rule.triggers[goal.number])}, while that is not so"
        place = self.walker.system.codes[self.walker.system.rule_index[rule.name]].places
        at = [
            in_words(s) for s in statements_of(rule.body) if s.span == place[goal.number - 1].span
        ]
        return f"{rule.name}: triggered again at “{at[0] if at else ''}”"

    def span(self, goal: Goal) -> Span:
        """The place in the text that a goal is about."""
        rule = self.job.rule[goal.rule]
        if goal.kind in ("way", "shown"):
            t = self.transitions[goal.number]
            return t.spans[0] if t.spans else rule.span
        return rule.triggers[goal.number].span if goal.kind == "refused" else rule.span

    def reached(self, taken: Taken) -> set[Goal]:
        """The goals that a happening reaches."""
        found: set[Goal] = set()
        if not taken.because and isinstance(taken.happening, BY_ITSELF):
            return found
        heard = self._heard(taken)
        cut = isinstance(taken.happening, PowerCut)
        for r, rule in enumerate(self.walker.system.rules):
            # With the power every run ends before any begins.
            before = () if cut else self._places(taken.before, r)
            after = self._places(taken.after, r)
            fired = [n for n, t in enumerate(rule.triggers) if t.span in taken.because]
            if fired and len(before) == rule.policy.at_once:
                found |= self._again(taken.before, r, rule)
            found |= self._ways(taken, r, rule, before, after, fired)
            if not fired:
                found |= self._refused(taken, r, rule, heard, before)
        return found

    def _places(self, state: Concrete, r: int) -> tuple[int, ...]:
        """The places at which the runs of a rule rest (numbers of the graph)."""
        system = self.walker.system
        return tuple(
            state.values[slot].bit_length() - 1
            for slot in system.slots[r]
            if state.values[slot] != 1
        )

    def _again(self, state: Concrete, r: int, rule: Rule) -> set[Goal]:
        """The places at which a run rests, long enough for a new start to make a difference."""
        system, found = self.walker.system, set()
        for slot, clock in zip(system.slots[r], system.slot_clocks[r], strict=True):
            number = state.values[slot].bit_length() - 1
            if number == 0:
                continue
            place = system.codes[r].places[number - 1]
            gone = state.clocks[clock] * self.walker.size
            least = min(LEAST_GONE_S, place.for_s / 4) if place.for_s is not None else Fraction(1)
            if gone >= least:
                found.add(Goal("again", rule.name, number))
        return found

    def _ways(
        self,
        taken: Taken,
        r: int,
        rule: Rule,
        before: tuple[int, ...],
        after: tuple[int, ...],
        fired: list[int],
    ) -> set[Goal]:
        found = []
        acted = set(taken.because)
        target = after[-1] if after else 0
        for n, t in enumerate(self.transitions):
            if t.rule != rule.name or t.target != target:
                continue
            match t.on:
                case OnEvent(event):
                    lines = [rule.triggers[k] for k in fired]
                    if before or not any(line.event == event for line in lines):
                        continue
                case OnExpiry() | OnLimit() | OnCondition():
                    rests = [p for p in before if p == t.source]
                    waits = self.walker.system.codes[r].places
                    if not rests or waits[t.source - 1].span not in acted:
                        continue
            if all(self._true(taken, r, c) for c in t.guard):
                found.append(Goal("way", rule.name, n))
        ways = found[:1] if len(found) > 1 and not fired else found
        return {*ways, *(goal for way in ways for goal in self._shown(taken, way))}

    def _shown(self, taken: Taken, way: Goal) -> list[Goal]:
        """The settings of a way that show: the output was otherwise before."""
        effects = self.transitions[way.number].effects
        before, after = (self.walker.seen_in(s) for s in (taken.before, taken.after))
        return [
            Goal("shown", way.rule, way.number, k)
            for k, effect in enumerate(effects)
            if isinstance(effect, Put) and before.get(effect.point) != after.get(effect.point)
        ]

    def _true(self, taken: Taken, r: int, condition: Condition) -> bool:
        """Whether a guard is true as the rule goes on: inputs as they are now, the rest as it was."""
        system = self.walker.system
        inputs = self._inputs()
        values = tuple(
            new if v in inputs else old
            for v, (old, new) in enumerate(
                zip(taken.before.values, taken.after.values, strict=True)
            )
        )
        clocks = tuple(taken.before.clocks)
        if isinstance(condition, TimedOut):
            out = next((o for o in system.out[r] if o is not None), None)
            return out is not None and taken.after.values[out] == 2
        state = Concrete(values, clocks)
        found = each_way(
            registers_of(state),
            lambda reg: system.holds(reg, condition, False, _any(system.out[r])),
        )
        return any(result for _, result in found)

    def _inputs(self) -> frozenset[int]:
        world = self.walker.system.world
        names = [p.name for p in self.job.points if p.kind.is_input and p.name in world.of_point]
        found = {world.of_point[n] for n in names}
        found |= set(world.of_door.values()) | set(world.of_room.values())
        found |= {c for n in names if (c := world.copy_of(n)) is not None}
        if world.night is not None:
            found.add(world.night)
        return frozenset(found)

    def _refused(
        self,
        taken: Taken,
        r: int,
        rule: Rule,
        heard: set[tuple[int, int]],
        before: tuple[int, ...],
    ) -> set[Goal]:
        """Triggers that came and were refused: heard, with the guard false."""
        if before or not any(place == r for place, _ in heard):
            return set()
        if not self._would_show(rule, taken):
            return set()
        return {
            Goal("refused", rule.name, n)
            for n, trigger in enumerate(rule.triggers)
            if (r, n) in heard and (trigger.guard is not None or rule.provided is not None)
        }

    def _would_show(self, rule: Rule, taken: Taken) -> bool:
        """Whether the rule, were it to run, would change an output."""
        seen = self.walker.seen_in(taken.before)
        values = [
            (s.point, value_words(s.value) if isinstance(s.value, Fraction) else s.value)
            for s in statements_of(rule.body)
            if isinstance(s, Put) and self.job.point[s.point].kind.is_output
        ]
        return not values or seen.get(values[0][0]) != values[0][1]

    def _heard(self, taken: Taken) -> set[tuple[int, int]]:
        """(rule, line) of all triggers that the happening itself sets off."""
        system = self.walker.system
        found: set[tuple[int, int]] = set()

        def begin(reg: Registers) -> None:
            now = Instant(system.reaction is None)
            system.happen(reg, now, taken.happening)
            for rule, kind in now.pending:
                found.update((rule, n) for n in range(kind.bit_length()) if kind >> n & 1)

        list(each_way(registers_of(taken.before), begin))
        return found


def _cannot_be(transition: Transition) -> bool:
    """Whether a way asks for a time at the moment at which all times count anew: power returns."""
    match transition.on:
        case OnEvent(PowerReturns()):
            return any(isinstance(condition, Stayed) for condition in transition.guard)
        case _:
            return False


def _any(slots: list[int | None]) -> int | None:
    return next((slot for slot in slots if slot is not None), None)
