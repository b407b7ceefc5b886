"""Parts of a system: a few of its variables and clocks, all others let go.

A part is the relation with everything struck out that it does not look at: a fact about another
variable is dropped, a value taken from one may be any, a clock taken from one shows any time. So
each step of the system is a step of the part, and what holds of all that the part can come to
holds of the system, too, and is inductive by itself.

Of something that is lit one part at a time is the *owner* (see :mod:`verifier.proof.split`); what
a part can come to while it is the owner is explored from the moments at which it may become it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from verifier.proof.formula import Compare, Formula, all_of, any_of, within
from verifier.proof.hull import hull
from verifier.proof.invariant import constraints_of, merged
from verifier.proof.moves import Constraint, Discrete, Info, Move, Space, TooLarge
from verifier.proof.relation import Cube, Path, Relation
from verifier.proof.zones import INFINITE, Zone, constrained_all, includes, origin
from verifier.surroundings.state import FOREVER, Layout

KEEP, GAIN, LOSE, MAY_GAIN, YIELD = range(5)
"""What a step does to who is the owner, as far as one part is concerned.

MAY_GAIN: another part may hand over to this one; YIELD: this one hands over to another if none of
its runs goes on.
"""

RESET, ANY_TIME = -1, -2
"""Where a clock takes its time from, beside the clocks of the part."""

Masks = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, order=True)
class Step:
    """A path as a part sees it, all numbers the part's own.

    ``before`` are (variable, mask), ``guards`` (clock, least position, greatest), ``puts``
    (variable, variable before or -1, mask of what it may become), ``clocks`` (clock, clock
    before, RESET or ANY_TIME).
    """

    before: Masks
    guards: tuple[tuple[int, int, int], ...]
    puts: tuple[tuple[int, int, int], ...]
    clocks: tuple[tuple[int, int], ...]
    owner: int


@dataclass(frozen=True, slots=True)
class Shape:
    """All that an exploration of a part hangs on: parts of one shape are explored once."""

    every: tuple[int, ...]
    greatest: tuple[int, ...]
    uses: tuple[tuple[Masks, ...], ...]
    bounds: tuple[tuple[int, Masks, int], ...]
    starts: tuple[Masks, ...]
    steps: tuple[Step, ...]
    lit: tuple[int, int] | None
    """(variable, mask) of what is owned."""
    slots: tuple[tuple[int, int], ...]
    """(variable, mask of its rests) of each of the part's own runs."""
    owns_first: bool
    """Whether the part is the owner where runs begin."""


class Part(Space):
    """A part's discrete states with their moves."""

    def __init__(self, shape: Shape) -> None:
        super().__init__()
        self.shape = shape

    def starts(self) -> list[Discrete]:
        """The discrete states in which a run can begin."""
        found: dict[Discrete, None] = {}
        for start in self.shape.starts:
            values = dict(start)
            spread = [_bits(values.get(v, every)) for v, every in enumerate(self.shape.every)]
            for state in product(*spread):
                found.setdefault(state)
        return list(found)

    def _info(self, state: Discrete) -> Info:
        shape = self.shape
        active = tuple(
            clock
            for clock, uses in enumerate(shape.uses)
            if any(all(state[v] & m for v, m in when) for when in uses)
        )
        place = {clock: i + 1 for i, clock in enumerate(active)}
        invariant = tuple(
            (place[clock], 0, 2 * limit + 1)
            for clock, when, limit in shape.bounds
            if all(state[v] & m for v, m in when)
        )
        greatest = (0, *(shape.greatest[clock] for clock in active))
        return Info(active, len(active) + 1, invariant, greatest, ())

    def _of(self, state: Discrete) -> list[Move]:
        place = {clock: i + 1 for i, clock in enumerate(self.info(state).active)}
        found: dict[tuple[object, ...], Move] = {}
        for step in self.shape.steps:
            if not all(state[v] & m for v, m in step.before):
                continue
            guards = guards_at(step.guards, place)
            moved = dict(step.clocks)
            for target in self._targets(state, step):
                sources = [0]
                for clock in self.info(target).active:
                    source = moved.get(clock, clock)
                    sources.append(0 if source == RESET else place.get(source, -1))
                move = Move(step.owner, guards, target, tuple(sources), False)
                found.setdefault((guards, target, move.sources, step.owner), move)
        return list(found.values())

    def _targets(self, state: Discrete, step: Step) -> Iterable[Discrete]:
        values = list(state)
        open_: list[tuple[int, list[int]]] = []
        for variable, source, mask in step.puts:
            if source >= 0:
                values[variable] = state[source]
            elif mask & (mask - 1):
                open_.append((variable, _bits(mask)))
            else:
                values[variable] = mask
        for choice in product(*(bits for _, bits in open_)):
            for (variable, _), bit in zip(open_, choice, strict=True):
                values[variable] = bit
            yield tuple(values)

    def is_lit(self, state: Discrete) -> bool:
        """Whether what is owned is lit in the state."""
        assert self.shape.lit is not None
        variable, mask = self.shape.lit
        return bool(state[variable] & mask)

    def becomes_owner(self, zones: dict[Discrete, Zone]) -> list[tuple[Discrete, Zone]]:
        """Where the part may be as it becomes the owner, if ``zones`` are all that it comes to."""
        found: list[tuple[Discrete, Zone]] = []
        if self.shape.owns_first:
            starts = [state for state in self.starts() if self.is_lit(state)]
            found.extend((state, origin(self.info(state).size)) for state in starts)
        for state, zone in zones.items():
            for move in self.of(state):
                if move.happening in (GAIN, MAY_GAIN) and self.is_lit(move.target):
                    entered = self.after(state, zone, move)
                    if entered is not None:
                        found.append((move.target, entered))
        return found


class Owned(Space):
    """A part as long as it is the owner."""

    def __init__(self, part: Part) -> None:
        super().__init__()
        self.part = part
        self.infos = part.infos

    def starts(self) -> list[Discrete]:
        """None: see :meth:`Part.becomes_owner`."""
        return []

    def _info(self, state: Discrete) -> Info:
        return self.part.info(state)

    def _of(self, state: Discrete) -> list[Move]:
        return [move for move in self.part.of(state) if self._goes_on(move)]

    def _goes_on(self, move: Move) -> bool:
        if not self.part.is_lit(move.target) or move.happening == LOSE:
            return False
        slots = self.part.shape.slots
        return move.happening != YIELD or any(move.target[v] & m for v, m in slots)


@dataclass(frozen=True, slots=True)
class Looked:
    """Which variables and clocks of the layout a part looks at, in the order of its own numbers.

    What all parts share comes first, so that they see in one way what touches nothing else.
    """

    variables: tuple[int, ...]
    clocks: tuple[int, ...]

    def is_in(self, other: Looked) -> bool:
        """Whether the other part looks at all that this one does."""
        return set(self.variables) <= set(other.variables) and set(self.clocks) <= set(other.clocks)


@dataclass(frozen=True, slots=True)
class Explored:
    """A part with the zones that hold all that it can come to (or while it is the owner)."""

    looked: Looked
    space: Part
    zones: dict[Discrete, Zone]

    def meets(self, cube: Cube) -> bool:
        """Whether a state of the part can be in a cube of the system."""
        return any(True for _ in self._in(cube))

    def greatest(self, cube: Cube, clock: int) -> int | None:
        """The greatest upper bound of a clock in a cube; None: the part does not come there."""
        most: int | None = None
        for state, zone in self._in(cube):
            info = self.space.info(state)
            names = [self.looked.clocks[c] for c in info.active]
            here = zone[(names.index(clock) + 1) * info.size] if clock in names else INFINITE
            most = here if most is None else max(most, here)
        return most

    def is_within(self, other: Explored) -> bool:
        """Whether all that this part comes to is in the other's zones (they look at the same)."""
        return all(
            state in other.zones and includes(other.zones[state], zone)
            for state, zone in self.zones.items()
        )

    def _in(self, cube: Cube) -> Iterable[tuple[Discrete, Zone]]:
        index = {v: k for k, v in enumerate(self.looked.variables)}
        at = {c: k for k, c in enumerate(self.looked.clocks)}
        masks = [(index[v], m) for v, m in cube.values if v in index]
        clocks = tuple((at[c], low, high) for c, low, high in cube.clocks if c in at)
        for state, zone in self.zones.items():
            if not all(state[v] & m for v, m in masks):
                continue
            info = self.space.info(state)
            place = {clock: i + 1 for i, clock in enumerate(info.active)}
            inside = constrained_all(zone, info.size, guards_at(clocks, place))
            if inside is not None:
                yield state, inside

    def narrowed(self, cube: Cube, shared: frozenset[int]) -> Cube | None:
        """The cube with what the part knows of its states (of clocks: of those that are shared)."""
        masks = [0] * len(self.looked.variables)
        known: dict[int, tuple[int, int]] = {}
        first = True
        for state, zone in self._in(cube):
            for k in range(len(masks)):
                masks[k] |= state[k]
            here = self._bounds_in(state, zone, shared)
            known = here if first else _either(known, here)
            first = False
        if first:
            return None
        values = dict(cube.values)
        for k, v in enumerate(self.looked.variables):
            if masks[k] != self.space.shape.every[k]:
                values[v] = values.get(v, self.space.shape.every[k]) & masks[k]
        clocks = {c: (low, high) for c, low, high in cube.clocks}
        for clock, (low, high) in known.items():
            old = clocks.get(clock, (0, FOREVER))
            new = max(old[0], low), min(old[1], high)
            if new != (0, FOREVER):
                clocks[clock] = new
        return Cube(
            tuple(sorted(values.items())),
            tuple((c, low, high) for c, (low, high) in sorted(clocks.items())),
        )

    def _bounds_in(
        self, state: Discrete, zone: Zone, shared: frozenset[int]
    ) -> dict[int, tuple[int, int]]:
        info = self.space.info(state)
        found: dict[int, tuple[int, int]] = {}
        for i, clock in enumerate(info.active, 1):
            name = self.looked.clocks[clock]
            if name in shared:
                bound = zone[i * info.size]
                found[name] = (1 - zone[i], FOREVER if bound == INFINITE else bound - 1)
        return found

    def formula(self, layout: Layout, *, timed: bool = True, lit: int = -1) -> Formula:
        """The states of the part, ``timed`` with their zones; nothing is said of the variable ``lit``."""
        groups: dict[tuple[tuple[int, int, int], ...], list[Discrete]] = {}
        for state, zone in self.zones.items():
            constraints = constraints_of(self.space, state, zone) if timed else ()
            groups.setdefault(constraints, []).append(state)
        cubes: list[Formula] = []
        for constraints, here in groups.items():
            compared = [Compare(self._named(i), self._named(j), b) for i, j, b in constraints]
            for cube in merged(here):
                values = [
                    within(layout, v, mask)
                    for v, mask in zip(self.looked.variables, cube, strict=True)
                    if v != lit
                ]
                cubes.append(all_of([*values, *compared]))
        return any_of(cubes)

    def _named(self, i: int) -> int:
        return self.looked.clocks[i - 1] + 1 if i else 0


Zones = dict[Discrete, Zone]


class Explorer:
    """Explores parts; what has the same shape as another part is explored once."""

    def __init__(self, most_work: int) -> None:
        self.left = most_work
        """Cells of zones that may still be looked at, over all parts."""
        self.known: dict[Shape, tuple[Part, Zones]] = {}
        self.known_owned: dict[tuple[Shape, Shape, bool], Zones] = {}

    def explored(self, looked: Looked, shape: Shape) -> Explored:
        """The part with its zones. Raises: TooLarge."""
        found = self.known.get(shape)
        if found is None:
            space = Part(shape)
            found = self.known[shape] = (space, self._hull(space, None))
        return Explored(looked, *found)

    def owned(self, part: Explored, shape: Shape, *, timed: bool) -> Explored:
        """The part as long as it is the owner; not ``timed``: in any of the part's zones.

        ``shape`` is the part's with what each step does to the owner. Raises: TooLarge.
        """
        key = (part.space.shape, shape, timed)
        found = self.known_owned.get(key)
        if found is None:
            space = Part(shape)
            begin = space.becomes_owner(part.zones)
            owned = Owned(space)
            found = self._hull(owned, begin) if timed else _discrete(owned, begin, part.zones)
            self.known_owned[key] = found
        return Explored(part.looked, part.space, found)

    def _hull(self, space: Space, begin: list[tuple[Discrete, Zone]] | None) -> Zones:
        if self.left <= 0:
            raise TooLarge
        zones = hull(space, most_states=MOST_STATES, most_work=self.left, begin=begin).zones
        self.left -= sum(len(zone) * (1 + len(space.of(state))) for state, zone in zones.items())
        return zones


def _discrete(space: Owned, begin: list[tuple[Discrete, Zone]], zones: Zones) -> Zones:
    """The states that the owner comes to, each with all of its zone in ``zones``."""
    todo = list(dict.fromkeys(state for state, _ in begin if state in zones))
    found = {state: zones[state] for state in todo}
    while todo:
        state = todo.pop()
        for move in space.of(state):
            target = move.target
            if target not in found and target in zones:
                entered = space.after(state, zones[state], move)
                if entered is not None and space.settled(target, entered) is not None:
                    found[target] = zones[target]
                    todo.append(target)
    return found


MOST_STATES = 300
"""Discrete states of one part."""


def guards_at(
    guards: Iterable[tuple[int, int, int]], place: dict[int, int]
) -> tuple[Constraint, ...]:
    """Positions of clocks as constraints, where the clock is looked at (``place``)."""
    found: list[Constraint] = []
    for clock, low, high in guards:
        i = place.get(clock)
        if i is not None:
            if low > 0:
                found.append((0, i, 1 - low))
            if high < FOREVER:
                found.append((i, 0, high + 1))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Owning:
    """What a rule's part may be the owner of: ``lit``; see :class:`Shape` for the rest."""

    lit: tuple[int, int]
    slots: tuple[tuple[int, int], ...] = ()
    first: bool = False


class Projection:
    """Paths as parts see them; what touches only what is shared is worked out once for all."""

    def __init__(
        self, relation: Relation, paths: Sequence[Path], shared: Looked, changes: Sequence[int]
    ) -> None:
        """``changes`` say of each path what it does to an owner that it has nothing to do with."""
        self.changes = changes
        self.relation = relation
        self.paths = paths
        self.shared = shared
        self.variables: dict[int, list[int]] = {}
        self.clocks: dict[int, list[int]] = {}
        for number, path in enumerate(paths):
            for v in _variables_of(path):
                self.variables.setdefault(v, []).append(number)
            for c in _clocks_of(path):
                self.clocks.setdefault(c, []).append(number)
        index, at = _numbers(shared.variables), _numbers(shared.clocks)
        layout = relation.system.layout
        self.seen = [
            _step(layout, path, index, at, change)
            for path, change in zip(paths, changes, strict=True)
        ]
        self.count = Counter(self.seen)

    def shape(
        self,
        looked: Looked,
        changes: Sequence[int] | None = None,
        owning: Owning | None = None,
    ) -> Shape:
        """The shape of a part; ``changes`` say what each path means to it as the owner."""
        layout = self.relation.system.layout
        index, at = _numbers(looked.variables), _numbers(looked.clocks)
        shared = len(self.shared.variables), len(self.shared.clocks)
        shares = looked.variables[: shared[0]] == self.shared.variables
        shares = shares and looked.clocks[: shared[1]] == self.shared.clocks
        first, second = shared if shares else (0, 0)
        touching = {n for v in looked.variables[first:] for n in self.variables.get(v, ())}
        touching.update(n for c in looked.clocks[second:] for n in self.clocks.get(c, ()))
        if changes is not None:
            # What a rule's own runs are may be shared, too.
            different = zip(changes, self.changes, strict=True)
            touching.update(n for n, (own, others) in enumerate(different) if own != others)
        steps: set[Step | None] = set()
        if shares:
            away = Counter(self.seen[n] for n in touching)
            steps.update(step for step, count in self.count.items() if count > away[step])
        for number in touching:
            change = KEEP if changes is None else changes[number]
            steps.add(_step(layout, self.paths[number], index, at, change))

        def masks(values: Iterable[tuple[int, int]]) -> Masks:
            return tuple((index[v], m) for v, m in values if v in index)

        return Shape(
            tuple(layout.variables[v].every for v in looked.variables),
            tuple(layout.greatest[c] for c in looked.clocks),
            tuple(tuple(masks(when) for when in layout.uses[c]) for c in looked.clocks),
            tuple(
                (at[b.clock], masks(b.when), b.limit)
                for b in layout.bounds
                if b.clock in at and all(v in index for v, _ in b.when)
            ),
            tuple(_begins(layout, start, index) for start in self.relation.starts),
            tuple(sorted(step for step in steps if step is not None)),
            None if owning is None else masks((owning.lit,))[0],
            () if owning is None else masks(owning.slots),
            owning is not None and owning.first,
        )


def _numbers(names: tuple[int, ...]) -> dict[int, int]:
    return {name: k for k, name in enumerate(names)}


def _variables_of(path: Path) -> set[int]:
    found = {v for v, _ in path.before.values}
    found.update(v for v, _, _ in path.values)
    found.update(source for _, source, _ in path.values if source >= 0)
    return found


def _clocks_of(path: Path) -> set[int]:
    found = {c for c, _, _ in path.before.clocks}
    found.update(c for c, _ in path.clocks)
    found.update(source for _, source in path.clocks if source >= 0)
    return found


def _step(
    layout: Layout, path: Path, index: dict[int, int], at: dict[int, int], owner: int
) -> Step | None:
    """A path as a part sees it; None if it sees nothing of it."""
    facts = dict(path.before.values)
    puts: list[tuple[int, int, int]] = []
    for variable, source, bit in path.values:
        k = index.get(variable)
        if k is None:
            continue
        if source < 0:
            puts.append((k, -1, bit))
        elif source in index:
            puts.append((k, index[source], 0))
        else:
            every = layout.variables[variable].every
            puts.append((k, -1, facts.get(source, layout.variables[source].every) & every))
    clocks: list[tuple[int, int]] = []
    for clock, source in path.clocks:
        k = at.get(clock)
        if k is not None:
            clocks.append((k, RESET if source < 0 else at.get(source, ANY_TIME)))
    if not puts and not clocks and owner == KEEP:
        return None
    return Step(
        tuple((index[v], m) for v, m in path.before.values if v in index),
        tuple((at[c], low, high) for c, low, high in path.before.clocks if c in at),
        tuple(puts),
        tuple(clocks),
        owner,
    )


def _begins(layout: Layout, start: Path, index: dict[int, int]) -> Masks:
    """What the part's variables may be at a start."""
    found = dict(start.before.values)
    for variable, source, bit in start.values:
        if source < 0:
            found[variable] = bit
        else:
            found[variable] = dict(start.before.values).get(source, layout.variables[source].every)
    return tuple(sorted((index[v], m) for v, m in found.items() if v in index))


def _bits(mask: int) -> list[int]:
    return [1 << i for i in range(mask.bit_length()) if mask >> i & 1]


def _either(
    one: dict[int, tuple[int, int]], other: dict[int, tuple[int, int]]
) -> dict[int, tuple[int, int]]:
    return {
        clock: (min(low, other[clock][0]), max(high, other[clock][1]))
        for clock, (low, high) in one.items()
        if clock in other
    }
