"""The meaning of a job: what each happening does, one small step after the other.

A :class:`System` is a job (or a slice of one) with the monitor of one requirement. All of its
steps read and write :class:`~verifier.surroundings.state.Registers`, so that they run alike on
known, half-known and unknown states. The contract is ``Meaning`` in the language reference; the
numbers in comments are its paragraphs.
"""

from __future__ import annotations

from verifier.model.job import (
    Is,
    PointKind,
)
from verifier.simulate.fading import NO_FADE
from verifier.simulate.handling import Handling
from verifier.simulate.structure import IDLE, Excluded, Instant, Timer, Unit
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
from verifier.surroundings.laid_calendar import (
    BOTH_SEEN,
    DAY_SEEN,
    NIGHT_SEEN,
    TURNED,
    Since,
)
from verifier.surroundings.reports import AWAY, MAY_BOUNCE, QUIET
from verifier.surroundings.state import Registers
from verifier.surroundings.world import FALSE, TRUE

__all__ = ["IDLE", "Excluded", "Instant", "System", "Timer", "Unit"]


class System(Handling):
    """A job with the monitor of ``requirement`` (None: no monitor)."""

    # ------------------------------------------------------------ happenings

    def happen(self, reg: Registers, now: Instant, happening: Happening) -> None:
        """Does what a happening does before any rule takes its turn; Blocked if it cannot happen."""
        match happening:
            case WaitRunsOut(rule, slot, place, _):
                self._wait_runs_out(reg, now, rule, slot, place)
            case StayedRunsOut(number, _):
                self._stayed_runs_out(reg, now, number)
            case LevelReached():
                self._level_reached(reg, now, happening)
            case LevelPassed():
                self._level_passed(reg, now, happening)
            case CalendarTurns(number, _):
                self._calendar_turns(reg, now, number)
            case ControllerWakes():
                assert self.reaction is not None
                reg.require(reg.test(self.reaction.due, TRUE))
                self.wake(reg, now)
            case QuietBegins():
                self._quiet_begins(reg)
            case _:
                if self.monitor is not None:
                    reg.require(not self.monitor.is_quiet(reg))
                self._outside(reg, now, happening)

    def _outside(self, reg: Registers, now: Instant, happening: Happening) -> None:
        world = self.world
        match happening:
            case InputTurns(point, variable, bit, _, lost):
                reg.require(not reg.test(variable, bit))
                world.may_change(reg, variable, bit)
                if self.job.point[point].kind is PointKind.DETECTOR and bit == TRUE:
                    rooms = world.rooms_seen_by(point)
                    reg.require(
                        not rooms or any(reg.test(world.of_room[r.name], TRUE) for r in rooms)
                    )
                self.assign(reg, now, variable, bit)
                self._report(reg, now, point, bit, lost)
                if bit == TRUE:
                    world.noticed(reg, point)
                self._assumed(reg, variable)
            case ButtonPressed(button, _, lost):
                self._report(reg, now, button, TRUE, lost)
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
            case LimitsTurn():
                self._limits_turn(reg, now, happening)
            case ReportBounces(point, back, _):
                self._report_bounces(reg, now, point, back)
            case PointSticks(point, _):
                self._fails(reg, world.reporting[point].stuck, point)
            case WireBreaks(point, _):
                reporting = world.reporting[point]
                self._fails(reg, reporting.broken, point)
                assert reporting.copy is not None
                self.assign(reg, now, reporting.copy, reporting.broken_bit)
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
            case LocalSwitch(point, variable, bit, _):
                reg.require(not reg.test(variable, bit))
                if self.monitor is not None:
                    self.monitor.local_switch(reg)
                self.set_output(reg, now, point, variable, bit)
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
        self._put_door(reg, now, move.door, move.bit, move.lost)
        reg.restart(clock)
        self._assumed(reg, move.variable)

    def _limits_turn(self, reg: Registers, now: Instant, turn: LimitsTurn) -> None:
        for before, bit in turn.turns:
            if reg.test(turn.variable, before):
                self.world.may_change(reg, turn.variable, bit)
                self._put_door(reg, now, turn.door, bit, turn.lost)
                self._assumed(reg, turn.variable)
                return
        reg.require(False)

    # ------------------------------------------------------------ reports

    def _put_door(
        self, reg: Registers, now: Instant, door: str, bit: int, lost: tuple[str, ...]
    ) -> None:
        """Gives a door its new state; the points that it sets report what has become of them."""
        world, declared = self.world, self.job.door[door]
        reports: list[tuple[str, int]] = []
        for point in (declared.raised_by, declared.lowered_by, declared.moving_by):
            if point is None or point not in world.reporting:
                continue
            variable, mask = world.locate(Is(point, self.job.point[point].kind.values[1]))
            is_so = bool(bit & mask)
            if reg.test(variable, mask) != is_so:
                reports.append((point, TRUE if is_so else FALSE))
        self.assign(reg, now, world.of_door[door], bit)
        for point, reported in reports:
            self._report(reg, now, point, reported, point in lost)

    def _report(self, reg: Registers, now: Instant, point: str, bit: int, lost: bool) -> None:
        """The report of a change (of a push-button: of a press), which may not arrive (9)."""
        reporting = self.world.reporting.get(point)
        if reporting is not None:
            if reporting.bounce is not None:
                # Another change ends the bounce of the last one.
                reg.put(reporting.bounce, QUIET)
            for fault in (reporting.stuck, reporting.broken):
                if fault is not None and reg.test(fault, TRUE):
                    return
            if lost:
                return
            if reporting.copy is not None:
                self.assign(reg, now, reporting.copy, bit)
            if reporting.bounce is not None:
                reg.put(reporting.bounce, MAY_BOUNCE)
                reg.restart(reporting.clock)
        if self.job.point[point].kind is PointKind.BUTTON:
            self.trigger(now, self.pressed.get(point, []))

    def _report_bounces(self, reg: Registers, now: Instant, point: str, back: bool) -> None:
        reporting = self.world.reporting[point]
        assert reporting.bounce is not None
        reg.require(reg.test(reporting.bounce, AWAY if back else MAY_BOUNCE))
        if not back:
            reg.require(not reg.reached(reporting.clock, 2 * reporting.limit + 1))
        if reporting.copy is None:
            # A press that bounces is reported once more.
            self.trigger(now, self.pressed.get(point, []))
            reg.put(reporting.bounce, QUIET)
            return
        other = FALSE if reg.test(reporting.copy, TRUE) else TRUE
        self.assign(reg, now, reporting.copy, other)
        reg.put(reporting.bounce, QUIET if back else AWAY)

    def _fails(self, reg: Registers, fault: int | None, point: str) -> None:
        """A fault sets in, for good."""
        assert fault is not None
        reg.require(reg.test(fault, FALSE))
        reg.put(fault, TRUE)
        bounce = self.world.reporting[point].bounce
        if bounce is not None:
            reg.put(bounce, QUIET)

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
        self._still_assumed(
            reg, {variable, *(self.timers[n].ran_out for n in self.timers_of[variable])}
        )

    def _still_assumed(self, reg: Registers, changed: set[int]) -> None:
        for condition, reads in self.always_reads:
            if changed & reads:
                reg.require(self.holds(reg, condition, True))
        self._goes_on(reg)

    def _goes_on(self, reg: Registers) -> None:
        """Gives the path up where the surroundings have no way to go on for ever (15)."""
        for cube in self.without:
            reg.require(not all(reg.test(v, m) for v, m in cube))

    def _power_cut(self, reg: Registers, now: Instant) -> None:
        was = {
            number: reg.test(timer.variable, timer.mask)
            for number, timer in enumerate(self.timers)
            if timer.of_rules and timer.parted is not None
        }
        for fading in self.fading.values():
            reg.put(fading.active, NO_FADE)
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
                bit = last if point.power_return == "on" else 1
                self.set_output(reg, now, point.name, variable, bit, silent=True)
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
        if self.reaction is not None:
            # What `power returns` sets off comes before the next settled instant (8).
            self.nothing_waits(reg)
            now.awake = True
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
        if place.fade is not None and self.goes_on_fading(reg, rule, slot, number):
            dimmer, percent = place.fade
            level = self.fading[dimmer].level
            bit = self.layout.variables[level].bit(percent)
            self.set_output(reg, now, dimmer, level, bit)
        self._act_in(reg, now, rule, slot)
        self.run_body(reg, now, rule, slot, place.next)

    def _level_reached(self, reg: Registers, now: Instant, happening: LevelReached) -> None:
        fading = self.fading[happening.dimmer]
        way = fading.ways[happening.way]
        reach = way.reaches[happening.crossing]
        assert reach.before is not None
        reg.require(reg.test(fading.active, 2 << happening.way))
        reg.require(reg.test(fading.level, reach.before))
        reg.require(reg.reached(way.clock, 2 * reach.earliest))
        self.assign(reg, now, fading.level, reach.there)
        reg.restart(fading.at_level)

    def _level_passed(self, reg: Registers, now: Instant, happening: LevelPassed) -> None:
        fading = self.fading[happening.dimmer]
        passing = fading.passings[happening.passing]
        reg.require(reg.test(fading.active, passing.ways))
        reg.require(reg.test(fading.level, passing.there))
        for variable, mask, clock, limit in passing.first:
            if reg.test(variable, mask):
                reg.require(not reg.reached(clock, 2 * limit))
        self.assign(reg, now, fading.level, passing.after)

    def _calendar_turns(self, reg: Registers, now: Instant, number: int) -> None:
        """The clock goes on also when nothing outside changes any more (16)."""
        world = self.world
        placed = world.in_calendar
        assert placed is not None
        turn = placed.calendar.turns[number]
        reg.require(reg.test(placed.phase, 1 << turn.before))
        self._in_time(reg, placed.asked_by(turn))
        self.assign(reg, now, placed.phase, 1 << turn.after)
        if turn.to_night is None:
            reg.restart(placed.clock)
            reg.put(placed.fresh, TURNED)
        else:
            assert placed.sun is not None
            begun, other = (placed.sun.night, NIGHT_SEEN), (placed.sun.day, DAY_SEEN)
            if not turn.to_night:
                begun, other = other, begun
            reg.restart(begun[0])
            both = reg.test(placed.sun.seen, other[1] | BOTH_SEEN)
            reg.put(placed.sun.seen, BOTH_SEEN if both else begun[1])
            begins = 1 if turn.to_night else 0
            self.trigger(now, self.sun[begins])
            if self.counts_sun[begins]:
                self.count(now)
        if turn.fires:
            # The time of the clock is one change, however many events of it match (3).
            self.trigger(now, [line for e in turn.fires for line in self.at_clock.get(e, ())])
            if any(event in self.counts_at_clock for event in turn.fires):
                self.count(now)
        self._assumed(reg, placed.phase)

    @staticmethod
    def _in_time(reg: Registers, asked: list[Since]) -> None:
        """Gives the path up unless the calendar's clocks stand where the turn can happen.

        Where one of them comes as far as it can in this phase, the turn happens whatever the other
        shows: then no way ends in a phase that nothing leads out of.
        """
        for since in asked:
            if since.due and reg.reached(since.clock, 2 * since.most):
                return
        for since in asked:
            reg.require(not reg.reached(since.clock, 2 * since.most + 1))
            if since.least and reg.test(since.seen, since.known):
                reg.require(reg.reached(since.clock, 2 * since.least))

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
        self._still_assumed(reg, {self.timers[one].ran_out for one in both})

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
        for fading in self.fading.values():
            reg.put(fading.active, NO_FADE)
        if self.reaction is not None:
            self.nothing_waits(reg)
        for timer in self.timers:
            reg.put(timer.ran_out, FALSE)
            if timer.parted is not None:
                reg.put(timer.parted, FALSE)
        for clock in range(len(self.layout.clocks)):
            reg.restart(clock)
        for condition in self.world.always:
            reg.require(self.holds(reg, condition, True))
        self._goes_on(reg)
        if self.monitor is not None:
            self.monitor.begin(reg)
            self.monitor.settle(reg, 0)

    def settled(self, reg: Registers, now: Instant) -> None:
        """The instant is settled: what was not handled waits, and the monitor looks."""
        if not now.awake:
            self.defer(reg, now)
        if self.monitor is not None:
            self.monitor.settle(reg, now.count)

    def bad(self, reg: Registers) -> bool:
        """Whether the requirement is seen to fail in this settled state."""
        return self.monitor is not None and self.monitor.bad(reg)

    def fresh(self) -> Registers:
        """Registers of which nothing is known."""
        from verifier.surroundings.state import FOREVER

        clocks = len(self.layout.clocks)
        return Registers([v.every for v in self.layout.variables], [0] * clocks, [FOREVER] * clocks)
