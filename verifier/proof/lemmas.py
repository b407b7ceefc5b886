"""Candidate lemmas from templates: what is likely to be true of every state that runs come to.

Each template is a guess, and none is believed: :mod:`verifier.proof.mining` keeps those that
are inductive together, and the certificate is checked like any other. Thresholds are the jobs'
own: its waits, the sums of waits along a body, the bounds of the surroundings.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from verifier.model.job import read_by_rule
from verifier.proof.formula import (
    YES,
    Compare,
    Formula,
    No,
    any_of,
    of_condition,
    of_cube,
    within,
)
from verifier.proof.relation import Relation
from verifier.simulate.program import (
    CancelRule,
    Finish,
    Jump,
    JumpUnless,
    Rest,
    RestUntil,
    SetPoint,
)
from verifier.simulate.system import IDLE, System
from verifier.surroundings.world import FALSE, TRUE

Literal = tuple[int, int]
"""``(variable, mask)``."""


def candidates(relation: Relation) -> list[Formula]:
    """Candidate lemmas of a system, without repetition, strongest kinds first."""
    maker = _Candidates(relation)
    seen: dict[Formula, None] = {}
    for formula in maker.all():
        if formula != YES:
            seen.setdefault(formula)
    return list(seen)


def wanted(relation: Relation) -> list[Formula]:
    """What lemmas have to imply: nothing fails, and no endless chain begins."""
    cubes = [*relation.bad, *(path.before for path in relation.paths if path.endless)]
    return [any_of([No(of_cube(cube))]) for cube in cubes]


def bound_lemmas(system: System) -> list[Formula]:
    """That no clock passes its bound: inductive by themselves, and needed for `alive`."""
    layout = system.layout
    return [
        any_of(
            [
                *(within(layout, v, layout.variables[v].every & ~m) for v, m in bound.when),
                Compare(bound.clock + 1, 0, 2 * bound.limit + 1),
            ]
        )
        for bound in layout.bounds
    ]


class _Candidates:
    def __init__(self, relation: Relation) -> None:
        self.relation = relation
        self.system = relation.system
        self.layout = relation.system.layout
        self.flows = [_Flow(self.system, rule) for rule in range(len(self.system.rules))]

    def all(self) -> Iterator[Formula]:
        yield from wanted(self.relation)
        yield from bound_lemmas(self.system)
        yield from self.timers()
        yield from self.people()
        yield from self.waits()
        yield from self.slots()
        yield from self.outputs()
        yield from self.places_and_inputs()
        yield from self.monitor()
        yield from self.clocks()

    # ------------------------------------------------------------ building blocks

    def lit(self, literal: Literal) -> Formula:
        return within(self.layout, *literal)

    def neg(self, literal: Literal) -> Formula:
        variable, mask = literal
        return within(self.layout, variable, self.layout.variables[variable].every & ~mask)

    def implies(self, left: list[Literal], right: list[Formula]) -> Formula:
        return any_of([*(self.neg(literal) for literal in left), *right])

    def values(self, variable: int) -> list[Literal]:
        every = self.layout.variables[variable].every
        found = []
        for i in range(every.bit_length()):
            if every >> i & 1:
                found.append((variable, 1 << i))
        return found

    def places(self, rule: int) -> Iterator[tuple[int, int, Literal]]:
        """(slot, place, literal) of each rest of each run."""
        system = self.system
        for slot, variable in enumerate(system.slots[rule]):
            for place in system.codes[rule].places:
                yield slot, place.number, (variable, system.at(place.number))

    def running(self, rule: int) -> list[Formula]:
        return [self.neg((slot, IDLE)) for slot in self.system.slots[rule]]

    # ------------------------------------------------------------ templates

    def timers(self) -> Iterator[Formula]:
        for timer in self.system.timers:
            ran_out = (timer.ran_out, TRUE)
            yield self.implies([ran_out], [self.lit((timer.variable, timer.mask))])
            yield self.implies([ran_out], [Compare(0, timer.clock + 1, 1 - 2 * timer.limit)])
            if timer.parted is not None:
                yield self.implies([(timer.parted, TRUE)], [self.lit((timer.variable, timer.mask))])
            if timer.twin is not None and timer.parted is not None and timer.of_truth:
                twin = self.system.timers[timer.twin]
                together = [(timer.parted, FALSE), (timer.variable, timer.mask)]
                yield self.implies([*together, ran_out], [self.lit((twin.ran_out, TRUE))])
                yield self.implies([*together, (twin.ran_out, TRUE)], [self.lit(ran_out)])
                yield self.implies(together, [Compare(timer.clock + 1, twin.clock + 1, 1)])
                yield self.implies(together, [Compare(twin.clock + 1, timer.clock + 1, 1)])

    def people(self) -> Iterator[Formula]:
        world = self.system.world
        for (room, detector), awaiting in world.awaiting.items():
            yield self.implies([(awaiting, TRUE)], [self.lit((world.of_room[room], TRUE))])
            yield self.implies([(awaiting, TRUE)], [self.lit((world.of_point[detector], FALSE))])
        for cube in self.system.without:
            yield any_of(self.neg(literal) for literal in cube)
        for condition in world.always:
            yield of_condition(self.system, condition, True)

    def waits(self) -> Iterator[Formula]:
        system = self.system
        for rule, code in enumerate(system.codes):
            for _, number, literal in self.places(rule):
                until = code.places[number].until
                if until is not None and not code.asks_timed_out:
                    yield self.implies([literal], [No(of_condition(system, until, False))])
            for slot, timed_out in enumerate(system.out[rule]):
                if timed_out is not None:
                    yield self.implies(
                        [(timed_out, TRUE)], [self.neg((system.slots[rule][slot], IDLE))]
                    )

    def slots(self) -> Iterator[Formula]:
        system = self.system
        for rule, slots in enumerate(system.slots):
            queue = system.queues[rule]
            for first, second in pairwise(queue):
                yield self.implies([(first, 1)], [self.lit((second, 1))])
            if queue:
                for slot in slots:
                    yield self.implies([(slot, IDLE)], [self.lit((queue[0], 1))])
                    yield self.implies([(slot, IDLE)], [self.lit((queue[-1], 1))])
            clocks = system.slot_clocks[rule]
            for k, (one, two) in enumerate(pairwise(slots)):
                yield self.implies([(one, IDLE)], [self.lit((two, IDLE))])
                for place in system.codes[rule].places:
                    at = system.at(place.number)
                    yield self.implies(
                        [(one, at), (two, at)], [Compare(clocks[k + 1] + 1, clocks[k] + 1, 1)]
                    )

    def outputs(self) -> Iterator[Formula]:
        system = self.system
        for point in system.job.points:
            if point.kind.is_input or point.name not in system.world.of_point:
                continue
            variable = system.world.of_point[point.name]
            writers = [r for r, flow in enumerate(self.flows) if variable in flow.written]
            for literal in self.values(variable):
                everybody: list[Formula] = []
                those: list[Formula] = []
                for rule in writers:
                    mine: list[Formula] = []
                    for _, number, place in self.places(rule):
                        left = self.flows[rule].left_at(number, variable)
                        if left == {literal[1]}:
                            yield self.implies([place], [self.lit(literal)])
                        if literal[1] in left or None in left:
                            mine.append(self.lit(place))
                    everybody.extend(self.running(rule))
                    those.extend(mine)
                    if len(writers) > 1:
                        yield self.implies([literal], mine)
                yield self.implies([literal], those)
                yield self.implies([literal], everybody)
                yield self.lit(literal)
                for one in self.neighbours(writers):
                    if one[0] != variable:
                        yield self.implies([literal], [self.lit(one)])
                        yield self.implies([one], [self.lit(literal)])
                        yield self.implies([literal, one], those)

    def neighbours(self, rules: list[int]) -> Iterator[Literal]:
        """Values of the inputs and flags that the rules read, if they are few."""
        read: dict[int, None] = {}
        for rule in rules:
            conditions, _ = read_by_rule(self.system.rules[rule])
            for condition in conditions:
                for variable in self.system.read(condition, False):
                    read.setdefault(variable)
        if len(read) <= 12:
            for variable in read:
                yield from self.values(variable)

    def places_and_inputs(self) -> Iterator[Formula]:
        for rule in range(len(self.system.rules)):
            near = dict.fromkeys(self.neighbours([rule]))
            for event_variable in self._triggering(rule):
                for literal in self.values(event_variable):
                    near.setdefault(literal)
            for _, _, place in self.places(rule):
                for literal in near:
                    if literal[0] != place[0]:
                        yield self.implies([place], [self.lit(literal)])
                        yield self.implies([place], [self.neg(literal)])

    def _triggering(self, rule: int) -> Iterator[int]:
        for variable, hearings in enumerate(self.system.hearings):
            if any(line[0] == rule for hearing in hearings for line in hearing.lines):
                yield variable

    def monitor(self) -> Iterator[Formula]:
        system = self.system
        if system.monitor is None:
            return
        reads: dict[int, None] = {}
        if system.monitor.condition is not None:
            for variable in system.read(system.monitor.condition, True):
                reads.setdefault(variable)
        if system.monitor.scope is not None:
            for variable in system.read(system.monitor.scope, True):
                reads.setdefault(variable)
        writers = [r for r, flow in enumerate(self.flows) if flow.written & set(reads)]
        everywhere = [self.lit(place) for r in writers for _, _, place in self.places(r)]
        named = [v for v in range(len(self.layout.variables)) if self._is_claim(v)]
        c = (
            [of_condition(system, system.monitor.condition, True)]
            if system.monitor.condition is not None
            else []
        )
        for claim in named:
            for literal in self.values(claim):
                yield self.lit(literal)
                yield self.implies([literal], everywhere)
                if c:
                    yield self.implies([literal], c)
                    yield self.implies([literal], [No(c[0])])
                    yield self.implies([literal], [*everywhere, *c])
                    yield self.implies([literal], [*everywhere, No(c[0])])
                for variable in reads:
                    for value in self.values(variable):
                        yield self.implies([literal], [self.lit(value)])
                for rule in writers:
                    for _, _, place in self.places(rule):
                        yield self.implies([place], [self.lit(literal)])
                        yield self.implies([literal, place], c)
                for other in named:
                    if other != claim:
                        for value in self.values(other):
                            yield self.implies([literal], [self.lit(value)])

    def _is_claim(self, variable: int) -> bool:
        return self.layout.variables[variable].name.startswith("claim: ")

    def clocks(self) -> Iterator[Formula]:
        layout, system = self.layout, self.system
        claims = [
            (clock, when)
            for clock, uses in enumerate(layout.uses)
            if layout.clocks[clock].startswith("claim: ")
            for when in uses
        ]
        for rule, code in enumerate(system.codes):
            flow = self.flows[rule]
            for slot, number, place in self.places(rule):
                if code.places[number].for_s is None:
                    continue
                own = system.slot_clocks[rule][slot] + 1
                sums = sorted({0, *flow.sums(number)})
                for claim, when in claims:
                    for context in ([place], [place, *when]):
                        for total in sums:
                            bound = 2 * total + 1
                            yield self.implies(context, [Compare(claim + 1, own, bound)])
                            yield self.implies(context, [Compare(own, claim + 1, -2 * total + 1)])
                for variable in self._triggering(rule):
                    for _, clock in system.world.restarted.get(variable, ()):
                        for literal in self.values(variable):
                            for total in sums[:2]:
                                context = [place, literal]
                                yield self.implies(
                                    context, [Compare(clock + 1, own, 2 * total + 1)]
                                )
                                yield self.implies(
                                    context, [Compare(own, clock + 1, -2 * total + 1)]
                                )
        yield from self._claims_and_world(claims)

    def _claims_and_world(self, claims: list[tuple[int, tuple[Literal, ...]]]) -> Iterator[Formula]:
        layout = self.layout
        others = [
            (clock, when)
            for clock, uses in enumerate(layout.uses)
            if not layout.clocks[clock].startswith(("claim: ", "wait of "))
            for when in uses
        ]
        for claim, when in claims:
            for clock, active in others[:24]:
                context = [*when, *active]
                yield self.implies(context, [Compare(claim + 1, clock + 1, 1)])
                yield self.implies(context, [Compare(clock + 1, claim + 1, 1)])
                yield self.implies(list(active), [Compare(claim + 1, clock + 1, 1)])
                yield self.implies(list(active), [Compare(clock + 1, claim + 1, 1)])


class _Flow:
    """What a rule's body has written, and how long it has waited, by the time it rests at a place."""

    def __init__(self, system: System, rule: int) -> None:
        self.system = system
        self.code = system.codes[rule]
        self.written: set[int] = set()
        self._left: dict[int, dict[int, set[int | None]]] = {}
        self._sums: dict[int, set[int]] = {p.number: set() for p in self.code.places}
        for instruction in self.code.instructions:
            if isinstance(instruction, SetPoint):
                self.written.add(system.world.of_point[instruction.point])
        self._walk()

    def left_at(self, place: int, variable: int) -> set[int | None]:
        """Bits that the run may have left in the variable at the place; None: not written by it."""
        return self._left.get(place, {}).get(variable, {None})

    def sums(self, place: int) -> set[int]:
        """Sums of waits on the way from the start of the run to the place (each wait in full)."""
        return self._sums.get(place, set())

    def _walk(self) -> None:
        todo: list[tuple[int, dict[int, int], int]] = [(0, {}, 0)]
        seen: set[tuple[int, tuple[tuple[int, int], ...], int]] = set()
        while todo and len(seen) < 2000:
            pc, written, total = todo.pop()
            key = (pc, tuple(sorted(written.items())), total)
            if key in seen:
                continue
            seen.add(key)
            match self.code.instructions[pc]:
                case SetPoint(point, value):
                    variable = self.system.world.of_point[point]
                    bit = self.system.layout.variables[variable].bit(value)
                    todo.append((pc + 1, {**written, variable: bit}, total))
                case Rest(place) | RestUntil(place):
                    self._rest(place, written, total)
                    declared = self.code.places[place]
                    waited = self.system.unit(declared.for_s) if declared.for_s is not None else 0
                    todo.append((declared.next, written, min(total + waited, 1 << 40)))
                    if declared.until is not None:
                        todo.append((declared.next, written, total))
                case JumpUnless(_, target):
                    todo.append((pc + 1, written, total))
                    todo.append((target, written, total))
                case Jump(target):
                    todo.append((target, written, total))
                case CancelRule():
                    todo.append((pc + 1, written, total))
                case Finish():
                    pass

    def _rest(self, place: int, written: dict[int, int], total: int) -> None:
        sums = self._sums[place]
        if len(sums) < 6:
            sums.add(total)
        left = self._left.setdefault(place, {})
        for variable in self.written:
            left.setdefault(variable, set()).add(written.get(variable))
