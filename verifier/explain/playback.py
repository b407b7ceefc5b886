"""A run played again on its job or on a changed one: what happens outside is kept, the rest follows.

A :class:`Case` is what a run has of the world: how it begins, what happens outside and when.
Played on the job that it comes from it fails as it did; played on a job with a rule left out, or
with one happening less, it shows what that rule or that happening had to do with it. All of it is
the reference interpreter: no solver, no engine.

What runs out by itself happens when it is due. Where more than one order is possible, that of the
run comes first; one that fails, or keeps, is looked for through all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice, product
from typing import Literal

from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.planned import Dates, Line, Lines
from verifier.simulate.instant import outcomes
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.replay import Concrete, concrete, fails, passed, registers_of
from verifier.simulate.run import Run
from verifier.simulate.script import BY_ITSELF
from verifier.simulate.seen import seen_values
from verifier.simulate.system import Excluded, System
from verifier.source import Span
from verifier.surroundings.happenings import (
    CalendarTurns,
    ControllerWakes,
    Happening,
    LevelReached,
    QuietBegins,
)
from verifier.surroundings.state import each_way

MOST_TRIED = 600
"""Happenings that are tried before a playback gives up (they take some tenths of a millisecond)."""

JUST_AFTER_S = Fraction(1, 30_000)
"""How long a case goes on that is over just after a moment: no multiple of a millisecond."""

_AWAITS = "something else has to happen before"

MOST_STARTS = 64
MOST_AFTER = 60
"""Steps that are played after the last happening of a run that leads to something in the end."""


@dataclass(frozen=True, slots=True)
class Occurs:
    """Something happens outside, by its words; ``at_s`` seconds from the start."""

    at_s: Fraction
    what: str


@dataclass(frozen=True, slots=True)
class Case:
    """What a run has of the world.

    ``start`` are (subject, value) as they are seen; ``until_s`` when it is over; ``begins_s`` when
    it begins by the calendar. ``sequence`` and ``order`` are the run's own: what happened, and
    which lines acted; they say which of several orders to take first.
    """

    start: tuple[tuple[str, str], ...]
    occurs: tuple[Occurs, ...]
    until_s: Fraction
    begins_s: Fraction | None = None
    sequence: tuple[str, ...] = ()
    order: tuple[tuple[Span, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class PlayedStep:
    """A happening, and the settled state after it."""

    at_s: Fraction
    happening: Happening
    state: Concrete
    because: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Played:
    """What came of a case; ``fails`` is when the requirement is seen to fail (and if only just after).

    ``whole``: it was played to the end of the case, and where an order was sought, all of them
    were tried. Else it says nothing of what comes later: something has to happen then that is no
    part of the case (a door arrives, people are noticed), or there was more to try than is tried.
    ``cycle_from`` is the first step of a part that goes round for ever (of what has to come true in
    the end), None if none does.
    """

    system: System
    start: Concrete
    steps: tuple[PlayedStep, ...]
    until_s: Fraction
    fails: tuple[Fraction, bool] | None
    whole: bool = True
    cycle_from: int | None = None

    @property
    def keeps(self) -> bool:
        """Whether the requirement is kept, up to the end of the case."""
        return self.fails is None and self.whole

    @property
    def states(self) -> tuple[Concrete, ...]:
        """The settled states, the one at the start first."""
        return (self.start, *(step.state for step in self.steps))


@dataclass(frozen=True, slots=True)
class Impossible:
    """The case cannot happen: why, in words.

    ``awaits``: not as it stands, but it might with something more that has to happen outside.
    """

    why: str
    awaits: bool = False


def case_of(run: Run, outside: frozenset[str] | None = None) -> Case:
    """The case of a run; ``outside`` are the words of what happens outside (None: told by the words)."""
    happens = [s for s in run.steps if (s.what in outside if outside is not None else True)]
    return Case(
        run.start,
        tuple(Occurs(s.at_s, s.what) for s in happens),
        max([run.end_s[0] + (JUST_AFTER_S if run.end_s[1] else 0), *(s.at_s for s in run.steps)]),
        None if run.clock is None else run.clock.begins_s,
        tuple(s.what for s in run.steps),
        tuple(s.because for s in run.steps),
    )


def case_on(job: Job, requirement: Requirement, run: Run) -> Case:
    """The case of a run of this job: without what runs out by itself."""
    system = system_of(job, requirement)
    return case_of(run, frozenset(outside_of(system)))


def system_of(job: Job, requirement: Requirement, without: tuple[Excluded, ...] = ()) -> System:
    """The part of a job that matters to a requirement, with its monitor."""
    part = slice_job(job, requirement, tied=bool(without))
    return System(part, requirement, without=without)


def outside_of(system: System) -> dict[str, list[Happening]]:
    """What can happen outside, by its words; and that the controller reacts, whenever it does."""
    found: dict[str, list[Happening]] = {}
    for happening in system.happenings:
        itself = isinstance(happening, (*BY_ITSELF, QuietBegins))
        if not itself or isinstance(happening, ControllerWakes):
            found.setdefault(happening.what, []).append(happening)
    return found


def due_in(system: System, state: Concrete, *, outside: bool) -> Fraction | None:
    """Units until what is bound to happen next, by itself or outside; None: nothing is.

    The calendar is no part of it: it turns on its dates.
    """
    placed = system.world.in_calendar
    calendar = frozenset() if placed is None else placed.clocks()
    return min(
        (
            bound.limit - state.clocks[bound.clock]
            for bound in system.layout.bounds
            if bound.outside is outside
            and bound.clock not in calendar
            and all(state.values[v] & m for v, m in bound.when)
        ),
        default=None,
    )


Seek = Literal["like", "fails", "keeps"]


def play(
    job: Job | System, requirement: Requirement, case: Case, seek: Seek = "like"
) -> Played | Impossible:
    """What comes of a case on a job (or a system of its own).

    ``seek``: the order that is most ``like`` the case's own; or the first that ``fails``, or that
    ``keeps`` the requirement, if any does.
    """
    system = job if isinstance(job, System) else system_of(job, requirement)
    return _Playing(system, case, seek).played()


def starts_of(
    system: System, start: Iterable[tuple[str, str]], phase: int | None = None
) -> Iterator[Concrete]:
    """The states that begin as is seen; what is not seen is at rest first."""
    wanted = dict(start)
    reg = system.fresh()
    placed = system.world.in_calendar
    if placed is not None and phase is not None:
        reg.facts[placed.phase] &= 1 << phase
    clocks = (Fraction(0),) * len(system.layout.clocks)
    for begun, _ in each_way(reg, system.begin):
        masks = [
            begun.facts[source] if source >= 0 else begun.value[variable]
            for variable, source in enumerate(begun.source)
        ]
        choices = [_bits(mask) for mask in masks]
        for values in islice(product(*choices), MOST_STARTS * 64):
            state = Concrete(tuple(values), clocks)
            seen = seen_values(system, state)
            if all(seen[subject] == wanted[subject] for subject in seen if subject in wanted):
                yield state


def _bits(mask: int) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low)
        mask ^= low
    return found


@dataclass(frozen=True, slots=True)
class _Node:
    """How far a playback has come."""

    state: Concrete
    now_s: Fraction
    occurred: int
    steps: tuple[PlayedStep, ...]
    fails: tuple[Fraction, bool] | None
    turns: int
    lines: dict[str, Line]
    followed: int
    """How many of the case's own steps have been met so far, in their order."""
    ended: bool = False
    whole: bool = True
    cycle_from: int | None = None


class _Playing:
    def __init__(self, system: System, case: Case, seek: Seek) -> None:
        self.system, self.case, self.seek = system, case, seek
        self.size = system.unit.size_s
        self.outside = outside_of(system)
        self.itself = [h for h in system.happenings if isinstance(h, BY_ITSELF)]
        # What has to do with nothing that matters here does not happen here.
        self.occurs = tuple(o for o in case.occurs if o.what in self.outside)
        turning = case.sequence[:1] and case.sequence[0] not in self.outside
        self.dates = Dates(system, case.begins_s, bool(turning))
        self.in_the_end = isinstance(system.monitor, LeadsToMonitor | MeasureMonitor)
        self.rank = {
            span: place for place, span in enumerate(s for each in case.order for s in each)
        }
        self.tried = 0
        self.why = "no run begins so"

    def played(self) -> Played | Impossible:
        placed = self.system.world.in_calendar
        phase = None if placed is None else self.dates.phase
        first: Played | None = None
        for start in islice(starts_of(self.system, self.case.start, phase), MOST_STARTS):
            self.dates.done = 0
            lines = dict(Lines(self.system, start).lines)
            node = _Node(start, Fraction(0), 0, (), None, 0, lines, 0)
            node = replace(node, fails=self._failing(start, Fraction(0), Fraction(0)))
            for end in self._ways(node):
                done = Played(
                    self.system,
                    start,
                    end.steps,
                    end.now_s,
                    end.fails,
                    end.whole,
                    end.cycle_from,
                )
                if self.seek == "like" or (done.fails is not None) is (self.seek == "fails"):
                    return done
                first = first or done
            if self.tried > MOST_TRIED:
                break
        if first is None:
            return Impossible(self.why, self.why == _AWAITS)
        return replace(first, whole=first.whole and self.tried <= MOST_TRIED)

    def _ways(self, node: _Node) -> Iterator[_Node]:
        """The ends of every way on from a node, the one most like the case first."""
        stack = [node]
        while stack:
            here = stack.pop()
            if here.ended or (here.fails is not None and not self.in_the_end) or self._over(here):
                yield self._ended(here)
                if self.seek == "like":
                    return
                continue
            if self.tried > MOST_TRIED:
                self.why = "there is more to try than is tried"
                return
            stack.extend(reversed(self._following(here)))

    def _over(self, node: _Node) -> bool:
        if node.occurred < len(self.occurs):
            return False
        if not self.in_the_end:
            return False
        if due_in(self.system, node.state, outside=False) is None:
            return due_in(self.system, node.state, outside=True) is None
        after = len(node.steps) - sum(s.at_s <= self._last() for s in node.steps)
        return after > MOST_AFTER or self._cycle(node) is not None

    def _last(self) -> Fraction:
        return self.occurs[-1].at_s if self.occurs else Fraction(0)

    def _cycle(self, node: _Node) -> int | None:
        """The step to whose state the last one comes back, nothing having happened outside since."""
        if not node.steps:
            return None
        last, key = node.steps[-1].at_s, self._key(node.state)
        for number in range(len(node.steps) - 2, -1, -1):
            step = node.steps[number]
            if step.at_s < self._last():
                return None
            if step.at_s < last and self._key(step.state) == key:
                return number
        return None

    def _key(self, state: Concrete) -> tuple[object, ...]:
        greatest = self.system.layout.greatest
        return (
            state.values,
            tuple(min(c, Fraction(g + 1)) for c, g in zip(state.clocks, greatest, strict=True)),
        )

    def _ended(self, node: _Node) -> _Node:
        """The end of a way; of what has to come true in the end, whether it does."""
        monitor = self.system.monitor
        if not self.in_the_end:
            return node
        back = self._cycle(node)
        lasting = [node.state] if back is None else [s.state for s in node.steps[back + 1 :]]
        if isinstance(monitor, MeasureMonitor):
            bad = any(fails(self.system, state, monitor.measured) for state in lasting)
        else:
            assert isinstance(monitor, LeadsToMonitor)
            bad = fails(self.system, node.state, monitor.was_handled) and any(
                not fails(self.system, state, monitor.holds) for state in lasting
            )
        return replace(
            node,
            fails=(node.now_s, False) if bad else None,
            cycle_from=None if back is None else back + 1,
        )

    # ------------------------------------------------------------ one step

    def _following(self, node: _Node) -> list[_Node]:
        """The nodes that come next, the one most like the case first."""
        self.dates.done = node.turns
        lines = self._lines(node)
        until = node.now_s + 10**9
        if node.occurred < len(self.occurs):
            until = self.occurs[node.occurred].at_s
        elif not self.in_the_end:
            until = self.case.until_s
        planned: list[Happening] = []
        for each in (self.dates.following(), lines.following(node.state)):
            if each is not None and each.at * self.size < until:
                until, planned = each.at * self.size, [each.happening]
            elif each is not None and each.at * self.size == until:
                planned.append(each.happening)
        wait = due_in(self.system, node.state, outside=False)
        due = None if wait is None else node.now_s + wait * self.size
        goal, ends_here = until if due is None else min(until, due), False
        must = due_in(self.system, node.state, outside=True)
        if must is not None and node.now_s + must * self.size < goal:
            if node.occurred < len(self.occurs) or self.in_the_end:
                self.why = _AWAITS
                return []
            # What has to happen next is no part of the case, so it is over.
            goal, ends_here = node.now_s + must * self.size, True
        if self.in_the_end and due is None and node.occurred == len(self.occurs) and not planned:
            self.why = _AWAITS
            return []
        later = passed(self.system, node.state, (goal - node.now_s) / self.size)
        if later is None:
            self.why = "something runs out before"
            return []
        failed = node.fails or self._failing(node.state, node.now_s, goal)
        here = replace(node, state=later, now_s=goal, fails=failed)
        if failed is not None and failed[0] < goal and not self.in_the_end:
            return [here]
        if ends_here:
            return [replace(here, ended=True, whole=False)]
        options: list[_Node] = []
        if node.occurred < len(self.occurs) and goal == self.occurs[node.occurred].at_s:
            for happening in self.outside[self.occurs[node.occurred].what]:
                options.extend(self._after(here, happening, 1))
                if not options and isinstance(happening, ControllerWakes):
                    # There is nothing to react to.
                    options.append(replace(here, occurred=node.occurred + 1))
        for happening in planned if goal == until else []:
            options.extend(self._after(here, happening, 0))
        if due is not None and goal == due:
            for happening in self.itself:
                if not isinstance(happening, CalendarTurns | LevelReached):
                    options.extend(self._after(here, happening, 0))
        options.sort(key=lambda one: self._likeness(node, one))
        if node.occurred == len(self.occurs) and goal == self.case.until_s and not self.in_the_end:
            told = self.seek == "like" and node.followed >= len(self.case.sequence)
            if told or not options:
                options.insert(0, replace(here, ended=True))
        if not options:
            self.why = "time cannot go on"
            if node.occurred < len(self.occurs):
                self.why = f"“{self.occurs[node.occurred].what}” is not possible then"
        return options

    def _likeness(self, before: _Node, after: _Node) -> tuple[int, ...]:
        """The less, the more like the case's own next step."""
        if len(after.steps) == len(before.steps):
            return (2,)
        step = after.steps[-1]
        met = before.followed < len(self.case.sequence) and (
            step.happening.what == self.case.sequence[before.followed]
        )
        wanted = self.case.order[before.followed] if met and self.case.order else ()
        ranks = [self.rank[span] for span in step.because if span in self.rank]
        turned = sum(a > b for k, a in enumerate(ranks) for b in ranks[k + 1 :])
        return (0 if met else 1, 0 if step.because == wanted else 1, turned, -len(ranks))

    def _after(self, node: _Node, happening: Happening, occurred: int) -> list[_Node]:
        self.tried += 1
        found = []
        for outcome in outcomes(self.system, registers_of(node.state), happening):
            if outcome.endless:
                continue
            state = concrete(outcome, node.state)
            lines = self._lines(node)
            lines.after(node.state, state, node.now_s / self.size)
            if not lines.agrees(state, node.now_s / self.size):
                continue
            step = PlayedStep(node.now_s, happening, state, outcome.because)
            met = node.followed < len(self.case.sequence) and (
                happening.what == self.case.sequence[node.followed]
            )
            found.append(
                _Node(
                    state,
                    node.now_s,
                    node.occurred + occurred,
                    (*node.steps, step),
                    node.fails or self._failing(state, node.now_s, node.now_s),
                    node.turns + isinstance(happening, CalendarTurns),
                    dict(lines.lines),
                    node.followed + met,
                )
            )
        return found

    def _lines(self, node: _Node) -> Lines:
        return Lines.standing(self.system, node.lines.items())

    def _failing(
        self, state: Concrete, from_s: Fraction, to_s: Fraction
    ) -> tuple[Fraction, bool] | None:
        """When in a stretch in which nothing happens the requirement is first seen to fail."""
        monitor = self.system.monitor
        if monitor is None or self.in_the_end:
            return None
        left = (to_s - from_s) / self.size
        moments = {Fraction(0)}
        for clock in monitor.clocks:
            moments.add(self.system.layout.greatest[clock] - state.clocks[clock])
        tiny = Fraction(1, 8)
        for units in sorted(m for m in moments if 0 <= m <= left):
            for late in (Fraction(0), tiny):
                if late and units >= left:
                    continue
                at = Concrete(state.values, tuple(c + units + late for c in state.clocks))
                if fails(self.system, at):
                    return from_s + units * self.size, late > 0
        return None
