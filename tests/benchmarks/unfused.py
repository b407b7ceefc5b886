"""The system of a job step by step: one happening, or one step of handling it, for each transition.

The prover's relation takes a happening and all that it sets off as one step. Here what is left to
do in an instant is part of the state: triggers not handled yet, runs that may go on, places that
have become free, events counted. A step is a happening, the handling of one trigger, a run going on,
a waiting trigger taking its turn, or the settled end at which the requirement looks; each is the
interpreter's own, driven alone over a state of which nothing is known. In between no time passes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from verifier.model.job import Job, Requirement
from verifier.proof.formula import Writer
from verifier.proof.relation import Path, Relation, bad_cubes, path_from
from verifier.proof.spacer import NOW, TransitionSystem, system_of
from verifier.simulate.instant import Turn, take, turns
from verifier.simulate.system import IDLE, Instant, System
from verifier.surroundings.happenings import Happening
from verifier.surroundings.state import EndlessBody, Registers, each_way
from verifier.surroundings.world import FALSE, TRUE

MOST_NODES = 50_000
MOST_WAITING = 20

Trigger = tuple[int, int]
"""(rule, lines that matched)."""


class TooMany(Exception):
    """An instant has no end in sight: what is left to do in it does not fit into a state."""


@dataclass(frozen=True, slots=True)
class Control:
    """The variables that hold what is left to do.

    ``pending`` has of each trigger as many as can be unhandled at once, used from the first on;
    ``woken`` one for each run that can wait for a condition, ``freed`` one for each queue.
    """

    busy: int
    pending: dict[Trigger, tuple[int, ...]]
    woken: tuple[int, ...]
    freed: dict[int, int]
    count: int
    most_count: int

    def flags(self) -> Iterator[int]:
        """All that say that something is left to do."""
        for variables in self.pending.values():
            yield from variables
        yield from self.woken
        yield from self.freed.values()


def unfused(job: Job, requirement: Requirement) -> TransitionSystem:
    """The transition system of a whole job, nothing fused and nothing cut away. Raises: TooMany.

    An endless chain goes round in it without time: no failure, unlike in the prover's relation.
    """
    relation, control = relation_by_steps(job, requirement)
    settled = Writer(relation.system).within(control.busy, FALSE, NOW)
    found = system_of(relation)
    passing, taken = found.transitions
    return replace(found, transitions=(f"(and {settled} {passing})", taken))


def relation_by_steps(job: Job, requirement: Requirement) -> tuple[Relation, Control]:
    """The relation of single steps, and the variables that hold what is left to do. Raises: TooMany."""
    system = System(job, requirement)
    layout = system.layout
    control = _control(system)
    for queue in system.queues:
        for variable in queue:
            # Between two steps a waiting trigger may stand where none does once all is settled.
            layout.variables[variable] = replace(layout.variables[variable], passing=0)
    paths: list[Path] = []
    for number, happening in enumerate(system.happenings):
        paths.extend(_paths(system, number, _happens(system, control, happening)))
    for turn in _all_turns(system, control):
        paths.extend(_paths(system, -1, _turns(system, control, turn)))
    paths.extend(_paths(system, -1, _settles(system, control)))

    def begin(reg: Registers) -> None:
        system.begin(reg)
        for variable in (control.busy, *control.flags()):
            reg.put(variable, FALSE)
        reg.put(control.count, 1)

    def bad(reg: Registers) -> bool:
        return reg.test(control.busy, FALSE) and system.bad(reg)

    starts = tuple(path_from(system, -1, reg, False) for reg, _ in each_way(system.fresh(), begin))
    return Relation(system, starts, tuple(paths), bad_cubes(system, bad)), control


def _control(system: System) -> Control:
    layout = system.layout
    most = _most_pending(system)

    def flag(name: str) -> int:
        return layout.add(f"instant: {name}", (0, 1))

    cap = 1 if system.monitor is None else system.monitor.count_cap
    names = [rule.name for rule in system.rules]
    return Control(
        flag("something is left to do"),
        {
            (rule, kind): tuple(
                flag(f"trigger {kind} of {names[rule]}, {n + 1}") for n in range(count)
            )
            for (rule, kind), count in sorted(most.items())
        },
        tuple(
            flag(f"run {slot + 1} of {names[rule]} may go on") for rule, slot in system.candidates
        ),
        {
            r: flag(f"a place of {names[r]} is free")
            for r, queue in enumerate(system.queues)
            if queue
        },
        layout.add("instant: occurrences", tuple(range(cap + 1))),
        cap,
    )


def _most_pending(system: System) -> Counter[Trigger]:
    """How many triggers of each kind can be unhandled at once, in any instant from any state."""
    most: Counter[Trigger] = Counter()
    for happening in system.happenings:

        def begin(reg: Registers, now: Instant, happening: Happening = happening) -> None:
            system.happen(reg, now, happening)

        todo = list(_each(system.fresh(), Instant(), begin))
        seen: set[tuple[object, ...]] = set()
        while todo:
            reg, now = todo.pop()
            key = (*reg.key(), *now.key()[:3])
            if key in seen:
                continue
            seen.add(key)
            if len(seen) > MOST_NODES or len(now.pending) > MOST_WAITING:
                raise TooMany
            most |= Counter(now.pending)
            for turn in turns(system, now):

                def act(r: Registers, i: Instant, turn: Turn = turn) -> None:
                    take(system, r, i, turn)

                todo.extend(_each(reg, now, act))
    return most


def _each(
    registers: Registers, now: Instant, act: Callable[[Registers, Instant], None]
) -> Iterator[tuple[Registers, Instant]]:
    """Every way of doing ``act`` that comes to an end."""

    def run(reg: Registers) -> Instant | None:
        then = now.copy()
        try:
            act(reg, then)
        except EndlessBody:
            return None
        return then

    for reg, then in each_way(registers, run):
        if then is not None:
            yield reg, then


# ---------------------------------------------------------------- single steps


def _paths(system: System, number: int, act: Callable[[Registers], None]) -> Iterator[Path]:
    def run(reg: Registers) -> bool:
        try:
            act(reg)
        except EndlessBody:
            return True
        return False

    for reg, endless in each_way(system.fresh(), run):
        yield path_from(system, number, reg, endless)


def _happens(system: System, control: Control, happening: Happening) -> Callable[[Registers], None]:
    def act(reg: Registers) -> None:
        reg.require(reg.test(control.busy, FALSE))
        now = Instant()
        system.happen(reg, now, happening)
        reg.put(control.busy, TRUE)
        _keep(reg, control, now)

    return act


def _all_turns(system: System, control: Control) -> Iterator[Turn]:
    for rule, kind in control.pending:
        yield Turn("trigger", rule, kind)
    for number, (rule, _) in enumerate(system.candidates):
        yield Turn("resume", rule, number)
    for rule in control.freed:
        yield Turn("queue", rule, rule)


def _turns(system: System, control: Control, turn: Turn) -> Callable[[Registers], None]:
    def act(reg: Registers) -> None:
        now = Instant()
        if turn.kind == "trigger":
            now.pending.append((turn.rule, turn.detail))
            queue = system.queues[turn.rule]
            if queue:
                # With the last place taken no run is left: there are never more than that.
                idle = system.slots[turn.rule][0]
                reg.require(reg.test(queue[-1], 1) or reg.test(idle, IDLE))
            last = _last(reg, control.pending[turn.rule, turn.detail])
        elif turn.kind == "resume":
            now.woken = 1 << turn.detail
            last = control.woken[turn.detail]
        else:
            now.freed = 1 << turn.rule
            last = control.freed[turn.rule]
        reg.require(reg.test(last, TRUE))
        # What remains of it, or comes anew, is put back by _keep.
        reg.put(last, FALSE)
        take(system, reg, now, turn)
        _keep(reg, control, now)

    return act


def _settles(system: System, control: Control) -> Callable[[Registers], None]:
    def act(reg: Registers) -> None:
        reg.require(reg.test(control.busy, TRUE))
        for variable in control.flags():
            reg.require(reg.test(variable, FALSE))
        now = Instant()
        now.count = _counted(reg, control)
        system.settled(reg, now)
        reg.put(control.busy, FALSE)
        reg.put(control.count, 1)

    return act


def _last(reg: Registers, variables: tuple[int, ...]) -> int:
    """The last that is used of the variables of one trigger; the first if none is."""
    return next((v for v in reversed(variables[1:]) if reg.test(v, TRUE)), variables[0])


def _counted(reg: Registers, control: Control) -> int:
    number = 0
    while not reg.test(control.count, 1 << number):
        number += 1
    return number


def _keep(reg: Registers, control: Control, now: Instant) -> None:
    """Puts what an instant has left to do to what was left already."""
    for trigger in now.pending:
        free = next((v for v in control.pending[trigger] if reg.test(v, FALSE)), None)
        reg.require(free is not None)
        assert free is not None
        reg.put(free, TRUE)
    for number, variable in enumerate(control.woken):
        if now.woken >> number & 1:
            reg.put(variable, TRUE)
    for rule, variable in control.freed.items():
        if now.freed >> rule & 1:
            reg.put(variable, TRUE)
    if now.count:
        total = min(_counted(reg, control) + now.count, control.most_count)
        reg.put(control.count, 1 << total)
