"""Whole instants: a happening with all that it sets off, in every possible order.

:func:`outcomes` explores the small steps of one instant as a graph: nodes are what is known of
the state and what is left to do, edges are one trigger, one resumption or one waiting trigger
taking its turn. Every path to a settled node is an outcome. A node that knows what an earlier
one on its path knows, with as much left to do or more, goes round: an endless chain.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from verifier.simulate.system import Instant, System
from verifier.source import Span
from verifier.surroundings.happenings import Happening
from verifier.surroundings.state import EndlessBody, Registers, each_way

Commute = Callable[[int, int], bool]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One way in which an instant can end: what is known before (facts) and the state after.

    ``endless``: it never ends; the state is then the one to which the chain comes back.
    """

    registers: Registers
    because: tuple[Span, ...]
    endless: bool


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing that can take its turn: kind ``trigger``, ``resume`` or ``queue``."""

    kind: str
    rule: int
    detail: int


def turns(system: System, now: Instant) -> list[Turn]:
    """Everything that may take its turn, in declared order; some of it may turn out not to be able."""
    if not now.awake:
        return []
    found = [Turn("trigger", rule, kind) for rule, kind in sorted(set(now.pending))]
    woken = now.woken
    while woken:
        low = woken & -woken
        candidate = low.bit_length() - 1
        found.append(Turn("resume", system.candidates[candidate][0], candidate))
        woken ^= low
    freed = now.freed
    while freed:
        low = freed & -freed
        rule = low.bit_length() - 1
        if system.queues[rule]:
            found.append(Turn("queue", rule, rule))
        freed ^= low
    return found


def take(system: System, reg: Registers, now: Instant, turn: Turn) -> bool:
    """Takes a turn; False, with nothing done, if it cannot be taken."""
    if turn.kind == "trigger":
        now.pending.remove((turn.rule, turn.detail))
        system.handle_trigger(reg, now, turn.rule, turn.detail)
        return True
    if turn.kind == "resume":
        place = system.can_resume(reg, turn.detail)
        if place is None:
            now.woken &= ~(1 << turn.detail)
            return False
        system.resume(reg, now, turn.detail, place)
        return True
    if not system.can_take_turn(reg, turn.rule):
        now.freed &= ~(1 << turn.rule)
        return False
    system.take_turn(reg, now, turn.rule)
    return True


Node = tuple[Registers, Instant]
Steps = list[tuple[Registers, Instant, bool]]


def _each(registers: Registers, now: Instant, act: Callable[[Registers, Instant], object]) -> Steps:
    """Every way of doing ``act``: (registers, instant, whether it never ends)."""

    def run(reg: Registers) -> tuple[Instant, bool]:
        then = now.copy()
        try:
            act(reg, then)
        except EndlessBody:
            return then, True
        return then, False

    return [(reg, then, endless) for reg, (then, endless) in each_way(registers, run)]


def outcomes(
    system: System,
    registers: Registers,
    happening: Happening,
    commute: Commute | None = None,
) -> list[Outcome]:
    """Every way in which the instant that ``happening`` begins can end.

    ``commute`` (rule, rule) allows to try one order only where two handlers do not touch each
    other; None tries all orders.
    """

    def begin(reg: Registers, now: Instant) -> None:
        system.happen(reg, now, happening)

    return settle_all(system, _each(registers, Instant(system.reaction is None), begin), commute)


def settle_all(system: System, first: Steps, commute: Commute | None) -> list[Outcome]:
    """Every settled end that can be reached from the given small steps."""
    found: list[Outcome] = []
    done: set[tuple[object, ...]] = set()
    on_path: dict[tuple[object, ...], list[Instant]] = {}
    ends: set[tuple[object, ...]] = set()
    # Depth first with an explicit stack: entries are (registers, instant, endless, leaving key).
    stack: list[tuple[Registers, Instant, bool, tuple[object, ...] | None]] = [
        (reg, now, endless, None) for reg, now, endless in reversed(first)
    ]
    while stack:
        reg, now, endless, leaving = stack.pop()
        if leaving is not None:
            on_path[leaving].pop()
            continue
        if endless:
            found.append(Outcome(reg, tuple(now.log), True))
            continue
        waiting = turns(system, now)
        if not waiting:
            for end, then, _ in _each(reg, now, system.settled):
                key = end.key()
                if key not in ends:
                    ends.add(key)
                    found.append(Outcome(end, tuple(then.log), False))
            continue
        known = reg.key()
        if any(now.covers(earlier) for earlier in on_path.get(known, ())):
            found.append(Outcome(reg, tuple(now.log), True))
            continue
        key = (*known, *now.key())
        if key in done:
            continue
        done.add(key)
        on_path.setdefault(known, []).append(now)
        stack.append((reg, now, False, known))
        for step in reversed(_steps(system, reg, now, waiting, commute)):
            stack.append((*step, None))
    return found


def _steps(
    system: System, reg: Registers, now: Instant, waiting: list[Turn], commute: Commute | None
) -> Steps:
    """The small steps from a node: each turn, or the one turn that commutes with all others."""
    chosen = waiting
    if commute is not None and len(waiting) > 1:
        for turn in waiting:
            if all(other is turn or commute(turn.rule, other.rule) for other in waiting):
                chosen = [turn]
                break
    steps: Steps = []
    for turn in chosen:
        taken: list[bool] = []

        def act(r: Registers, i: Instant, turn: Turn = turn, taken: list[bool] = taken) -> None:
            taken.append(take(system, r, i, turn))

        steps.extend(_each(reg, now, act))
    return steps


def beginnings(system: System) -> list[Registers]:
    """The states in which a run can begin: facts say which, values how the rest is set."""
    return [reg for reg, _ in each_way(system.fresh(), system.begin)]
