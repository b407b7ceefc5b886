"""The certificate of a proof: an inductive invariant and the texts that show it to be one.

Six conditions over the relation (:mod:`verifier.proof.relation`), each an SMT-LIB text that is
unsatisfiable exactly if the condition holds:

initial      every state in which a run begins is in the invariant
kept         every happening, with all that it sets off, stays in it; so does the passing of time
implies      no state of the invariant fails the requirement
alive        where time cannot pass, something that is due can happen
cover        where a happening is possible, some path of the relation is taken
chain        no endless chain begins in it

A seventh, ``kept in time``, is the second half of ``kept``, as a text of its own.
"""

from __future__ import annotations

from verifier.model.job import PointKind
from verifier.proof.formula import (
    NEVER,
    YES,
    Compare,
    Formula,
    OneValue,
    Writer,
    all_of,
    any_of,
    at_latest,
    at_least,
    of_condition,
    of_cube,
    within,
)
from verifier.proof.relation import Cube, Path, Relation
from verifier.proof.solvers import what_is_no_term
from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    ControllerWakes,
    DoorMoves,
    Happening,
    InputTurns,
    LevelPassed,
    LevelReached,
    LimitsTurn,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PointSticks,
    PowerCut,
    QuietBegins,
    ReportBounces,
    StayedRunsOut,
    SunTurns,
    WaitRunsOut,
    WireBreaks,
)
from verifier.surroundings.reports import AWAY, MAY_BOUNCE
from verifier.surroundings.state import FOREVER, Bound
from verifier.surroundings.world import FALSE, LOWERED, TRUE


def texts_of(
    relation: Relation,
    lemmas: tuple[Formula, ...],
    *,
    two_steps: bool = False,
    own_bounds: bool = False,
) -> tuple[tuple[str, str], ...]:
    """The texts of a certificate, by name; ``lemmas`` are the invariant, all of them together.

    ``two_steps``: where time cannot pass, something outside may have to happen first, so that
    what is due can happen after it at the same moment. ``own_bounds``: `alive` is asked of what
    the controller bounds only, where assumptions may stop time by themselves (15).
    """
    maker = _Maker(relation, lemmas)
    maker.two_steps = two_steps
    maker.own_bounds = own_bounds
    return (
        ("initial", maker.initial()),
        ("kept", maker.kept()),
        ("kept in time", maker.kept_in_time()),
        ("implies", maker.implies()),
        ("alive", maker.alive()),
        ("cover", maker.cover()),
        ("chain", maker.chain()),
    )


def standing_lemmas(system: System) -> tuple[Formula, ...]:
    """What is true of every state by its making: each variable has one value, no clock is negative."""
    writer = Writer(system)
    ones: list[Formula] = [
        OneValue(v) for v in range(len(system.layout.variables)) if not writer.is_flag(v)
    ]
    positive: list[Formula] = [Compare(0, c + 1, 1) for c in writer.clocks]
    return (*ones, *positive)


class _Maker:
    def __init__(self, relation: Relation, lemmas: tuple[Formula, ...]) -> None:
        self.relation = relation
        self.system = relation.system
        self.layout = relation.system.layout
        self.writer = Writer(relation.system)
        self.two_steps = False
        self.own_bounds = False
        self.lemmas = (*standing_lemmas(relation.system), *lemmas)
        self.holds = [self.writer.formula(lemma) for lemma in self.lemmas]

    def text(self, title: str, declared: list[str], asserted: list[str]) -> str:
        return written(title, declared, asserted)

    def declare(self, mark: str = "") -> list[str]:
        return declared(self.writer, mark)

    def broken(self) -> str:
        parts = [f"(not {self.writer.formula(lemma, chr(39))})" for lemma in self.lemmas]
        parts = [p for p in parts if p != "(not true)"]
        return f"(or {' '.join(parts)})" if parts else "false"

    def initial(self) -> str:
        taken, asserted = chosen(self.writer, self.relation.starts)
        return self.text(
            "A run begins outside the invariant",
            [*self.declare(), *self.declare("'"), *taken],
            # The cubes of the start speak of states that have a value each.
            [
                *(self.writer.formula(one) for one in standing_lemmas(self.system)),
                *asserted,
                self.broken(),
            ],
        )

    def kept(self) -> str:
        paths = tuple(path for path in self.relation.paths if not path.endless)
        taken, asserted = chosen(self.writer, paths)
        return self.text(
            "A happening leads out of the invariant",
            [*self.declare(), *self.declare("'"), *taken],
            [*self.holds, *asserted, self.broken()],
        )

    def kept_in_time(self) -> str:
        return self.text(
            "Time that may pass leads out of the invariant",
            [*self.declare(), *self.declare("'"), "(declare-const |time passed| Real)"],
            [*self.holds, *passing(self.writer), self.broken()],
        )

    def implies(self) -> str:
        bad = any_of(of_cube(cube) for cube in self.relation.bad)
        return self.text(
            "A state of the invariant fails the requirement",
            self.declare(),
            [*self.holds, self.writer.formula(bad)],
        )

    def alive(self) -> str:
        stuck = []
        for bound in self.layout.bounds:
            if self.own_bounds and bound.outside:
                continue
            tight = [
                *(within(self.layout, v, m) for v, m in bound.when),
                at_least(bound.clock, 2 * bound.limit),
            ]
            releasing = [
                p
                for p in self.relation.paths
                if not p.endless and _begins_while(p, bound) and _releases(p, bound)
            ]
            found = [of_cube(path.before) for path in releasing]
            found.extend(
                all_of((within(self.layout, v, m), at_least(clock, 2 * limit)))
                for v, m, clock, limit in bound.first
            )
            if self.two_steps:
                found.extend(self.first_and_then(releasing))
            ways = any_of(found)
            stuck.append(
                f"(and {self.writer.formula(all_of(tight))} (not {self.writer.formula(ways)}))"
            )
        return self.text(
            "Time cannot pass and nothing that is due can happen",
            self.declare(),
            [*self.holds, f"(or false {' '.join(stuck)})"],
        )

    def first_and_then(self, releasing: list[Path]) -> list[Formula]:
        """Where a step outside leads to a state from which one of the paths can be taken."""
        found: list[Formula] = []
        for first in self.relation.paths:
            happening = self.system.happenings[first.happening]
            if first.endless or not isinstance(happening, InputTurns | SunTurns | DoorMoves):
                continue
            for path in releasing:
                after = _before_both(first, path.before)
                if after is not None:
                    found.append(of_cube(after))
        return found

    def cover(self) -> str:
        lost = []
        for number, happening in enumerate(self.system.happenings):
            ways = any_of(
                of_cube(path.before) for path in self.relation.paths if path.happening == number
            )
            possible_ = self.writer.formula(possible(self.system, happening))
            lost.append(f"(and {possible_} (not {self.writer.formula(ways)}))")
        return self.text(
            "A happening is possible and no path is there for it",
            self.declare(),
            [*self.holds, f"(or false {' '.join(lost)})"],
        )

    def chain(self) -> str:
        endless = any_of(of_cube(p.before) for p in self.relation.paths if p.endless)
        return self.text(
            "A chain without end begins in the invariant",
            self.declare(),
            [*self.holds, self.writer.formula(endless)],
        )


def no_fact(writer: Writer, text: str) -> str:
    """Why a text is no fact about a state, as a lemma has to be; empty if it is one."""
    return what_is_no_term(text, frozenset((*writer.bools(), *writer.reals())))


def written(title: str, declared: list[str], asserted: list[str]) -> str:
    """A text that asks whether all of ``asserted`` can hold at once."""
    if "false" in asserted:
        # There is nothing to look for, whatever the rest says.
        declared, asserted = [], ["false"]
    lines = [f"; {title}", "(set-logic QF_LRA)", *declared]
    lines.extend(f"(assert {a})" for a in asserted)
    lines.append("(check-sat)")
    return "\n".join(lines) + "\n"


def declared(writer: Writer, mark: str = "") -> list[str]:
    """Declarations of every Bool and Real of the state ``mark``."""
    return [
        *(f"(declare-const {name} Bool)" for name in writer.bools(mark)),
        *(f"(declare-const {name} Real)" for name in writer.reals(mark)),
    ]


def passing(writer: Writer, now: str = "", then: str = "'") -> list[str]:
    """Assertions: ``|time passed|`` leads from the state ``now`` to ``then``, as bounds allow."""
    found = ["(>= |time passed| 0.0)"]
    for variable in range(len(writer.layout.variables)):
        found.append(writer.assigned(variable, variable, 0, now, then))
    for clock in writer.clocks:
        late = f"(+ {writer.clock(clock, now)} |time passed|)"
        found.append(f"(= {writer.clock(clock, then)} {late})")
    for bound in writer.layout.bounds:
        # The `true` says nothing, but Spacer answers or not by how a term is written.
        when = " ".join(writer.within(v, m, now) for v, m in bound.when)
        late = f"(<= {writer.clock(bound.clock, then)} {bound.limit}.0)"
        found.append(f"(=> (and true {when}) {late})")
    return found


def chosen(
    writer: Writer,
    paths: tuple[Path, ...],
    now: str = "",
    then: str = "'",
    *,
    alone: bool = True,
) -> tuple[list[str], list[str]]:
    """Declarations and assertions: one of the paths leads from the state ``now`` to ``then``.

    Each path has a Bool that says that it is taken, and a number in binary so that no two are.
    What a path does not name stays: a frame for each variable and clock names the paths that
    write it. Not ``alone``: several may be taken at once where they agree, which are more steps
    than there are: enough for guessing lemmas, and quicker.
    """
    names = [f"|path {k}{now}|" for k in range(len(paths))]
    count = (len(paths) - 1).bit_length() if paths and alone else 0
    digits = [f"|digit {i}{now}|" for i in range(count)]
    taken = [f"(declare-const {name} Bool)" for name in (*names, *digits)]
    asserted = [f"(or {' '.join(names)})" if names else "false"]
    writers: dict[int, list[str]] = {}
    clock_writers: dict[int, list[str]] = {}
    for k, (name, path) in enumerate(zip(names, paths, strict=True)):
        parts = [d if k >> i & 1 else f"(not {d})" for i, d in enumerate(digits)]
        parts.append(writer.formula(of_cube(path.before), now))
        for variable, source, bit in path.values:
            parts.append(writer.assigned(variable, source, bit, now, then))
            writers.setdefault(variable, []).append(name)
        for clock, source in path.clocks:
            if clock not in writer.used:
                continue
            clock_writers.setdefault(clock, []).append(name)
            value = "0.0" if source < 0 else writer.clock(source, now)
            parts.append(f"(= {writer.clock(clock, then)} {value})")
        parts = [p for p in parts if p != "true"]
        if parts:
            asserted.append(f"(=> {name} (and {' '.join(parts)}))")
    for variable in range(len(writer.layout.variables)):
        stays = writer.assigned(variable, variable, 0, now, then)
        asserted.append(_or_paths(stays, writers.get(variable, [])))
    for clock in writer.clocks:
        stays = f"(= {writer.clock(clock, then)} {writer.clock(clock, now)})"
        asserted.append(_or_paths(stays, clock_writers.get(clock, [])))
    return taken, asserted


def _or_paths(stays: str, paths: list[str]) -> str:
    return f"(or {stays} {' '.join(paths)})" if paths else stays


def _before_both(first: Path, then: Cube) -> Cube | None:
    """The states in which ``first`` can be taken and leads into the cube; None if there are none."""
    written = {v: (source, bit) for v, source, bit in first.values}
    values = dict(first.before.values)
    for variable, mask in then.values:
        source, bit = written.get(variable, (variable, 0))
        if source < 0:
            if not bit & mask:
                return None
            continue
        values[source] = values.get(source, mask) & mask
        if not values[source]:
            return None
    moved = dict(first.clocks)
    clocks = {c: (low, high) for c, low, high in first.before.clocks}
    for clock, low, high in then.clocks:
        source = moved.get(clock, clock)
        if source < 0:
            if low > 0:
                return None
            continue
        known = clocks.get(source, (0, FOREVER))
        clocks[source] = (max(known[0], low), min(known[1], high))
        if clocks[source][0] > clocks[source][1]:
            return None
    return Cube(
        tuple(sorted(values.items())), tuple((c, low, high) for c, (low, high) in clocks.items())
    )


def _begins_while(path: Path, bound: Bound) -> bool:
    """Whether the path can be taken in a state in which the bound holds (a quick test)."""
    known = dict(path.before.values)
    return all(known.get(v, m) & m for v, m in bound.when)


def _releases(path: Path, bound: Bound) -> bool:
    """Whether the bound no longer stops time after the path."""
    for variable, mask in bound.when:
        for written, source, bit in path.values:
            if written == variable and source < 0 and not bit & mask:
                return True
    return any(clock == bound.clock for clock, _ in path.clocks)


# ---------------------------------------------------------------- when a happening is possible


def possible(system: System, happening: Happening) -> Formula:
    """When a happening is possible: read off the job, and not off the interpreter's steps."""
    layout, world = system.layout, system.world
    quiet = (
        [within(layout, v, m) for v, m in system.monitor.before_outside()]
        if (system.monitor is not None)
        else []
    )
    match happening:
        case WaitRunsOut(rule, slot, number, _):
            place = system.codes[rule].places[number]
            assert place.for_s is not None
            return all_of(
                (
                    within(layout, system.slots[rule][slot], system.at(number)),
                    at_least(system.slot_clocks[rule][slot], 2 * system.unit(place.for_s)),
                )
            )
        case StayedRunsOut(number, _):
            timer = system.timers[number]
            parts = [
                within(layout, timer.variable, timer.mask),
                within(layout, timer.ran_out, FALSE),
                at_least(timer.clock, 2 * timer.limit),
            ]
            if timer.parted is not None and not timer.of_truth:
                parts.append(within(layout, timer.parted, TRUE))
            parts.extend(
                of_condition(system, c, True, {timer.ran_out: TRUE})
                for c, reads in system.always_reads
                if timer.ran_out in reads
            )
            return all_of(parts)
        case LevelReached(dimmer, w, c, _):
            fading = system.fading[dimmer]
            way = fading.ways[w]
            reach = way.reaches[c]
            assert reach.before is not None
            return all_of(
                (
                    within(layout, fading.active, 2 << w),
                    within(layout, fading.level, reach.before),
                    at_least(way.clock, 2 * reach.earliest),
                )
            )
        case LevelPassed(dimmer, p, _):
            fading = system.fading[dimmer]
            passing = fading.passings[p]
            nothing_due = [
                any_of(
                    (
                        within(layout, v, layout.variables[v].every & ~mask),
                        at_latest(clock, 2 * limit - 1),
                    )
                )
                for v, mask, clock, limit in passing.first
            ]
            return all_of(
                (
                    within(layout, fading.active, passing.ways),
                    within(layout, fading.level, passing.there),
                    *nothing_due,
                )
            )
        case CalendarTurns(number, _):
            return _calendar_can_turn(system, number)
        case ControllerWakes():
            assert system.reaction is not None
            return within(layout, system.reaction.due, TRUE)
        case QuietBegins():
            assert system.monitor is not None
            parts = [within(layout, v, m) for v, m in system.monitor.before_quiet()]
            for bound in layout.bounds:
                if bound.outside:
                    parts.append(
                        any_of(
                            within(layout, v, layout.variables[v].every & ~m) for v, m in bound.when
                        )
                    )
            return all_of(parts)
        case ButtonPressed() | PowerCut():
            return all_of(quiet)
        case LocalSwitch(_, variable, bit, _):
            return all_of((*quiet, _not_yet(system, variable, bit)))
        case SunTurns(variable, bit, _):
            return all_of(
                (*quiet, _not_yet(system, variable, bit), _allowed(system, variable, bit))
            )
        case InputTurns(point, variable, bit, _):
            parts = [*quiet, _not_yet(system, variable, bit), _allowed(system, variable, bit)]
            rooms = world.rooms_seen_by(point)
            if rooms and bit == TRUE and system.job.point[point].kind is PointKind.DETECTOR:
                parts.append(any_of(within(layout, world.of_room[r.name], TRUE) for r in rooms))
            return all_of(parts)
        case DoorMoves(door, variable, before, bit, least):
            return all_of(
                (
                    *quiet,
                    within(layout, variable, before),
                    at_least(world.travel[door], 2 * least),
                    _allowed(system, variable, bit),
                )
            )
        case LimitsTurn(_, variable, _, turns):
            ways = [
                all_of((within(layout, variable, before), _allowed(system, variable, bit)))
                for before, bit in turns
            ]
            return all_of((*quiet, any_of(ways)))
        case ReportBounces(point, back, _):
            reporting = world.reporting[point]
            assert reporting.bounce is not None
            parts = [*quiet, within(layout, reporting.bounce, AWAY if back else MAY_BOUNCE)]
            if not back:
                parts.append(at_latest(reporting.clock, 2 * reporting.limit))
            return all_of(parts)
        case PointSticks(point, _) | WireBreaks(point, _):
            reporting = world.reporting[point]
            fault = reporting.stuck if isinstance(happening, PointSticks) else reporting.broken
            assert fault is not None
            return all_of((*quiet, within(layout, fault, FALSE)))
        case PeopleCome(room, _):
            variable = world.of_room[room]
            return all_of(
                (
                    *quiet,
                    within(layout, variable, FALSE),
                    _way_open(system, room),
                    _allowed(system, variable, TRUE, room),
                )
            )
        case PeopleLeave(room, _):
            variable = world.of_room[room]
            return all_of(
                (
                    *quiet,
                    within(layout, variable, TRUE),
                    _way_open(system, room),
                    _allowed(system, variable, FALSE),
                )
            )


def _calendar_can_turn(system: System, number: int) -> Formula:
    """The phase is there, and the clocks stand where the turn can happen, or must."""
    layout, placed = system.layout, system.world.in_calendar
    assert placed is not None
    turn = placed.calendar.turns[number]
    asked = placed.asked_by(turn)
    in_time = []
    for since in asked:
        in_time.append(at_latest(since.clock, 2 * since.most))
        every = layout.variables[since.seen].every
        begun = within(layout, since.seen, every & ~since.known)
        in_time.append(any_of((begun, at_least(since.clock, 2 * since.least))))
    due = [at_least(since.clock, 2 * since.most) for since in asked if since.due]
    return all_of(
        (
            within(layout, placed.phase, 1 << turn.before),
            any_of((all_of(in_time), *due)),
            _allowed(system, placed.phase, 1 << turn.after),
        )
    )


def _not_yet(system: System, variable: int, bit: int) -> Formula:
    return within(system.layout, variable, system.layout.variables[variable].every & ~bit)


def _way_open(system: System, room: str) -> Formula:
    world, layout = system.world, system.layout
    names = system.job.room[room].entered_by
    if not names:
        return YES
    ways = []
    for name in names:
        if name in world.of_door:
            door = world.of_door[name]
            shut = world.door_mask(name, LOWERED)
            ways.append(within(layout, door, layout.variables[door].every & ~shut))
        else:
            ways.append(within(layout, world.of_point[name], TRUE))
    return any_of(ways)


def _leaves(system: System, variable: int, mask: int, put: dict[int, int], people: str) -> Formula:
    """After the change the variable is not in ``mask``; ``people``: the room that they come into."""
    layout, world = system.layout, system.world
    if variable in put:
        return NEVER if put[variable] & mask else YES
    for (room, detector), awaiting in world.awaiting.items():
        if awaiting == variable and room == people:
            # Whoever comes in is noticed at once by a detector that is occupied.
            seen = NEVER if mask & FALSE else within(layout, world.of_point[detector], TRUE)
            unseen = NEVER if mask & TRUE else within(layout, world.of_point[detector], FALSE)
            return any_of((seen, unseen))
    return within(layout, variable, layout.variables[variable].every & ~mask)


def _allowed(system: System, variable: int, bit: int, people: str = "") -> Formula:
    """No stretch that has to last, and no assumption, forbids the change."""
    layout, world = system.layout, system.world
    every = layout.variables[variable].every
    parts: list[Formula] = []
    for stretch in world.stretches.get(variable, ()):
        if stretch.mask & bit:
            continue
        ways: list[Formula] = [
            within(layout, variable, every & ~stretch.mask),
            within(layout, world.first[variable], TRUE),
            at_least(stretch.clock, 2 * stretch.limit),
        ]
        for clock, when, limit in stretch.yields:
            ways.append(
                all_of((*(within(layout, v, m) for v, m in when), at_least(clock, 2 * limit)))
            )
        parts.append(any_of(ways))
    changed = {variable, *(system.timers[n].ran_out for n in system.timers_of[variable])}
    put = {variable: bit}
    for (room, detector), awaiting in world.awaiting.items():
        noticed = world.of_point[detector] == variable and bit == TRUE
        if noticed or (world.of_room[room] == variable and bit == FALSE):
            put[awaiting] = FALSE
    for number in system.timers_of[variable]:
        timer = system.timers[number]
        if not timer.mask & bit:
            put[timer.ran_out] = FALSE
    for condition, reads in system.always_reads:
        if changed & reads:
            parts.append(of_condition(system, condition, True, put))
    if variable in world.first:
        put[world.first[variable]] = FALSE
    for cube in system.without:
        parts.append(any_of(_leaves(system, v, m, put, people) for v, m in cube))
    return all_of(parts) if parts else YES
