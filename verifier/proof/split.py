"""A hard slice taken apart: a proof for each rule that can break the requirement, and their sum.

Where many rules work on one lamp the states multiply, and almost all of it is beside the point:
what a rule's own wait says of the requirement's clock hangs on that rule alone. So each rule is
looked at with the requirement's variables and clocks and little else (a *part*, see
:mod:`verifier.proof.parts`); the other rules are there as what they may do to these.

Owners
    "The lamp is on" is true for a reason: some rule switched it on and will switch it off. Each
    path tells who is the owner after it: the rule that rests where the path has lit it, else who
    owned it; a run that ends and leaves it lit hands over to a rule that is known to be running.
    (Any such choice is sound: it adds a variable that only remembers.) While a rule is the owner
    its part must not fail. Then "lit, so one of the owners' states" is inductive together with
    what is true of the parts.

Narrowing
    What is true of one part is used for the others: paths that it shows to be impossible go,
    facts that it implies are added to those that stay. Then all parts are looked at anew.

What comes out are lemmas over the whole slice, checked there like any other proof.

Measured
    Two shared cores, certificate made and checked in it: see ``tests/benchmarks`` (timers, hall).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain

from verifier.model.job import read_by_rule
from verifier.proof.formula import YES, Formula, any_of, within
from verifier.proof.lemmas import bound_lemmas
from verifier.proof.moves import TooLarge
from verifier.proof.parts import (
    GAIN,
    KEEP,
    LOSE,
    MAY_GAIN,
    YIELD,
    Explored,
    Explorer,
    Looked,
    Owning,
    Projection,
    Shape,
)
from verifier.proof.relation import Cube, Path, Relation
from verifier.proof.zones import INFINITE
from verifier.simulate.program import SetPoint
from verifier.simulate.system import IDLE, System
from verifier.surroundings.state import Bound

MOST_ROUNDS = 60
"""Rounds of narrowing with parts of one size: in a chain of rules each comes one rule further."""

WORK, WORK_OF_RULE = 20_000, 1_500
"""Cells of zones over all parts and rounds: some tenths of a second of a quiet machine."""

FEWEST = 2
"""Rules that can rest in a slice that is taken apart."""

NOBODY = -1


def resting(system: System) -> int:
    """How many rules of a slice can rest: from :data:`FEWEST` on taking it apart is likely to pay."""
    return sum(bool(code.places) for code in system.codes)


@dataclass(frozen=True, slots=True)
class Stuck:
    """No proof was found: the rule of which it could not be shown, if it is one."""

    rule: str = ""


def _explorer(relation: Relation) -> Explorer:
    return Explorer(WORK + WORK_OF_RULE * resting(relation.system))


def split_lemmas(relation: Relation) -> tuple[Formula, ...] | Stuck:
    """Lemmas from the parts of a slice that together imply the requirement."""
    explorer = _explorer(relation)
    stuck = Stuck()
    for size in SIZES:
        split = _Split(relation, explorer, size)
        try:
            lemmas = split.lemmas()
        except TooLarge:
            return split.stuck or stuck
        if lemmas is not None:
            return lemmas
        stuck = split.stuck or stuck
    return stuck


def greatest_in_parts(relation: Relation, clock: int) -> int | None:
    """An upper bound (in the zones' encoding) of a clock where ``relation.bad`` is; None: nowhere.

    The parts' own, so it may not be reached.
    """
    explorer = _explorer(relation)
    found: int | None = INFINITE
    for size in SIZES:
        found = _Split(relation, explorer, size).greatest(clock)
        if found is None or found < INFINITE:
            break
    return found


OWN, READ = range(2)
SIZES = (OWN, READ)
"""What a rule's part looks at beside its runs: flags that it keeps, then what it reads, too."""


class _Split:
    def __init__(self, relation: Relation, explorer: Explorer, size: int) -> None:
        self.relation = relation
        self.system: System = relation.system
        self.layout = relation.system.layout
        self.explorer = explorer
        self.size = size
        self.stuck: Stuck | None = None
        self.paths = [path for path in relation.paths if not path.endless]
        self.bad = [*relation.bad, *(path.before for path in relation.paths if path.endless)]
        self.shared, self.shared_clocks = self._shared()
        self.rules = [r for r, code in enumerate(self.system.codes) if code.places]
        self.nobody = self._looking(set(), set())
        self.looked = [self._looked_by(rule) for rule in self.rules]
        for other in self._surroundings():
            if not any(other.is_in(looked) for looked in self.looked):
                self.looked.append(other)
        self.bounds = [
            lemma
            for bound, lemma in zip(self.layout.bounds, bound_lemmas(self.system), strict=True)
            if not any(_of_bound(bound).is_in(looked) for looked in self.looked)
        ]

    # ------------------------------------------------------------ what is looked at

    def _shared(self) -> tuple[set[int], set[int]]:
        """What every rule's part looks at: all that the requirement does."""
        system = self.system
        found = {v for cube in self.bad for v, _ in cube.values}
        clocks = {c for cube in self.bad for c, _, _ in cube.clocks}
        monitor = system.monitor
        if monitor is not None:
            found.update(monitor.flags)
            clocks.update(monitor.clocks)
            for condition in (monitor.condition, monitor.scope):
                if condition is not None:
                    found.update(system.read(condition, True))
        return self._with_timers(found, clocks)

    def _with_timers(self, variables: set[int], clocks: set[int]) -> tuple[set[int], set[int]]:
        """With what a timer that is looked at hangs on."""
        variables, clocks = set(variables), set(clocks)
        for timer in self.system.timers:
            if timer.ran_out in variables:
                variables.add(timer.variable)
                clocks.add(timer.clock)
                if timer.parted is not None:
                    variables.add(timer.parted)
        return variables, clocks

    def _looked_by(self, rule: int) -> Looked:
        system = self.system
        variables = {*system.slots[rule], *system.queues[rule]}
        variables.update(v for v in system.out[rule] if v is not None)
        clocks = set(system.slot_clocks[rule])
        for place in system.codes[rule].places:
            if place.until is not None:
                variables.update(system.read(place.until, False))
        variables.update(self._kept_by(rule))
        if self.size >= READ:
            for condition in read_by_rule(system.rules[rule])[0]:
                variables.update(system.read(condition, False))
        return self._looking(*self._with_timers(variables, clocks))

    def _looking(self, variables: set[int], clocks: set[int]) -> Looked:
        """What is shared, and that, with the clocks that bound how long it can stay."""
        looked = variables | self.shared
        clocks = clocks | {
            bound.clock for bound in self.layout.bounds if all(v in looked for v, _ in bound.when)
        }
        return Looked(
            (*sorted(self.shared), *sorted(variables - self.shared)),
            (*sorted(self.shared_clocks), *sorted(clocks - self.shared_clocks)),
        )

    def _kept_by(self, rule: int) -> Iterator[int]:
        """Variables that the rule sets before it rests and sets again later: "I am at it"."""
        system = self.system
        points = [i.point for i in system.codes[rule].instructions if isinstance(i, SetPoint)]
        for point in dict.fromkeys(points):
            variable = system.world.of_point[point]
            if points.count(point) > 1 and variable in self.read_by_rules:
                yield variable

    @cached_property
    def read_by_rules(self) -> frozenset[int]:
        """Variables that some rule's condition reads."""
        conditions = chain.from_iterable(read_by_rule(rule)[0] for rule in self.system.rules)
        return frozenset(v for c in conditions for v in self.system.read(c, False))

    def _surroundings(self) -> Iterator[Looked]:
        """Small parts of what bounds time, so that it is known to go on."""
        system = self.system
        for bound in self.layout.bounds:
            alone = _of_bound(bound)
            if self.size >= READ:
                yield self._looking(set(alone.variables), set(alone.clocks))
            else:
                yield alone
        for timer in system.timers:
            variables, clocks = self._with_timers({timer.ran_out}, set())
            yield Looked(tuple(sorted(variables)), tuple(sorted(clocks)))
        for (room, detector), awaiting in system.world.awaiting.items():
            world = system.world
            yield Looked(
                tuple(sorted({awaiting, world.of_room[room], world.of_point[detector]})), ()
            )

    # ------------------------------------------------------------ rounds

    def lemmas(self) -> tuple[Formula, ...] | None:
        """The lemmas of the parts, if they imply the requirement. Raises: TooLarge."""
        stages: list[list[Explored]] = []
        for parts in self._rounds():
            left = [cube for cube in self.bad if all(part.meets(cube) for part in parts)]
            owned = self._owned(left, parts)
            stages.append(parts)
            if owned is not None:
                found = dict.fromkeys([*self._facts(stages), *owned, *self.bounds])
                return tuple(lemma for lemma in found if lemma != YES)
        return None

    def greatest(self, clock: int) -> int | None:
        """The upper bound of a clock in the failing cubes, until a round makes it no less."""
        most: int | None = INFINITE
        try:
            for parts in self._rounds():
                before, most = most, self._greatest(clock, parts)
                if most is None or (most == before and most < INFINITE):
                    break
        except TooLarge:
            pass
        return most

    def _greatest(self, clock: int, parts: list[Explored]) -> int | None:
        most: int | None = None
        for cube in self.bad:
            bounds = [part.greatest(cube, clock) for part in parts]
            if None not in bounds:
                bounds.append(self._greatest_of_owners(cube, clock, parts))
            if None not in bounds:
                least = min(bound for bound in bounds if bound is not None)
                most = least if most is None else max(most, least)
        return most

    def _greatest_of_owners(self, cube: Cube, clock: int, parts: list[Explored]) -> int | None:
        lit = self._lit_in(cube)
        if lit is None:
            return INFINITE
        most: int | None = None
        for _, part, shape in self._owning(lit, parts):
            bound = self.explorer.owned(part, shape, timed=True).greatest(cube, clock)
            if bound is not None:
                most = bound if most is None else max(most, bound)
        return most

    def _rounds(self) -> Iterator[list[Explored]]:
        """The parts, that of nobody first, of each round, until a round tells nothing more.

        Raises: TooLarge.
        """
        timed = False
        for _ in range(MOST_ROUNDS):
            seen = Projection(self.relation, self.paths, self.nobody, [KEEP] * len(self.paths))
            parts = [
                self.explorer.explored(looked, seen.shape(looked))
                for looked in [self.nobody, *self.looked]
            ]
            yield parts
            shared = frozenset(self.shared_clocks) if timed else frozenset[int]()
            narrowed = self._narrowed(parts[1:], shared)
            if narrowed == self.paths:
                if timed:
                    return
                # Times last: they make paths differ that are like each other else.
                timed = True
                narrowed = self._narrowed(parts[1:], frozenset(self.shared_clocks))
            self.paths = narrowed

    def _facts(self, stages: list[list[Explored]]) -> Iterator[Formula]:
        """What is true of the parts in all rounds, without what a later round says better."""
        last = stages[-1]
        for parts in stages:
            for k, part in enumerate(parts):
                if parts is last or not last[k].is_within(part):
                    yield part.formula(self.layout)

    def _narrowed(self, parts: list[Explored], shared: frozenset[int]) -> list[Path]:
        """The paths that the parts leave, with what they tell of the states before.

        Of clocks they tell of those that are ``shared``.
        """
        looking: dict[int, list[int]] = {}
        for k, part in enumerate(parts):
            for v in part.looked.variables:
                if v not in self.shared:
                    looking.setdefault(v, []).append(k)
        found: list[Path] = []
        for path in self.paths:
            cube: Cube | None = path.before
            asked = sorted({k for v, _ in path.before.values for k in looking.get(v, ())})
            for k in asked:
                if cube is not None:
                    cube = parts[k].narrowed(cube, shared)
            if cube is not None:
                found.append(path if cube == path.before else replace(path, before=cube))
        return found

    # ------------------------------------------------------------ owners

    def _owned(self, left: list[Cube], parts: list[Explored]) -> list[Formula] | None:
        """Lemmas that exclude the failing cubes that no part excludes; None: not found."""
        found: list[Formula] = []
        of_lit: dict[tuple[int, int], list[Cube]] = {}
        for cube in left:
            lit = self._lit_in(cube)
            if lit is None:
                return None
            of_lit.setdefault(lit, []).append(cube)
        for lit, cubes in of_lit.items():
            lemma = self._owners_of(lit, cubes, parts)
            if lemma is None:
                return None
            found.append(lemma)
        return found

    def _lit_in(self, cube: Cube) -> tuple[int, int] | None:
        """What has to be lit so that the requirement fails: the first output or flag of the cube."""
        world = self.system.world
        outputs = {
            world.of_point[p.name]
            for p in self.system.job.points
            if not p.kind.is_input and p.name in world.of_point
        }
        for variable, mask in cube.values:
            if variable in outputs:
                return variable, mask
        return None

    def _owners_of(
        self, lit: tuple[int, int], cubes: list[Cube], parts: list[Explored]
    ) -> Formula | None:
        """That it is unlit or one of the owners is where it can be; None: one of them can fail."""
        every = self.layout.variables[lit[0]].every
        found: list[Formula] = [within(self.layout, lit[0], every & ~lit[1])]
        for rule, part, shape in self._owning(lit, parts):
            for timed in (False, True):
                owned = self.explorer.owned(part, shape, timed=timed)
                if not any(owned.meets(cube) for cube in cubes):
                    found.append(owned.formula(self.layout, timed=timed, lit=lit[0]))
                    break
            else:
                self.stuck = Stuck("" if rule == NOBODY else self.system.rules[rule].name)
                return None
        return any_of(found)

    def _owning(
        self, lit: tuple[int, int], parts: list[Explored]
    ) -> Iterator[tuple[int, Explored, Shape]]:
        """Who may be the owner: the rule, its part, and its shape with what each step does to that."""
        setting = [rule for rule in self.rules if self._sets(rule, lit[0])]
        told = [_Change(self.system, path, lit, setting) for path in self.paths]
        of_nobody = [change.of(NOBODY) for change in told]
        alone = Projection(self.relation, self.paths, self.nobody, of_nobody)
        yield NOBODY, parts[0], alone.shape(parts[0].looked, of_nobody, Owning(lit, first=True))
        away = [change.elsewhere for change in told]
        seen = Projection(self.relation, self.paths, self.nobody, away)
        for rule in setting:
            part = parts[1 + self.rules.index(rule)]
            changes = [change.of(rule) for change in told]
            yield rule, part, seen.shape(part.looked, changes, Owning(lit, self._rests(rule)))

    def _sets(self, rule: int, variable: int) -> bool:
        of_point = self.system.world.of_point
        return any(
            isinstance(i, SetPoint) and of_point[i.point] == variable
            for i in self.system.codes[rule].instructions
        )

    def _rests(self, rule: int) -> tuple[tuple[int, int], ...]:
        variables = self.layout.variables
        return tuple((v, variables[v].every & ~IDLE) for v in self.system.slots[rule])


def _of_bound(bound: Bound) -> Looked:
    return Looked(tuple(sorted({v for v, _ in bound.when})), (bound.clock,))


class _Change:
    """What a path does to who is the owner of what is lit."""

    def __init__(
        self, system: System, path: Path, lit: tuple[int, int], setting: Iterable[int]
    ) -> None:
        self.path = path
        written = {v: (source, bit) for v, source, bit in path.values}
        facts = dict(path.before.values)
        begun: list[int] = []
        running: list[int] = []
        self.ended: set[int] = set()
        """Rules of which a run ends."""
        for rule in sorted(setting):
            for slot in system.slots[rule]:
                if slot in written:
                    source, bit = written[slot]
                    if source < 0 and bit != IDLE:
                        begun.append(rule)
                    elif source < 0:
                        self.ended.add(rule)
                elif not facts.get(slot, IDLE) & IDLE:
                    running.append(rule)
        self.heirs = list(dict.fromkeys([*begun, *running]))
        self.sets = lit[0] in written
        """Whether the path sets what is owned."""
        self.lights = False
        self.owner = NOBODY
        """Who is the owner after it."""
        if self.sets:
            source, bit = written[lit[0]]
            self.lights = source >= 0 or bool(bit & lit[1])
            if source < 0 and self.heirs:
                self.owner = self.heirs[0]

    def of(self, rule: int) -> int:
        """What it means to one rule's part."""
        if self.sets:
            if not self.lights:
                return KEEP
            return GAIN if rule == self.owner else LOSE
        heir = self.heir_of(rule)
        if rule in self.ended and heir is not None:
            return YIELD
        if any(self.heir_of(other) == rule for other in self.ended if other != rule):
            return MAY_GAIN
        return KEEP

    @property
    def elsewhere(self) -> int:
        """What it means to the part of a rule whose runs it does not touch."""
        return LOSE if self.sets and self.lights else KEEP

    def heir_of(self, rule: int) -> int | None:
        """To whom the rule hands over; None: to nobody."""
        return next((heir for heir in self.heirs if heir != rule), None)
