"""The moments of a path as they really can be: on a date of the calendar, along straight fades.

Zones know the calendar and fades that were cut short by what is possible at all, which is more
than is possible together. A run is only shown if it fits: the turns of the calendar at the
moments of a real date, each level reached when the straight line gets there. Where none fits the
path is no run of the job (:class:`NoRealRun`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice, product
from math import ceil

from verifier.proof.moves import Constraint, Discrete, Move, Moves
from verifier.proof.timing import (
    Edge,
    Timed,
    Timeline,
    distances,
    edges_of,
    least_moments,
)
from verifier.simulate.fading import NO_FADE, Fading, Way
from verifier.simulate.system import System
from verifier.surroundings.calendar import DAY_S, WEEK_S, Calendar, Moment, first_second
from verifier.surroundings.happenings import CalendarTurns, LevelPassed, LevelReached
from verifier.surroundings.levels import Around

MOST_PATHS = 24
"""Paths to failing states for which a date is looked for."""

MOST_DATES = 40
"""Dates that are tried, those on which the run would end soonest first."""

PARTS = (Fraction(0), Fraction(1, 2), Fraction(1, 4), Fraction(3, 4), Fraction(1))
"""Where, between the earliest and the latest, a fade is cut short."""

MOST_CUTS = 125
"""Ways of cutting several fades short that are tried."""


class NoRealRun(Exception):
    """A path has moments, but none that fit a real date and straight fades; ``args[0]`` says which."""


def timeline_of(
    moves: Moves, start: Discrete, path: tuple[Move, ...], final: tuple[Constraint, ...]
) -> Timeline | None:
    """The path with the earliest moments that really can be; None if it is not possible at all.

    Raises: NoRealRun.
    """
    system, count = moves.system, len(path) + 2
    edges = edges_of(moves, start, path, final)
    plain = least_moments(count, edges)
    if plain is None:
        return None
    placed = system.world.in_calendar
    if placed is None and not system.fading:
        return Timeline(start, path, plain, edges=tuple(edges))
    if placed is None or placed.calendar.site is None:
        timed = _along_fades(moves, start, path, edges, plain)
        if timed is None:
            raise NoRealRun("no such run has fades that are straight")
        pinned = _round_the_clock(system, start, path)
        return _begun(system, Timeline(start, path, timed, edges=tuple(edges), pinned=pinned))
    # A real date keeps to what the calendar's own clocks ask, and there is more than one way to.
    edges = edges_of(moves, start, path, final, placed.clocks())
    found = False
    for pins, first in islice(_dates(system, start, path, edges, count), MOST_DATES):
        dated = [*edges, *pins]
        timed = least_moments(count, dated)
        if timed is None:
            continue
        found = True
        straight = _along_fades(moves, start, path, dated, timed)
        if straight is not None:
            pinned = (first.node, first.at_s)
            timeline = Timeline(start, path, straight, edges=tuple(dated), pinned=pinned)
            return _begun(system, timeline)
    raise NoRealRun(
        "no such run has fades that are straight"
        if found
        else f"no date of the years {placed.calendar.years[0]} to {placed.calendar.years[1]} has it"
    )


def _begun(system: System, timeline: Timeline) -> Timeline:
    """The timeline with the moment at which it begins, from the one that the calendar fixes."""
    if timeline.pinned is None:
        return timeline
    node, absolute = timeline.pinned
    begins = absolute - system.unit.seconds(_moment(timeline.timed, node))
    return replace(timeline, begins_s=begins if _dated(system) else begins % _period(system))


def _dated(system: System) -> bool:
    placed = system.world.in_calendar
    return placed is not None and placed.calendar.site is not None


def _period(system: System) -> int:
    placed = system.world.in_calendar
    assert placed is not None
    return WEEK_S if placed.calendar.marks.period == WEEK_S else DAY_S


def _moment(timed: Timed, node: int) -> Fraction:
    """The moment of a node in units; small steps count as nothing."""
    moments = ((0, 0), *timed.moments, timed.end)
    return Fraction(moments[node][0])


# ---------------------------------------------------------------- dates


@dataclass(frozen=True, slots=True)
class _First:
    """The first moment of the calendar on a date: which node of the path, and when it is."""

    node: int
    at_s: Fraction


def _turns(system: System, path: tuple[Move, ...]) -> list[tuple[int, int]]:
    """(node, number of the turn) of each turn of the calendar on a path."""
    found = []
    for node, move in enumerate(path, 1):
        happening = system.happenings[move.happening]
        if isinstance(happening, CalendarTurns):
            found.append((node, happening.turn))
    return found


def _dates(
    system: System, start: Discrete, path: tuple[Move, ...], edges: list[Edge], count: int
) -> list[tuple[list[Edge], _First]]:
    """The dates on which a path may be, those first on which it ends soonest, as pins."""
    placed = system.world.in_calendar
    assert placed is not None
    calendar, size = placed.calendar, system.unit.size_s
    turns = _turns(system, path)
    apart = distances(count, edges)
    end = count - 1
    if not turns:
        return _within_a_phase(calendar, start[placed.phase].bit_length() - 1, apart[0][end], size)
    numbers = tuple(number for _, number in turns)
    nodes = [node for node, _ in turns]
    # All in whole seconds: a moment of the calendar is one, and what is asked is rounded up.
    asked = [
        (i, j, ceil(_units(apart[a][b]) * size))
        for i, a in enumerate(nodes)
        for j, b in enumerate(nodes)
        if i != j and apart[a][b] is not None
    ]
    early = [_units(apart[0][node]) * size for node in nodes]
    late = [_units(apart[node][end]) * size for node in nodes]
    length = _units(apart[0][end]) * size
    moments = calendar.moments
    begins = first_second(calendar.years[0])
    found: list[tuple[Fraction, int, Fraction]] = []
    for j in _places_of(calendar, numbers):
        at = [m.at for m in moments[j : j + len(numbers)]]
        if any(at[b] - at[a] < least for a, b, least in asked):
            continue
        # The calendar does not stand still before the run is over.
        following = moments[j + len(at)].at if j + len(at) < len(moments) else None
        if following is not None and any(a + d > following for d, a in zip(late, at, strict=True)):
            continue
        # How early the first turn can be, as all that comes before each turn allows.
        first = max(Fraction(0), *(e - (a - at[0]) for e, a in zip(early, at, strict=True)))
        if first > at[0] - max(moments[j - 1].at, begins):
            continue
        ends = max(length, *(first + (a - at[0]) + d for d, a in zip(late, at, strict=True)))
        found.append((ends, j, first))
    found.sort()
    return [
        (_pins(moments, j, nodes, begins, size, end), _First(nodes[0], Fraction(moments[j].at)))
        for _, j, _ in found[:MOST_DATES]
    ]


def _pins(
    moments: tuple[Moment, ...],
    j: int,
    nodes: list[int],
    begins: int,
    size: Fraction,
    end: int,
) -> list[Edge]:
    """The turns of a path at the moments from the ``j``-th on."""
    at = [Fraction(m.at) / size for m in moments[j : j + len(nodes)]]
    since = Fraction(max(moments[j - 1].at, begins)) / size
    pins: list[Edge] = [(nodes[0], 0, -(at[0] - since), 0)]
    for node, a in zip(nodes[1:], at[1:], strict=True):
        pins.append((nodes[0], node, a - at[0], 0))
        pins.append((node, nodes[0], -(a - at[0]), 0))
    following = j + len(nodes)
    if following < len(moments):
        after = Fraction(moments[following].at) / size
        pins.append((end, nodes[0], -(after - at[0]), 0))
    return pins


def _places_of(calendar: Calendar, numbers: tuple[int, ...]) -> list[int]:
    """Where in the real moments these turns come one after the other."""
    along, count = calendar.along, len(numbers)
    first = [j for j, number in enumerate(along) if number == numbers[0] and j]
    return [j for j in first if along[j : j + count] == numbers]


def _within_a_phase(
    calendar: Calendar, phase: int, least: tuple[Fraction | int, int] | None, size: Fraction
) -> list[tuple[list[Edge], _First]]:
    """The dates on which a phase lasts long enough for a path without a turn."""
    if not calendar.moments:
        return [([], _First(0, Fraction(0)))]
    found: list[tuple[list[Edge], _First]] = []
    for j in range(1, len(calendar.along)):
        turn = calendar.along[j]
        if turn < 0 or calendar.turns[turn].before != phase:
            continue
        begin = max(calendar.moments[j - 1].at, first_second(calendar.years[0]))
        end = calendar.moments[j].at
        lasts = Fraction(end - begin) / size
        if least is None or _units(least) <= lasts:
            found.append(([(-1, 0, -lasts, 0)], _First(0, Fraction(begin))))
    return found


def _units(value: tuple[Fraction | int, int] | None) -> Fraction:
    return Fraction(-1 << 60) if value is None else Fraction(value[0])


def _round_the_clock(
    system: System, start: Discrete, path: tuple[Move, ...]
) -> tuple[int, Fraction] | None:
    """A node of a path, and what a clock that no site ties to a date shows there, if it is read."""
    placed = system.world.in_calendar
    if placed is None:
        return None
    calendar = placed.calendar
    turns = _turns(system, path)
    if not turns:
        phase = calendar.phases[start[placed.phase].bit_length() - 1]
        return 0, Fraction(calendar.marks.times[phase.stretch])
    node, number = turns[0]
    after = calendar.phases[calendar.turns[number].after]
    return node, Fraction(calendar.marks.times[after.stretch])


# ---------------------------------------------------------------- fades


@dataclass(frozen=True, slots=True)
class _Leg:
    """A fade on a path: from node ``begin`` on; ``cut`` is the node at which it is cut short.

    ``after_cut`` is the stretch in which the level then lies (None: it is not cut short, or
    stands at a level that is known). ``inherits`` is the leg whose level it begins with.
    """

    fading: Fading
    way: Way
    begin: int
    cut: int | None
    after_cut: Around | None
    inherits: int | None
    reached: tuple[tuple[int, Fraction], ...]
    passed: tuple[int, ...]


def _legs(moves: Moves, start: Discrete, path: tuple[Move, ...]) -> list[_Leg]:
    """Every fade on a path, in order of beginning."""
    system, legs = moves.system, list[_Leg]()
    states = [start, *(move.target for move in path)]
    for fading in system.fading.values():
        values = system.layout.variables[fading.level].values
        now: tuple[Way, int, list[tuple[int, Fraction]], list[int]] | None = None
        last_cut: int | None = None

        def close(
            cut: int | None, fading: Fading = fading, values: tuple[object, ...] = values
        ) -> None:
            nonlocal now, last_cut
            assert now is not None
            way, begin, reached, passed = now
            level = None if cut is None else values[states[cut][fading.level].bit_length() - 1]
            left = level if isinstance(level, Around) else None
            begun = values[way.start.bit_length() - 1]
            inherits = last_cut if isinstance(begun, Around) else None
            legs.append(
                _Leg(fading, way, begin, cut, left, inherits, tuple(reached), tuple(passed))
            )
            last_cut = len(legs) - 1 if left is not None else None
            now = None

        for node, move in enumerate(path, 1):
            before, after = states[node - 1][fading.active], states[node][fading.active]
            happening = system.happenings[move.happening]
            if (
                now is not None
                and isinstance(happening, LevelReached | LevelPassed)
                and happening.dimmer == fading.dimmer
            ):
                if isinstance(happening, LevelReached):
                    level = values[states[node][fading.level].bit_length() - 1]
                    assert isinstance(level, Fraction)
                    now[2].append((node, level))
                else:
                    now[3].append(node)
            way = None if after == NO_FADE else fading.ways[after.bit_length() - 2]
            again = way is not None and (after != before or _restarted(moves, move, way))
            if now is not None and (again or after == NO_FADE):
                close(node)
            if again:
                assert way is not None
                now = (way, node, [], [])
        if now is not None:
            close(None)
    return sorted(legs, key=lambda leg: leg.begin)


def _restarted(moves: Moves, move: Move, way: Way) -> bool:
    """Whether the clock of a way's run restarts with a move."""
    active = moves.info(move.target).active
    return way.clock in active and move.sources[active.index(way.clock) + 1] == 0


def _along_fades(
    moves: Moves,
    start: Discrete,
    path: tuple[Move, ...],
    edges: list[Edge],
    timed: Timed,
) -> Timed | None:
    """The moments with every fade a straight line, None if that cannot be."""
    legs = _legs(moves, start, path) if moves.system.fading else []
    if not legs:
        return timed
    # A fade that is cut short is beyond what it has passed, and short of what comes next.
    strict = list(edges)
    for leg in legs:
        if leg.cut is not None and leg.after_cut is not None:
            strict.append((leg.passed[-1] if leg.passed else leg.begin, leg.cut, 0, 1))
            if leg.inherits is None:
                strict.extend(_short_of_the_next(leg))
    inexact = [n for n, leg in enumerate(legs) if leg.after_cut is not None]
    later = [n for n in inexact if any(leg.inherits == n for leg in legs)]
    count = len(path) + 2
    for parts in islice(product(PARTS, repeat=len(later)), MOST_CUTS):
        found = _straight(moves, legs, dict(zip(later, parts, strict=True)), strict, count)
        if found is not None:
            return found
    return None


def _short_of_the_next(leg: _Leg) -> list[Edge]:
    """The cut comes before the next level is reached (a leg from a known level)."""
    assert leg.cut is not None
    done = len(leg.passed)
    ahead = leg.way.reaches[done:]
    limit = ahead[0].latest if ahead else None
    return [] if limit is None else [(leg.cut, leg.begin, -limit, 1)]


def _straight(
    moves: Moves, legs: list[_Leg], parts: dict[int, Fraction], edges: list[Edge], count: int
) -> Timed | None:
    """The moments with some fades cut at the given part of the time in which they can be."""
    system = moves.system
    edges = list(edges)
    levels: dict[int, Fraction] = {}
    for number, leg in enumerate(legs):
        values = system.layout.variables[leg.fading.level].values
        start = values[leg.way.start.bit_length() - 1]
        target = values[leg.way.target.bit_length() - 1]
        place = system.codes[leg.way.rule].places[leg.way.place]
        assert place.for_s is not None
        assert isinstance(target, Fraction)
        over = place.for_s / system.unit.size_s
        if isinstance(start, Around):
            if leg.inherits is None or leg.inherits not in levels:
                return None
            start = levels[leg.inherits]
            for node, level in leg.reached:
                at = over * (level - start) / (target - start)
                edges.append((leg.begin, node, at, 0))
                edges.append((node, leg.begin, -at, 0))
            ahead = [r for r in leg.way.reaches if r.before is not None][len(leg.reached) :]
            if ahead:
                coming = values[ahead[0].there.bit_length() - 1]
                assert isinstance(coming, Fraction)
                at = over * (coming - start) / (target - start)
                last, small = (count - 1, 0) if leg.cut is None else (leg.cut, 1)
                edges.append((last, leg.begin, -at, small))
        assert isinstance(start, Fraction)
        if leg.cut is None or leg.after_cut is None:
            continue
        timed = least_moments(count, edges)
        if timed is None:
            return None
        if number in parts:
            begun = Fraction(timed.moments[leg.begin - 1][0])
            gone = _cut_at(leg, parts[number], timed, edges, count, system.unit.size_s)
            left = start + (target - start) * gone / over
            if not leg.after_cut.low < left < leg.after_cut.high:
                return None
            levels[number] = left
            # What follows is worked out from these two moments, so they stay where they are.
            for node, at in ((leg.begin, begun), (leg.cut, begun + gone)):
                edges.append((0, node, at, 0))
                edges.append((node, 0, -at, 0))
    return least_moments(count, edges)


def _cut_at(
    leg: _Leg, part: Fraction, timed: Timed, edges: list[Edge], count: int, size: Fraction
) -> Fraction:
    """How long a fade lasts that is cut short; a part of the way from the least to the most it can.

    As round a figure as there is near it.
    """
    assert leg.cut is not None
    least = Fraction(timed.moments[leg.cut - 1][0]) - timed.moments[leg.begin - 1][0]
    latest = distances(count, edges)[leg.cut][leg.begin]
    most = least + 60 / size if latest is None else -Fraction(latest[0])
    wanted = least + (most - least) * part
    for grain in (Fraction(1), Fraction(1, 2), Fraction(1, 10), Fraction(1, 100)):
        units = grain / size
        rounded = -(-wanted // units) * units
        for one in (rounded, rounded - units, rounded + units):
            if least < one < most:
                return one
    return wanted
