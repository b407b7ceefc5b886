"""A requirement that is watched while a person operates: kept so far, waiting, or broken, and since when.

The requirement's monitor goes along with what happens in the room. Where it guesses (which of
several events counts first) or where only its own timers could come in another order, all of it is
followed at once: broken is what is broken in one of these ways, as it is for a proof.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from typing import Literal

from verifier.explain.figures import moment, rounded
from verifier.explain.playback import due_in
from verifier.model.job import Possible, Requirement
from verifier.model.words import duration, events_words
from verifier.proof.same import key_of
from verifier.simulate.instant import outcomes
from verifier.simulate.monitor import (
    AtMostTimesMonitor,
    ForAtLeastMonitor,
    LeadsToMonitor,
    MeasureMonitor,
    NoShorterMonitor,
)
from verifier.simulate.replay import Concrete, concrete, fails, passed, registers_of
from verifier.simulate.system import System
from verifier.surroundings.happenings import Happening, StayedRunsOut
from verifier.surroundings.state import each_way
from verifier.surroundings.world import TRUE
from verifier.teach.playing import Happened, Now, Playing, Way

Standing = Literal[
    "kept so far", "waiting", "has to stay", "broken", "reached", "not reached", "measured"
]
"""How a requirement stands.

``waiting``: something is still to come true; ``has to stay``: something has to stay as it is for a
while yet; ``reached`` and ``not reached`` are of a `possible`, ``measured`` of a question.
"""

MOST_STATES = 64
"""Ways of a monitor's guesses that are followed side by side."""

_LONG_S = Fraction(10) ** 9


@dataclass(frozen=True, slots=True)
class Judged:
    """How a requirement stands at a moment.

    ``at_s`` (and ``just_after``) is when it was broken or reached; ``left_s`` how long is left for
    what it waits for, or how long something has yet to stay. ``longest_s`` is of a `measure`.
    """

    requirement: str
    standing: Standing
    at_s: Fraction | None
    just_after: bool
    left_s: Fraction | None
    longest_s: Fraction | None
    words: str


@dataclass(frozen=True, slots=True)
class Tracked:
    """How far a requirement was followed: its states and their moment.

    ``failed`` is when it was first seen to fail; ``longest_s`` the longest time measured so far.
    ``alone`` are the states since something last happened outside, with whether its condition
    held, for what has to come true in the end.
    """

    states: tuple[Concrete, ...]
    at_s: Fraction
    failed: tuple[Fraction, bool] | None = None
    longest_s: Fraction | None = None
    alone: tuple[tuple[Fraction, tuple[object, ...], bool], ...] = ()


class Watch:
    """The monitor of one requirement beside a room."""

    def __init__(self, playing: Playing, requirement: Requirement) -> None:
        self.playing = playing
        self.requirement = requirement
        self.system = System(playing.job, requirement)
        self.size = self.system.unit.size_s
        base = playing.system
        assert base.unit.size_s == self.size
        names = self.system.layout.index
        self.pairs = [
            (v, names[variable.name])
            for v, variable in enumerate(base.layout.variables)
            if variable.name in names
            and self.system.layout.variables[names[variable.name]].values == variable.values
        ]
        clocks = self.system.layout.clock_index
        self.clocks = [
            (c, clocks[name]) for c, name in enumerate(base.layout.clocks) if name in clocks
        ]
        self.by_key: dict[tuple[object, ...], list[Happening]] = {}
        for happening in self.system.happenings:
            self.by_key.setdefault(key_of(self.system, happening), []).append(happening)
        self.monitor = self.system.monitor
        assert self.monitor is not None
        self.in_the_end = isinstance(self.monitor, LeadsToMonitor)

    # ------------------------------------------------------------ along the way

    def begin(self, start: Now) -> Tracked:
        """The requirement at the start of the room."""
        reg = self.system.fresh()
        for mine, theirs in self.pairs:
            reg.facts[theirs] &= start.state.values[mine]
        clocks = (Fraction(0),) * len(self.system.layout.clocks)
        states: dict[tuple[int, ...], None] = {}
        for begun, _ in each_way(reg, self.system.begin):
            masks = [
                begun.facts[source] if source >= 0 else begun.value[variable]
                for variable, source in enumerate(begun.source)
            ]
            for values in product(*(_bits(mask) for mask in masks)):
                states.setdefault(values)
        assert states, "a requirement that cannot begin where its job can"
        first = tuple(Concrete(values, clocks) for values in states)
        return self._looked_at(Tracked(first, Fraction(0)))

    def later(self, tracked: Tracked, at_s: Fraction) -> Tracked:
        """The same, later; its own timers run out meanwhile."""
        if at_s == tracked.at_s:
            return tracked
        failed, longest = tracked.failed, tracked.longest_s
        ends: dict[Concrete, None] = {}
        todo = [(state, tracked.at_s) for state in reversed(tracked.states)]
        while todo:
            state, here = todo.pop()
            own = self._own_due(state)
            until = at_s if own is None else min(at_s, here + own[0] * self.size)
            if until > here:
                failed = _first(failed, self.failing(state, here, until))
            longest = _greatest(longest, self._measured(state, until - here))
            later = passed(self.system, state, (until - here) / self.size)
            assert later is not None, "watching: time passed a bound"
            if until == at_s:
                ends.setdefault(later)
            if own is None or here + own[0] * self.size > at_s:
                continue
            if until == at_s and len(ends) > MOST_STATES:
                continue
            for happening in own[1]:
                for after in self._outcomes(later, happening):
                    if fails(self.system, after) and not self.in_the_end:
                        failed = _first(failed, (until, False))
                    todo.append((after, until))
        return replace(
            tracked, states=tuple(ends)[:MOST_STATES], at_s=at_s, failed=failed, longest_s=longest
        )

    def happens(self, tracked: Tracked, happened: Happened) -> Tracked:
        """What comes of a happening of the room at its moment."""
        now = self.later(tracked, happened.now.at_s)
        candidates = self._same(happened.happening)
        found: dict[Concrete, None] = {}
        for exact in (True, False):
            for state in now.states:
                for happening in candidates:
                    for after in self._outcomes(state, happening):
                        if self._agrees(happened.now.state, after, exact):
                            found.setdefault(after)
            if found:
                break
        assert found, f"watching: {happened.happening.what} does not come out as in the room"
        states = tuple(found)[:MOST_STATES]
        alone = now.alone if happened.by in ("rules", "calendar") else ()
        return self._looked_at(replace(now, states=states, alone=alone))

    def along(self, tracked: Tracked, way: Way) -> Tracked:
        """What comes of several happenings, one after the other."""
        for happened in way:
            tracked = self.happens(tracked, happened)
        return tracked

    def _same(self, happening: Happening) -> list[Happening]:
        """What a happening of the room is here: of a timer both, where a power cut can part them."""
        base = self.playing.system
        if not isinstance(happening, StayedRunsOut):
            return self.by_key.get(key_of(base, happening), [])
        timer = base.timers[happening.timer]
        names = self.system.layout.index
        variable = names[base.layout.variables[timer.variable].name]
        found: list[Happening] = []
        for other in self.system.happenings:
            if isinstance(other, StayedRunsOut):
                mine = self.system.timers[other.timer]
                if (mine.variable, mine.mask, mine.limit) == (variable, timer.mask, timer.limit):
                    found.append(other)
        return found

    def _own_due(self, state: Concrete) -> tuple[Fraction, list[Happening]] | None:
        """Its own timers that run out next, and in how many units; None: none runs."""
        found: list[tuple[Fraction, Happening]] = []
        for happening in self.system.happenings:
            if not isinstance(happening, StayedRunsOut):
                continue
            timer = self.system.timers[happening.timer]
            if not timer.of_truth or state.values[timer.ran_out] & TRUE:
                continue
            parted = timer.parted is not None and state.values[timer.parted] & TRUE
            if (timer.of_rules or timer.twin is not None) and not parted:
                continue  # the rules' own: it comes from the room
            if not state.values[timer.variable] & timer.mask:
                continue
            found.append((timer.limit - state.clocks[timer.clock], happening))
        if not found:
            return None
        least = min(units for units, _ in found)
        return least, [happening for units, happening in found if units == least]

    def _outcomes(self, state: Concrete, happening: Happening) -> list[Concrete]:
        return [
            concrete(outcome, state)
            for outcome in outcomes(self.system, registers_of(state), happening, self.playing.apart)
            if not outcome.endless
        ]

    def _agrees(self, room: Concrete, mine: Concrete, exact: bool) -> bool:
        if any(room.values[a] != mine.values[b] for a, b in self.pairs):
            return False
        return not exact or all(room.clocks[a] == mine.clocks[b] for a, b in self.clocks)

    def _looked_at(self, tracked: Tracked) -> Tracked:
        """The same, with what is seen in this instant."""
        if not self.in_the_end:
            if tracked.failed is None and any(fails(self.system, s) for s in tracked.states):
                return replace(tracked, failed=(tracked.at_s, False))
            return tracked
        return self._looked_to_the_end(tracked)

    # ------------------------------------------------------------ when it fails

    def failing(
        self, state: Concrete, from_s: Fraction, to_s: Fraction
    ) -> tuple[Fraction, bool] | None:
        """When it is first seen to fail in a stretch in which nothing happens; the end counts."""
        assert self.monitor is not None
        if self.in_the_end:
            return None
        left = (to_s - from_s) / self.size
        greatest = self.system.layout.greatest
        turns = {Fraction(0), left}
        turns.update(greatest[clock] - state.clocks[clock] for clock in self.monitor.clocks)
        moments = sorted(units for units in turns if 0 <= units <= left)
        for units, following in zip(moments, [*moments[1:], left], strict=True):
            if self._fails_in(state, units):
                return from_s + units * self.size, False
            # Clocks are compared with whole units only.
            tiny = min(following - units, Fraction(1, 8)) / 2
            if tiny and self._fails_in(state, units + tiny):
                return from_s + units * self.size, True
        return None

    def _fails_in(self, state: Concrete, units: Fraction) -> bool:
        return fails(self.system, Concrete(state.values, tuple(c + units for c in state.clocks)))

    def _measured(self, state: Concrete, passing_s: Fraction) -> Fraction | None:
        monitor = self.monitor
        if not isinstance(monitor, MeasureMonitor) or not fails(
            self.system, state, monitor.measured
        ):
            return None
        return state.clocks[monitor.since] * self.size + passing_s

    def _looked_to_the_end(self, tracked: Tracked) -> Tracked:
        """Of what has to come true in the end: whether nothing more happens, or it goes round."""
        monitor = self.monitor
        assert isinstance(monitor, LeadsToMonitor)
        state = tracked.states[0]
        good = not fails(self.system, state, lambda reg: not monitor.holds(reg))
        entry = tracked.at_s, self._round_key(state), good
        if tracked.failed is not None or not fails(self.system, state, monitor.was_handled):
            return replace(tracked, alone=(entry,))
        if due_in(self.system, state, outside=True) is not None:
            return replace(tracked, alone=(*tracked.alone, entry))
        if (
            due_in(self.system, state, outside=False) is None
            and self.system.world.in_calendar is None
        ):
            if not good:
                return replace(tracked, failed=(tracked.at_s, False))
            return replace(tracked, alone=(entry,))
        for k, (at_s, key, _) in enumerate(tracked.alone):
            goes_round = key == entry[1] and at_s < tracked.at_s
            if goes_round and not all(held for _, _, held in (*tracked.alone[k:], entry)):
                return replace(tracked, failed=(tracked.at_s, False))
        return replace(tracked, alone=(*tracked.alone[-MOST_STATES:], entry))

    def _round_key(self, state: Concrete) -> tuple[object, ...]:
        greatest = self.system.layout.greatest
        return (
            state.values,
            tuple(min(c, Fraction(g + 1)) for c, g in zip(state.clocks, greatest, strict=True)),
        )

    # ------------------------------------------------------------ in words

    def judged(self, tracked: Tracked) -> Judged:
        """How it stands."""
        name, monitor = self.requirement.name, self.monitor
        if tracked.failed is not None:
            at = moment(*tracked.failed)
            if isinstance(self.requirement.form, Possible):
                return Judged(name, "reached", *tracked.failed, None, None, f"reached at {at}")
            said = f"broken at {at}" if not tracked.failed[1] else f"broken {at}"
            if self.in_the_end:
                said += ": if nothing more is done, it never comes true for good"
            return Judged(name, "broken", *tracked.failed, None, None, said)
        if isinstance(self.requirement.form, Possible):
            return Judged(name, "not reached", None, False, None, None, "not reached so far")
        if isinstance(monitor, MeasureMonitor):
            longest = tracked.longest_s
            said = "not measured so far" if longest is None else f"so far {rounded(longest)}"
            return Judged(name, "measured", None, False, None, longest, said)
        if isinstance(monitor, LeadsToMonitor):
            return self._judged_in_the_end(tracked, monitor)
        breaks = [self.failing(s, tracked.at_s, tracked.at_s + _LONG_S) for s in tracked.states]
        soonest = min((at for at in breaks if at is not None), default=None)
        if soonest is not None:
            left = soonest[0] - tracked.at_s
            said = f"waiting: {rounded(left)} left, then it is broken"
            return Judged(name, "waiting", None, False, left, None, said)
        stays = self._has_to_stay(tracked)
        if stays is not None:
            said = f"has to stay so for another {rounded(stays)}"
            return Judged(name, "has to stay", None, False, stays, None, said)
        return Judged(name, "kept so far", None, False, None, None, self._kept(tracked))

    def _kept(self, tracked: Tracked) -> str:
        monitor = self.monitor
        if not isinstance(monitor, AtMostTimesMonitor):
            return "kept so far"
        counted = max(
            (
                state.values[monitor.counted].bit_length() - 1
                for state in tracked.states
                if state.clocks[monitor.since] <= monitor.window
            ),
            default=0,
        )
        within = duration(monitor.window * self.size)
        of = events_words(monitor.events)
        return f"kept so far: {counted} of {monitor.times} in {within} ({of})"

    def _has_to_stay(self, tracked: Tracked) -> Fraction | None:
        """How long something has yet to stay as it is, in seconds; None: nothing has to."""
        monitor, state = self.monitor, tracked.states[0]
        if isinstance(monitor, ForAtLeastMonitor):
            if state.values[monitor.claimed] & TRUE and state.clocks[monitor.since] < monitor.least:
                return (monitor.least - state.clocks[monitor.since]) * self.size
        elif isinstance(monitor, NoShorterMonitor):
            lit = state.values[monitor.lit] & state.values[monitor.judged] & TRUE
            if lit and state.clocks[monitor.since] < monitor.least:
                return (monitor.least - state.clocks[monitor.since]) * self.size
        return None

    def _judged_in_the_end(self, tracked: Tracked, monitor: LeadsToMonitor) -> Judged:
        name, state = self.requirement.name, tracked.states[0]
        if not fails(self.system, state, monitor.was_handled):
            said = "kept so far: nothing has been set going"
            return Judged(name, "kept so far", None, False, None, None, said)
        if fails(self.system, state, monitor.holds):
            return Judged(name, "kept so far", None, False, None, None, "it has come true")
        said = "waiting: it has to come true in the end, if nothing more is done"
        return Judged(name, "waiting", None, False, None, None, said)


def watched(watch: Watch, start: Now, ways: Iterable[Way], until: Now) -> Tracked:
    """A requirement followed along a whole history."""
    tracked = watch.begin(start)
    for way in ways:
        tracked = watch.along(tracked, way)
    return watch.later(tracked, until.at_s)


def _first(
    known: tuple[Fraction, bool] | None, found: tuple[Fraction, bool] | None
) -> tuple[Fraction, bool] | None:
    if known is None or found is None:
        return known or found
    return min(known, found)


def _greatest(known: Fraction | None, found: Fraction | None) -> Fraction | None:
    if known is None or found is None:
        return found if known is None else known
    return max(known, found)


def _bits(mask: int) -> list[int]:
    return [1 << k for k in range(mask.bit_length()) if mask >> k & 1]
