"""Faults of the trusted core, each a patch of one thing: monitors, handling, orders that are merged.

No line of the core is written again here. A fault changes what a method is given or what it does
with it: registers seen through a :class:`View` that leaves one thing out, an argument changed, a
collaborator replaced while a method runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest

from verifier.graph import access, footprints
from verifier.model.job import RuleEnds, RuleStarts
from verifier.proof import question
from verifier.simulate import instant, monitor
from verifier.simulate.handling import Handling
from verifier.simulate.structure import Instant, Structure
from verifier.simulate.system import System
from verifier.surroundings.state import Layout, Registers
from verifier.surroundings.world import FALSE, TRUE

Patch = pytest.MonkeyPatch
Seed = Callable[[Patch], None]


class View:
    """Registers with one thing gone wrong; what is not overridden is as it was."""

    def __init__(self, reg: Any) -> None:
        self.reg = reg

    def __getattr__(self, name: str) -> Any:
        return getattr(self.reg, name)


class Unrestarted(View):
    """A clock (or, of None, every clock) is not set to zero."""

    def __init__(self, reg: Any, clock: int) -> None:
        super().__init__(reg)
        self.clock = clock

    def restart(self, clock: int) -> None:
        """Sets the others to zero."""
        if clock != self.clock:
            self.reg.restart(clock)


class OtherEnd(View):
    """A clock is compared with an open bound where it should be closed, and the other way round."""

    def __init__(self, reg: Any, clock: int) -> None:
        super().__init__(reg)
        self.clock = clock

    def reached(self, clock: int, position: int) -> bool:
        """At 2 D where "at D" is asked, at 2 D + 1 where "after D" is; of this clock turned round."""
        other = position + 1 if position % 2 == 0 else position - 1
        found: bool = self.reg.reached(clock, other if clock == self.clock else position)
        return found


class Unwritten(View):
    """Some variables are not given some value."""

    def __init__(self, reg: Any, variables: list[int], bit: int) -> None:
        super().__init__(reg)
        self.variables = variables
        self.bit = bit

    def put(self, variable: int, bit: int) -> None:
        """Writes all else."""
        if variable not in self.variables or bit != self.bit:
            self.reg.put(variable, bit)


def seen_by(
    patch: Patch, kind: type, methods: tuple[str, ...], view: Callable[[Any, Any], View]
) -> None:
    """Shows the methods of a class their registers through a view."""
    for name in methods:
        honest = getattr(kind, name)

        def through(self: Any, reg: Any, *given: Any, honest: Any = honest, **named: Any) -> Any:
            return honest(self, view(self, reg), *given, **named)

        patch.setattr(kind, name, through)


def given(patch: Patch, kind: type, method: str, act: Callable[..., Any]) -> None:
    """Puts ``act(honest, self, …)`` in the place of a method."""
    honest = getattr(kind, method)
    patch.setattr(kind, method, lambda self, *args, **named: act(honest, self, *args, **named))


@contextmanager
def instead(thing: Any, name: str, value: Any) -> Iterator[None]:
    """While it lasts, an object has another method of its own."""
    setattr(thing, name, value)
    try:
        yield
    finally:
        delattr(thing, name)


# ---------------------------------------------------------------- monitors: clocks and flags

CLOCKS: tuple[tuple[type[monitor.Monitor], str], ...] = (
    (monitor.AlwaysMonitor, "since"),
    (monitor.WithinMonitor, "since"),
    (monitor.ForAtLeastMonitor, "since"),
    (monitor.ForAtLeastMonitor, "gap_since"),
    (monitor.AfterLastMonitor, "since"),
    (monitor.BeforeMonitor, "since"),
    (monitor.BeforeMonitor, "scope_since"),
    (monitor.NoLongerMonitor, "since"),
    (monitor.NoLongerMonitor, "gap_since"),
    (monitor.NoShorterMonitor, "since"),
    (monitor.NoShorterMonitor, "gap_since"),
    (monitor.AtMostTimesMonitor, "since"),
    (monitor.LeadsToMonitor, "since"),
    (monitor.MeasureMonitor, "since"),
)
"""Every clock of every monitor."""

FLAGS: tuple[tuple[type[monitor.Monitor], str], ...] = (
    (monitor.AlwaysMonitor, "gap"),
    (monitor.AlwaysMonitor, "touched"),
    (monitor.WithinMonitor, "pending"),
    (monitor.ForAtLeastMonitor, "claimed"),
    (monitor.ForAtLeastMonitor, "gap"),
    (monitor.ForAtLeastMonitor, "touched"),
    (monitor.AfterLastMonitor, "seen"),
    (monitor.BeforeMonitor, "been"),
    (monitor.BeforeMonitor, "failed"),
    (monitor.BeforeMonitor, "scoped"),
    (monitor.NoLongerMonitor, "lit"),
    (monitor.NoLongerMonitor, "gap"),
    (monitor.NoLongerMonitor, "been"),
    (monitor.NoLongerMonitor, "scoped"),
    (monitor.NoLongerMonitor, "due"),
    (monitor.NoLongerMonitor, "failed"),
    (monitor.NoShorterMonitor, "lit"),
    (monitor.NoShorterMonitor, "judged"),
    (monitor.NoShorterMonitor, "failed"),
    (monitor.NoShorterMonitor, "gap"),
    (monitor.NoShorterMonitor, "short"),
    (monitor.NoShorterMonitor, "cut"),
    (monitor.MeasureMonitor, "seen"),
)
"""Every flag of every monitor."""


def of_clocks() -> dict[str, Seed]:
    """Each clock never restarted, and compared by the other kind of bound."""
    found: dict[str, Seed] = {}
    methods = ("settle", "bad", "begin_quiet")
    for kind, name in CLOCKS:
        for words, view in (("never restarted", Unrestarted), ("by the other bound", OtherEnd)):

            def seed(
                patch: Patch,
                kind: type[monitor.Monitor] = kind,
                name: str = name,
                view: Any = view,
            ) -> None:
                seen_by(patch, kind, methods, lambda self, reg: view(reg, getattr(self, name, -1)))

            found[f"{kind.__name__}.{name} {words}"] = seed
    return found


def of_flags() -> dict[str, Seed]:
    """Each flag never raised, and never lowered once it is up."""
    found: dict[str, Seed] = {}
    for kind, name in FLAGS:
        for words, bit in (("never raised", TRUE), ("never lowered", FALSE)):
            if name == "failed" and bit == FALSE:
                continue  # What has failed stays so: it is lowered at the start alone.

            def seed(
                patch: Patch,
                kind: type[monitor.Monitor] = kind,
                name: str = name,
                bit: int = bit,
            ) -> None:
                seen_by(
                    patch,
                    kind,
                    ("settle",),
                    lambda self, reg: Unwritten(reg, [getattr(self, name, -1)], bit),
                )

            found[f"{kind.__name__}.{name} {words}"] = seed
    return found


# ---------------------------------------------------------------- monitors: what they look at


def no_scope(patch: Patch) -> None:
    """`while` is forgotten."""
    patch.setattr(monitor.Monitor, "in_scope", lambda self, reg: True)


def allowing(change: Callable[[Any], Any]) -> Seed:
    """The `allowing` of a requirement is another."""

    def seed(patch: Patch) -> None:
        def made(honest: Any, self: Any, system: Any, requirement: Any, condition: Any) -> None:
            units = change(system.unit(requirement.allowing_s)) if requirement.allowing_s else 0
            honest(self, system, requirement, condition)
            self.allowing = units

        given(patch, monitor.Monitor, "__init__", made)

    return seed


def counting(kind: type, change: Callable[[Any, Any, int], int]) -> Seed:
    """A monitor is told of another number of events."""

    def seed(patch: Patch) -> None:
        given(
            patch,
            kind,
            "settle",
            lambda honest, self, reg, count: honest(self, reg, change(self, reg, count)),
        )

    return seed


def first_only(flag: str) -> Callable[[Any, Any, int], int]:
    """Of the events only the first, while a flag is up."""
    return lambda self, reg, count: 0 if reg.test(getattr(self, flag), TRUE) else count


def newest(patch: Patch) -> None:
    """`when … within`: the clock runs from the last E, not from the oldest without an answer."""

    def settle(honest: Any, self: Any, reg: Any, count: int) -> None:
        honest(self, reg, count)
        if count and reg.test(self.pending, TRUE):
            reg.restart(self.since)

    given(patch, monitor.WithinMonitor, "settle", settle)


def first_judged(patch: Patch) -> None:
    """`no shorter than`: the stretch that is there at the start is judged."""

    def begin(honest: Any, self: Any, reg: Any) -> None:
        honest(self, reg)
        reg.put(self.lit, FALSE)

    given(patch, monitor.NoShorterMonitor, "begin", begin)


def as_rules_see(patch: Patch) -> None:
    """Requirements read what was last reported, not what is so."""
    patch.setattr(
        monitor.Monitor, "read", lambda self, reg, cond: self.system.holds(reg, cond, False)
    )


def every_small_step(patch: Patch) -> None:
    """The monitor looks after every small step, not at the settled end of an instant."""
    honest = instant.take

    def take(system: System, reg: Registers, now: Instant, turn: instant.Turn) -> bool:
        taken = honest(system, reg, now, turn)
        if taken and system.monitor is not None:
            system.monitor.settle(reg, 0)
        return taken

    patch.setattr(instant, "take", take)


def not_at_the_start(patch: Patch) -> None:
    """The monitor does not look at the start."""

    def begin(honest: Any, self: Any, reg: Any) -> None:
        if self.monitor is None:
            honest(self, reg)
            return
        with instead(self.monitor, "settle", lambda *_: None):
            honest(self, reg)

    given(patch, System, "begin", begin)


def any_rule_handled(patch: Patch) -> None:
    """`leads to`: the trigger of any rule is taken for one of R."""
    given(
        patch,
        monitor.LeadsToMonitor,
        "handled",
        lambda honest, self, reg, rule: honest(self, reg, self.of_rule),
    )


def handled_unguarded(patch: Patch) -> None:
    """`leads to`: a trigger whose guard is false counts."""

    def handle(honest: Any, self: Any, reg: Any, now: Any, rule: int, kind: int) -> None:
        if self.monitor is not None:
            self.monitor.handled(reg, rule)
        honest(self, reg, now, rule, kind)

    given(patch, Handling, "handle_trigger", handle)


def quiet_while_bounded(patch: Patch) -> None:
    """`leads to`: the quiet can begin while the surroundings are bound to do something."""

    def begins(honest: Any, self: Any, reg: Any) -> None:
        self.monitor.begin_quiet(reg)

    given(patch, System, "_quiet_begins", begins)


def loud_quiet(patch: Patch) -> None:
    """`leads to`: the surroundings go on in the quiet."""

    def outside(honest: Any, self: Any, reg: Any, now: Any, happening: Any) -> None:
        with instead(self.monitor, "is_quiet", lambda reg: False):
            honest(self, reg, now, happening)

    def happen(honest: Any, self: Any, reg: Any, now: Any, happening: Any) -> None:
        if isinstance(self.monitor, monitor.LeadsToMonitor):
            outside(honest, self, reg, now, happening)
        else:
            honest(self, reg, now, happening)

    given(patch, System, "happen", happen)


LOOKING: dict[str, Seed] = {
    "`while` is forgotten": no_scope,
    "`allowing` is forgotten": allowing(lambda units: 0),
    "`allowing` is a unit longer": allowing(lambda units: units + 1),
    "`allowing` is a unit shorter": allowing(lambda units: units - 1),
    "`at most N times`: one event of an instant counts": counting(
        monitor.AtMostTimesMonitor, lambda self, reg, count: min(count, 1)
    ),
    "`at most N times`: no event counts": counting(
        monitor.AtMostTimesMonitor, lambda self, reg, count: 0
    ),
    "`when … within`: from the last E": newest,
    "`when … for at least`: from the first E": counting(
        monitor.ForAtLeastMonitor, first_only("claimed")
    ),
    "`after last`: from the first E": counting(monitor.AfterLastMonitor, first_only("seen")),
    "`measure`: from the first E": counting(monitor.MeasureMonitor, first_only("seen")),
    "`no shorter than`: the first stretch is judged": first_judged,
    "requirements read reports": as_rules_see,
    "monitors look at every small step": every_small_step,
    "monitors do not look at the start": not_at_the_start,
    "`leads to`: any rule's trigger": any_rule_handled,
    "`leads to`: a trigger with a false guard": handled_unguarded,
    "`leads to`: local switches do not matter": lambda patch: patch.setattr(
        monitor.LeadsToMonitor, "local_switch", lambda self, reg: None
    ),
    "`leads to`: quiet in a state that cannot last": quiet_while_bounded,
    "`leads to`: the surroundings go on in the quiet": loud_quiet,
}


# ---------------------------------------------------------------- handling


def each_line(patch: Patch) -> None:
    """One change triggers a rule once for each of its lines that match."""

    def trigger(honest: Any, self: Any, now: Any, lines: Any) -> None:
        for line in lines:
            honest(self, now, [line])

    given(patch, Handling, "trigger", trigger)


def once_an_instant(patch: Patch) -> None:
    """Two changes of one instant trigger a rule once."""

    def trigger(honest: Any, self: Any, now: Any, lines: Any) -> None:
        waiting = {rule for rule, _ in now.pending}
        honest(self, now, [line for line in lines if line[0] not in waiting])

    given(patch, Handling, "trigger", trigger)


def asleep(patch: Patch) -> None:
    """A run that waits for a condition hears of no change."""
    patch.setattr(Handling, "store", lambda self, reg, now, variable, bit: reg.put(variable, bit))


def never_freed(patch: Patch) -> None:
    """A run that ends lets no waiting trigger take its turn."""

    def end(honest: Any, self: Any, reg: Any, now: Any, rule: int, slot: int) -> None:
        before = now.freed
        honest(self, reg, now, rule, slot)
        now.freed = before

    given(patch, Handling, "end_run", end)


def guard_read_once(patch: Patch) -> None:
    """The guard of a waiting trigger is not read again when its turn comes."""

    def turn(honest: Any, self: Any, *args: Any) -> None:
        with instead(self, "guard_holds", lambda *_: True):
            honest(self, *args)

    given(patch, Handling, "take_turn", turn)


def kept_waiting(patch: Patch) -> None:
    """`cancel` leaves the triggers that wait."""
    seen_by(
        patch,
        Handling,
        ("cancel",),
        lambda self, reg: Unwritten(reg, [v for queue in self.queues for v in queue], 1),
    )


def deaf_to(name: str) -> Seed:
    """Nobody hears that a run starts, or ends."""

    def seed(patch: Patch) -> None:
        def listen(honest: Any, self: Any) -> None:
            honest(self)
            getattr(self, name).clear()

        given(patch, Structure, "_listen", listen)

    return seed


def leaving(act: Callable[..., None]) -> Seed:
    """A run that gives way to a new one leaves otherwise."""

    def seed(patch: Patch) -> None:
        leave = Handling.leave_slot

        def handle(honest: Any, self: Any, reg: Any, now: Any, rule: int, kind: int) -> None:
            def left(reg: Any, now: Any, rule: int, slot: int) -> None:
                del self.leave_slot
                act(self, leave, reg, now, rule, slot)
                self.leave_slot = left

            self.leave_slot = left
            try:
                honest(self, reg, now, rule, kind)
            finally:
                if "leave_slot" in vars(self):
                    del self.leave_slot

        given(patch, Handling, "handle_trigger", handle)

    return seed


def as_an_end(self: Any, leave: Any, reg: Any, now: Any, rule: int, slot: int) -> None:
    """It counts as one that ended."""
    self.end_run(reg, now, rule, slot)


def the_newest(self: Any, leave: Any, reg: Any, now: Any, rule: int, slot: int) -> None:
    """The newest gives way, not the oldest."""
    busy = sum(not reg.test(v, 1) for v in self.slots[rule])
    leave(self, reg, now, rule, busy - 1)


class Unmoved(View):
    """What one variable or clock has is not given to another."""

    def take(self, variable: int, other: int) -> None:
        """Nothing."""

    def take_clock(self, clock: int, other: int) -> None:
        """Nothing."""


class Unmoving(View):
    """What one clock shows is not given to another."""

    def take_clock(self, clock: int, other: int) -> None:
        """Nothing."""


def early(patch: Patch) -> None:
    """A wait can run out a unit too early."""

    class Early(View):
        def reached(self, clock: int, position: int) -> bool:
            found: bool = self.reg.reached(clock, position - 2)
            return found

    seen_by(patch, System, ("_wait_runs_out",), lambda self, reg: Early(reg))


def unbounded(patch: Patch) -> None:
    """Time passes beyond the moment at which a wait or a timer runs out."""

    def bound(honest: Any, self: Any, clock: int, when: Any, limit: int, **named: Any) -> None:
        if named["outside"]:
            honest(self, clock, when, limit, **named)
        else:
            self.compared(clock, limit, when)

    given(patch, Layout, "bound", bound)


def power_cut_leaves(variables: Callable[[Any], list[int]], bit: int) -> Seed:
    """A power cut leaves some variables as they are."""

    def seed(patch: Patch) -> None:
        seen_by(
            patch,
            System,
            ("_power_cut",),
            lambda self, reg: Unwritten(reg, variables(self), bit),
        )

    return seed


def loud_cut(patch: Patch) -> None:
    """What a power cut changes triggers rules."""

    def assign(honest: Any, self: Any, *args: Any, **named: Any) -> None:
        honest(self, *args)

    given(patch, Handling, "assign", assign)


def runs_on(patch: Patch) -> None:
    """`has stayed` goes on to be true when the value changes."""

    def assign(honest: Any, self: Any, reg: Any, *args: Any, **named: Any) -> None:
        timers = [timer.ran_out for timer in self.timers]
        honest(self, Unwritten(reg, timers, FALSE), *args, **named)

    given(patch, Handling, "assign", assign)


def never_timed_out(patch: Patch) -> None:
    """`timed out` is never true."""
    seen_by(
        patch,
        System,
        ("_wait_runs_out",),
        lambda self, reg: Unwritten(
            reg, [v for rule in self.out for v in rule if v is not None], TRUE
        ),
    )


HANDLING: dict[str, Seed] = {
    "a change triggers once for each line": each_line,
    "a rule is triggered once an instant": once_an_instant,
    "`wait until` hears of no change": asleep,
    "an end frees no place": never_freed,
    "a waiting trigger's guard is read once": guard_read_once,
    "`cancel` leaves waiting triggers": kept_waiting,
    "`RULE starts` is not heard": deaf_to("starts"),
    "`RULE ends` is not heard": deaf_to("ends"),
    "a run that gives way counts as ended": leaving(as_an_end),
    "the newest run gives way": leaving(the_newest),
    "later runs do not move up": lambda patch: seen_by(
        patch, Handling, ("leave_slot",), lambda self, reg: Unmoved(reg)
    ),
    "later runs move up without their clocks": lambda patch: seen_by(
        patch, Handling, ("leave_slot",), lambda self, reg: Unmoving(reg)
    ),
    "waiting triggers do not move up": lambda patch: seen_by(
        patch, Handling, ("take_turn",), lambda self, reg: Unmoved(reg)
    ),
    "a wait runs out a unit early": early,
    "time passes beyond what is due": unbounded,
    "a power cut leaves runs": power_cut_leaves(
        lambda self: [v for slots in self.slots for v in slots], 1
    ),
    "a power cut leaves waiting triggers": power_cut_leaves(
        lambda self: [v for queue in self.queues for v in queue], 1
    ),
    "a power cut triggers rules": loud_cut,
    "`has stayed` survives a change": runs_on,
    "`timed out` is never true": never_timed_out,
}


# ---------------------------------------------------------------- orders


def all_commute(patch: Patch) -> None:
    """Any two handlers are taken to commute: one order is tried."""
    patch.setattr(question, "commuting", lambda system: lambda a, b: True)


def with_itself(patch: Patch) -> None:
    """Two triggers of one rule are taken to commute."""
    honest = question.commuting

    def commuting(system: Any) -> Any:
        table = honest(system)
        return lambda a, b: a == b or table(a, b)

    patch.setattr(question, "commuting", commuting)


def meets(act: Callable[[Any, Any], Any]) -> Seed:
    """Footprints meet in fewer cases."""
    return lambda patch: patch.setattr(footprints.Footprint, "meets", act)


def not_followed(patch: Patch) -> None:
    """What a rule sets off is not followed."""
    patch.setattr(footprints, "sets_off", lambda job: {rule.name: () for rule in job.rules})


def one_step(patch: Patch) -> None:
    """What a rule sets off by starting or ending is not followed."""
    honest = footprints._can_trigger
    patch.setattr(
        footprints,
        "_can_trigger",
        lambda event, *rest: not isinstance(event, RuleStarts | RuleEnds) and honest(event, *rest),
    )


def access_without(*names: str) -> Seed:
    """A part of what a rule touches is not seen."""

    def seed(patch: Patch) -> None:
        honest = access.rule_access
        patch.setattr(
            footprints,
            "rule_access",
            lambda rule: replace(honest(rule), **{name: frozenset() for name in names}),
        )

    return seed


ORDERS: dict[str, Seed] = {
    "all handlers commute": all_commute,
    "a rule commutes with itself": with_itself,
    "reading does not meet writing": meets(lambda self, other: bool(self.writes & other.writes)),
    "writing does not meet writing": meets(
        lambda self, other: bool((self.writes & other.reads) | (other.writes & self.reads))
    ),
    "a footprint ends with its rule": not_followed,
    "starts and ends set nothing off": one_step,
    "`wait until` is set off by nothing": lambda patch: patch.setattr(
        footprints, "condition_names", lambda condition: frozenset()
    ),
    "guards are not read": access_without("guards"),
    "conditions of a body are not read": access_without("body"),
    "`cancel` touches nothing": access_without("cancels"),
    "setting a point touches nothing": access_without("puts"),
}
"""Of the orders that the prover merges; the exhaustive search merges none."""


def turns_as(choose: Callable[[list[instant.Turn]], list[instant.Turn]]) -> Seed:
    """Not everything may take its turn."""

    def seed(patch: Patch) -> None:
        honest = instant.turns
        patch.setattr(instant, "turns", lambda system, now: choose(honest(system, now)))

    return seed


def triggers_first(turns: list[instant.Turn]) -> list[instant.Turn]:
    """Triggers before runs that go on."""
    return [turn for turn in turns if turn.kind == "trigger"] or turns


def key_without(part: int) -> Seed:
    """Two nodes of an instant that differ in one part are taken for one."""

    def seed(patch: Patch) -> None:
        def key(honest: Any, self: Any) -> Any:
            whole = honest(self)
            return (*whole[:part], *whole[part + 1 :])

        given(patch, Instant, "key", key)

    return seed


def first_end(patch: Patch) -> None:
    """Of the ends of an instant only the first."""
    honest = instant.settle_all
    patch.setattr(instant, "settle_all", lambda *args: honest(*args)[:1])


def clocks_merged(patch: Patch) -> None:
    """Two ends that differ in the clocks that were restarted are taken for one."""
    given(patch, Registers, "key", lambda honest, self: honest(self)[:3])


def lowest_line(patch: Patch) -> None:
    """Of the lines that match a change only the first is kept, whatever its guard."""
    patch.setattr(Handling, "_kind", lambda self, rule, lines: lines & -lines)


INSTANTS: dict[str, Seed] = {
    "the first in declared order takes its turn": turns_as(lambda turns: turns[:1]),
    "the last in declared order takes its turn": turns_as(lambda turns: turns[-1:]),
    "triggers before `wait until`": turns_as(triggers_first),
    "nodes with other triggers left are one": key_without(0),
    "nodes with other runs woken are one": key_without(1),
    "nodes with other places freed are one": key_without(2),
    "nodes with other counts are one": key_without(3),
    "ends that differ in clocks are one": clocks_merged,
    "an instant has one end": first_end,
    "every return is an endless chain": lambda patch: patch.setattr(
        Instant, "covers", lambda self, other: True
    ),
    "no return is an endless chain": lambda patch: patch.setattr(
        Instant, "covers", lambda self, other: False
    ),
    "of lines that match the first is kept": lowest_line,
}
"""Of the orders that the interpreter merges: prover and exhaustive search have them in common."""

MONITORS: dict[str, Seed] = {**of_clocks(), **of_flags(), **LOOKING}

FAULTS: dict[str, Seed] = {
    **MONITORS,
    **HANDLING,
    **ORDERS,
    **INSTANTS,
}
