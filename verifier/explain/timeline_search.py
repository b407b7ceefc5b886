"""Looks for a timeline that does what a plan asks: the one that changes the least, and naturally.

A plan says at which moments a requirement's condition, scope and events are to be how. Which
things have which values for that is searched for, cheapest first: lamps are switched rather than
doors opened, one thing rather than two. What is found is judged by the requirement's own monitor.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import combinations, count, pairwise, product

from verifier.explain.drawn import SUN
from verifier.explain.timeline import (
    DAY_S,
    IDLE,
    RUNNING,
    Settled,
    Step,
    Timeline,
    Values,
    atom_holds,
    clock_times,
    is_so,
    occurrences,
    settled_instants,
    subjects_of,
    timers_of,
)
from verifier.explain.timeline_judge import Bench, Moment
from verifier.model.job import (
    DOOR_VALUES,
    ROOM_VALUES,
    AssumeAlways,
    AtClock,
    Becomes,
    Between,
    Changes,
    Condition,
    Event,
    Is,
    Job,
    LeadsTo,
    Level,
    PointKind,
    PowerReturns,
    Pressed,
    Requirement,
    Stayed,
    Value,
    atoms_and_leaves,
    conditions_and_events_of,
    read_by_requirement,
)

MOST_NODES = 1_500
"""Nodes that are looked at for one plan and one way of the clock."""

DEEPER = 14
"""What a moment that is done counts for: it is rather gone on with than begun anew."""

MOST_STARTS = 4_000
"""Beginnings that are looked at, those with the fewest things not at rest first."""

MOST_TRIED = 120_000
"""Changes that are tried for one requirement, all plans together: some seconds."""

Since = dict[Stayed, Fraction | None]


@dataclass(frozen=True, slots=True)
class Want:
    """What is asked of a moment; None: anything.

    ``holds`` of the condition, ``inside`` of the scope, ``event``: one occurs, or none,
    ``handled``: the rule is set going. ``also`` is a further condition and whether it is to be so.
    """

    at_s: Fraction
    holds: bool | None = None
    event: bool | None = None
    inside: bool | None = True
    handled: bool = False
    also: tuple[tuple[Condition, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """Moments with what is asked of each, the first at 0; and how it is to come out.

    ``breaks_s``: the moment from which on the requirement is to be seen broken; None: never.
    """

    wants: tuple[Want, ...]
    end_s: Fraction
    breaks_s: Fraction | None


@dataclass(frozen=True, slots=True)
class Found:
    """A timeline, what the requirement sees of it, and when it is broken."""

    line: Timeline
    instants: tuple[Settled, ...]
    broken: Moment | None


class Search:
    """The search for one requirement of a job; ``find`` may be asked for several plans."""

    def __init__(self, job: Job, requirement: Requirement) -> None:
        self.job, self.requirement = job, requirement
        self.subjects = subjects_of(job, requirement)
        self.domains = {name: self._domain(name) for name in self.subjects}
        self.timers = timers_of(requirement)
        conditions, self.events = conditions_and_events_of(requirement.form)
        self.condition = conditions[0] if conditions else None
        form = requirement.form
        self.rule = form.rule if isinstance(form, LeadsTo) else None
        self.bench = Bench(requirement)
        self.tried = 0
        points = job.point
        self.outputs = [n for n in self.subjects if n in points and points[n].kind.is_output]
        self.assumed = self._assumed()
        self.eventful = {
            e.atom.subject if isinstance(e, Becomes) else e.subject
            for e in self.events
            if isinstance(e, Becomes | Changes)
        }

    def find(self, plan: Plan) -> Found | None:
        """The cheapest timeline that does what the plan asks, judged; None if none was found."""
        for most in (2, 3):
            found = [self._search(plan, begins, most) for begins in self._begins(plan)]
            best = min((each for each in found if each is not None), key=_cost, default=None)
            if best is not None:
                return best[1]
        return None

    # ------------------------------------------------------------ values

    def _domain(self, name: str) -> tuple[Value, ...]:
        """The values that a thing may have here, the one at rest first."""
        if name == SUN:
            return ("day", "night")
        if name in self.job.rule:
            return (IDLE, RUNNING)
        if name in self.job.door:
            return ("lowered", *(v for v in DOOR_VALUES if v != "lowered"))
        if name in self.job.room:
            return tuple(reversed(ROOM_VALUES)) if ROOM_VALUES[0] != "empty" else ROOM_VALUES
        kind = self.job.point[name].kind
        return self._levels(name) if kind is PointKind.DIMMER else kind.values

    def _levels(self, name: str) -> tuple[Value, ...]:
        """Off, full, the levels that are named, and one on each side of them."""
        conditions, events = read_by_requirement(self.requirement)
        atoms = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
        atoms += [e.atom for e in events if isinstance(e, Becomes)]
        named = {
            atom.percent for atom in (_atom(a) for a in atoms) if atom and atom.subject == name
        }
        ends = sorted(named | {Fraction(0), Fraction(100)})
        between = {Fraction(round((a + b) / 2)) for a, b in pairwise(ends)}
        rest = sorted((between | named) - {Fraction(0), Fraction(100)})
        return (Fraction(0), Fraction(100), *rest)

    def _assumed(self) -> tuple[Condition, ...]:
        """The assumptions that speak of nothing but what the timeline has."""
        found = []
        for assumption in self.job.assumptions:
            if not isinstance(assumption, AssumeAlways):
                continue
            leaves = list(atoms_and_leaves(assumption.condition))
            if all(isinstance(a, Is | Level) and self._has(a.subject) for a in leaves):
                found.append(assumption.condition)
        return tuple(found)

    def _has(self, subject: str) -> bool:
        door = self.job.door_of_point.get(subject)
        return subject in self.domains or (door is not None and door.name in self.domains)

    # ------------------------------------------------------------ the clock

    def _begins(self, plan: Plan) -> Iterator[int | None]:
        """When a timeline may begin, by the clock; None where no clock is read."""
        times = clock_times(self.requirement)
        if not times:
            yield None
            return
        moments = [want.at_s for want in plan.wants[1:]]
        events = [w.at_s for w in plan.wants if w.event]
        found: dict[int, None] = {}
        if any(isinstance(event, AtClock) for event in self.events):
            for at in events[:1]:
                found.update({int(t - at): None for t in times})
        for time in times:
            found.update({int(time + 1800 - (moments[0] if moments else 0)): None})
            found.update({int(time - at): None for at in moments})
            found.update({int(time - plan.end_s - 1800): None})
        for begins in found:
            for day in self._days():
                yield begins % DAY_S + day * DAY_S

    def _days(self) -> tuple[int, ...]:
        conditions, events = read_by_requirement(self.requirement)
        chosen = [e.days for e in events if isinstance(e, AtClock)]
        for condition in conditions:
            chosen += [a.days for a in atoms_and_leaves(condition) if isinstance(a, Between)]
        named = sorted({day for days in chosen if days is not None for day in days})
        if not named:
            return (0,)
        other = [day for day in range(7) if day not in named]
        return tuple(dict.fromkeys((named[0], (named[0] - 1) % 7, (named[0] + 1) % 7, *other[:1])))

    # ------------------------------------------------------------ the search

    def _search(self, plan: Plan, begins: int | None, most: int) -> tuple[int, Found] | None:
        tie = count()
        heap: list[tuple[int, int, int, int, Timeline, Values, Since]] = []
        values: Values
        for cost, values in self._starts(begins):
            since: Since = {
                t: Fraction(0) if atom_holds(self.job, t.atom, values) else None
                for t in self.timers
            }
            if self._wanted(plan.wants[0], values, values, since, (), (), begins):
                line = Timeline(tuple(values.items()), (), plan.end_s, begins)
                heappush(heap, (cost, next(tie), cost, 1, line, values, since))
        for _ in range(MOST_NODES):
            if not heap or self.tried > MOST_TRIED:
                return None
            _, _, cost, number, line, values, since = heappop(heap)
            if number == len(plan.wants):
                found = self._judged(plan, line)
                if found is not None:
                    return cost, found
                continue
            want = plan.wants[number]
            for more, step, after, later in self._options(want, values, since, begins, most):
                longer = Timeline(line.start, (*line.steps, step), line.end_s, begins)
                rank = cost + more - DEEPER * number
                heappush(heap, (rank, next(tie), cost + more, number + 1, longer, after, later))
        return None

    def _judged(self, plan: Plan, line: Timeline) -> Found | None:
        line = Timeline(
            line.start,
            tuple(s for s in line.steps if s.changes or s.happens),
            line.end_s,
            line.begins_s,
        )
        instants = settled_instants(self.job, self.requirement, line)
        broken = self.bench.judge(instants, line.end_s)
        if plan.breaks_s is None:
            return Found(line, instants, None) if broken is None else None
        if broken is None or broken[0] < plan.breaks_s:
            return None
        return Found(line, instants, broken)

    def _starts(self, begins: int | None) -> Iterator[tuple[int, dict[str, Value]]]:
        """The values with which a timeline may begin, and what they cost."""
        if len(self.outputs) > 2:
            # All that the rules set is on.
            values = {n: self.domains[n][1 if n in self.outputs else 0] for n in self.subjects}
            yield sum(self._rest_cost(n, values[n], begins) for n in self.subjects), values
        others = {name: tuple(range(1, len(self.domains[name]))) for name in self.subjects}
        found = 0
        for number in range(len(self.subjects) + 1):
            for names in combinations(self.subjects, number):
                for chosen in product(*(others[name] for name in names)):
                    places = dict(zip(names, chosen, strict=True))
                    values = {n: self.domains[n][places.get(n, 0)] for n in self.subjects}
                    yield sum(self._rest_cost(n, values[n], begins) for n in self.subjects), values
                    found += 1
                    if found >= MOST_STARTS:
                        return

    def _rest_cost(self, name: str, value: Value, begins: int | None) -> int:
        """What it costs to begin with a value."""
        if name == SUN:
            if begins is None:
                return 0 if value == "night" else 1
            dark = not 7 * 3600 <= begins % DAY_S < 19 * 3600
            return 0 if (value == "night") is dark else 40
        point = self.job.point.get(name)
        if point is not None and point.starts is not None and value == point.starts:
            return 0
        place = self.domains[name].index(value)
        return 0 if place == 0 else 1 if place == 1 else 2

    def _options(
        self, want: Want, values: Values, since: Since, begins: int | None, most: int
    ) -> Iterator[tuple[int, Step, Values, Since]]:
        """What may change at a moment so that it is as wanted, with its cost."""
        pointless: list[tuple[Event, ...]] = [()]
        if want.event:
            pointless += [(e,) for e in self.events if isinstance(e, Pressed | PowerReturns)]
        for happens in pointless:
            dear = 8 if PowerReturns() in happens else 2 if happens else 0
            for cost, changes in self._changes(want, values, begins, most):
                self.tried += 1
                if self.tried > MOST_TRIED:
                    return
                after = {**values, **dict(changes)}
                out = tuple(
                    t for t, b in since.items() if b is not None and b + t.for_s == want.at_s
                )
                if any(t.atom.subject in dict(changes) for t in out):
                    continue
                later = self._since(since, after, want.at_s)
                if self._wanted(want, values, after, later, happens, out, begins):
                    yield cost + dear, Step(want.at_s, changes, happens), after, later

    def _since(self, since: Since, after: Values, at_s: Fraction) -> Since:
        found: Since = {}
        for timer in self.timers:
            begun = since[timer]
            so = atom_holds(self.job, timer.atom, after)
            found[timer] = (at_s if begun is None else begun) if so else None
        return found

    def _changes(
        self, want: Want, values: Values, begins: int | None, most: int
    ) -> Iterator[tuple[int, tuple[tuple[str, Value], ...]]]:
        for number in range(most + 1):
            for names in combinations(self.subjects, number):
                cost = sum(self._change_cost(want, name, values, begins) for name in names)
                for chosen in product(*(self._turns(name, values[name]) for name in names)):
                    extra = sum(
                        self.domains[n].index(v) > 1 for n, v in zip(names, chosen, strict=True)
                    )
                    yield cost + extra, tuple(zip(names, chosen, strict=True))
        yield from self._together(want, values, begins)

    def _together(
        self, want: Want, values: Values, begins: int | None
    ) -> Iterator[tuple[int, tuple[tuple[str, Value], ...]]]:
        """All that the rules set goes on, or off, at once; alone or with one thing else."""
        if len(self.outputs) < 3:
            return
        for place in (0, 1):
            wanted = [(name, self.domains[name][place]) for name in self.outputs]
            turned = tuple((name, value) for name, value in wanted if values[name] != value)
            yield 8, turned
            for name in self.subjects:
                if name not in self.outputs:
                    cost = 8 + self._change_cost(want, name, values, begins)
                    for value in self._turns(name, values[name]):
                        yield cost, ((name, value), *turned)

    def _turns(self, name: str, value: Value) -> tuple[Value, ...]:
        """What a thing can turn to: a door only by way of moving."""
        if name in self.job.door:
            return tuple(v for v in DOOR_VALUES if v != value) if value == "moving" else ("moving",)
        return tuple(v for v in self.domains[name] if v != value)

    def _change_cost(self, want: Want, name: str, values: Values, begins: int | None) -> int:
        if name == SUN and begins is not None:
            hour = int((begins + want.at_s) % DAY_S // 3600)
            usual = 15 <= hour < 23 if values[SUN] == "day" else 3 <= hour < 9
            return 12 if usual else 40
        if want.event and name in self.eventful:
            return 1
        if want.handled and name == self.rule:
            return 1
        point = self.job.point.get(name)
        if name in self.job.rule or (point is not None and point.kind.is_output):
            return 4
        if point is not None and point.kind is PointKind.FLAG:
            return 6
        return 12 if name == SUN else 7

    def _wanted(
        self,
        want: Want,
        before: Values,
        after: Values,
        since: Mapping[Stayed, Fraction | None],
        happens: tuple[Event, ...],
        out: tuple[Stayed, ...],
        begins: int | None,
    ) -> bool:
        """Whether a settled instant is as wanted."""
        clock = None if begins is None else begins + want.at_s

        def so(condition: Condition) -> bool:
            return is_so(self.job, condition, after, since, want.at_s, clock)

        condition = self.condition
        if want.holds is not None and condition is not None and so(condition) is not want.holds:
            return False
        scope = self.requirement.scope
        if scope is not None and want.inside is not None and so(scope) is not want.inside:
            return False
        if not all(so(condition) is wanted for condition, wanted in want.also):
            return False
        if not all(so(condition) for condition in self.assumed):
            return False
        if self.rule is not None:
            started = before[self.rule] == IDLE and after[self.rule] == RUNNING
            if started is not want.handled:
                return False
        if want.event is None:
            return True
        came = clock if want.at_s else None
        number = occurrences(self.job, self.events, before, after, happens, out, came)
        return bool(number) is want.event


def _cost(found: tuple[int, Found]) -> int:
    return found[0]


def _atom(leaf: Condition) -> Level | None:
    match leaf:
        case Level():
            return leaf
        case Stayed(Level() as atom):
            return atom
        case _:
            return None
