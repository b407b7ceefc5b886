"""Requirement forms as monitors: small machines that look at settled instants.

Each monitor has a few variables and clocks of its own. :meth:`Monitor.settle` moves it at the
settled end of every instant (``count`` occurrences of the requirement's events lay in it);
:meth:`Monitor.bad` says whether the requirement is seen to fail in the state as it is now.
Where a comment gives a formula, it is that of the published pattern catalogues named in the
language reference.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Condition,
    Event,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Not,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)
from verifier.surroundings.state import Registers
from verifier.surroundings.world import FALSE, TRUE

if TYPE_CHECKING:
    from verifier.simulate.structure import Structure


class Monitor:
    """What all monitors share; ``condition`` is C, ``scope`` the C of ``while``."""

    events: tuple[Event, ...] = ()
    count_cap = 1
    guesses_quiet = False

    def __init__(
        self, system: Structure, requirement: Requirement, condition: Condition | None
    ) -> None:
        self.system = system
        self.layout = system.layout
        self.condition = condition
        self.scope = requirement.scope
        self.allowing = system.unit(requirement.allowing_s)
        self.flags: list[int] = []
        self.clocks: list[int] = []

    def flag(self, name: str) -> int:
        """A new variable of the monitor that is no (at the start) or yes."""
        variable = self.layout.add(f"claim: {name}", (0, 1))
        self.flags.append(variable)
        return variable

    def clock(self, name: str) -> int:
        """A new clock of the monitor."""
        clock = self.layout.clock(f"claim: {name}")
        self.clocks.append(clock)
        return clock

    def read(self, reg: Registers, condition: Condition) -> bool:
        """Whether a condition is true now, in truth."""
        return self.system.holds(reg, condition, True)

    def holds(self, reg: Registers) -> bool:
        """Whether C is true now."""
        assert self.condition is not None
        return self.read(reg, self.condition)

    def in_scope(self, reg: Registers) -> bool:
        """Whether the scope holds now."""
        return self.scope is None or self.read(reg, self.scope)

    def begin(self, reg: Registers) -> None:
        """Sets the monitor's variables as they are before the first settled instant."""
        for flag in self.flags:
            reg.put(flag, FALSE)

    def settle(self, reg: Registers, count: int) -> None:
        """Looks at a settled instant in which ``count`` events occurred."""

    def bad(self, reg: Registers) -> bool:
        """Whether the requirement is seen to fail now."""
        raise NotImplementedError

    # Only the monitor of `leads to` takes notice of these.

    def handled(self, reg: Registers, rule: int) -> None:
        """A trigger of a rule was handled with its guard true."""

    def local_switch(self, reg: Registers) -> None:
        """Somebody used a local switch."""

    def is_quiet(self, reg: Registers) -> bool:
        """Whether nothing outside changes any more."""
        return False

    def was_handled(self, reg: Registers) -> bool:
        """Whether a trigger of the rule has been handled."""
        return False

    def begin_quiet(self, reg: Registers) -> None:
        """From here on nothing outside changes any more."""

    def before_quiet(self) -> list[tuple[int, int]]:
        """(variable, mask) that a state has in which the quiet can begin."""
        return []

    def before_outside(self) -> list[tuple[int, int]]:
        """(variable, mask) that a state has in which something outside can change."""
        return []


class AlwaysMonitor(Monitor):
    """``always: C`` (universality, G C); an interruption of C no longer than ``allowing`` is none.

    The whole length of an interruption counts, also what lies outside the scope.
    """

    def __init__(self, system: Structure, requirement: Requirement, condition: Condition) -> None:
        super().__init__(system, requirement, condition)
        if self.allowing:
            self.gap = self.flag("C is interrupted")
            self.touched = self.flag("the interruption touches the scope")
            self.since = self.clock("since the interruption began")
            self.layout.compared(self.since, self.allowing, ((self.gap, TRUE),))

    def settle(self, reg: Registers, count: int) -> None:
        if not self.allowing:
            return
        if self.holds(reg):
            reg.put(self.gap, FALSE)
            reg.put(self.touched, FALSE)
            return
        if reg.test(self.gap, FALSE):
            reg.put(self.gap, TRUE)
            reg.restart(self.since)
        if self.in_scope(reg):
            reg.put(self.touched, TRUE)

    def bad(self, reg: Registers) -> bool:
        if not self.allowing:
            return not self.holds(reg) and self.in_scope(reg)
        return (
            reg.test(self.gap, TRUE)
            and reg.test(self.touched, TRUE)
            and reg.reached(self.since, 2 * self.allowing + 1)
        )


class WithinMonitor(Monitor):
    """``when E: C within D`` (bounded response, G(E -> F[0,D] C)): the oldest unanswered E counts."""

    def __init__(self, system: Structure, requirement: Requirement, form: WhenWithin) -> None:
        super().__init__(system, requirement, form.condition)
        self.events = form.events
        self.within = system.unit(form.within_s)
        self.pending = self.flag("an E has no answer yet")
        self.since = self.clock("since the E without an answer")
        self.layout.compared(self.since, self.within, ((self.pending, TRUE),))

    def settle(self, reg: Registers, count: int) -> None:
        pending = reg.test(self.pending, TRUE)
        if not pending and not count:
            return
        if not self.in_scope(reg) or self.holds(reg):
            reg.put(self.pending, FALSE)
        elif not pending:
            reg.put(self.pending, TRUE)
            reg.restart(self.since)

    def bad(self, reg: Registers) -> bool:
        return reg.test(self.pending, TRUE) and reg.reached(self.since, 2 * self.within + 1)


class ForAtLeastMonitor(Monitor):
    """``when E: C for at least D`` (bounded invariance, G(E -> G[0,D) C)): the last E counts."""

    def __init__(self, system: Structure, requirement: Requirement, form: WhenFor) -> None:
        super().__init__(system, requirement, form.condition)
        self.events = form.events
        self.least = system.unit(form.for_s)
        self.claimed = self.flag("C is claimed")
        self.since = self.clock("since the last E")
        self.layout.compared(self.since, self.least, ((self.claimed, TRUE),))
        if self.allowing:
            self.gap = self.flag("C is interrupted")
            self.touched = self.flag("the interruption touches the claim")
            self.gap_since = self.clock("since the interruption began")
            self.layout.compared(self.gap_since, self.allowing, ((self.gap, TRUE),))

    def _live(self, reg: Registers) -> bool:
        return reg.test(self.claimed, TRUE) and not reg.reached(self.since, 2 * self.least)

    def settle(self, reg: Registers, count: int) -> None:
        if self.scope is not None and not self.in_scope(reg):
            reg.put(self.claimed, FALSE)
        elif count:
            reg.put(self.claimed, TRUE)
            reg.restart(self.since)
        if not self.allowing:
            return
        if self.holds(reg):
            reg.put(self.gap, FALSE)
            reg.put(self.touched, FALSE)
            return
        if reg.test(self.gap, FALSE):
            reg.put(self.gap, TRUE)
            reg.restart(self.gap_since)
        if self._live(reg):
            reg.put(self.touched, TRUE)

    def bad(self, reg: Registers) -> bool:
        if not self.allowing:
            return self._live(reg) and not self.holds(reg)
        return (
            reg.test(self.gap, TRUE)
            and reg.test(self.touched, TRUE)
            and reg.reached(self.gap_since, 2 * self.allowing + 1)
        )


class AfterLastMonitor(Monitor):
    """``after last E: C within D``: C whenever more than D has passed since the last E."""

    def __init__(self, system: Structure, requirement: Requirement, form: AfterLast) -> None:
        super().__init__(system, requirement, form.condition)
        self.events = form.events
        self.within = system.unit(form.within_s)
        self.seen = self.flag("an E has occurred")
        self.since = self.clock("since the last E")
        self.layout.compared(self.since, self.within, ((self.seen, TRUE),))

    def settle(self, reg: Registers, count: int) -> None:
        if self.scope is not None and not self.in_scope(reg):
            reg.put(self.seen, FALSE)
        elif count:
            reg.put(self.seen, TRUE)
            reg.restart(self.since)

    def bad(self, reg: Registers) -> bool:
        return (
            reg.test(self.seen, TRUE)
            and reg.reached(self.since, 2 * self.within + 1)
            and not self.holds(reg)
        )


class BeforeMonitor(Monitor):
    """``before E: C for at least D``: just before every E, C has been true for D."""

    def __init__(self, system: Structure, requirement: Requirement, form: Before) -> None:
        super().__init__(system, requirement, form.condition)
        self.events = form.events
        self.least = system.unit(form.for_s)
        self.been = self.flag("C was true")
        self.failed = self.flag("an E came too early")
        self.since = self.clock("since C came true")
        self.layout.compared(self.since, self.least, ((self.been, TRUE),))
        if self.scope is not None:
            self.scoped = self.flag("the scope held")
            self.scope_since = self.clock("since the scope began")
            self.layout.compared(self.scope_since, self.least, ((self.scoped, TRUE),))

    def settle(self, reg: Registers, count: int) -> None:
        inside = self.in_scope(reg)
        if count and inside and self._judged(reg) and not self._long_enough(reg):
            reg.put(self.failed, TRUE)
        if self.scope is not None:
            if not inside:
                reg.put(self.scoped, FALSE)
            elif reg.test(self.scoped, FALSE):
                reg.put(self.scoped, TRUE)
                reg.restart(self.scope_since)
        if not self.holds(reg):
            reg.put(self.been, FALSE)
        elif reg.test(self.been, FALSE):
            reg.put(self.been, TRUE)
            reg.restart(self.since)

    def _judged(self, reg: Registers) -> bool:
        return self.scope is None or (
            reg.test(self.scoped, TRUE) and reg.reached(self.scope_since, 2 * self.least)
        )

    def _long_enough(self, reg: Registers) -> bool:
        return reg.test(self.been, TRUE) and reg.reached(self.since, 2 * self.least)

    def bad(self, reg: Registers) -> bool:
        return reg.test(self.failed, TRUE)


class NoLongerMonitor(Monitor):
    """``no longer than D: C`` (maximum duration); gaps of C up to ``allowing`` are filled.

    The whole length of a gap counts, also beyond the end of the scope: whether what came before
    it was too long may be known only after that.
    """

    def __init__(self, system: Structure, requirement: Requirement, form: NoLonger) -> None:
        super().__init__(system, requirement, form.condition)
        self.most = system.unit(form.most_s)
        self.lit = self.flag("C holds in the scope")
        self.since = self.clock("since the stretch began")
        when: tuple[tuple[int, int], ...] = ((self.lit, TRUE),)
        if self.allowing:
            self.gap = self.flag("C is interrupted")
            self.been = self.flag("C was true just before or is")
            self.scoped = self.flag("the scope held")
            self.gap_since = self.clock("since the interruption began")
            self.layout.compared(self.gap_since, self.allowing, ((self.gap, TRUE),))
            self.layout.compared(self.since, self.most, ((self.been, TRUE),))
            if self.scope is not None:
                self.due = self.flag("the stretch was too long if the interruption is none")
                self.failed = self.flag("a stretch was too long")
        self.layout.compared(self.since, self.most, when)

    def settle(self, reg: Registers, count: int) -> None:
        inside = self.in_scope(reg)
        if not self.allowing:
            if not inside or not self.holds(reg):
                reg.put(self.lit, FALSE)
            elif reg.test(self.lit, FALSE):
                reg.put(self.lit, TRUE)
                reg.restart(self.since)
            return
        if self.scope is not None:
            self._scope_ends_in_a_gap(reg, inside)
        if inside and reg.test(self.scoped, FALSE):
            reg.restart(self.since)
        reg.put(self.scoped, TRUE if inside else FALSE)
        if self.holds(reg):
            if reg.test(self.been, FALSE) or (
                reg.test(self.gap, TRUE) and reg.reached(self.gap_since, 2 * self.allowing + 1)
            ):
                reg.restart(self.since)
            elif self.scope is not None and reg.test(self.due, TRUE):
                reg.put(self.failed, TRUE)
            if self.scope is not None:
                reg.put(self.due, FALSE)
            reg.put(self.been, TRUE)
            reg.put(self.gap, FALSE)
            reg.put(self.lit, TRUE if inside else FALSE)
            return
        reg.put(self.lit, FALSE)
        if reg.test(self.been, TRUE) and reg.test(self.gap, FALSE):
            reg.put(self.gap, TRUE)
            reg.restart(self.gap_since)

    def _scope_ends_in_a_gap(self, reg: Registers, inside: bool) -> None:
        if (
            not inside
            and reg.test(self.scoped, TRUE)
            and reg.test(self.gap, TRUE)
            and reg.reached(self.since, 2 * self.most + 1)
        ):
            reg.put(self.due, TRUE)

    def bad(self, reg: Registers) -> bool:
        if self.allowing and self.scope is not None and reg.test(self.failed, TRUE):
            return True
        return reg.test(self.lit, TRUE) and reg.reached(self.since, 2 * self.most + 1)


class NoShorterMonitor(Monitor):
    """``no shorter than D: C`` (minimum duration); the first stretch is not judged."""

    def __init__(self, system: Structure, requirement: Requirement, form: NoShorter) -> None:
        super().__init__(system, requirement, form.condition)
        self.least = system.unit(form.least_s)
        self.lit = self.flag("C holds")
        self.judged = self.flag("the stretch is judged")
        self.failed = self.flag("a stretch was too short")
        self.since = self.clock("since the stretch began")
        when: tuple[tuple[int, int], ...] = ((self.lit, TRUE), (self.judged, TRUE))
        if self.allowing:
            self.gap = self.flag("C is interrupted")
            self.short = self.flag("the stretch was short so far")
            self.cut = self.flag("the scope ended in the interruption")
            self.gap_since = self.clock("since the interruption began")
            self.layout.compared(self.gap_since, self.allowing, ((self.gap, TRUE),))
            self.layout.compared(self.since, self.least, ((self.gap, TRUE), (self.judged, TRUE)))
        self.layout.compared(self.since, self.least, when)

    def begin(self, reg: Registers) -> None:
        super().begin(reg)
        # A stretch that is there at the start is not judged.
        reg.put(self.lit, TRUE if self.holds(reg) else FALSE)

    def settle(self, reg: Registers, count: int) -> None:
        inside = self.in_scope(reg)
        if self.holds(reg):
            self._true(reg, inside)
        elif reg.test(self.lit, TRUE):
            short = not reg.reached(self.since, 2 * self.least)
            judged = reg.test(self.judged, TRUE) and inside and short
            reg.put(self.lit, FALSE)
            if not self.allowing:
                reg.put(self.judged, FALSE)
                if judged:
                    reg.put(self.failed, TRUE)
                return
            reg.put(self.gap, TRUE)
            reg.put(self.cut, FALSE if inside else TRUE)
            reg.put(self.short, TRUE if judged else FALSE)
            reg.restart(self.gap_since)
        elif self.allowing and not inside and reg.test(self.gap, TRUE):
            reg.put(self.cut, TRUE)

    def _true(self, reg: Registers, inside: bool) -> None:
        if reg.test(self.lit, TRUE):
            if not inside:
                reg.put(self.judged, FALSE)
            return
        reg.put(self.lit, TRUE)
        if self.allowing and reg.test(self.gap, TRUE):
            reg.put(self.gap, FALSE)
            filled = not reg.reached(self.gap_since, 2 * self.allowing + 1)
            cut = reg.test(self.cut, TRUE)
            reg.put(self.cut, FALSE)
            reg.put(self.short, FALSE)
            if filled:
                if cut or not inside:
                    reg.put(self.judged, FALSE)
                return
        reg.restart(self.since)
        reg.put(self.judged, TRUE if inside else FALSE)

    def bad(self, reg: Registers) -> bool:
        if not self.allowing:
            return reg.test(self.failed, TRUE)
        return (
            reg.test(self.gap, TRUE)
            and reg.test(self.short, TRUE)
            and reg.reached(self.gap_since, 2 * self.allowing + 1)
        )


class AtMostTimesMonitor(Monitor):
    """``at most N times in D: E`` (bounded existence in a window).

    For N = 1 the last E is enough. Else the first of the N + 1 is guessed.
    """

    def __init__(self, system: Structure, requirement: Requirement, form: AtMostTimes) -> None:
        super().__init__(system, requirement, None)
        self.events = form.events
        self.times = form.times
        self.window = system.unit(form.in_s)
        self.count_cap = form.times + 1
        self.counted = self.layout.add("claim: occurrences counted", tuple(range(form.times + 2)))
        self.since = self.clock("since the first that is counted")
        counting = ((1 << (form.times + 1)) - 1) & ~1
        self.layout.compared(self.since, self.window, ((self.counted, counting),))

    def begin(self, reg: Registers) -> None:
        reg.put(self.counted, 1)

    def settle(self, reg: Registers, count: int) -> None:
        if self.scope is not None and not self.in_scope(reg):
            if not reg.test(self.counted, 1 << (self.times + 1)):
                reg.put(self.counted, 1)
            return
        if not count:
            return
        if reg.test(self.counted, 1 << (self.times + 1)):
            return
        before = next(n for n in range(self.times + 1) if reg.test(self.counted, 1 << n))
        if before and not reg.reached(self.since, 2 * self.window + 1):
            total = min(before + count, self.times + 1)
            if self.times > 1 or total > self.times:
                reg.put(self.counted, 1 << total)
                return
        if self.times > 1 and count <= self.times and not reg.decide():
            reg.put(self.counted, 1)
            return
        reg.put(self.counted, 1 << min(count, self.times + 1))
        reg.restart(self.since)

    def bad(self, reg: Registers) -> bool:
        return reg.test(self.counted, 1 << (self.times + 1))


class LeadsToMonitor(Monitor):
    """``every trigger of R leads to C``: guess the moment from which nothing outside changes.

    ``bound`` (units) is what is claimed of the time it takes; None while it is not known.
    """

    guesses_quiet = True

    def __init__(self, system: Structure, requirement: Requirement, form: LeadsTo) -> None:
        super().__init__(system, requirement, form.condition)
        self.of_rule = system.rule_index[form.rule]
        self.phase = self.layout.add("claim: phase", ("idle", "handled", "quiet"))
        self.since = self.clock("since nothing outside changes")
        self.bound: int | None = None
        self.layout.compared(self.since, 0, ((self.phase, 4),))

    def claim(self, bound: int) -> None:
        """Claims that C is true whenever nothing outside has changed for more than ``bound``."""
        self.bound = bound
        self.layout.compared(self.since, bound, ((self.phase, 4),))

    def begin(self, reg: Registers) -> None:
        reg.put(self.phase, 1)

    def handled(self, reg: Registers, rule: int) -> None:
        if rule == self.of_rule and not reg.test(self.phase, 4):
            reg.put(self.phase, 2)

    def local_switch(self, reg: Registers) -> None:
        if reg.test(self.phase, 2):
            reg.put(self.phase, 1)

    def is_quiet(self, reg: Registers) -> bool:
        return reg.test(self.phase, 4)

    def was_handled(self, reg: Registers) -> bool:
        return not reg.test(self.phase, 1)

    def before_quiet(self) -> list[tuple[int, int]]:
        return [(self.phase, 2)]

    def before_outside(self) -> list[tuple[int, int]]:
        return [(self.phase, 3)]

    def begin_quiet(self, reg: Registers) -> None:
        reg.require(reg.test(self.phase, 2))
        reg.put(self.phase, 4)
        reg.restart(self.since)

    def bad(self, reg: Registers) -> bool:
        if self.bound is None or not reg.test(self.phase, 4):
            return False
        return reg.reached(self.since, 2 * self.bound + 1) and not self.holds(reg)


class MeasureMonitor(Monitor):
    """``measure longest: C after last E``; ``bound`` (units) is what is claimed."""

    def __init__(self, system: Structure, requirement: Requirement, form: MeasureLongest) -> None:
        super().__init__(system, requirement, form.condition)
        self.events = form.events
        self.bound: int | None = None
        self.seen = self.flag("an E has occurred")
        self.since = self.clock("since the last E")
        self.layout.compared(self.since, 0, ((self.seen, TRUE),))

    def claim(self, bound: int) -> None:
        """Claims that C is false whenever more than ``bound`` has passed since the last E."""
        self.bound = bound
        self.layout.compared(self.since, bound, ((self.seen, TRUE),))

    def settle(self, reg: Registers, count: int) -> None:
        if self.scope is not None and not self.in_scope(reg):
            reg.put(self.seen, FALSE)
        elif count:
            reg.put(self.seen, TRUE)
            reg.restart(self.since)

    def measured(self, reg: Registers) -> bool:
        """Whether the time since the last E counts now."""
        return reg.test(self.seen, TRUE) and self.holds(reg)

    def bad(self, reg: Registers) -> bool:
        if self.bound is None:
            return False
        return self.measured(reg) and reg.reached(self.since, 2 * self.bound + 1)


def monitor_of(system: Structure, requirement: Requirement) -> Monitor:
    """The monitor of a requirement; for ``possible`` one that is bad where C is reached."""
    match requirement.form:
        case Always(condition):
            return AlwaysMonitor(system, requirement, condition)
        case Never(condition) | Possible(condition):
            return AlwaysMonitor(system, requirement, Not(condition))
        case WhenWithin():
            return WithinMonitor(system, requirement, requirement.form)
        case WhenFor():
            return ForAtLeastMonitor(system, requirement, requirement.form)
        case AfterLast():
            return AfterLastMonitor(system, requirement, requirement.form)
        case Before():
            return BeforeMonitor(system, requirement, requirement.form)
        case NoLonger():
            return NoLongerMonitor(system, requirement, requirement.form)
        case NoShorter():
            return NoShorterMonitor(system, requirement, requirement.form)
        case AtMostTimes():
            return AtMostTimesMonitor(system, requirement, requirement.form)
        case LeadsTo():
            return LeadsToMonitor(system, requirement, requirement.form)
        case MeasureLongest():
            return MeasureMonitor(system, requirement, requirement.form)
