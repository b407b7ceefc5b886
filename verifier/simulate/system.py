"""The meaning of a job: what each happening does, one small step after the other.

A :class:`System` is a job (or a slice of one) with the monitor of one requirement. All of its
steps read and write :class:`~verifier.surroundings.state.Registers`, so that they run alike on
known, half-known and unknown states. The contract is ``Meaning`` in the language reference; the
numbers in comments are its paragraphs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd, lcm

from verifier.model.job import (
    And,
    Becomes,
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
    PointKind,
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
from verifier.simulate.monitor import Monitor, monitor_of
from verifier.simulate.program import (
    CancelRule,
    Code,
    Finish,
    Jump,
    JumpUnless,
    Rest,
    RestUntil,
    SetPoint,
    code_of,
)
from verifier.source import Span
from verifier.surroundings.happenings import (
    ButtonPressed,
    DoorMoves,
    Happening,
    InputTurns,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PowerCut,
    QuietBegins,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
)
from verifier.surroundings.state import EndlessBody, Layout, Registers
from verifier.surroundings.world import FALSE, TRUE, World

IDLE = 1
"""The bit of a slot with no run."""


class Instant:
    """What is left to do in an instant, and what was counted in it."""

    __slots__ = ("count", "freed", "log", "pending", "woken")

    def __init__(self) -> None:
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
        new.pending = self.pending[:]
        new.woken = self.woken
        new.freed = self.freed
        new.count = self.count
        new.log = self.log[:]
        return new

    def key(self) -> tuple[object, ...]:
        """A value by which instants are compared; the log does not count."""
        return tuple(sorted(self.pending)), self.woken, self.freed, self.count


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


@dataclass(slots=True)
class Hearing:
    """Who takes notice when one subject of a variable changes."""

    subject: str
    classes: tuple[int, ...]
    lines: list[tuple[int, int, int]] = field(default_factory=list)
    """(rule, bit of the line, mask that it becomes; 0: any change)."""
    counted: list[int] = field(default_factory=list)
    """Masks of the requirement's events; 0: any change."""


class Unit:
    """The job's unit of time: the greatest that every duration is a whole number of."""

    def __init__(self, durations: Iterator[Fraction]) -> None:
        found = [d for d in durations if d]
        scale = lcm(*(d.denominator for d in found), 1)
        self.size_s = Fraction(gcd(*(int(d * scale) for d in found)) or 1, scale)

    def __call__(self, seconds: Fraction) -> int:
        whole = seconds / self.size_s
        assert whole.denominator == 1
        return int(whole)

    def seconds(self, units: Fraction | int) -> Fraction:
        """The seconds of so many units."""
        return units * self.size_s


class System:
    """A job with the monitor of ``requirement`` (None: no monitor)."""

    def __init__(self, job: Job, requirement: Requirement | None) -> None:
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
        self.timers: list[Timer] = []
        self.timer_index: dict[tuple[int, int, int, bool], int] = {}
        self._lay_timers()
        self.monitor: Monitor | None = (
            None if requirement is None else monitor_of(self, requirement)
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
            variable, mask = self.world.locate(stayed.atom)
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
                Timer(
                    variable, mask, limit, clock, ran_out, of_rules, of_truth, parted, twin
                )
            )
            if of_rules and world.power_cuts:
                known = world.restarted.setdefault(variable, [])
                entry = (0 if len(layout.variables[variable].values) == 2 else mask, clock)
                if entry not in known:
                    known.append(entry)

    def timer(self, stayed: Stayed, truth: bool) -> Timer:
        """The timer that a rule (or, of the truth, a requirement) means."""
        variable, mask = self.world.locate(stayed.atom)
        return self.timers[
            self.timer_index[variable, mask, self.unit(stayed.for_s), truth]
        ]

    def _happenings(self) -> tuple[Happening, ...]:
        found: list[Happening] = list(self.world.happenings())
        for i, rule in enumerate(self.rules):
            for slot in range(len(self.slots[i])):
                for place in self.codes[i].places:
                    if place.for_s is not None:
                        what = f"a wait of {rule.name} runs out"
                        found.append(WaitRunsOut(i, slot, place.number, what))
        for number, timer in enumerate(self.timers):
            name = self.layout.variables[timer.variable].name
            words = self.world.words(timer.variable, timer.mask)
            found.append(StayedRunsOut(number, f"{name} has stayed {words} long enough"))
        if self.monitor is not None and self.monitor.guesses_quiet:
            found.append(QuietBegins())
        return tuple(found)

    # ------------------------------------------------------------ who listens

    def read(self, condition: Condition, truth: bool) -> Iterator[int]:
        """The variables that a condition reads."""
        for leaf in atoms_and_leaves(condition):
            match leaf:
                case Is() | Level():
                    yield self.world.locate(leaf)[0]
                case Stayed():
                    yield self.timer(leaf, truth).ran_out
                case Night():
                    assert self.world.night is not None
                    yield self.world.night
                case Running(rule):
                    yield from self.slots[self.rule_index[rule]]
                case _:
                    pass

    def _listen(self) -> None:
        count = len(self.layout.variables)
        self.hearings: list[list[Hearing]] = [[] for _ in range(count)]
        self.pressed: dict[str, list[tuple[int, int]]] = {}
        self.sun: list[list[tuple[int, int]]] = [[], []]
        self.returns: list[tuple[int, int]] = []
        self.starts: dict[int, list[tuple[int, int]]] = {}
        self.ends: dict[int, list[tuple[int, int]]] = {}
        self.stayed: dict[int, list[tuple[int, int]]] = {}
        for i, rule in enumerate(self.rules):
            for number, trigger in enumerate(rule.triggers):
                self._hear(trigger.event, i, 1 << number)
        self.counts_pressed: set[str] = set()
        self.counts_sun = [False, False]
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
            if not conditions:
                continue
            for slot in range(len(self.slots[i])):
                bit = 1 << len(self.candidates)
                self.candidates.append((i, slot))
                for condition in conditions:
                    for variable in self.read(condition, False):
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

    def _hearing(self, subject: str) -> Hearing:
        variable, classes = self.world.classes(subject)
        for hearing in self.hearings[variable]:
            if hearing.subject == subject:
                return hearing
        hearing = Hearing(subject, classes)
        self.hearings[variable].append(hearing)
        return hearing

    def _hear(self, event: Event, rule: int, line: int) -> None:
        match event:
            case Becomes(atom):
                self._hearing(atom.subject).lines.append((rule, line, self.world.locate(atom)[1]))
            case Changes(subject):
                self._hearing(subject).lines.append((rule, line, 0))
            case Pressed(button):
                self.pressed.setdefault(button, []).append((rule, line))
            case HasStayed(timer):
                variable, mask = self.world.locate(timer.atom)
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
            case _:
                raise NotImplementedError("clock events have no meaning yet")

    def _count(self, event: Event) -> None:
        match event:
            case Becomes(atom):
                self._hearing(atom.subject).counted.append(self.world.locate(atom)[1])
            case Changes(subject):
                self._hearing(subject).counted.append(0)
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
            case _:
                raise NotImplementedError("clock events have no meaning yet")

    # ------------------------------------------------------------ conditions

    def holds(
        self, reg: Registers, condition: Condition, truth: bool, timed_out: int | None = None
    ) -> bool:
        """Whether a condition is true now; of the truth, or as the rules see it."""
        match condition:
            case Is() | Level():
                variable, mask = self.world.locate(condition)
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
                assert self.world.night is not None
                return reg.test(self.world.night, TRUE)
            case Running(rule):
                return any(not reg.test(slot, IDLE) for slot in self.slots[self.rule_index[rule]])
            case TimedOut():
                assert timed_out is not None
                return reg.test(timed_out, TRUE)
            case _:
                raise NotImplementedError("clock conditions have no meaning yet")

    # ------------------------------------------------------------ changes

    def trigger(self, now: Instant, lines: list[tuple[int, int]]) -> None:
        """Triggers each rule at most once for one change (3)."""
        matched: dict[int, int] = {}
        for rule, line in lines:
            matched[rule] = matched.get(rule, 0) | line
        for rule, mask in matched.items():
            now.pending.append((rule, self._kind(rule, mask)))

    def _kind(self, rule: int, lines: int) -> int:
        for number, trigger in enumerate(self.rules[rule].triggers):
            if lines >> number & 1 and trigger.guard is None:
                return 1 << number
        return lines

    def count(self, now: Instant) -> None:
        """Counts one occurrence of the requirement's events."""
        assert self.monitor is not None
        now.count = min(now.count + 1, self.monitor.count_cap)

    def store(self, reg: Registers, now: Instant, variable: int, bit: int) -> None:
        """Writes a variable of the controller; runs that wait for it may go on."""
        reg.put(variable, bit)
        now.woken |= self.wakes[variable]

    def assign(
        self, reg: Registers, now: Instant, variable: int, bit: int, *, silent: bool = False
    ) -> None:
        """Gives a variable a value; if that is a change, everybody who listens hears of it.

        ``silent``: counted, but no rule is triggered (a power cut, 8).
        """
        if not self.noticed_by_change[variable]:
            reg.put(variable, bit)
            return
        if reg.test(variable, bit):
            return
        for hearing in self.hearings[variable]:
            self._heard(reg, now, variable, bit, hearing, silent)
        world = self.world
        restart = [
            clock
            for mask, clock in world.restarted.get(variable, ())
            if mask == 0 or (bit & mask and not reg.test(variable, mask))
        ]
        came = []
        for number in self.timers_of[variable]:
            timer = self.timers[number]
            if not bit & timer.mask:
                came.append(timer)
            elif not reg.test(variable, timer.mask):
                came.append(timer)
        self.store(reg, now, variable, bit)
        for clock in restart:
            reg.restart(clock)
        for timer in came:
            self.store(reg, now, timer.ran_out, FALSE)
            if timer.parted is not None:
                reg.put(timer.parted, FALSE)
        if variable in world.first:
            reg.put(world.first[variable], FALSE)

    def _heard(
        self,
        reg: Registers,
        now: Instant,
        variable: int,
        bit: int,
        hearing: Hearing,
        silent: bool,
    ) -> None:
        new_class = next(mask for mask in hearing.classes if mask & bit)

        def matches(mask: int) -> bool:
            if mask:
                return bool(bit & mask) and not reg.test(variable, mask)
            return not reg.test(variable, new_class)

        if not silent:
            lines = [(rule, line) for rule, line, mask in hearing.lines if matches(mask)]
            self.trigger(now, lines)
        if any(matches(mask) for mask in hearing.counted):
            self.count(now)

    # ------------------------------------------------------------ rules

    def guard_holds(self, reg: Registers, rule: int, kind: int) -> bool:
        """Whether ``provided`` and the guard of one of the matched lines are true."""
        declared = self.rules[rule]
        if declared.provided is not None and not self.holds(reg, declared.provided, False):
            return False
        for number, trigger in enumerate(declared.triggers):
            if kind >> number & 1 and (
                trigger.guard is None or self.holds(reg, trigger.guard, False)
            ):
                return True
        return False

    def handle_trigger(self, reg: Registers, now: Instant, rule: int, kind: int) -> None:
        """Handles one trigger: reads its guard, then does what the policy says."""
        if not self.guard_holds(reg, rule, kind):
            return
        if self.monitor is not None:
            self.monitor.handled(reg, rule)
        now.log.append(self._line(rule, kind))
        policy = self.rules[rule].policy
        slots, queue = self.slots[rule], self.queues[rule]
        busy = self._busy(reg, rule)
        if queue:
            waiting = self._waiting(reg, rule)
            if waiting == 0 and busy < len(slots):
                self.begin_run(reg, now, rule)
                return
            if busy + waiting == policy.at_once + policy.waiting:
                if not policy.oldest_gives_way:
                    return
                self.leave_slot(reg, now, rule, 0)
                now.freed |= 1 << rule
            bit = self.layout.variables[queue[waiting]].bit(kind)
            reg.put(queue[waiting], bit)
            now.freed |= 1 << rule
            return
        if busy == len(slots):
            if not policy.oldest_gives_way:
                return
            self.leave_slot(reg, now, rule, 0)
        self.begin_run(reg, now, rule)

    def _line(self, rule: int, kind: int) -> Span:
        lowest = (kind & -kind).bit_length() - 1
        return self.rules[rule].triggers[lowest].span

    def _busy(self, reg: Registers, rule: int) -> int:
        """How many runs a rule has (kept in the first slots if their age matters)."""
        count = 0
        for slot in self.slots[rule]:
            if not reg.test(slot, IDLE):
                count += 1
            elif self._ordered(rule):
                break
        return count

    def _waiting(self, reg: Registers, rule: int) -> int:
        count = 0
        for place in self.queues[rule]:
            if reg.test(place, 1):
                break
            count += 1
        return count

    def _ordered(self, rule: int) -> bool:
        return self.rules[rule].policy.oldest_gives_way or len(self.slots[rule]) == 1

    def leave_slot(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        """Empties a slot; where age matters the later runs move up."""
        slots, clocks, out = self.slots[rule], self.slot_clocks[rule], self.out[rule]
        last = slot
        if self._ordered(rule):
            while last + 1 < len(slots) and not reg.test(slots[last + 1], IDLE):
                reg.take(slots[last], slots[last + 1])
                reg.take_clock(clocks[last], clocks[last + 1])
                this, other = out[last], out[last + 1]
                if this is not None and other is not None:
                    reg.take(this, other)
                last += 1
        for moved in range(slot, last + 1):
            now.woken |= self.wakes[slots[moved]]
            now.woken |= self._candidate_bit(rule, moved)
        self.store(reg, now, slots[last], IDLE)
        reg.restart(clocks[last])
        timed_out = out[last]
        if timed_out is not None:
            reg.put(timed_out, FALSE)

    def _candidate_bit(self, rule: int, slot: int) -> int:
        return (
            1 << self.candidates.index((rule, slot)) if (rule, slot) in self.candidates else 0
        )

    def begin_run(self, reg: Registers, now: Instant, rule: int) -> None:
        """Starts a run in the first free slot and lets it act."""
        for slot, variable in enumerate(self.slots[rule]):
            if reg.test(variable, IDLE):
                break
        else:
            raise AssertionError("no free slot")
        self._act_in(reg, now, rule, slot)
        if rule in self.starts:
            self.trigger(now, self.starts[rule])
        if rule in self.counts_starts:
            self.count(now)
        self.run_body(reg, now, rule, slot, 0)

    def _act_in(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        variable = self.slots[rule][slot]
        acting = 2 << len(self.codes[rule].places)
        self.store(reg, now, variable, acting)

    def end_run(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        """A run ends: ``RULE ends``."""
        self.leave_slot(reg, now, rule, slot)
        now.freed |= 1 << rule
        if rule in self.ends:
            self.trigger(now, self.ends[rule])
        if rule in self.counts_ends:
            self.count(now)

    def cancel(self, reg: Registers, now: Instant, rule: int) -> None:
        """Ends every run of a rule, one end for each, and drops its waiting triggers (5)."""
        slots = self.slots[rule]
        for slot in reversed(range(len(slots))):
            if not reg.test(slots[slot], IDLE):
                self.end_run(reg, now, rule, slot)
        for place in self.queues[rule]:
            reg.put(place, 1)

    def run_body(self, reg: Registers, now: Instant, rule: int, slot: int, pc: int) -> None:
        """Runs a body in one go from an instruction up to its next rest or its end (4)."""
        code, variable = self.codes[rule], self.slots[rule][slot]
        timed_out = self.out[rule][slot]
        been: set[tuple[object, ...]] = set()
        while True:
            match code.instructions[pc]:
                case SetPoint(point, value):
                    target = self.world.of_point[point]
                    self.assign(reg, now, target, self.layout.variables[target].bit(value))
                    pc += 1
                case Rest(place):
                    self.store(reg, now, variable, self.at(place))
                    reg.restart(self.slot_clocks[rule][slot])
                    return
                case RestUntil(place):
                    condition = code.places[place].until
                    assert condition is not None
                    if not self.holds(reg, condition, False, timed_out):
                        self.store(reg, now, variable, self.at(place))
                        reg.restart(self.slot_clocks[rule][slot])
                        return
                    if timed_out is not None:
                        reg.put(timed_out, FALSE)
                    pc = code.places[place].next
                case JumpUnless(condition, target):
                    if self.holds(reg, condition, False, timed_out):
                        pc += 1
                    else:
                        if target <= pc:
                            state = (pc, *reg.key(), *now.key()[1:])
                            if state in been:
                                raise EndlessBody
                            been.add(state)
                        pc = target
                case Jump(target):
                    pc = target
                case CancelRule(name):
                    other = self.rule_index[name]
                    self.cancel(reg, now, other)
                    if other == rule:
                        return
                    pc += 1
                case Finish():
                    self.end_run(reg, now, rule, slot)
                    return

    # ------------------------------------------------------------ turns

    def can_resume(self, reg: Registers, candidate: int) -> int | None:
        """The place at which a run waits for a condition that is true now, or None."""
        rule, slot = self.candidates[candidate]
        variable = self.slots[rule][slot]
        for place in self.codes[rule].places:
            if place.until is not None and reg.test(variable, self.at(place.number)):
                if self.holds(reg, place.until, False, self.out[rule][slot]):
                    return place.number
                return None
        return None

    def resume(self, reg: Registers, now: Instant, candidate: int, place: int) -> None:
        """A run goes on whose condition has come true."""
        rule, slot = self.candidates[candidate]
        timed_out = self.out[rule][slot]
        if timed_out is not None:
            reg.put(timed_out, FALSE)
        now.log.append(self.codes[rule].places[place].span)
        self._act_in(reg, now, rule, slot)
        self.run_body(reg, now, rule, slot, self.codes[rule].places[place].next)

    def can_take_turn(self, reg: Registers, rule: int) -> bool:
        """Whether a waiting trigger of the rule has a free place."""
        queue = self.queues[rule]
        return (
            bool(queue)
            and not reg.test(queue[0], 1)
            and self._busy(reg, rule) < len(self.slots[rule])
        )

    def take_turn(self, reg: Registers, now: Instant, rule: int) -> None:
        """The first waiting trigger takes its turn; its guard is read again."""
        queue = self.queues[rule]
        variable = self.layout.variables[queue[0]]
        kind = 0
        for i, value in enumerate(variable.values[1:], 1):
            if reg.test(queue[0], 1 << i):
                assert isinstance(value, int)
                kind = value
                break
        for place, following in zip(queue, queue[1:], strict=False):
            reg.take(place, following)
        reg.put(queue[-1], 1)
        if self.guard_holds(reg, rule, kind):
            now.log.append(self._line(rule, kind))
            self.begin_run(reg, now, rule)

    # ------------------------------------------------------------ happenings

    def happen(self, reg: Registers, now: Instant, happening: Happening) -> None:
        """Does what a happening does before any rule takes its turn; Blocked if it cannot happen."""
        match happening:
            case WaitRunsOut(rule, slot, place, _):
                self._wait_runs_out(reg, now, rule, slot, place)
            case StayedRunsOut(number, _):
                self._stayed_runs_out(reg, now, number)
            case QuietBegins():
                self._quiet_begins(reg)
            case _:
                if self.monitor is not None:
                    reg.require(not self.monitor.is_quiet(reg))
                self._outside(reg, now, happening)

    def _outside(self, reg: Registers, now: Instant, happening: Happening) -> None:
        world = self.world
        match happening:
            case InputTurns(point, variable, bit, _):
                reg.require(not reg.test(variable, bit))
                world.may_change(reg, variable, bit)
                if self.job.point[point].kind is PointKind.DETECTOR and bit == TRUE:
                    rooms = world.rooms_seen_by(point)
                    reg.require(
                        not rooms or any(reg.test(world.of_room[r.name], TRUE) for r in rooms)
                    )
                self.assign(reg, now, variable, bit)
                if bit == TRUE:
                    world.noticed(reg, point)
                self._assumed(reg, variable)
            case ButtonPressed(button, _):
                self.trigger(now, self.pressed.get(button, []))
                if button in self.counts_pressed:
                    self.count(now)
            case SunTurns(variable, bit, _):
                reg.require(not reg.test(variable, bit))
                self.assign(reg, now, variable, bit)
                begins = 1 if bit == TRUE else 0
                self.trigger(now, self.sun[begins])
                if self.counts_sun[begins]:
                    self.count(now)
                self._assumed(reg, variable)
            case DoorMoves():
                self._door_moves(reg, now, happening)
            case PeopleCome(room, _):
                self._people_come(reg, now, room)
            case PeopleLeave(name, _):
                variable = world.of_room[name]
                reg.require(reg.test(variable, TRUE))
                reg.require(world.open_for(reg, self.job.room[name]))
                world.may_change(reg, variable, FALSE)
                self.assign(reg, now, variable, FALSE)
                for detector in self.job.room[name].seen_by:
                    if (name, detector) in world.awaiting:
                        reg.put(world.awaiting[name, detector], FALSE)
                self._assumed(reg, variable)
            case LocalSwitch(_, variable, bit, _):
                reg.require(not reg.test(variable, bit))
                if self.monitor is not None:
                    self.monitor.local_switch(reg)
                self.assign(reg, now, variable, bit)
            case PowerCut():
                self._power_cut(reg, now)
            case _:
                raise AssertionError(happening)

    def _door_moves(self, reg: Registers, now: Instant, move: DoorMoves) -> None:
        reg.require(reg.test(move.variable, move.before))
        clock = self.world.travel[move.door]
        if move.at_least:
            reg.require(reg.reached(clock, 2 * move.at_least))
        self.world.may_change(reg, move.variable, move.bit)
        self.assign(reg, now, move.variable, move.bit)
        reg.restart(clock)
        self._assumed(reg, move.variable)

    def _people_come(self, reg: Registers, now: Instant, name: str) -> None:
        world, room = self.world, self.job.room[name]
        variable = world.of_room[name]
        reg.require(reg.test(variable, FALSE))
        reg.require(world.open_for(reg, room))
        world.may_change(reg, variable, TRUE)
        self.assign(reg, now, variable, TRUE)
        if name in world.entered:
            reg.restart(world.entered[name])
            for detector in room.seen_by:
                seen = reg.test(world.of_point[detector], TRUE)
                reg.put(world.awaiting[name, detector], FALSE if seen else TRUE)
        self._assumed(reg, variable)

    def _assumed(self, reg: Registers, variable: int) -> None:
        """Gives the path up if an assumption that reads the variable (or its timers) is broken."""
        changed = {variable, *(self.timers[n].ran_out for n in self.timers_of[variable])}
        for condition, reads in self.always_reads:
            if changed & reads:
                reg.require(self.holds(reg, condition, True))

    def _power_cut(self, reg: Registers, now: Instant) -> None:
        was = {
            number: reg.test(timer.variable, timer.mask)
            for number, timer in enumerate(self.timers)
            if timer.of_rules and timer.parted is not None
        }
        for rule, slots in enumerate(self.slots):
            for slot, variable in enumerate(slots):
                reg.put(variable, IDLE)
                reg.restart(self.slot_clocks[rule][slot])
                timed_out = self.out[rule][slot]
                if timed_out is not None:
                    reg.put(timed_out, FALSE)
            for place in self.queues[rule]:
                reg.put(place, 1)
        for point in self.job.points:
            variable = self.world.of_point.get(point.name, -1)
            if point.kind.is_output and point.power_return != "last":
                values = self.layout.variables[variable].values
                last = 1 << (len(values) - 1)
                self.assign(
                    reg, now, variable, last if point.power_return == "on" else 1, silent=True
                )
            elif point.kind is PointKind.FLAG and not point.retained:
                start = point.starts if point.starts is not None else "no"
                bit = self.layout.variables[variable].bit(start)
                self.assign(reg, now, variable, bit, silent=True)
        for number, timer in enumerate(self.timers):
            if not timer.of_rules:
                continue
            self.store(reg, now, timer.ran_out, FALSE)
            reg.restart(timer.clock)
            if timer.parted is not None:
                # A stretch that begins with the cut is counted alike by both.
                stays = was[number] and reg.test(timer.variable, timer.mask)
                reg.put(timer.parted, TRUE if stays else FALSE)
        now.woken = 0
        self.trigger(now, self.returns)
        if self.counts_returns:
            self.count(now)

    def _wait_runs_out(
        self, reg: Registers, now: Instant, rule: int, slot: int, number: int
    ) -> None:
        variable, place = self.slots[rule][slot], self.codes[rule].places[number]
        assert place.for_s is not None
        reg.require(reg.test(variable, self.at(number)))
        reg.require(reg.reached(self.slot_clocks[rule][slot], 2 * self.unit(place.for_s)))
        timed_out = self.out[rule][slot]
        if timed_out is not None and place.until is not None:
            reg.put(timed_out, TRUE)
        now.log.append(place.span)
        self._act_in(reg, now, rule, slot)
        self.run_body(reg, now, rule, slot, place.next)

    def _stayed_runs_out(self, reg: Registers, now: Instant, number: int) -> None:
        timer = self.timers[number]
        reg.require(reg.test(timer.variable, timer.mask))
        reg.require(reg.test(timer.ran_out, FALSE))
        both = [number]
        if timer.twin is not None:
            assert timer.parted is not None
            parted = reg.test(timer.parted, TRUE)
            reg.require(parted or timer.of_truth)
            if not parted:
                both.append(timer.twin)
        reg.require(reg.reached(timer.clock, 2 * timer.limit))
        for one in both:
            self.store(reg, now, self.timers[one].ran_out, TRUE)
        for one in both:
            self.trigger(now, self.stayed.get(one, []))
        if any(one in self.counts_stayed for one in both):
            self.count(now)
        ran_out = {self.timers[one].ran_out for one in both}
        for condition, reads in self.always_reads:
            if ran_out & reads:
                reg.require(self.holds(reg, condition, True))

    def _quiet_begins(self, reg: Registers) -> None:
        assert self.monitor is not None
        for bound in self.layout.bounds:
            if bound.outside:
                reg.require(not all(reg.test(v, m) for v, m in bound.when))
        self.monitor.begin_quiet(reg)

    # ------------------------------------------------------------ the start, and what is seen

    def begin(self, reg: Registers) -> None:
        """Narrows a state of which nothing is known to those in which a run can begin (7)."""
        self.world.begin(reg)
        for rule, slots in enumerate(self.slots):
            for variable in slots:
                reg.put(variable, IDLE)
            for timed_out in self.out[rule]:
                if timed_out is not None:
                    reg.put(timed_out, FALSE)
            for place in self.queues[rule]:
                reg.put(place, 1)
        for timer in self.timers:
            reg.put(timer.ran_out, FALSE)
            if timer.parted is not None:
                reg.put(timer.parted, FALSE)
        for clock in range(len(self.layout.clocks)):
            reg.restart(clock)
        for condition in self.world.always:
            reg.require(self.holds(reg, condition, True))
        if self.monitor is not None:
            self.monitor.begin(reg)
            self.monitor.settle(reg, 0)

    def settled(self, reg: Registers, now: Instant) -> None:
        """The instant is settled: the monitor looks."""
        if self.monitor is not None:
            self.monitor.settle(reg, now.count)

    def bad(self, reg: Registers) -> bool:
        """Whether the requirement is seen to fail in this settled state."""
        return self.monitor is not None and self.monitor.bad(reg)

    def fresh(self) -> Registers:
        """Registers of which nothing is known."""
        from verifier.surroundings.state import FOREVER

        clocks = len(self.layout.clocks)
        return Registers(
            [v.every for v in self.layout.variables], [0] * clocks, [FOREVER] * clocks
        )


