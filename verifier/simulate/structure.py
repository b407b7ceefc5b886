"""What a system is made of: its variables, clocks, timers, and who takes notice of what."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd, lcm
from typing import Any, assert_never

from verifier.model.job import (
    And,
    AtClock,
    Becomes,
    Between,
    Changes,
    Condition,
    DayBegins,
    Event,
    HasStayed,
    Implies,
    Is,
    Job,
    Level,
    Night,
    NightBegins,
    Not,
    Or,
    PowerReturns,
    Pressed,
    Requirement,
    Rule,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    TimedOut,
    atoms_and_leaves,
    read_by_requirement,
    read_by_rule,
)
from verifier.simulate.durations import durations
from verifier.simulate.fading import lay_fadings
from verifier.simulate.monitor import Monitor, monitor_of
from verifier.simulate.program import (
    Code,
    code_of,
)
from verifier.source import Span
from verifier.surroundings.happenings import (
    CalendarTurns,
    ControllerWakes,
    Happening,
    LevelPassed,
    LevelReached,
    QuietBegins,
    StayedRunsOut,
    WaitRunsOut,
)
from verifier.surroundings.state import Layout, Registers
from verifier.surroundings.world import FALSE, TRUE, World

Excluded = tuple[tuple[str, int], ...]
"""States left out of all runs, as a cube: (name of a variable, mask)."""

IDLE = 1
"""The bit of a slot with no run."""


class Instant:
    """What is left to do in an instant, and what was counted in it."""

    __slots__ = ("awake", "count", "freed", "log", "pending", "woken")

    def __init__(self, awake: bool = True) -> None:
        self.awake = awake
        """Whether the controller handles what comes; else it waits for it to react (12)."""
        self.pending: list[tuple[int, int]] = []
        """Triggers not handled yet: (rule, lines that matched)."""
        self.woken = 0
        """Runs (bits) whose ``wait until`` may have become true."""
        self.freed = 0
        """Rules (bits) of which a run ended, so that a waiting trigger may take its turn."""
        self.count = 0
        """Occurrences of the requirement's events, up to what matters."""
        self.log: list[Span] = []

    def copy(self) -> Instant:
        """A copy that can be changed."""
        new = Instant.__new__(Instant)
        new.awake = self.awake
        new.pending = self.pending[:]
        new.woken = self.woken
        new.freed = self.freed
        new.count = self.count
        new.log = self.log[:]
        return new

    def covers(self, other: Instant) -> bool:
        """Whether all that is left to do in the other is left to do in this one too."""
        if other.woken & ~self.woken or other.freed & ~self.freed:
            return False
        if len(other.pending) > len(self.pending):
            return False
        left = list(self.pending)
        for trigger in other.pending:
            if trigger not in left:
                return False
            left.remove(trigger)
        return True

    def key(self) -> tuple[object, ...]:
        """A value by which instants are compared; the log does not count."""
        return tuple(sorted(self.pending)), self.woken, self.freed, self.count, self.awake


@dataclass(frozen=True, slots=True)
class Timer:
    """A ``has stayed`` timer: ``ran_out`` is the variable that says that it has run out."""

    variable: int
    mask: int
    limit: int
    clock: int
    ran_out: int
    of_rules: bool
    of_truth: bool
    parted: int | None
    """Variable: a power cut has parted the rules' timer from the truth's (both then have one)."""
    twin: int | None


@dataclass(frozen=True, slots=True)
class Reaction:
    """A controller that takes its time (12).

    ``due`` says that something waits for it, ``clock`` since when; ``waiting`` gives for each rule
    the variable of the trigger that it has not handled yet.
    """

    due: int
    clock: int
    waiting: tuple[int, ...]


ANY_CHANGE = -1
"""In the place of a mask. (The mask of a level that a dimmer never has is 0, and never matches.)"""


@dataclass(slots=True)
class Hearing:
    """Who takes notice when one subject of a variable changes."""

    subject: str
    classes: tuple[int, ...]
    lines: list[tuple[int, int, int]] = field(default_factory=list)
    """(rule, bit of the line, mask that it becomes, or ANY_CHANGE)."""
    counted: list[int] = field(default_factory=list)
    """Masks of the requirement's events, or ANY_CHANGE."""


class Unit:
    """The job's unit of time: the greatest that every duration is a whole number of."""

    def __init__(self, durations: Iterator[Fraction]) -> None:
        found = [d for d in durations if d]
        scale = lcm(*(d.denominator for d in found), 1)
        self.size_s = Fraction(gcd(*(int(d * scale) for d in found)) or 1, scale)

    def __call__(self, seconds: Fraction) -> int:
        """The whole number of units that a duration is."""
        whole = seconds / self.size_s
        assert whole.denominator == 1
        return int(whole)

    def seconds(self, units: Fraction | int) -> Fraction:
        """The seconds of so many units."""
        return units * self.size_s


class Structure:
    """The layout of a job with the monitor of ``requirement`` (None: no monitor), and who listens."""

    def __init__(
        self,
        job: Job,
        requirement: Requirement | None,
        *,
        watch: Callable[[Any], Monitor] | None = None,
        without: tuple[Excluded, ...] = (),
    ) -> None:
        """``watch`` makes a monitor of another kind; ``without`` are states left out of all runs (15)."""
        self.job = job
        self.requirement = requirement
        self.layout = Layout()
        self.unit = Unit(durations(job))
        self.world = World(job, self.layout, self.unit)
        self.rules = job.rules
        self.rule_index = {rule.name: i for i, rule in enumerate(job.rules)}
        self.codes: tuple[Code, ...] = tuple(code_of(rule) for rule in job.rules)
        self.slots: list[list[int]] = []
        self.slot_clocks: list[list[int]] = []
        self.out: list[list[int | None]] = []
        self.queues: list[list[int]] = []
        for i, rule in enumerate(job.rules):
            self._lay_rule(i, rule)
        self.fading = lay_fadings(
            self.world,
            self.layout,
            self.codes,
            self.slots,
            self.slot_clocks,
            self.at,
        )
        """The fades of each dimmer that a rule fades."""
        self.reaction: Reaction | None = None
        if job.site is not None and job.site.reaction_s:
            self._lay_reaction(self.unit(job.site.reaction_s))
        self.timers: list[Timer] = []
        self.timer_index: dict[tuple[int, int, int, bool], int] = {}
        self._lay_timers()
        self.monitor: Monitor | None = None
        if watch is not None:
            self.monitor = watch(self)
        elif requirement is not None:
            self.monitor = monitor_of(self, requirement)
        index = self.layout.index
        self.without = tuple(
            tuple((index[name], mask) for name, mask in cube)
            for cube in without
            if all(name in index for name, _ in cube)
        )
        self._listen()
        self.always_reads = [(c, frozenset(self.read(c, True))) for c in self.world.always]
        self.happenings: tuple[Happening, ...] = self._happenings()

    # ------------------------------------------------------------ layout

    def _lay_rule(self, index: int, rule: Rule) -> None:
        code, policy, layout = self.codes[index], rule.policy, self.layout
        values = ("idle", *(f"at {p.number}" for p in code.places), "acting")
        slots, clocks, out = [], [], []
        for number in range(policy.at_once):
            suffix = f"#{number + 1}" if policy.at_once > 1 else ""
            slot = layout.add(f"run of {rule.name}{suffix}", values, 1 << (len(values) - 1))
            clock = layout.clock(f"wait of {rule.name}{suffix}")
            for place in code.places:
                if place.for_s is not None:
                    limit = self.unit(place.for_s)
                    layout.bound(clock, ((slot, self.at(place.number)),), limit, outside=False)
            slots.append(slot)
            clocks.append(clock)
            out.append(
                layout.add(f"timed out in {rule.name}{suffix}", (0, 1))
                if code.asks_timed_out
                else None
            )
        self.slots.append(slots)
        self.slot_clocks.append(clocks)
        self.out.append(out)
        queue = []
        if policy.waiting and code.places:
            kinds = self.kinds(rule)
            for number in range(policy.at_once + policy.waiting):
                beyond = number >= policy.waiting
                passing = ((1 << (len(kinds) + 1)) - 2) if beyond else 0
                queue.append(
                    layout.add(
                        f"waiting trigger {number + 1} of {rule.name}", ("none", *kinds), passing
                    )
                )
        self.queues.append(queue)

    def _lay_reaction(self, limit: int) -> None:
        layout = self.layout
        due = layout.add("the controller is due", (0, 1))
        clock = layout.clock("since the controller is due")
        layout.bound(clock, ((due, TRUE),), limit, outside=False)
        waiting = tuple(
            layout.add(f"trigger of {rule.name} not handled yet", ("none", *self.kinds(rule)))
            for rule in self.rules
        )
        self.reaction = Reaction(due, clock, waiting)

    @staticmethod
    def at(place: int) -> int:
        """The bit of a slot whose run rests at ``place``."""
        return 2 << place

    @staticmethod
    def kinds(rule: Rule) -> tuple[int, ...]:
        """The kinds of trigger that can wait: sets of matched lines as far as guards tell them apart."""
        guarded = [1 << i for i, t in enumerate(rule.triggers) if t.guard is not None]
        free = [1 << i for i, t in enumerate(rule.triggers) if t.guard is None]
        kinds = set(free)
        for choice in range(1, 1 << len(guarded)):
            kinds.add(sum(bit for i, bit in enumerate(guarded) if choice >> i & 1))
        return tuple(sorted(kinds))

    def _lay_timers(self) -> None:
        wanted: dict[tuple[int, int, int], set[bool]] = {}
        for rule in self.rules:
            conditions, events = read_by_rule(rule)
            self._want(wanted, conditions, events, truth=False)
        outside = tuple(self.world.always)
        self._want(wanted, outside, (), truth=True)
        if self.requirement is not None:
            conditions, events = read_by_requirement(self.requirement)
            self._want(wanted, conditions, events, truth=True)
        for (variable, mask, limit), sides in wanted.items():
            self._lay_timer(variable, mask, limit, sides)

    def _want(
        self,
        wanted: dict[tuple[int, int, int], set[bool]],
        conditions: tuple[Condition, ...],
        events: tuple[Event, ...],
        *,
        truth: bool,
    ) -> None:
        found = [
            leaf for c in conditions for leaf in atoms_and_leaves(c) if isinstance(leaf, Stayed)
        ]
        found.extend(e.timer for e in events if isinstance(e, HasStayed))
        for stayed in found:
            variable, mask = self.world.locate(stayed.atom, truth)
            wanted.setdefault((variable, mask, self.unit(stayed.for_s)), set()).add(truth)

    def _lay_timer(self, variable: int, mask: int, limit: int, sides: set[bool]) -> None:
        layout, world = self.layout, self.world
        name = f"{layout.variables[variable].name} has stayed {world.words(variable, mask)} {limit}"
        parting = world.power_cuts and len(sides) == 2
        parted = layout.add(f"{name}: parted", (0, 1)) if parting else None
        groups = [{True}, {False}] if parting else [sides]
        for group in groups:
            of_truth, of_rules = True in group, False in group
            clock = world.since(variable, mask)
            if of_rules and world.power_cuts:
                clock = layout.clock(f"as the rules count: {layout.clocks[clock]}")
            ran_out = layout.add(f"{name}{'' if of_truth else ' for the rules'}", (0, 1))
            when = [(variable, mask), (ran_out, FALSE)]
            if parted is not None and of_rules:
                when.append((parted, TRUE))
            layout.bound(clock, tuple(when), limit, outside=False)
            number = len(self.timers)
            twin = None
            if parting:
                twin = number + 1 if of_truth else number - 1
            for side in group:
                self.timer_index[variable, mask, limit, side] = number
            self.timers.append(
                Timer(variable, mask, limit, clock, ran_out, of_rules, of_truth, parted, twin)
            )
            if of_rules and world.power_cuts:
                known = world.restarted.setdefault(variable, [])
                entry = (0 if len(layout.variables[variable].values) == 2 else mask, clock)
                if entry not in known:
                    known.append(entry)

    def timer(self, stayed: Stayed, truth: bool) -> Timer:
        """The timer that a rule (or, of the truth, a requirement) means."""
        variable, mask = self.world.locate(stayed.atom, truth)
        return self.timers[self.timer_index[variable, mask, self.unit(stayed.for_s), truth]]

    def _happenings(self) -> tuple[Happening, ...]:
        found: list[Happening] = list(self.world.happenings())
        if self.world.in_calendar is not None:
            turns = self.world.in_calendar.calendar.turns
            found.extend(CalendarTurns(k, turn.what) for k, turn in enumerate(turns))
        for i, rule in enumerate(self.rules):
            for slot in range(len(self.slots[i])):
                for place in self.codes[i].places:
                    if place.for_s is not None:
                        fade = place.fade
                        what = f"a wait of {rule.name} runs out"
                        if fade is not None:
                            what = f"the fade of {fade[0]} by {rule.name} ends"
                        found.append(WaitRunsOut(i, slot, place.number, what))
        for fading in self.fading.values():
            for w, way in enumerate(fading.ways):
                found.extend(
                    LevelReached(fading.dimmer, w, c, reach.what)
                    for c, reach in enumerate(way.reaches)
                    if reach.before is not None
                )
            found.extend(
                LevelPassed(fading.dimmer, p, passing.what)
                for p, passing in enumerate(fading.passings)
            )
        for number, timer in enumerate(self.timers):
            name = self.layout.variables[timer.variable].name
            words = self.world.words(timer.variable, timer.mask)
            found.append(StayedRunsOut(number, f"{name} has stayed {words} long enough"))
        if self.reaction is not None:
            found.append(ControllerWakes())
        if self.monitor is not None and self.monitor.guesses_quiet:
            found.append(QuietBegins())
        return tuple(found)

    # ------------------------------------------------------------ who listens

    def read(self, condition: Condition, truth: bool) -> Iterator[int]:
        """The variables that a condition reads."""
        for leaf in atoms_and_leaves(condition):
            match leaf:
                case Is() | Level():
                    yield self.world.locate(leaf, truth)[0]
                case Stayed():
                    yield self.timer(leaf, truth).ran_out
                case Night():
                    yield self.world.night_at()[0]
                case Between():
                    yield self.world.between_at(leaf)[0]
                case Running(rule):
                    yield from self.slots[self.rule_index[rule]]
                case _:
                    pass

    def _listen(self) -> None:
        count = len(self.layout.variables)
        self.hearings: list[list[Hearing]] = [[] for _ in range(count)]
        self.pressed: dict[str, list[tuple[int, int]]] = {}
        self.sun: list[list[tuple[int, int]]] = [[], []]
        self.at_clock: dict[AtClock, list[tuple[int, int]]] = {}
        self.returns: list[tuple[int, int]] = []
        self.starts: dict[int, list[tuple[int, int]]] = {}
        self.ends: dict[int, list[tuple[int, int]]] = {}
        self.stayed: dict[int, list[tuple[int, int]]] = {}
        for i, rule in enumerate(self.rules):
            for number, trigger in enumerate(rule.triggers):
                self._hear(trigger.event, i, 1 << number)
        self.counts_pressed: set[str] = set()
        self.counts_sun = [False, False]
        self.counts_at_clock: set[AtClock] = set()
        self.counts_returns = False
        self.counts_starts: set[int] = set()
        self.counts_ends: set[int] = set()
        self.counts_stayed: set[int] = set()
        for event in () if self.monitor is None else self.monitor.events:
            self._count(event)
        self.wakes = [0] * count
        self.candidates: list[tuple[int, int]] = []
        for i, code in enumerate(self.codes):
            conditions = [p.until for p in code.places if p.until is not None]
            faded = [self.fading[p.fade[0]].active for p in code.places if p.fade is not None]
            if not conditions and not faded:
                continue
            for slot in range(len(self.slots[i])):
                bit = 1 << len(self.candidates)
                self.candidates.append((i, slot))
                for condition in conditions:
                    for variable in self.read(condition, False):
                        self.wakes[variable] |= bit
                for variable in faded:
                    self.wakes[variable] |= bit
        self.timers_of: list[list[int]] = [[] for _ in range(count)]
        for number, timer in enumerate(self.timers):
            self.timers_of[timer.variable].append(number)
        self.noticed_by_change = [
            bool(
                self.hearings[v]
                or self.timers_of[v]
                or self.wakes[v]
                or v in self.world.restarted
                or v in self.world.first
            )
            for v in range(count)
        ]

    def _hearing(self, subject: str, truth: bool) -> Hearing:
        variable, classes = self.world.classes(subject, truth)
        for hearing in self.hearings[variable]:
            if hearing.subject == subject:
                return hearing
        hearing = Hearing(subject, classes)
        self.hearings[variable].append(hearing)
        return hearing

    def _hear(self, event: Event, rule: int, line: int) -> None:
        match event:
            case Becomes(atom):
                mask = self.world.locate(atom, False)[1]
                self._hearing(atom.subject, False).lines.append((rule, line, mask))
            case Changes(subject):
                self._hearing(subject, False).lines.append((rule, line, ANY_CHANGE))
            case Pressed(button):
                self.pressed.setdefault(button, []).append((rule, line))
            case HasStayed(timer):
                variable, mask = self.world.locate(timer.atom, False)
                number = self.timer_index[variable, mask, self.unit(timer.for_s), False]
                self.stayed.setdefault(number, []).append((rule, line))
            case NightBegins():
                self.sun[1].append((rule, line))
            case DayBegins():
                self.sun[0].append((rule, line))
            case PowerReturns():
                self.returns.append((rule, line))
            case RuleStarts(name):
                self.starts.setdefault(self.rule_index[name], []).append((rule, line))
            case RuleEnds(name):
                self.ends.setdefault(self.rule_index[name], []).append((rule, line))
            case AtClock():
                self.at_clock.setdefault(event, []).append((rule, line))
            case _:
                assert_never(event)

    def _count(self, event: Event) -> None:
        match event:
            case Becomes(atom):
                self._hearing(atom.subject, True).counted.append(self.world.locate(atom)[1])
            case Changes(subject):
                self._hearing(subject, True).counted.append(ANY_CHANGE)
            case Pressed(button):
                self.counts_pressed.add(button)
            case HasStayed(timer):
                variable, mask = self.world.locate(timer.atom)
                number = self.timer_index[variable, mask, self.unit(timer.for_s), True]
                self.counts_stayed.add(number)
            case NightBegins():
                self.counts_sun[1] = True
            case DayBegins():
                self.counts_sun[0] = True
            case PowerReturns():
                self.counts_returns = True
            case RuleStarts(name):
                self.counts_starts.add(self.rule_index[name])
            case RuleEnds(name):
                self.counts_ends.add(self.rule_index[name])
            case AtClock():
                self.counts_at_clock.add(event)
            case _:
                assert_never(event)

    # ------------------------------------------------------------ conditions

    def holds(
        self, reg: Registers, condition: Condition, truth: bool, timed_out: int | None = None
    ) -> bool:
        """Whether a condition is true now; of the truth, or as the rules see it."""
        match condition:
            case Is() | Level():
                variable, mask = self.world.locate(condition, truth)
                return reg.test(variable, mask)
            case Not(item):
                return not self.holds(reg, item, truth, timed_out)
            case And(items):
                return all(self.holds(reg, item, truth, timed_out) for item in items)
            case Or(items):
                return any(self.holds(reg, item, truth, timed_out) for item in items)
            case Implies(left, right):
                return not self.holds(reg, left, truth, timed_out) or self.holds(
                    reg, right, truth, timed_out
                )
            case Stayed():
                return reg.test(self.timer(condition, truth).ran_out, TRUE)
            case Night():
                return reg.test(*self.world.night_at())
            case Between():
                return reg.test(*self.world.between_at(condition))
            case Running(rule):
                return any(not reg.test(slot, IDLE) for slot in self.slots[self.rule_index[rule]])
            case TimedOut():
                assert timed_out is not None
                return reg.test(timed_out, TRUE)
            case _:
                assert_never(condition)
