"""How changes, triggers and runs are handled: the controller's side of the meaning."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from verifier.simulate.fading import NO_FADE
from verifier.simulate.program import (
    BeginFade,
    CancelRule,
    Finish,
    Jump,
    JumpUnless,
    Rest,
    RestUntil,
    SetPoint,
)
from verifier.simulate.structure import ANY_CHANGE, IDLE, Hearing, Instant, Structure
from verifier.source import Span
from verifier.surroundings.levels import around
from verifier.surroundings.state import EndlessBody, Registers
from verifier.surroundings.world import FALSE, TRUE


class Handling(Structure):
    """The small steps of the controller; numbers in comments are paragraphs of ``Meaning``."""

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
            if not bit & timer.mask or not reg.test(variable, timer.mask):
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
            if mask == ANY_CHANGE:
                return not reg.test(variable, new_class)
            return bool(bit & mask) and not reg.test(variable, mask)

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
                if busy:
                    self.leave_slot(reg, now, rule, 0)
                else:
                    # Its place is free already, for the first that waits: that one is the oldest.
                    waiting -= 1
                    for place, following in pairwise(queue):
                        reg.take(place, following)
                    reg.put(queue[-1], 1)
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
        """How many runs a rule has: they fill the first slots, the oldest first."""
        count = 0
        for slot in self.slots[rule]:
            if reg.test(slot, IDLE):
                break
            count += 1
        return count

    def _waiting(self, reg: Registers, rule: int) -> int:
        count = 0
        for place in self.queues[rule]:
            if reg.test(place, 1):
                break
            count += 1
        return count

    def leave_slot(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        """Empties a slot; the later runs move up.

        With a slot kept for each run, every subset of slots in every order of age would be a
        state of its own: with n runs more than n! of them, for nothing that can be told apart.
        """
        slots, clocks, out = self.slots[rule], self.slot_clocks[rule], self.out[rule]
        self._leave_fades(reg, now, rule, slot)
        last = slot
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
        return 1 << self.candidates.index((rule, slot)) if (rule, slot) in self.candidates else 0

    def begin_run(self, reg: Registers, now: Instant, rule: int) -> None:
        """Starts a run in the first free slot and lets it act."""
        slot = next(k for k, v in enumerate(self.slots[rule]) if reg.test(v, IDLE))
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
                    bit = self.layout.variables[target].bit(value)
                    self.set_output(reg, now, point, target, bit)
                    pc += 1
                case BeginFade(place):
                    self.store(reg, now, variable, self.at(place))
                    reg.restart(self.slot_clocks[rule][slot])
                    self._begin_fade(reg, now, rule, slot, place)
                    return
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

    # ------------------------------------------------------------ fades

    def set_output(
        self,
        reg: Registers,
        now: Instant,
        point: str,
        variable: int,
        bit: int,
        *,
        silent: bool = False,
    ) -> None:
        """Sets a point; a dimmer's fade ends, even at the level that it has just then (5)."""
        self.assign(reg, now, variable, bit, silent=silent)
        fading = self.fading.get(point)
        if fading is not None:
            self.store(reg, now, fading.active, NO_FADE)

    def _begin_fade(self, reg: Registers, now: Instant, rule: int, slot: int, number: int) -> None:
        place = self.codes[rule].places[number]
        assert place.fade is not None
        fading = self.fading[place.fade[0]]
        values = self.layout.variables[fading.level].values
        start = next(k for k in range(len(values)) if reg.test(fading.level, 1 << k))
        way = fading.way_of(rule, slot, number, 1 << start)
        self.store(reg, now, fading.active, way)
        reg.restart(fading.at_level)
        level = values[start]
        if isinstance(level, Fraction) and level != place.fade[1] and level not in fading.read:
            leaves = values.index(around(fading.read, level))
            self.assign(reg, now, fading.level, 1 << leaves)

    def _leave_fades(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        """A run is dropped, cancelled or ends: what it fades stays as it is; later runs move up."""
        for fading in self.fading.values():
            for way_number, way in enumerate(fading.ways):
                if way.rule != rule or way.slot < slot:
                    continue
                if reg.test(fading.active, 2 << way_number):
                    if way.slot == slot:
                        self.store(reg, now, fading.active, NO_FADE)
                    else:
                        moved = fading.way_of(rule, way.slot - 1, way.place, way.start)
                        self.store(reg, now, fading.active, moved)
                    break

    def goes_on_fading(self, reg: Registers, rule: int, slot: int, place: int) -> bool:
        """Whether the fade at which a run rests is the one that goes on."""
        fade = self.codes[rule].places[place].fade
        assert fade is not None
        fading = self.fading[fade[0]]
        return reg.test(fading.active, fading.of_run(rule, slot, place))

    # ------------------------------------------------------------ reaction

    def wake(self, reg: Registers, now: Instant) -> None:
        """The controller takes up everything that waits for it, to handle it in this instant."""
        assert self.reaction is not None
        for rule, variable in enumerate(self.reaction.waiting):
            for number, kind in enumerate(self.layout.variables[variable].values[1:], 1):
                if reg.test(variable, 1 << number):
                    assert isinstance(kind, int)
                    now.pending.append((rule, kind))
                    break
        self.nothing_waits(reg)
        now.woken = (1 << len(self.candidates)) - 1
        now.freed = sum(1 << rule for rule, queue in enumerate(self.queues) if queue)
        now.awake = True

    def nothing_waits(self, reg: Registers) -> None:
        """Nothing waits for the controller any more."""
        assert self.reaction is not None
        for variable in self.reaction.waiting:
            reg.put(variable, 1)
        reg.put(self.reaction.due, FALSE)

    def defer(self, reg: Registers, now: Instant) -> None:
        """What this instant has set off waits for the controller; of one rule one trigger (12)."""
        assert self.reaction is not None
        for rule, kind in now.pending:
            variable = self.reaction.waiting[rule]
            values = self.layout.variables[variable].values
            merged = kind
            for number, earlier in enumerate(values[1:], 1):
                if reg.test(variable, 1 << number):
                    assert isinstance(earlier, int)
                    merged = self._kind(rule, earlier | kind)
                    break
            reg.put(variable, 1 << values.index(merged))
        waits = bool(now.pending)
        for candidate in range(len(self.candidates)):
            if not waits and now.woken >> candidate & 1:
                waits = self.can_resume(reg, candidate) is not None
        for rule in range(len(self.rules)):
            if not waits and now.freed >> rule & 1:
                waits = self.can_take_turn(reg, rule)
        if waits and not reg.test(self.reaction.due, TRUE):
            reg.put(self.reaction.due, TRUE)
            reg.restart(self.reaction.clock)

    # ------------------------------------------------------------ turns

    def can_resume(self, reg: Registers, candidate: int) -> int | None:
        """The place at which a run waits for a condition that is true now, or None."""
        rule, slot = self.candidates[candidate]
        variable = self.slots[rule][slot]
        for place in self.codes[rule].places:
            if place.fade is not None and reg.test(variable, self.at(place.number)):
                ended = not self.goes_on_fading(reg, rule, slot, place.number)
                return place.number if ended else None
            if place.until is not None and reg.test(variable, self.at(place.number)):
                if self.holds(reg, place.until, False, self.out[rule][slot]):
                    return place.number
                return None
        return None

    def resume(self, reg: Registers, now: Instant, candidate: int, place: int) -> None:
        """A run goes on whose condition has come true."""
        rule, slot = self.candidates[candidate]
        timed_out = self.out[rule][slot]
        if timed_out is not None and self.codes[rule].places[place].until is not None:
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
        for place, following in pairwise(queue):
            reg.take(place, following)
        reg.put(queue[-1], 1)
        if self.guard_holds(reg, rule, kind):
            now.log.append(self._line(rule, kind))
            self.begin_run(reg, now, rule)
