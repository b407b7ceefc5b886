"""Replaying a slice's run on the whole job: the last check before ``refuted`` is said.

What lies outside the slice cannot touch it, but it lives: its waits run out, its bounds have to
be kept. Those happenings are put in where they are due; the slice's own steps must come out as
they did.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.model.job import Job, Requirement
from verifier.simulate.replay import Concrete, DoesNotReplay, happen, passed
from verifier.simulate.system import Excluded, System
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
from verifier.surroundings.state import each_way

Planned = tuple[Fraction, Happening, tuple[int, ...]]
"""Moment in units of the slice, happening of the slice, the slice's values afterwards."""


def replay_on_whole(
    job: Job,
    requirement: Requirement,
    part: System,
    start: tuple[int, ...],
    steps: list[Planned],
    end: Fraction,
    without: tuple[Excluded, ...] = (),
) -> None:
    """Replays the run of a slice on the whole job up to the moment ``end``.

    Raises: DoesNotReplay.
    """
    asked = replace(job, requirements=(requirement,))
    _Replayer(asked, requirement, part, without).run(start, steps, end)


@dataclass(frozen=True, slots=True)
class _Here:
    state: Concrete
    now: Fraction


class _Replayer:
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
        for v, variable in enumerate(part.layout.variables):
            other = index.get(variable.name)
            if other is not None and (self.whole.layout.variables[other].values == variable.values):
                self.pairs.append((v, other))
        self.by_key = {_key(self.whole, h): h for h in self.whole.happenings}
        inside = {_key(part, h) for h in part.happenings}
        self.others = [h for h in self.whole.happenings if _key(self.whole, h) not in inside]

    def run(self, start: tuple[int, ...], steps: list[Planned], end: Fraction) -> None:
        here = _Here(self._start(start), Fraction(0))
        for at, happening, wanted in steps:
            here = self._until(here, at * self.scale)
            own = self.by_key.get(_key(self.part, happening))
            if own is None:
                raise DoesNotReplay(f"the whole job has no happening “{happening.what}”")
            for result in happen(self.whole, here.state, own):
                if self._agrees(result.state.values, wanted):
                    here = _Here(result.state, here.now)
                    break
            else:
                raise DoesNotReplay(f"on the whole job “{happening.what}” ends otherwise")
        self._until(here, end * self.scale)

    def _start(self, start: tuple[int, ...]) -> Concrete:
        reg = self.whole.fresh()
        for v, other in self.pairs:
            if not self.whole.layout.variables[other].name.startswith("claim: "):
                reg.facts[other] &= start[v]
        for begun, _ in each_way(reg, self.whole.begin):
            values = []
            for variable, source in enumerate(begun.source):
                mask = begun.facts[source] if source >= 0 else begun.value[variable]
                values.append(mask & -mask)
            if self._agrees(tuple(values), start):
                return Concrete(tuple(values), (Fraction(0),) * len(self.whole.layout.clocks))
        raise DoesNotReplay("the whole job does not begin as its part does")

    def _agrees(self, values: tuple[int, ...], wanted: tuple[int, ...]) -> bool:
        return all(values[other] == wanted[v] for v, other in self.pairs)

    def _until(self, here: _Here, at: Fraction) -> _Here:
        """Lets time pass to a moment; what is due outside the slice on the way happens."""
        for _ in range(10_000):
            later = passed(self.whole, here.state, at - here.now)
            if later is not None:
                return _Here(later, at)
            here = self._due(here)
        raise DoesNotReplay("what lies outside the part never comes to rest")

    def _due(self, here: _Here) -> _Here:
        state = here.state
        tight = [
            bound
            for bound in self.whole.layout.bounds
            if all(state.values[v] & m for v, m in bound.when)
        ]
        wait = min(bound.limit - state.clocks[bound.clock] for bound in tight)
        later = passed(self.whole, state, max(wait, Fraction(0)))
        if later is None:
            raise DoesNotReplay("time has passed beyond a bound")
        due = [b for b in tight if later.clocks[b.clock] == b.limit]
        kept = tuple(state.values[other] for _, other in self.pairs)
        for happening in self.others:
            for result in happen(self.whole, later, happening):
                values = result.state.values
                if tuple(values[other] for _, other in self.pairs) != kept:
                    continue
                if any(
                    not all(values[v] & m for v, m in b.when)
                    or result.state.clocks[b.clock] < b.limit
                    for b in due
                ):
                    return _Here(result.state, here.now + max(wait, Fraction(0)))
        raise DoesNotReplay("something outside the part is due and cannot happen")


def _key(system: System, happening: Happening) -> tuple[object, ...]:
    """What makes a happening the same in a slice and in the whole."""
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
            way = system.fading[dimmer].ways[w]
            start = system.layout.variables[system.fading[dimmer].level].values[
                way.start.bit_length() - 1
            ]
            name = system.rules[way.rule].name
            return "reached", dimmer, name, way.slot, way.place, start, way.reaches[c].what
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
