"""The order of a test sheet: from where one stands to the nearest thing that is still to be seen.

From each state the walk goes on, by the least waiting and the fewest doings, to a happening that
reaches an open goal (a search over what a person can do and over what runs out). Where nothing is
in reach any more the walk begins anew from rest. Each thing done is looked at right after it; each
time that runs out is looked at just before and just after.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.graph.access import event_name
from verifier.graph.slice import slice_job
from verifier.graph.transitions import OnEvent
from verifier.handover.goals import Goal, Goals
from verifier.handover.walk import GAP_S, Here, Taken, Walker
from verifier.model.job import (
    Condition,
    Is,
    Job,
    Level,
    Never,
    PowerReturns,
    Requirement,
    Running,
    Stayed,
    atoms_and_leaves,
    read_by_rule,
)
from verifier.simulate.system import System
from verifier.source import NOWHERE
from verifier.surroundings.calendar import reads_sun
from verifier.surroundings.happenings import Happening, PowerCut, SunTurns

WAITING = 10
DOING_S = Fraction(120)
"""What one thing more to do, or to look at, weighs: so many times :data:`WAITING` seconds of waiting."""

HURRY_S = Fraction(3, 2)
"""Whoever has to be quicker than that is only asked where it cannot be otherwise."""

LEAST_GAP_S = Fraction(1, 5)
"""Nobody does one thing after the other quicker than that."""

MOST_NODES = 1_500
"""States that are looked at for the next goal, and for the ways to each goal by itself."""

FEWER_NODES = 400
"""The same where what is left is likely beyond a person: in a hurry, or not to be seen."""

LOOK_S = Fraction(1)
"""How long after something was done one looks."""


@dataclass(frozen=True, slots=True)
class Did:
    """A happening at a second of the walk that somebody brings about, or (None) time that passes.

    ``looks`` are the seconds at which the outputs are looked at, before the next one.
    """

    at_s: Fraction
    happening: Happening | None
    until_s: Fraction
    looks: tuple[Fraction, ...]
    goals: frozenset[Goal]


@dataclass(frozen=True, slots=True)
class Walk:
    """One walk from rest: what is done, in order, and when it is over."""

    did: tuple[Did, ...]
    until_s: Fraction


@dataclass(frozen=True, slots=True)
class Plan:
    """The walks of a part, the goals that they reach, and those that were not found.

    ``naive`` are (doings and looks, seconds) of a sheet with a test for each goal, each from rest.
    """

    walks: tuple[Walk, ...]
    reached: frozenset[Goal]
    missing: tuple[Goal, ...]
    naive: tuple[int, Fraction]


@dataclass(frozen=True, slots=True)
class _Move:
    """One move: how long it takes, where it ends, what was taken."""

    did: Did
    here: Here
    taken: tuple[Taken, ...]


_Way = tuple["_Way", _Move] | None
"""The moves that lead somewhere, the last first: ways share what they have in common."""


class Planner:
    """Plans the walks of one part."""

    def __init__(self, walker: Walker, goals: Goals) -> None:
        self.walker, self.goals = walker, goals
        self.calm = self.strict = True
        self.touching: dict[str, list[Happening]] = {}
        self.matters: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {}

    def plan(self) -> Plan:
        """The walks that reach every goal that can be found."""
        start = self.walker.start()
        if start is None:
            return Plan((), frozenset(), self.goals.all, (0, Fraction(0)))
        alone = self._alone(start)
        self.open, self.done, self.given_up = set(alone), set[Goal](), set[Goal]()
        walks: list[Walk] = []
        here, did = self._walked(start, start, [], walks)
        # What is far from rest may be near to where the walk has come; what cannot be waited for
        # is done all the same.
        self.strict = False
        self.open = {g for g in self.goals.all if g not in self.done}
        here, did = self._walked(start, here, did, walks)
        if did:
            walks.append(Walk(tuple(did), here.now_s))
        missing = tuple(g for g in self.goals.all if g not in self.done)
        steps = sum(alone[g][0] for g in self.goals.all if g in alone)
        seconds = sum((alone[g][1] for g in self.goals.all if g in alone), Fraction(0))
        return Plan(tuple(walks), frozenset(self.done), missing, (steps, seconds))

    def _walked(
        self, start: Here, here: Here, did: list[Did], walks: list[Walk]
    ) -> tuple[Here, list[Did]]:
        """Goes on until no open goal is found any more, from here or from rest."""
        while self.open:
            found = self._found(here)
            if found is None and not did:
                break
            if found is None:
                walks.append(Walk(tuple(did), here.now_s))
                here, did = start, []
                continue
            last = self._seen_by(found[-1])
            for move in found:
                here, more = self._gone(here, move, last=move is found[-1])
                did.extend(more)
                for one in more:
                    self.done |= one.goals
            # What was come by and could not be looked at to the end is not looked for again.
            self.open -= self.done | last
        return here, did

    def _found(self, here: Here) -> list[_Move] | None:
        """The moves to the nearest open goal; in a hurry only if there is no other way."""
        self.calm = True
        found = self._nearest_of_all(here, self.open)
        if found is None:
            self.calm = False
            found = self._nearest_of_all(here, self.open)
            self.calm = True
        return found

    def _nearest_of_all(self, here: Here, open_: set[Goal]) -> list[_Move] | None:
        """The moves to the nearest open goal; each rule's are looked for with what touches it."""
        best: tuple[Fraction, list[_Move]] | None = None
        for name in dict.fromkeys(goal.rule for goal in self.goals.all if goal in open_):
            found = self._nearest(here, open_, name, None if best is None else best[0])
            best = best if found is None else found
        return None if best is None else best[1]

    def _nearest(
        self, start: Here, open_: set[Goal], rule: str, most: Fraction | None
    ) -> tuple[Fraction, list[_Move]] | None:
        """The moves to the nearest happening that reaches an open goal, and what they weigh.

        None if there is none that weighs less than ``most``.
        """
        for cost, path, _ in self._explored(start, rule):
            if most is not None and cost >= most:
                return None
            if path and self._seen_by(path[-1]) & open_:
                return cost, path
        return None

    def _alone(self, start: Here) -> dict[Goal, tuple[int, Fraction]]:
        """For each goal that is found the steps and seconds of the shortest way to it from rest."""
        found: dict[Goal, tuple[int, Fraction]] = {}
        for rule in dict.fromkeys(goal.rule for goal in self.goals.all):
            own = {goal for goal in self.goals.all if goal.rule == rule}
            for _, path, here in self._explored(start, rule):
                for taken in path[-1].taken if path else ():
                    for goal in self.goals.reached(taken) & own:
                        steps = sum(max(1, len(move.did.looks)) for move in path)
                        found.setdefault(goal, (steps, here.now_s))
                if own <= found.keys():
                    break
        return found

    def _explored(self, start: Here, rule: str) -> Iterator[tuple[Fraction, list[_Move], Here]]:
        """States in order of what it takes to come there, each with the moves that lead to it."""
        heap: list[tuple[Fraction, int, Here, _Way]] = [(Fraction(0), 0, start, None)]
        seen = {self._key(start, rule)}
        count = 0
        while heap:
            cost, _, here, way = heapq.heappop(heap)
            yield cost, _path(way), here
            if count > (MOST_NODES if self.calm and self.strict else FEWER_NODES):
                return
            for move in self._moves(here, rule):
                key = self._key(move.here, rule)
                if key in seen and not any(self.goals.reached(t) for t in move.taken):
                    continue
                seen.add(key)
                count += 1
                weight = (move.here.now_s - here.now_s) / WAITING + DOING_S
                hurried = move.did.at_s - here.now_s < HURRY_S
                if self.calm and move.did.happening is not None and hurried:
                    weight += 4 * DOING_S
                heapq.heappush(heap, (cost + weight, count, move.here, (way, move)))

    def _touching(self, rule: str) -> list[Happening]:
        """What can be done that touches a rule: its part of the part, power and sun."""
        if rule not in self.touching:
            job = self._about(rule)
            names = {p.name for p in job.points} | {d.name for d in job.doors}
            names |= {r.name for r in job.rooms}
            words = {h: set(h.what.split()) for h in self.walker.doable}
            self.touching[rule] = [
                h
                for h in self.walker.doable
                if words[h] & names
                or isinstance(h, PowerCut)
                or (isinstance(h, SunTurns) and reads_sun(job))
            ]
        return self.touching[rule]

    def _due_of(self, here: Here, rule: str) -> Fraction | None:
        """When something of a rule runs out: a wait of its own, or a timer that it reads."""
        system, state = self.walker.system, here.state
        r = system.rule_index[rule]
        names = {event_name(t.event) for t in self.walker.part.rule[rule].triggers}
        names |= {n for c in read_by_rule(self.walker.part.rule[rule])[0] for n in _names(c)}
        clocks = set(system.slot_clocks[r])
        clocks |= {
            t.clock
            for t in system.timers
            if t.of_rules and system.layout.variables[t.variable].name in names
        }
        ends = [
            here.now_s + (bound.limit - state.clocks[bound.clock]) * self.walker.size
            for bound in system.layout.bounds
            if bound.clock in clocks
            and not bound.outside
            and all(state.values[v] & m for v, m in bound.when)
        ]
        return min(ends, default=None)

    def _key(self, here: Here, rule: str) -> tuple[object, ...]:
        """States that are taken for one: what touches the rule alike, its clocks roughly alike."""
        layout, values = self.walker.system.layout, here.state.values
        variables, counting = self._matters(rule)
        clocks = []
        for clock in counting:
            now, most = here.state.clocks[clock], layout.greatest[clock]
            matters = any(all(values[v] & m for v, m in when) for when in layout.uses[clock])
            clocks.append(
                0 if not matters else 5 if now > most else int(4 * now / most) if most else 0
            )
        return tuple(values[v] for v in variables), tuple(clocks)

    def _matters(self, rule: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Variables and clocks of what touches a rule, and of people, who cannot keep still."""
        if rule not in self.matters:
            system = self.walker.system
            own = System(self._about(rule), None).layout
            names = {variable.name for variable in own.variables}
            world = system.world
            people = {*world.of_room.values(), *world.awaiting.values(), *world.entered.values()}
            for room in self.walker.part.rooms:
                people |= {world.of_point[d] for d in room.seen_by if d in world.of_point}
            variables = tuple(
                v
                for v, each in enumerate(system.layout.variables)
                if each.name in names or v in people
            )
            clocks = tuple(c for c, name in enumerate(system.layout.clocks) if name in own.clocks)
            self.matters[rule] = variables, clocks
        return self.matters[rule]

    def _about(self, rule: str) -> Job:
        """What can have to do with whether a rule runs."""
        about = Requirement("", "", None, Never(Running(rule)), Fraction(0), NOWHERE)
        return slice_job(replace(self.walker.part, requirements=(about,)), about)

    def _moves(self, here: Here, rule: str) -> Iterator[_Move]:
        walker = self.walker
        due = _least(walker.due_s(here), walker.turns_s(here))
        latest = walker.latest_s(here)
        own = self._due_of(here, rule)
        for moment in dict.fromkeys((due, own)):
            if moment is not None and (latest is None or latest > moment):
                wait = self._wait(here, moment, latest)
                if wait is not None:
                    yield wait
        # Where something has to happen outside, it may be anything.
        for happening in self._touching(rule) if latest is None else walker.doable:
            move = self._doing(here, happening, due, latest)
            if move is not None:
                yield move
        if own is not None and own - here.now_s > 12:
            at = here.now_s + Fraction(round((own - here.now_s) / 2))
            if latest is None or at < latest:
                gone = walker.later(here, at)
                if gone is not None:
                    yield _Move(Did(here.now_s, None, at, (), frozenset()), *gone)

    def _wait(self, here: Here, due: Fraction, latest: Fraction | None) -> _Move | None:
        """Waiting for what runs out next, with a look before it and a look after it."""
        walker = self.walker
        at = walker.later(here, due)
        if at is None:
            return None
        margin = _margin(due - here.now_s)
        whole = walker.due_after_s(here)
        if whole:
            margin = min(margin, whole * 3 / 10)
        ends = [_least(walker.due_s(at[0]), walker.turns_s(at[0])), walker.latest_s(at[0]), latest]
        for end in ends:
            if end is not None:
                margin = min(margin, (end - due) * 2 / 5)
        if margin <= 0:
            return None
        after = walker.later(at[0], due + margin)
        if after is None:
            return None
        before = due - min(_margin(due - here.now_s), whole * 3 / 10 if whole else Fraction(5))
        looks = (due + margin,) if before <= here.now_s + 1 else (before, due + margin)
        did = Did(here.now_s, None, due + margin, looks, frozenset())
        return _Move(did, after[0], (*at[1], *after[1]))

    def _doing(
        self, here: Here, happening: Happening, due: Fraction | None, latest: Fraction | None
    ) -> _Move | None:
        """Something that is done a little after what was before, and looked at."""
        gap = GAP_S
        for end in (due, latest):
            if end is not None:
                gap = max(LEAST_GAP_S, min(gap, (end - here.now_s) / 2))
        for earliest in self.walker.earliest_s(here, happening):
            at = max(earliest, here.now_s + gap)
            if earliest > here.now_s + gap:
                at = Fraction(int(at) + 1)
            if (due is not None and at + LEAST_GAP_S > due) or (latest is not None and at > latest):
                continue
            ready = self.walker.later(here, at)
            if ready is None or ready[1]:
                continue
            step = self.walker.done(ready[0], happening)
            if step is None:
                continue
            after, taken = step
            look = LOOK_S
            for end in (self.walker.due_s(after), self.walker.turns_s(after)):
                if end is not None:
                    look = min(look, (end - at) / 2)
            end = self.walker.latest_s(after)
            if end is not None:
                look = min(look, (end - at) / 2)
            seen = self.walker.later(after, at + look) if look > 0 else (after, ())
            if seen is None:
                continue
            did = Did(at, happening, at + look, (at + look,), frozenset())
            return _Move(did, seen[0], (taken, *seen[1]))
        return None

    # ------------------------------------------------------------ going

    def _gone(self, here: Here, move: _Move, *, last: bool) -> tuple[Here, list[Did]]:
        """The walk after a move; after a trigger that came again also past the old moment."""
        goals = frozenset(self._seen_by(move))
        after = move.here
        if not last:
            seen = frozenset(g for g in goals if g.kind != "again" and not self._restores(g))
            return after, [replace(move.did, goals=seen)]
        did = [replace(move.did, goals=goals)]
        for goal in sorted(goals, key=lambda g: g.number):
            if goal.kind == "again":
                old = self._old_s(here, goal.rule)
            elif self._restores(goal):
                old = self._due_of(after, goal.rule)
            else:
                continue
            if old is None or old <= after.now_s:
                continue
            latest = self.walker.latest_s(after)
            until = old + _margin(old - here.now_s)
            gone = None
            if latest is None or until < latest:
                gone = self.walker.later(after, until)
            if gone is None:
                # What becomes of it cannot be waited for here, so it was not seen.
                if self.strict:
                    did[0] = replace(did[0], goals=did[0].goals - {goal})
                continue
            reached = frozenset(g for taken in gone[1] for g in self.goals.reached(taken))
            before = old - _margin(old - here.now_s)
            looks = (before, until) if before > after.now_s + 1 else (until,)
            did.append(Did(after.now_s, None, until, looks, reached))
            after = gone[0]
        return after, did

    def _seen_by(self, move: _Move) -> set[Goal]:
        """The goals that a move reaches so that it can be seen, if need be by waiting on."""
        reached = {g for taken in move.taken for g in self.goals.reached(taken)}
        return {
            g
            for g in reached
            if not self.strict
            or not self._restores(g)
            or self._due_of(move.here, g.rule) is not None
        }

    def _restores(self, goal: Goal) -> bool:
        """Whether a way begins with the return of power: nothing shows that but what comes of it."""
        if goal.kind != "way":
            return False
        on = self.goals.transitions[goal.number].on
        return isinstance(on, OnEvent) and isinstance(on.event, PowerReturns)

    def _old_s(self, here: Here, rule: str) -> Fraction | None:
        """When the wait of a rule would have been over."""
        system = self.walker.system
        r = system.rule_index[rule]
        state = here.state
        ends = [
            here.now_s + (bound.limit - state.clocks[bound.clock]) * self.walker.size
            for bound in system.layout.bounds
            if bound.clock in system.slot_clocks[r]
            and all(state.values[v] & m for v, m in bound.when)
        ]
        return min(ends, default=None)


def _path(way: _Way) -> list[_Move]:
    found: list[_Move] = []
    while way is not None:
        way, move = way
        found.append(move)
    return found[::-1]


def _names(condition: Condition) -> set[str]:
    found = set()
    for leaf in atoms_and_leaves(condition):
        match leaf:
            case Is(subject) | Level(subject):
                found.add(subject)
            case Stayed(atom):
                found.add(atom.subject)
            case _:
                pass
    return found


def _least(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return min((x for x in (one, other) if x is not None), default=None)


def _margin(seconds: Fraction) -> Fraction:
    """How long before and after a moment one looks: a fiftieth of the wait, 2 s to 5 s."""
    return min(max(Fraction(2), Fraction(round(seconds / 50))), Fraction(5))


def lower_bound(goals: Goals) -> int:
    """The fewest happenings outside that any sheet needs: for each trigger what cannot be seen at once.

    One happening can be refused or taken by a line, not both, and be taken at rest or again, not
    both; so an event needs as many happenings as the rule that asks most of it.
    """
    need: dict[str, int] = {}
    for rule in goals.job.rules:
        own: dict[str, int] = {}
        for n, trigger in enumerate(rule.triggers):
            key = event_name(trigger.event)
            ways = any(
                g.kind == "way"
                and getattr(goals.transitions[g.number].on, "event", None) == trigger.event
                for g in goals.all
                if g.rule == rule.name
            )
            refused = Goal("refused", rule.name, n) in goals.all
            own[key] = max(own.get(key, 0), int(ways) + int(refused))
        for key, count in own.items():
            need[key] = max(need.get(key, 0), count)
    return sum(need.values())
