"""How the fades of a job are laid out: which fade goes on, from where, and what it goes through."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from verifier.model.job import (
    Becomes,
    Cancel,
    Changes,
    Event,
    Fade,
    Job,
    Level,
    Put,
    Rule,
    RuleEnds,
    RuleStarts,
    atoms_and_leaves,
    read_by_rule,
    statements_of,
)
from verifier.model.words import value as value_words
from verifier.simulate.program import Code
from verifier.surroundings.levels import Around, LevelValue, crossings, read_levels
from verifier.surroundings.state import Due, Layout
from verifier.surroundings.world import World

NO_FADE = 1
"""The bit that says that a dimmer does not fade."""


@dataclass(frozen=True, slots=True)
class Reach:
    """A level on a way: bits of the level before (None: where it begins), there, and after it.

    ``earliest`` and ``latest`` in units since the fade's start.
    """

    before: int | None
    there: int
    after: int
    earliest: int
    latest: int
    what: str


@dataclass(frozen=True, slots=True)
class Way:
    """A fade from one value: whose it is, where it leads, and the levels on it."""

    rule: int
    slot: int
    place: int
    start: int
    target: int
    clock: int
    reaches: tuple[Reach, ...]


@dataclass(frozen=True, slots=True)
class Passing:
    """Leaving a level in one direction: the ways (mask) on which it is, and what comes first."""

    ways: int
    there: int
    after: int
    first: tuple[Due, ...]
    what: str


@dataclass(frozen=True, slots=True)
class Fading:
    """The fades of one dimmer.

    ``active`` is the variable of the way that goes on (:data:`NO_FADE`: none); way k has the bit
    ``2 << k``. ``at_level``: the clock since a level was reached that is still to be passed.
    """

    dimmer: str
    level: int
    active: int
    at_level: int
    ways: tuple[Way, ...]
    passings: tuple[Passing, ...]
    read: tuple[Fraction, ...]

    def of_run(self, rule: int, slot: int, place: int | None = None) -> int:
        """The mask of the ways of a run (at one place)."""
        return sum(
            2 << k
            for k, way in enumerate(self.ways)
            if way.rule == rule and way.slot == slot and place in (None, way.place)
        )

    def way_of(self, rule: int, slot: int, place: int, start: int) -> int:
        """The bit of the way of a run at a place from a start value (bit)."""
        for k, way in enumerate(self.ways):
            if (way.rule, way.slot, way.place, way.start) == (rule, slot, place, start):
                return 2 << k
        raise AssertionError("a fade from a value that the dimmer does not have")


def lay_fadings(
    world: World,
    layout: Layout,
    codes: tuple[Code, ...],
    slots: list[list[int]],
    clocks: list[list[int]],
    at: Callable[[int], int],
) -> dict[str, Fading]:
    """The fades of each dimmer that a rule fades; ``at`` is the bit of a slot at a place."""
    dimmers = dict.fromkeys(p.fade[0] for code in codes for p in code.places if p.fade is not None)
    found: dict[str, Fading] = {}
    for dimmer in dimmers:
        level = world.of_point[dimmer]
        values = layout.variables[level].values
        read = read_levels(world.job, dimmer)
        ways: list[Way] = []
        for rule, code in enumerate(codes):
            for place in code.places:
                if place.fade is None or place.fade[0] != dimmer:
                    continue
                assert place.for_s is not None
                for slot in range(len(slots[rule])):
                    for number, value in enumerate(values):
                        assert isinstance(value, Fraction | Around)
                        reaches = tuple(
                            Reach(
                                None if c.before is None else 1 << values.index(c.before),
                                1 << values.index(c.at),
                                1 << values.index(c.after),
                                world.units(c.earliest_s),
                                world.units(c.latest_s),
                                f"{dimmer} reaches {value_words(c.at)}",
                            )
                            for c in crossings(read, value, place.fade[1], place.for_s)
                        )
                        ways.append(
                            Way(
                                rule,
                                slot,
                                place.number,
                                1 << number,
                                1 << values.index(place.fade[1]),
                                clocks[rule][slot],
                                reaches,
                            )
                        )
        names = ("none", *(_name(world, way, codes, values) for way in ways))
        active = layout.add(f"fade of {dimmer}", names)
        at_level = layout.clock(f"since {dimmer} reached a level")
        first = _first(world, ways, codes, slots, clocks, at, dimmer)
        passings = _passings(dimmer, ways, values, first)
        found[dimmer] = Fading(dimmer, level, active, at_level, tuple(ways), passings, read)
        _bound(layout, found[dimmer])
    return found


def touching(job: Job, dimmer: str, fading: set[int]) -> frozenset[int]:
    """The rules that may, in one instant, set or read a dimmer, or drop a run that fades it."""
    names = {job.rules[rule].name for rule in fading}
    found = {rule.name for rule in job.rules if _touches(rule, dimmer, names)} | names
    while True:
        triggers = [e for name in found for e in read_by_rule(job.rule[name])[1]]
        heard = {subject for e in triggers for subject in _subjects(e)}
        more = {
            rule.name
            for rule in job.rules
            if rule.name in heard
            or any(isinstance(s, Put) and s.point in heard for s in statements_of(rule.body))
        }
        if more <= found:
            return frozenset(k for k, rule in enumerate(job.rules) if rule.name in found)
        found |= more


def _touches(rule: Rule, dimmer: str, fading: set[str]) -> bool:
    conditions, _ = read_by_rule(rule)
    leaves = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
    if any(isinstance(leaf, Level) and leaf.subject == dimmer for leaf in leaves):
        return True
    for statement in statements_of(rule.body):
        match statement:
            case Put(name) | Fade(name):
                if name == dimmer:
                    return True
            case Cancel(name):
                if name in fading:
                    return True
            case _:
                pass
    return False


def _subjects(event: Event) -> tuple[str, ...]:
    match event:
        case Becomes(atom):
            return (atom.subject,)
        case Changes(name) | RuleStarts(name) | RuleEnds(name):
            return (name,)
        case _:
            return ()


def _name(world: World, way: Way, codes: tuple[Code, ...], values: tuple[object, ...]) -> str:
    rule = world.job.rules[way.rule].name
    start = values[way.start.bit_length() - 1]
    words = value_words(start) if isinstance(start, Fraction) else str(start)
    return f"{rule}#{way.slot + 1} at {way.place} from {words}"


def _first(
    world: World,
    ways: list[Way],
    codes: tuple[Code, ...],
    slots: list[list[int]],
    clocks: list[list[int]],
    at: Callable[[int], int],
    dimmer: str,
) -> tuple[Due, ...]:
    """The waits after which something may end the fade, or read the level."""
    rules = touching(world.job, dimmer, {way.rule for way in ways})
    own = {(way.rule, way.slot, way.place) for way in ways}
    found: list[Due] = []
    for rule in sorted(rules):
        for slot, variable in enumerate(slots[rule]):
            for place in codes[rule].places:
                if place.for_s is not None and (rule, slot, place.number) not in own:
                    limit = world.units(place.for_s)
                    found.append((variable, at(place.number), clocks[rule][slot], limit))
    return tuple(found)


def _passings(
    dimmer: str, ways: list[Way], values: tuple[object, ...], first: tuple[Due, ...]
) -> tuple[Passing, ...]:
    masks: dict[tuple[int, int], int] = {}
    for k, way in enumerate(ways):
        for reach in way.reaches:
            key = (reach.there, reach.after)
            masks[key] = masks.get(key, 0) | 2 << k
    found = []
    for (there, after), mask in masks.items():
        level: LevelValue = values[there.bit_length() - 1]  # type: ignore[assignment]
        assert isinstance(level, Fraction)
        rises = after > there
        what = f"{dimmer} goes {'above' if rises else 'below'} {value_words(level)}"
        found.append(Passing(mask, there, after, first, what))
    return tuple(found)


def _bound(layout: Layout, fading: Fading) -> None:
    """Time does not pass beyond a level that is due to be reached, nor while it is to be passed."""
    for k, way in enumerate(fading.ways):
        for reach in way.reaches:
            if reach.before is not None:
                when = ((fading.active, 2 << k), (fading.level, reach.before))
                layout.bound(way.clock, when, reach.latest, outside=False)
                layout.compared(way.clock, reach.earliest, when)
    for passing in fading.passings:
        when = ((fading.active, passing.ways), (fading.level, passing.there))
        layout.bound(fading.at_level, when, 0, outside=False, first=passing.first)
