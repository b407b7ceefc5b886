"""A requirement as a model that goes in ticks: what a checker of bits or of explicit states is asked.

Made from the prover's own relation, path by path (:func:`tick_model`), so that the question is the
same to the letter. A tick is half a unit of the job's time: a clock's count is its *position*
(``verifier.surroundings.state``), and "just after k" is the tick after it. Time passes by a tick
of its own; what falls due then is a step that takes no time. (With both in one step, a claim that is
too sharp by a second comes out as proved.)

A clock stops counting where nothing is compared with more, and stands at zero while nothing reads
it: without these two there would be states that differ in nothing.

:func:`aiger` writes it as gates and latches (A. Biere, "The AIGER And-Inverter Graph (AIG) Format
Version 20071012": the binary form).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from verifier.graph.slice import slice_job
from verifier.model.job import Job, LeadsTo, MeasureLongest, Possible, Requirement
from verifier.proof.formula import Writer
from verifier.proof.relation import Cube, Path, relation_of
from verifier.simulate.system import System
from verifier.surroundings.state import FOREVER, Bound


class NotInTicks(Exception):
    """The requirement is not a claim about single states, or its clocks do not fit; ``args[0]`` says."""


@dataclass(frozen=True, slots=True)
class TickModel:
    """A model in ticks.

    ``domains``: how many values each variable has; ``tops``: where each clock stops counting, 0
    of one that nothing reads. A run begins with one of ``starts``; then either one of ``paths``
    is taken, or a tick passes where no bound forbids it. ``uses``: while one of them holds, the
    clock is read.
    """

    domains: tuple[int, ...]
    tops: tuple[int, ...]
    starts: tuple[Path, ...]
    paths: tuple[Path, ...]
    bad: tuple[Cube, ...]
    bounds: tuple[Bound, ...]
    uses: tuple[tuple[tuple[tuple[int, int], ...], ...], ...]


def tick_model(job: Job, requirement: Requirement) -> TickModel:
    """The model of a requirement on its slice. Raises: NotInTicks.

    An endless chain is left out: nothing fails in it, and time does not go on.
    """
    if isinstance(requirement.form, LeadsTo | MeasureLongest | Possible):
        raise NotInTicks(type(requirement.form).__name__)
    relation = relation_of(System(slice_job(job, requirement), requirement))
    layout = relation.system.layout
    paths = tuple(path for path in relation.paths if not path.endless)
    used = set(Writer(relation.system).clocks)
    tops = [0] * len(layout.clocks)
    for cube in (*(path.before for path in paths), *relation.bad):
        for clock, low, high in cube.clocks:
            tops[clock] = max(tops[clock], low, high + 1 if high < FOREVER else 0)
    for bound in layout.bounds:
        tops[bound.clock] = max(tops[bound.clock], 2 * bound.limit)
    for path in paths:
        for clock, source in path.clocks:
            if source >= 0 and tops[source] < tops[clock]:
                raise NotInTicks("a clock takes the time of one that stops counting sooner")
    return TickModel(
        tuple(len(variable.values) for variable in layout.variables),
        tuple(top if clock in used else 0 for clock, top in enumerate(tops)),
        relation.starts,
        paths,
        relation.bad,
        tuple(layout.bounds),
        tuple(tuple(uses) for uses in layout.uses),
    )


# ---------------------------------------------------------------- gates


NO, YES = 0, 1
"""The two constants, as literals of AIGER: an even number is a gate, the odd one after it its negation."""


class Gates:
    """And-gates over inputs and latches, each made once."""

    def __init__(self, inputs: int, latches: int) -> None:
        self.inputs = [2 * (n + 1) for n in range(inputs)]
        self.latches = [2 * (inputs + n + 1) for n in range(latches)]
        self.gates: list[tuple[int, int]] = []
        self._made: dict[tuple[int, int], int] = {}

    def both(self, a: int, b: int) -> int:
        """``a`` and ``b``."""
        if a < b:
            a, b = b, a
        if b == NO or a == b ^ 1:
            return NO
        if b == YES or a == b:
            return a
        found = self._made.get((a, b))
        if found is None:
            found = 2 * (len(self.inputs) + len(self.latches) + len(self.gates) + 1)
            self.gates.append((a, b))
            self._made[a, b] = found
        return found

    def all(self, items: Sequence[int]) -> int:
        """All of them, as a balanced tree."""
        if not items:
            return YES
        if len(items) == 1:
            return items[0]
        half = len(items) // 2
        return self.both(self.all(items[:half]), self.all(items[half:]))

    def any(self, items: Sequence[int]) -> int:
        """Any of them."""
        return self.all([item ^ 1 for item in items]) ^ 1

    def choose(self, which: int, then: int, otherwise: int) -> int:
        """``then`` where ``which``, else ``otherwise``."""
        return self.any([self.both(which, then), self.both(which ^ 1, otherwise)])

    def equals(self, bits: Sequence[int], value: int) -> int:
        """Whether bits, the lowest first, are a number."""
        return self.all([bit if value >> i & 1 else bit ^ 1 for i, bit in enumerate(bits)])

    def at_least(self, bits: Sequence[int], value: int) -> int:
        """Whether bits are a number or more."""
        if value <= 0:
            return YES
        if value >> len(bits):
            return NO
        found = YES
        for i, bit in enumerate(bits):
            found = self.both(bit, found) if value >> i & 1 else self.any([bit, found])
        return found

    def plus_one(self, bits: Sequence[int]) -> list[int]:
        """The number that bits are, and one."""
        found, carry = [], YES
        for bit in bits:
            found.append(self.any([self.both(bit, carry ^ 1), self.both(bit ^ 1, carry)]))
            carry = self.both(bit, carry)
        return found


def width(values: int) -> int:
    """How many bits it takes to tell so many values apart."""
    return (values - 1).bit_length()


class _Circuit:
    """The latches of a model and what they become."""

    def __init__(self, model: TickModel) -> None:
        self.model = model
        choices = width(max(len(model.starts), len(model.paths) + 1))
        values = [width(count) for count in model.domains]
        counts = [top.bit_length() for top in model.tops]
        self.gates = Gates(choices + sum(values), 1 + sum(values) + sum(counts))
        inputs, latches = iter(self.gates.inputs), iter(self.gates.latches)
        self.choice = [next(inputs) for _ in range(choices)]
        self.first = [[next(inputs) for _ in range(bits)] for bits in values]
        self.running = next(latches)
        self.value = [[next(latches) for _ in range(bits)] for bits in values]
        self.clock = [[next(latches) for _ in range(bits)] for bits in counts]

    def within(self, of: list[list[int]], variable: int, mask: int) -> int:
        """Whether a variable's value is one of a mask."""
        count = self.model.domains[variable]
        inside = [i for i in range(count) if mask >> i & 1]
        if len(inside) == count and of is self.value:
            return YES
        return self.gates.any([self.gates.equals(of[variable], i) for i in inside])

    def cube(self, of: list[list[int]], cube: Cube) -> int:
        """Whether the facts of a cube hold."""
        items = [self.within(of, variable, mask) for variable, mask in cube.values]
        for clock, low, high in cube.clocks:
            items.append(self.gates.at_least(self.clock[clock], low))
            if high < FOREVER:
                items.append(self.gates.at_least(self.clock[clock], high + 1) ^ 1)
        return self.gates.all(items)

    def tick(self) -> int:
        """Whether a tick may pass."""
        late = []
        for bound in self.model.bounds:
            when = [self.within(self.value, variable, mask) for variable, mask in bound.when]
            late.append(
                self.gates.all(
                    [*when, self.gates.at_least(self.clock[bound.clock], 2 * bound.limit)]
                )
            )
        return self.gates.any(late) ^ 1

    def is_read(self, clock: int) -> int:
        """Whether anything will be compared with the clock before it is set again."""
        return self.gates.any(
            [
                self.gates.all([self.within(self.value, variable, mask) for variable, mask in use])
                for use in self.model.uses[clock]
            ]
        )

    def successors(self) -> list[int]:
        """What each latch becomes."""
        model, gates = self.model, self.gates
        valid = [
            self.within(self.first, variable, (1 << count) - 1)
            for variable, count in enumerate(model.domains)
        ]
        begins = [
            gates.all(
                [
                    self.running ^ 1,
                    *valid,
                    gates.equals(self.choice, k),
                    self.cube(self.first, path.before),
                ]
            )
            for k, path in enumerate(model.starts)
        ]
        takes = [
            gates.all(
                [self.running, gates.equals(self.choice, k), self.cube(self.value, path.before)]
            )
            for k, path in enumerate(model.paths)
        ]
        ticks = gates.all([self.running, gates.equals(self.choice, len(model.paths)), self.tick()])
        found = [gates.any([self.running, *begins])]
        for variable, bits in enumerate(self.value):
            written: list[tuple[int, list[int]]] = []
            for taken, path, of in (
                *((b, p, self.first) for b, p in zip(begins, model.starts, strict=True)),
                *((t, p, self.value) for t, p in zip(takes, model.paths, strict=True)),
            ):
                put = next((item for item in path.values if item[0] == variable), None)
                if put is None and of is self.value:
                    continue
                _, source, bit = put or (variable, variable, 0)
                value = bit.bit_length() - 1
                constant = [value >> i & 1 for i in range(len(bits))]
                written.append((taken, constant if source < 0 else of[source]))
            stays = gates.any([taken for taken, _ in written]) ^ 1
            for i, bit in enumerate(bits):
                put_bits = [
                    gates.both(taken, new[i] if i < len(new) else NO) for taken, new in written
                ]
                found.append(gates.any([gates.both(stays, bit), *put_bits]))
        for clock, bits in enumerate(self.clock):
            found.extend(self._clock_becomes(clock, bits, takes, ticks))
        return found

    def _clock_becomes(
        self, clock: int, bits: list[int], takes: list[int], ticks: int
    ) -> Iterator[int]:
        model, gates = self.model, self.gates
        top = model.tops[clock]
        set_to: list[tuple[int, list[int]]] = []
        for taken, path in zip(takes, model.paths, strict=True):
            source = next((s for c, s in path.clocks if c == clock), clock)
            if source != clock:
                set_to.append((taken, [] if source < 0 else self.clock[source]))
        counted = gates.plus_one(bits)
        full = gates.equals(bits, top)
        read = self.is_read(clock)
        stays = gates.any([ticks, *(taken for taken, _ in set_to)]) ^ 1
        over = [gates.both(t, gates.at_least(new, top)) for t, new in set_to]
        for i, bit in enumerate(bits):
            later = gates.both(read, gates.choose(full, bit, counted[i]))
            items = [gates.both(stays, bit), gates.both(ticks, later)]
            for (taken, new), beyond in zip(set_to, over, strict=True):
                copied = new[i] if i < len(new) else NO
                items.append(
                    gates.both(taken, gates.choose(beyond, YES if top >> i & 1 else NO, copied))
                )
            yield gates.any(items)


def aiger(model: TickModel) -> bytes:
    """The model in the binary form of AIGER: its one output says that the claim fails.

    All latches begin at 0; the first says that the run has begun. An input that chooses what
    cannot be done changes nothing.
    """
    circuit = _Circuit(model)
    gates = circuit.gates
    successors = circuit.successors()
    failing = [circuit.cube(circuit.value, cube) for cube in model.bad]
    output = gates.both(circuit.running, gates.any(failing))
    made = len(gates.gates)
    total = len(gates.inputs) + len(gates.latches) + made
    lines = [f"aig {total} {len(gates.inputs)} {len(gates.latches)} 1 {made}"]
    lines += [str(literal) for literal in (*successors, output)]
    parts = [("\n".join(lines) + "\n").encode("ascii")]
    first = 2 * (total - made + 1)
    for n, (a, b) in enumerate(gates.gates):
        here = first + 2 * n
        parts += [_number(here - a), _number(a - b)]
    return b"".join(parts)


def _number(value: int) -> bytes:
    """A number as AIGER writes it: seven bits a byte, the lowest first."""
    found = bytearray()
    while value > 127:
        found.append(value & 127 | 128)
        value >>= 7
    found.append(value)
    return bytes(found)
