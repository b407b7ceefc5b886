"""Replaying a slice's run on the whole job: the last check before ``refuted`` is said.

What lies outside the slice cannot touch it, but it lives: its waits run out, its bounds have to
be kept. Those happenings are put in where they are due; the slice's own steps must come out as
they did.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.model.job import Job, Requirement
from verifier.proof.planned import Dates, Lines
from verifier.proof.planned import Planned as PlannedOnWhole
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
from verifier.surroundings.world import TRUE

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
    begins_s: Fraction | None = None,
) -> None:
    """Replays the run of a slice on the whole job up to the moment ``end``.

    ``begins_s`` is when it begins by the calendar, if the slice reads one. Raises: DoesNotReplay.
    """
    asked = replace(job, requirements=(requirement,))
    _Replayer(asked, requirement, part, without).run(start, steps, end, begins_s)


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
            self.by_key.setdefault(_key(self.whole, happening), []).append(happening)
        inside = {_key(part, h) for h in part.happenings}
        self.others = [h for h in self.whole.happenings if _key(self.whole, h) not in inside]

    def run(
        self,
        start: tuple[int, ...],
        steps: list[Planned],
        end: Fraction,
        begins_s: Fraction | None,
    ) -> None:
        turning = [at * self.scale for at, h, _ in steps if isinstance(h, CalendarTurns)]
        self.own_turns = frozenset(turning)
        self.own_reached = frozenset(
            (at * self.scale, h.dimmer) for at, h, _ in steps if isinstance(h, LevelReached)
        )
        self.dates = Dates(self.whole, begins_s, bool(turning) and turning[0] == 0)
        state = self._start(start)
        self.lines = Lines(self.whole, state)
        here = _Here(state, Fraction(0))
        for at, happening, wanted in steps:
            here = self._until(here, at * self.scale)
            here = self._step(here, happening, wanted)
        self._until(here, end * self.scale, last=True)

    def _step(self, here: _Here, happening: Happening, wanted: tuple[int, ...]) -> _Here:
        """The slice's own step, on the whole job."""
        found: list[Happening]
        if isinstance(happening, CalendarTurns):
            turn = self.dates.following()
            found = [] if turn is None or turn.at != here.now else [turn.happening]
        else:
            found = self.by_key.get(_key(self.part, happening), [])
        if not found:
            raise DoesNotReplay(f"the whole job has no happening “{happening.what}”")
        for own in found:
            for result in happen(self.whole, here.state, own):
                if self._agrees(result.state.values, wanted):
                    if isinstance(happening, CalendarTurns):
                        self.dates.turned()
                    self.part_waits = self.due >= 0 and wanted[self.due] == TRUE
                    return self._now(here, result.state)
        raise DoesNotReplay(f"on the whole job “{happening.what}” ends otherwise")

    def _now(self, before: _Here, state: Concrete) -> _Here:
        self.lines.after(before.state, state, before.now)
        if not self.lines.agrees(state, before.now):
            raise DoesNotReplay("a fade is not where the straight line puts it")
        return self._woken(_Here(state, before.now))

    def _woken(self, here: _Here) -> _Here:
        """The controller handles at once what waits for it outside the part, if it can.

        Left for later it would take up what waits in the part by then, sooner than planned.
        """
        reaction = self.whole.reaction
        if reaction is None or self.part_waits or here.state.values[reaction.due] != TRUE:
            return here
        kept = self._kept(here.state)
        for result in happen(self.whole, here.state, ControllerWakes()):
            if self._kept(result.state) == kept:
                return self._now(here, result.state)
        return here

    def _following(self, here: _Here) -> PlannedOnWhole | None:
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
        reg = self.whole.fresh()
        placed = self.whole.world.in_calendar
        if placed is not None:
            reg.facts[placed.phase] &= 1 << self.dates.phase
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

    def _until(self, here: _Here, at: Fraction, *, last: bool = False) -> _Here:
        """Lets time pass to a moment; what is due outside the slice on the way happens."""
        for _ in range(10_000):
            planned = self._following(here)
            goal = at if planned is None else min(at, planned.at)
            later = passed(self.whole, here.state, goal - here.now)
            if later is None:
                here = self._due(here)
                continue
            here = _Here(later, goal)
            if planned is not None and planned.at == goal and not (last and goal == at):
                here = self._bound_to(here, planned.happening)
                continue
            return here
        raise DoesNotReplay("what lies outside the part never comes to rest")

    def _bound_to(self, here: _Here, happening: Happening) -> _Here:
        """A turn of the calendar, or a level that is reached, that the slice does not tell."""
        kept = self._kept(here.state)
        for result in happen(self.whole, here.state, happening):
            if self._kept(result.state) == kept:
                if isinstance(happening, CalendarTurns):
                    self.dates.turned()
                return self._now(here, result.state)
        raise DoesNotReplay(f"on the whole job “{happening.what}” cannot happen when it must")

    def _kept(self, state: Concrete) -> tuple[int, ...]:
        return tuple(state.values[other] for _, other in self.pairs)

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
        kept = self._kept(state)
        at = _Here(later, here.now + max(wait, Fraction(0)))
        for happening in self.others:
            for result in happen(self.whole, later, happening):
                values = result.state.values
                if self._kept(result.state) != kept:
                    continue
                if any(
                    not all(values[v] & m for v, m in b.when)
                    or result.state.clocks[b.clock] < b.limit
                    for b in due
                ):
                    return self._now(at, result.state)
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
