"""A slice's run on the whole job as it comes: what falls due outside the slice is put in when it is due.

What lies outside the slice cannot touch it, but it lives: its waits run out, its bounds have to
be kept. The slice's own steps must come out as they did. Where something outside has to happen
before it is due, :mod:`verifier.proof.whole` looks ahead, by the same steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

from verifier.model.job import Job, Requirement
from verifier.proof.planned import Dates, Lines
from verifier.proof.planned import Planned as PlannedOnWhole
from verifier.proof.same import key_of
from verifier.simulate.replay import (
    Concrete,
    DoesNotReplay,
    happen,
    passed,
)
from verifier.simulate.system import Excluded, System
from verifier.surroundings.happenings import (
    CalendarTurns,
    ControllerWakes,
    Happening,
    LevelReached,
    StayedRunsOut,
    WaitRunsOut,
)
from verifier.surroundings.state import each_way
from verifier.surroundings.world import TRUE

Planned = tuple[Fraction, Happening, tuple[int, ...]]
"""Moment in units of the slice, happening of the slice, the slice's values afterwards."""


@dataclass(frozen=True, slots=True)
class Here:
    """A state of the whole job and its moment, in its units."""

    state: Concrete
    now: Fraction


class Replayer:
    """The whole job beside its part, and how the one follows the other."""

    def __init__(
        self,
        job: Job,
        requirement: Requirement,
        part: System,
        without: tuple[Excluded, ...],
    ) -> None:
        self.part = part
        self.whole = System(job, requirement, without=without)
        self.scale = part.unit.size_s / self.whole.unit.size_s
        index = self.whole.layout.index
        self.pairs: list[tuple[int, int]] = []
        # The whole job may read more times of the clock, so that it turns when the slice's does not.
        placed = part.world.in_calendar
        own = frozenset[int]() if placed is None else placed.variables() - {placed.phase}
        # On the whole job the controller is due for other rules too.
        self.due = -1 if part.reaction is None else part.reaction.due
        self.part_waits = False
        own |= {self.due}
        for v, variable in enumerate(part.layout.variables):
            if v in own:
                continue
            other = index.get(variable.name)
            if other is not None and (self.whole.layout.variables[other].values == variable.values):
                self.pairs.append((v, other))
        self.by_key: dict[tuple[object, ...], list[Happening]] = {}
        for happening in self.whole.happenings:
            self.by_key.setdefault(key_of(self.whole, happening), []).append(happening)
        inside = {key_of(part, h) for h in part.happenings}
        self.others = [h for h in self.whole.happenings if key_of(self.whole, h) not in inside]
        self.expiries: dict[int, list[Happening]] = {}
        """What runs out outside the slice, by its clock."""
        for happening in self.others:
            match happening:
                case WaitRunsOut(rule, slot):
                    clock = self.whole.slot_clocks[rule][slot]
                case StayedRunsOut(timer):
                    clock = self.whole.timers[timer].clock
                case _:
                    continue
            self.expiries.setdefault(clock, []).append(happening)

    def run(
        self,
        start: tuple[int, ...],
        steps: list[Planned],
        end: Fraction,
        begins_s: Fraction | None,
    ) -> None:
        """Replays a run up to its end. Raises: DoesNotReplay."""
        turning = [at * self.scale for at, h, _ in steps if isinstance(h, CalendarTurns)]
        self.own_turns = frozenset(turning)
        self.own_reached = frozenset(
            (at * self.scale, h.dimmer) for at, h, _ in steps if isinstance(h, LevelReached)
        )
        self.dates = Dates(self.whole, begins_s, bool(turning) and turning[0] == 0)
        state = self._start(start)
        self.lines = Lines(self.whole, state)
        here = Here(state, Fraction(0))
        for at, happening, wanted in steps:
            here = self._until(here, at * self.scale)
            here = self._step(here, happening, wanted)
        self._until(here, end * self.scale, last=True)

    def _step(self, here: Here, happening: Happening, wanted: tuple[int, ...]) -> Here:
        """The slice's own step, on the whole job."""
        found = self.same_as(here, happening)
        if not found:
            raise DoesNotReplay(f"the whole job has no happening “{happening.what}”")
        for own in found:
            for result in happen(self.whole, here.state, own):
                if self.agrees(result.state.values, wanted):
                    return self.after(here, own, result.state, wanted)
        raise DoesNotReplay(f"on the whole job “{happening.what}” ends otherwise")

    def same_as(self, here: Here, happening: Happening) -> list[Happening]:
        """What a happening of the slice is on the whole job."""
        if isinstance(happening, CalendarTurns):
            turn = self.dates.following()
            return [] if turn is None or turn.at != here.now else [turn.happening]
        return self.by_key.get(key_of(self.part, happening), [])

    def after(
        self,
        before: Here,
        happening: Happening,
        state: Concrete,
        wanted: tuple[int, ...] | None = None,
    ) -> Here:
        """A state after a happening (of the slice's own: ``wanted``). Raises: DoesNotReplay."""
        if isinstance(happening, CalendarTurns):
            self.dates.turned()
        if wanted is not None:
            self.part_waits = self.due >= 0 and wanted[self.due] == TRUE
        return self._now(before, state)

    def _now(self, before: Here, state: Concrete) -> Here:
        self.lines.after(before.state, state, before.now)
        if not self.lines.agrees(state, before.now):
            raise DoesNotReplay("a fade is not where the straight line puts it")
        return self._woken(Here(state, before.now))

    def _woken(self, here: Here) -> Here:
        """The controller handles at once what waits for it outside the part, if it can.

        Left for later it would take up what waits in the part by then, sooner than planned.
        """
        reaction = self.whole.reaction
        if reaction is None or self.part_waits or here.state.values[reaction.due] != TRUE:
            return here
        kept = self.kept(here.state)
        for result in happen(self.whole, here.state, ControllerWakes()):
            if self.kept(result.state) == kept:
                return self._now(here, result.state)
        return here

    def following(self, here: Here) -> PlannedOnWhole | None:
        """What is bound to happen next outside the slice's own steps."""
        turn = self.dates.following()
        if turn is not None and turn.at in self.own_turns:
            turn = None
        reached = self.lines.following(here.state)
        if (
            reached is not None
            and isinstance(reached.happening, LevelReached)
            and (reached.at, reached.happening.dimmer) in self.own_reached
        ):
            reached = None
        if turn is None or (reached is not None and reached.at < turn.at):
            return reached
        return turn

    def _start(self, start: tuple[int, ...]) -> Concrete:
        for first in self.starts(start):
            return first
        raise DoesNotReplay("the whole job does not begin as its part does")

    def starts(self, start: tuple[int, ...]) -> Iterator[Concrete]:
        """The states in which the whole job begins as its part does: then with one value another."""
        reg = self.whole.fresh()
        placed = self.whole.world.in_calendar
        if placed is not None:
            reg.facts[placed.phase] &= 1 << self.dates.phase
        for v, other in self.pairs:
            if not self.whole.layout.variables[other].name.startswith("claim: "):
                reg.facts[other] &= start[v]
        for begun, _ in each_way(reg, self.whole.begin):
            masks = [
                begun.facts[source] if source >= 0 else begun.value[variable]
                for variable, source in enumerate(begun.source)
            ]
            lowest = tuple(mask & -mask for mask in masks)
            if not self.agrees(lowest, start):
                continue
            yield self._begun(lowest)
            for variable, mask in enumerate(masks):
                rest = mask & (mask - 1) if begun.source[variable] == variable else 0
                while rest:
                    bit = rest & -rest
                    rest ^= bit
                    values = (*lowest[:variable], bit, *lowest[variable + 1 :])
                    if self.agrees(values, start):
                        yield self._begun(values)

    def _begun(self, values: tuple[int, ...]) -> Concrete:
        return Concrete(values, (Fraction(0),) * len(self.whole.layout.clocks))

    def agrees(self, values: tuple[int, ...], wanted: tuple[int, ...]) -> bool:
        """Whether the slice's values are those that are wanted."""
        return all(values[other] == wanted[v] for v, other in self.pairs)

    def _until(self, here: Here, at: Fraction, *, last: bool = False) -> Here:
        """Lets time pass to a moment; what is due outside the slice on the way happens."""
        for _ in range(10_000):
            planned = self.following(here)
            goal = at if planned is None else min(at, planned.at)
            later = passed(self.whole, here.state, goal - here.now)
            if later is None:
                here = self._due(here)
                continue
            here = Here(later, goal)
            if planned is not None and planned.at == goal and not (last and goal == at):
                here = self._bound_to(here, planned.happening)
                continue
            return here
        raise DoesNotReplay("what lies outside the part never comes to rest")

    def _bound_to(self, here: Here, happening: Happening) -> Here:
        """A turn of the calendar, or a level that is reached, that the slice does not tell."""
        kept = self.kept(here.state)
        for result in happen(self.whole, here.state, happening):
            if self.kept(result.state) == kept:
                return self.after(here, happening, result.state)
        raise DoesNotReplay(f"on the whole job “{happening.what}” cannot happen when it must")

    def kept(self, state: Concrete) -> tuple[int, ...]:
        """The slice's values in a state of the whole job."""
        return tuple(state.values[other] for _, other in self.pairs)

    def wait(self, state: Concrete) -> Fraction | None:
        """The time that can pass in a state; None for ever."""
        return min(
            (
                max(bound.limit - state.clocks[bound.clock], Fraction(0))
                for bound in self.whole.layout.bounds
                if all(state.values[v] & m for v, m in bound.when)
            ),
            default=None,
        )

    def _due(self, here: Here) -> Here:
        state = here.state
        tight = [
            bound
            for bound in self.whole.layout.bounds
            if all(state.values[v] & m for v, m in bound.when)
        ]
        wait = self.wait(state)
        assert wait is not None
        later = passed(self.whole, state, wait)
        if later is None:
            raise DoesNotReplay("time has passed beyond a bound")
        due = [b for b in tight if later.clocks[b.clock] == b.limit]
        kept = self.kept(state)
        at = Here(later, here.now + wait)
        likely = [h for b in due for h in self.expiries.get(b.clock, ())]
        for happening in chain(likely, self.others):
            for result in happen(self.whole, later, happening):
                values = result.state.values
                if self.kept(result.state) != kept:
                    continue
                if any(
                    not all(values[v] & m for v, m in b.when)
                    or result.state.clocks[b.clock] < b.limit
                    for b in due
                ):
                    return self._now(at, result.state)
        raise DoesNotReplay("something outside the part is due and cannot happen")
