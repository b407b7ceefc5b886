"""Runs of a verdict as timelines: played on the interpreter, with every change written down.

The interpreter gives the settled states and, instant by instant, what changed. What a condition
or an event means is read here from these, not asked of the interpreter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, cast

from tests.outside.mtl import Settled, Timeline
from verifier.model.job import (
    And,
    Atom,
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
    PowerReturns,
    Pressed,
    Requirement,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    conditions_and_events_of,
)
from verifier.simulate.explicit import starts
from verifier.simulate.monitor import Monitor
from verifier.simulate.replay import Concrete, happen, passed
from verifier.simulate.run import Run
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import Instant, System
from verifier.surroundings.happenings import ButtonPressed, Happening
from verifier.surroundings.state import Registers

# ---------------------------------------------------------------- what is written down


@dataclass(frozen=True, slots=True)
class Turned:
    """A variable changed from one value (bit) to another."""

    variable: int
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Came:
    """A press, a start or an end of a run, a trigger handled, the return of power."""

    what: str
    name: str = ""


Note = Turned | Came


class Paper:
    """Sequences of notes, each written as one number, so that two different ones are told apart."""

    def __init__(self) -> None:
        self.kinds: list[Note] = []

    def with_note(self, written: int, note: Note) -> int:
        """The number of a sequence with one more note at its end."""
        if note not in self.kinds:
            self.kinds.append(note)
        return written * 1000 + self.kinds.index(note) + 1

    def read(self, written: int) -> tuple[Note, ...]:
        """The notes of a sequence."""
        found: list[Note] = []
        while written:
            found.append(self.kinds[written % 1000 - 1])
            written //= 1000
        return tuple(reversed(found))


class Witness:
    """Stands where a monitor stands, and keeps what was written in the instant."""

    events: tuple[Event, ...] = ()
    guesses_quiet = False
    count_cap = 0

    def __init__(self, system: Any) -> None:
        self.notes = system.layout.add("what was written down", (0, 1))
        self.handled_rules = system.layout.add("triggers that were handled", (0, 1))

    def begin(self, reg: Registers) -> None:
        reg.put(self.handled_rules, 0)

    def settle(self, reg: Registers, count: int) -> None:
        reg.put(self.notes, count)

    def bad(self, reg: Registers) -> bool:
        return False

    def is_quiet(self, reg: Registers) -> bool:
        return False

    def handled(self, reg: Registers, rule: int) -> None:
        reg.put(self.handled_rules, reg.known(self.handled_rules) | 1 << rule)

    def local_switch(self, reg: Registers) -> None:
        return None


class Recorder(System):
    """The interpreter, with every change written down in ``Instant.count``."""

    def __init__(self, job: Job, requirement: Requirement) -> None:
        self.paper = Paper()
        super().__init__(job, requirement, watch=lambda s: cast(Monitor, Witness(s)))

    @property
    def witness(self) -> Witness:
        """What stands in the monitor's place."""
        return cast(Witness, self.monitor)

    def note(self, now: Instant, note: Note) -> None:
        """Writes a note."""
        now.count = self.paper.with_note(now.count, note)

    def happen(self, reg: Registers, now: Instant, happening: Happening) -> None:
        reg.put(self.witness.handled_rules, 0)
        if isinstance(happening, ButtonPressed):
            self.note(now, Came("pressed", happening.button))
        super().happen(reg, now, happening)

    def assign(
        self, reg: Registers, now: Instant, variable: int, bit: int, *, silent: bool = False
    ) -> None:
        before = reg.known(variable)
        super().assign(reg, now, variable, bit, silent=silent)
        if before != bit:
            self.note(now, Turned(variable, before, bit))

    def store(self, reg: Registers, now: Instant, variable: int, bit: int) -> None:
        timer = next((t for t in self.timers if t.ran_out == variable), None)
        if timer is not None and bit == 2:
            self.note(now, Turned(variable, 1, 2))
        super().store(reg, now, variable, bit)

    def begin_run(self, reg: Registers, now: Instant, rule: int) -> None:
        self.note(now, Came("starts", self.rules[rule].name))
        super().begin_run(reg, now, rule)

    def end_run(self, reg: Registers, now: Instant, rule: int, slot: int) -> None:
        self.note(now, Came("ends", self.rules[rule].name))
        super().end_run(reg, now, rule, slot)

    def _power_cut(self, reg: Registers, now: Instant) -> None:
        super()._power_cut(reg, now)
        self.note(now, Came("power returns"))


# ---------------------------------------------------------------- conditions and events


def value_of(system: System, subject: str, bit: int) -> str | Fraction:
    """The value of a subject while its variable has the value of ``bit``."""
    world = system.world
    for door in system.job.doors:
        words = {"raised": "raised", "lowered": "lowered", "moving": "moving", "stopped": "stopped"}
        if subject == door.name:
            return next(w for w in words if world.locate(Is(subject, w))[1] & bit)
        if subject in (door.raised_by, door.lowered_by, door.moving_by):
            off, on = system.job.point[subject].kind.values
            return on if world.locate(Is(subject, on))[1] & bit else off
    if any(subject == room.name for room in system.job.rooms):
        return "peopled" if bit == 2 else "empty"
    value = system.layout.variables[world.of_point[subject]].values[bit.bit_length() - 1]
    assert isinstance(value, str | Fraction)
    return value


def variable_of(system: System, subject: str) -> int:
    """The variable that a subject is read from."""
    world = system.world
    for door in system.job.doors:
        if subject in (door.name, door.raised_by, door.lowered_by, door.moving_by):
            return world.of_door[door.name]
    return world.of_room[subject] if subject in world.of_room else world.of_point[subject]


def atom_holds(atom: Atom, value: str | Fraction) -> bool:
    """Whether an atom is true of a value."""
    if isinstance(atom, Is):
        return value == atom.value
    assert isinstance(value, Fraction)
    compared = {
        "above": value > atom.percent,
        "below": value < atom.percent,
        "at least": value >= atom.percent,
        "at most": value <= atom.percent,
        "equal": value == atom.percent,
    }
    return compared[atom.comparison]


def holds(system: System, values: tuple[int, ...], condition: Condition) -> bool:
    """Whether a condition is true in a settled state."""
    match condition:
        case Is() | Level():
            bit = values[variable_of(system, condition.subject)]
            return atom_holds(condition, value_of(system, condition.subject, bit))
        case Stayed():
            return values[system.timer(condition, True).ran_out] == 2
        case Night():
            assert system.world.night is not None
            return values[system.world.night] == 2
        case Running(rule):
            return any(values[v] != 1 for v in system.slots[system.rule_index[rule]])
        case Not(item):
            return not holds(system, values, item)
        case And(items):
            return all(holds(system, values, item) for item in items)
        case Or(items):
            return any(holds(system, values, item) for item in items)
        case Implies(left, right):
            return not holds(system, values, left) or holds(system, values, right)
        case _:
            raise AssertionError(condition)


def is_one(system: System, note: Note, event: Event) -> bool:
    """Whether what was written down is an occurrence of the event."""
    match event, note:
        case Becomes(atom), Turned(variable, before, after):
            if variable_of(system, atom.subject) != variable:
                return False
            was, is_ = (value_of(system, atom.subject, bit) for bit in (before, after))
            return atom_holds(atom, is_) and not atom_holds(atom, was)
        case Changes(subject), Turned(variable, before, after):
            if variable_of(system, subject) != variable:
                return False
            return value_of(system, subject, before) != value_of(system, subject, after)
        case HasStayed(timer), Turned(variable):
            return system.timer(timer, True).ran_out == variable
        case NightBegins(), Turned(variable, _, after):
            return variable == system.world.night and after == 2
        case DayBegins(), Turned(variable, _, after):
            return variable == system.world.night and after == 1
        case Pressed(button), Came(what, name):
            return (what, name) == ("pressed", button)
        case RuleStarts(rule), Came(what, name):
            return (what, name) == ("starts", rule)
        case RuleEnds(rule), Came(what, name):
            return (what, name) == ("ends", rule)
        case PowerReturns(), Came(what):
            return what == "power returns"
        case _:
            return False


def settled_of(
    system: Recorder, requirement: Requirement, at_s: Fraction, state: Concrete
) -> Settled:
    """A settled instant over C, S, E and, of each rule R, ``R handled``."""
    conditions, events = conditions_and_events_of(requirement.form)
    true = {"C"} if conditions and holds(system, state.values, conditions[0]) else set()
    if requirement.scope is not None and holds(system, state.values, requirement.scope):
        true.add("S")
    notes = system.paper.read(state.values[system.witness.notes])
    count = sum(any(is_one(system, note, event) for event in events) for note in notes)
    handled = state.values[system.witness.handled_rules]
    counts = [("E", count)]
    counts += [(f"{r.name} handled", handled >> k & 1) for k, r in enumerate(system.rules)]
    return Settled(at_s, frozenset(true), tuple(counts))


# ---------------------------------------------------------------- playing


@dataclass(frozen=True, slots=True)
class Played:
    """One way in which a run can have gone: its settled instants, and the state at the end."""

    instants: tuple[Settled, ...]
    state: Concrete
    at_s: Fraction


def played(system: Recorder, requirement: Requirement, run: Run) -> list[Played]:
    """Every way in which a run can have gone, as far as it says."""
    wanted = dict(run.start)
    here: list[Played] = []
    for values, _ in starts(system):
        state = Concrete(values, (Fraction(0),) * len(system.layout.clocks))
        if seen_values(system, state) == wanted:
            first = settled_of(system, requirement, Fraction(0), state)
            here.append(Played((first,), state, Fraction(0)))
    for step in run.steps:
        following: dict[tuple[object, ...], Played] = {}
        for one in here:
            for state in _after(system, one, step.at_s, step.what, step.changes):
                settled = settled_of(system, requirement, step.at_s, state)
                new = Played((*one.instants, settled), state, step.at_s)
                following.setdefault((new.instants, state), new)
        here = list(following.values())
    return here


def _after(
    system: Recorder, one: Played, at_s: Fraction, what: str, changes: tuple[tuple[str, str], ...]
) -> Iterator[Concrete]:
    later = passed(system, one.state, (at_s - one.at_s) / system.unit.size_s)
    if later is None:
        return
    for happening in system.happenings:
        if happening.what == what:
            for result in happen(system, later, happening):
                if changes_between(system, one.state, result.state) == changes:
                    yield result.state


def timeline(one: Played, end_s: Fraction) -> Timeline:
    """The timeline of a run up to a moment."""
    return Timeline(one.instants, end_s)
