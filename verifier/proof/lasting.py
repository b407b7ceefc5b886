"""What goes on for ever: ``every trigger of R leads to C`` and ``measure longest``.

Both come down to the greatest time a clock of the monitor shows in certain states. Where that
has no bound, only a concrete run that replays shows it: one that comes to rest in such a state,
or a cycle through one in which time passes.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.proof.bounded import Unrolling
from verifier.proof.closed import EvidenceFailed, NotChecked, NotOnTheWhole
from verifier.proof.engines import Breaks, by_zones
from verifier.proof.evidence import (
    Steps,
    begun,
    best_timeline,
    certified,
    clock_of,
    raise_chain,
    replayed_steps,
    run_of,
)
from verifier.proof.exact import Exact, path_of
from verifier.proof.fit import NoRealRun, timeline_of
from verifier.proof.formula import Formula
from verifier.proof.hull import Hull, hull
from verifier.proof.invariant import invariant_of
from verifier.proof.moves import Constraint, Discrete, Moves, TooLarge, guards_of
from verifier.proof.question import Question
from verifier.proof.relation import bad_cubes
from verifier.proof.rounding import rounded
from verifier.proof.split import FEWEST, Stuck, greatest_in_parts, resting, split_lemmas
from verifier.proof.timing import Timed, Timeline, moments_of
from verifier.proof.vacuity import vacuity
from verifier.proof.verdict import Answered, Certificate, Proved, Refuted, Verdict
from verifier.proof.zones import INFINITE, Zone, constrained_all
from verifier.simulate.explicit import (
    TICK,
    State,
    can_tick,
    components,
    registers_of,
    state_of,
    ticked,
)
from verifier.simulate.instant import outcomes
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.replay import Concrete, position
from verifier.simulate.run import Played, Run, Step
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    ButtonPressed,
    CalendarTurns,
    InputTurns,
    QuietBegins,
)
from verifier.surroundings.state import FOREVER, Registers, each_way

Wanted = Callable[[Registers], bool]
Zones = dict[Discrete, list[Zone]]


def parts_of(moves: Moves, state: Discrete, wanted: Wanted) -> list[tuple[Constraint, ...]]:
    """The parts of a discrete state's clocks in which something is so."""
    place = {clock: i + 1 for i, clock in enumerate(moves.info(state).active)}
    return [guards_of(reg, place) for reg, yes in each_way(moves.registers(state), wanted) if yes]


def greatest_time(moves: Moves, zones: Zones, clock: int, wanted: Wanted) -> int | None:
    """The greatest upper bound (in the zones' encoding) of a clock where ``wanted``; None: nowhere."""
    most: int | None = None
    for state, here in zones.items():
        parts = parts_of(moves, state, wanted)
        info = moves.info(state)
        for part in parts:
            for zone in here:
                cut = constrained_all(zone, info.size, part)
                if cut is not None:
                    index = info.active.index(clock) + 1
                    bound = cut[index * info.size]
                    most = bound if most is None else max(most, bound)
    return most


@dataclass(frozen=True, slots=True)
class Supremum:
    """``bound`` units (None: nothing wanted is reached), zones that show it, and a run to it.

    No zones: it is shown by parts of the slice.
    """

    bound: int | None
    zones: Zones | None
    run: Run | None


class Unbounded(Exception):
    """There is no bound; ``args[0]`` is the run."""


def supremum(
    question: Question,
    clock: int,
    wanted: Wanted,
    keeps_counting: Callable[[Registers], bool],
) -> Supremum:
    """The exact least upper bound of a clock where ``wanted``. Raises: TooLarge, Unbounded.

    ``keeps_counting`` (of the registers after a step) says that the step did not restart the clock.
    """
    for _ in range(MOST_ROUNDS):
        try:
            return _supremum(question, clock, wanted, keeps_counting)
        except _NotFarEnough:
            pass
    raise TooLarge(0)


MOST_ROUNDS = 4
"""How often it is looked further, each time about three times as far."""


class _NotFarEnough(Exception):
    """The bound, if there is one, lies beyond what the zones tell apart."""


def _supremum(
    question: Question,
    clock: int,
    wanted: Wanted,
    keeps_counting: Callable[[Registers], bool],
) -> Supremum:
    """The same, of what is told apart so far and a little more.

    A body can wait again and again, and so can those that wait their turn behind it: the sum of the
    constants that each clock is compared with is a guess. Raises: TooLarge, Unbounded, _NotFarEnough.
    """
    system, moves = question.system, question.moves
    limit = 2 * sum(system.layout.greatest) + 2
    system.layout.greatest[clock] = max(system.layout.greatest[clock], limit)
    question.rethink()
    found: Hull | None = None
    if resting(system) >= FEWEST:
        found = _small_hull(question)
        in_parts = _in_parts(question, clock, wanted) if found is None else None
        if in_parts is not None:
            return in_parts
    if found is None:
        found = question.hull(stop_when_failing=False)
    zones: Zones = {state: [zone] for state, zone in found.zones.items()}
    if found.endless:
        raise_chain(question)
    most = greatest_time(moves, zones, clock, wanted)
    if most is None:
        return Supremum(None, zones, None)
    if most >= INFINITE:
        run = _for_ever(question, clock, wanted, keeps_counting)
        if run is not None:
            raise Unbounded(run)
    else:
        exact = _reaching(question, clock, wanted, most)
        if exact is not None:
            return Supremum(most >> 1, zones, exact)
    # The hull was too coarse: exact zones give the bound, if they come to an end.
    everything = _explored(question, lambda reg: False).zones
    most = greatest_time(moves, everything, clock, wanted)
    if most is None:
        return Supremum(None, everything, None)
    if most >= INFINITE:
        raise _NotFarEnough
    run = _reaching(question, clock, wanted, most)
    if run is None:
        raise EvidenceFailed("the bound that was found is not reached by any run")
    return Supremum(most >> 1, everything, run)


FIRST_STATES, FIRST_WORK = 200, 100_000
"""What the hull is given before a slice is taken apart."""


def _small_hull(question: Question) -> Hull | None:
    """The hull of all that can be reached, if that is little."""
    try:
        return hull(
            question.moves,
            most_states=FIRST_STATES,
            most_work=FIRST_WORK,
            limit_s=question.left_s,
            stop_when_failing=False,
        )
    except TooLarge:
        return None


def _in_parts(question: Question, clock: int, wanted: Wanted) -> Supremum | None:
    """The bound of a slice taken apart; None if no run of few happenings shows that it is exact."""
    relation = replace(question.relation, bad=bad_cubes(question.system, wanted))
    if any(path.endless for path in relation.paths):
        return None
    most = greatest_in_parts(relation, clock)
    if most is None:
        return Supremum(None, None, None)
    run = None if most >= INFINITE else _coming_near(question, clock, wanted, most)
    return None if run is None else Supremum(most >> 1, None, run)


def _certified(question: Question, found: Supremum, claim: int) -> Certificate:
    """The certificate of a bound that is claimed. Raises: EvidenceFailed, NotChecked, TooLarge."""
    if found.zones is not None:
        return certified(question, (invariant_of(question.moves, found.zones),), claim)
    lemmas = split_lemmas(question.relation)
    if not isinstance(lemmas, Stuck):
        with suppress(EvidenceFailed, NotChecked):
            return certified(question, lemmas, claim)
    return certified(question, _lemmas_of_zones(question), claim)


def _lemmas_of_zones(question: Question) -> tuple[Formula, ...]:
    """The lemmas of a bound that parts gave, and could not prove. Raises: TooLarge, EvidenceFailed."""
    found = by_zones(question, question.pinned(), question.budget)
    if isinstance(found, Breaks):
        raise EvidenceFailed("the bound that the parts of the slice gave is not kept")
    return found.lemmas


@contextmanager
def _looking_for(moves: Moves, bad: Wanted) -> Iterator[None]:
    """A stretch in which what ``bad`` marks is what is looked for."""
    old = moves.is_bad
    moves.is_bad = bad
    moves.infos.clear()
    try:
        yield
    finally:
        moves.is_bad = old
        moves.infos.clear()


def _explored(question: Question, bad: Wanted) -> Exact:
    """What exact zones come to when they look for a state that ``bad`` marks. Raises: TooLarge."""
    with _looking_for(question.moves, bad):
        return question.explore()


def _at_bound(clock: int, wanted: Wanted, bound: int) -> Wanted:
    """Whether a bound of the clock is reached (or as nearly as one likes, if it is strict)."""
    position_ = 2 * (bound >> 1) - (0 if bound & 1 else 1)
    return lambda reg: reg.reached(clock, position_) and wanted(reg)


MOST_DEEP, DEEP_S = 6, 8.0
"""Happenings, and seconds, within which a bound has to be reached where there are many states."""


def _coming_near(question: Question, clock: int, wanted: Wanted, bound: int) -> Run | None:
    """A run of few happenings that reaches a bound of the clock, found without any list of states."""
    moves, bad = question.moves, _at_bound(clock, wanted, bound)
    relation = replace(question.relation, bad=bad_cubes(question.system, bad))
    with _looking_for(moves, bad):
        found = Unrolling(relation, moves).search(MOST_DEEP, min(DEEP_S, question.left_s / 2))
        return run_of(question, found, bad) if isinstance(found, Timeline) else None


def _reaching(question: Question, clock: int, wanted: Wanted, bound: int) -> Run | None:
    """A run that reaches a bound of the clock (or comes as near as one likes, if it is strict)."""
    bad = _at_bound(clock, wanted, bound)
    reached = _explored(question, bad).reached
    if not reached:
        return None
    return run_of(question, best_timeline(question, reached), bad)


# ---------------------------------------------------------------- without end


def _for_ever(
    question: Question, clock: int, wanted: Wanted, keeps_counting: Callable[[Registers], bool]
) -> Run | None:
    """A run on which the clock grows for ever and ``wanted`` comes true again and again."""
    system = question.system
    timeless = calendar_clocks(system)

    def at_rest(reg: Registers) -> bool:
        for bound in system.layout.bounds:
            if bound.clock not in timeless and all(reg.test(v, m) for v, m in bound.when):
                return False
        return wanted(reg) and (not timeless or _idle_by_the_clock(system, reg))

    reached = _explored(question, at_rest).reached
    if reached:
        return run_of(question, best_timeline(question, reached), at_rest, rests=True)
    return _cycle(question, wanted, keeps_counting) or _stretched(question, clock, wanted)


def calendar_clocks(system: System) -> frozenset[int]:
    """The clocks of the calendar, which goes on also when nothing else does (16)."""
    placed = system.world.in_calendar
    return frozenset() if placed is None else placed.clocks()


def _idle_by_the_clock(system: System, reg: Registers) -> bool:
    """Whether no time of the clock changes anything in a state that is known but for its clocks."""
    placed = system.world.in_calendar
    assert placed is not None
    of_calendar = placed.variables()
    phases = {reg.known(placed.phase)}
    todo = list(phases)
    while todo:
        phase = todo.pop()
        for happening in system.happenings:
            if not isinstance(happening, CalendarTurns):
                continue
            turn = placed.calendar.turns[happening.turn]
            if 1 << turn.before != phase:
                continue
            here = Registers(reg.facts[:], [0] * len(reg.at_least), [FOREVER] * len(reg.at_most))
            here.facts[placed.phase] = phase
            for outcome in outcomes(system, here, happening):
                if outcome.endless or not _only(outcome.registers, reg, of_calendar):
                    return False
            if 1 << turn.after not in phases:
                phases.add(1 << turn.after)
                todo.append(1 << turn.after)
    return True


def _only(after: Registers, before: Registers, changed: frozenset[int]) -> bool:
    """Whether all variables but those of ``changed`` are as they were."""
    return all(v in changed or after.known(v) == fact for v, fact in enumerate(before.facts))


def _stretched(question: Question, clock: int, wanted: Wanted) -> Run | None:
    """A run that waits, as long as one likes, in a state that may last, and comes to ``wanted`` after.

    The wait is tried three times longer each time: the run must replay, and show as much more.
    """
    moves, system = question.moves, question.system
    limit = system.layout.greatest[clock]

    def bad(reg: Registers) -> bool:
        return reg.reached(clock, 2 * limit) and wanted(reg)

    reached = _explored(question, bad).reached
    if not reached:
        return None
    timeline = best_timeline(question, reached)
    states = [timeline.start, *(move.target for move in timeline.path)]
    moments = [(0, 0), *timeline.timed.moments, timeline.timed.end]
    resting = [
        k
        for k in range(len(timeline.path))
        if not moves.info(states[k]).invariant and moments[k + 1][0] - moments[k][0] > 0
    ]
    for k in resting:
        longer = [_later(timeline, k, limit * factor) for factor in (3, 9, 27)]
        try:
            runs = [run_of(question, one, _beyond(bad, clock, limit, n)) for n, one in longer]
        except EvidenceFailed:
            continue
        return runs[0]
    return None


def _later(timeline: Timeline, k: int, units: int) -> tuple[int, Timeline]:
    """The timeline with everything from step ``k`` on so much later."""
    moments = tuple(
        (whole + units, small) if n >= k else (whole, small)
        for n, (whole, small) in enumerate(timeline.timed.moments)
    )
    whole, small = timeline.timed.end
    return units, replace(timeline, timed=Timed(moments, (whole + units, small)), edges=())


def _beyond(bad: Wanted, clock: int, limit: int, units: int) -> Wanted:
    return lambda reg: reg.reached(clock, 2 * (limit + units)) and bad(reg)


def _cycle(
    question: Question, wanted: Wanted, keeps_counting: Callable[[Registers], bool]
) -> Run | None:
    first = _explored(question, wanted).reached
    for one in first[:4]:
        start, path = path_of(one.node)
        try:
            timeline = timeline_of(question.moves, start, path, one.constraints)
        except NoRealRun:
            continue
        if timeline is None:
            continue
        found = _cycle_told(question, timeline, wanted, keeps_counting)
        if found is not None:
            return found
    return None


def _cycle_told(
    question: Question,
    timeline: Timeline,
    wanted: Wanted,
    keeps_counting: Callable[[Registers], bool],
) -> Run | None:
    """A cycle from the end of a timeline, at the moments to tell it with if it is one there, too."""
    usual = rounded(question.moves, timeline)
    if usual is not timeline:
        try:
            found = _cycle_after(question, usual, wanted, keeps_counting)
        except (EvidenceFailed, NotOnTheWhole):
            # The cycle is found in ticks; moments between two ticks may not lead into it.
            found = None
        if found is not None:
            return found
    return _cycle_after(question, timeline, wanted, keeps_counting)


MOST_TICKED = 20_000
"""States in ticks among which a cycle is looked for."""

LOOKS_AT_THE_TIME = 256
"""After how many states of a search for a cycle its time is looked at."""


def _cycle_after(
    question: Question,
    timeline: Timeline,
    wanted: Wanted,
    keeps_counting: Callable[[Registers], bool],
) -> Run | None:
    """A cycle in ticks from the end of a timeline, through a wanted state, in which time passes."""
    system = question.system
    moments, end = moments_of(timeline)
    start, steps = begun(question, timeline)
    _, last = replayed_steps(question, start, steps, end, timeline.begins_s)
    waited = end - (moments[-1] if moments else Fraction(0))
    here = Concrete(last.values, tuple(c + waited for c in last.clocks))
    clocks = [position(c) for c in here.clocks]
    registers = Registers(list(here.values), clocks, clocks[:])
    first = state_of(system, registers)
    until = question.until
    graph = _Graph(system, first, keeps_counting, until)
    loop = graph.loop(wanted)
    if loop is None and graph.full:
        # Too many ticks, mostly of what many inputs do beside each other: one alone may do.
        for still in _all_but_one(system):
            graph = _Graph(system, first, keeps_counting, until, still=still)
            loop = graph.loop(wanted)
            if loop is not None:
                break
        else:
            # Time passes in one go to the next thing that is due.
            graph = _Graph(system, first, keeps_counting, until, in_one_go=True)
            loop = graph.loop(wanted)
    if loop is None:
        return None
    to_loop, around = loop
    now, before = end, first
    more: list[tuple[Fraction, int, State]] = []
    for step, state in (*to_loop, *around):
        if step == TICK:
            now += Fraction(graph.passes(before), 2)
        else:
            more.append((now, step, state))
        before = state
    cycle_from = len(timeline.path) + sum(1 for step, _ in to_loop if step != TICK)
    return _told_cycle(question, timeline, start, steps, more, cycle_from)


def _told_cycle(
    question: Question,
    timeline: Timeline,
    start: Concrete,
    steps: Steps,
    more: list[tuple[Fraction, int, State]],
    cycle_from: int,
) -> Run:
    system, unit = question.system, question.system.unit
    everything = [*steps, *((at, system.happenings[h], s[0]) for at, h, s in more)]
    numbers = [*(move.happening for move in timeline.path), *(h for _, h, _ in more)]
    played = Played(
        start.values,
        tuple((at, h, to) for (at, _, to), h in zip(everything, numbers, strict=True)),
        everything[-1][0],
        timeline.begins_s,
        system.job.seasons,
    )
    replayed, _ = replayed_steps(question, start, everything, everything[-1][0], timeline.begins_s)
    told: list[Step] = []
    hidden = 0
    before = start
    for k, ((at, happening, _), result) in enumerate(zip(everything, replayed, strict=True)):
        changes = changes_between(system, before, result.state)
        before = result.state
        if isinstance(happening, QuietBegins):
            if k < cycle_from:
                hidden += 1
            continue
        if k < len(timeline.timed.moments):
            whole, small = timeline.timed.moments[k]
            earliest_s, after = unit.seconds(Fraction(whole)), small > 0
        else:
            earliest_s, after = unit.seconds(at), False
        told.append(
            Step(unit.seconds(at), earliest_s, after, happening.what, changes, result.because)
        )
    end = told[-1].at_s if told else Fraction(0)
    return Run(
        tuple(seen_values(system, start).items()),
        tuple(told),
        end,
        False,
        cycle_from - hidden,
        False,
        clock_of(system, timeline),
        played=played,
    )


def _all_but_one(system: System) -> Iterator[frozenset[int]]:
    """Happenings of all inputs but one; each button and input has its turn, as declared."""
    inputs: dict[str, set[int]] = {}
    for index, happening in enumerate(system.happenings):
        match happening:
            case InputTurns(point=point) | ButtonPressed(button=point):
                inputs.setdefault(point, set()).add(index)
            case _:
                pass
    everything = frozenset().union(*inputs.values())
    for own in inputs.values():
        yield everything - own


class _Graph:
    """Explicit states in ticks from one state, along steps that keep the clock going.

    ``still``: happenings that are left out. Raises: TooLarge, when its time is over.
    """

    def __init__(
        self,
        system: System,
        first: State,
        keeps_counting: Callable[[Registers], bool],
        until: float,
        *,
        in_one_go: bool = False,
        still: frozenset[int] = frozenset(),
    ) -> None:
        self.system = system
        self.still = still
        self.in_one_go = in_one_go
        self.states = [first]
        number = {first: 0}
        self.steps: list[list[tuple[int, int]]] = [[]]
        at = 0
        while at < len(self.states) and len(self.states) < MOST_TICKED:
            if at % LOOKS_AT_THE_TIME == 0 and time.monotonic() > until:
                raise TooLarge(0)
            for step, target in self._successors(self.states[at], keeps_counting):
                if target not in number:
                    number[target] = len(self.states)
                    self.states.append(target)
                    self.steps.append([])
                self.steps[at].append((step, number[target]))
            at += 1
        self.full = len(self.states) >= MOST_TICKED

    def passes(self, state: State) -> int:
        """Half units that pass in one step from a state: one, or as many as nothing is due in."""
        if not self.in_one_go:
            return 1
        values, clocks = state
        placed = self.system.world.in_calendar
        due = [
            2 * b.limit - clocks[b.clock]
            for b in self.system.layout.bounds
            if all(values[v] & m for v, m in b.when)
            and (placed is None or b.clock not in placed.clocks())
        ]
        if placed is not None and placed.sun is None:
            due.append(2 * self._stretch_left(values, clocks))
        return max(1, min(due, default=1))

    def _stretch_left(self, values: tuple[int, ...], clocks: tuple[int, ...]) -> int:
        """Units left in a stretch of the clock, on a day without a change of the clock."""
        placed = self.system.world.in_calendar
        assert placed is not None
        calendar = placed.calendar
        stretch = calendar.phases[values[placed.phase].bit_length() - 1].stretch
        times, period = calendar.marks.times, calendar.marks.period
        length = (times[(stretch + 1) % len(times)] - times[stretch] - 1) % period + 1
        return self.system.unit(Fraction(length)) - clocks[placed.clock] // 2

    def _successors(
        self, state: State, keeps_counting: Callable[[Registers], bool]
    ) -> Iterator[tuple[int, State]]:
        if can_tick(self.system, state):
            yield TICK, ticked(self.system, state, self.passes(state))
        placed = self.system.world.in_calendar
        for index, happening in enumerate(self.system.happenings):
            if index in self.still:
                continue
            if (
                isinstance(happening, CalendarTurns)
                and placed is not None
                and placed.sun is None
                and self._stretch_left(*state) > 0
            ):
                # A run begins with a stretch of the clock, so each lasts as long as it says.
                continue
            for outcome in outcomes(self.system, registers_of(state), happening):
                if not outcome.endless and keeps_counting(outcome.registers):
                    yield index, state_of(self.system, outcome.registers)

    def loop(
        self, wanted: Wanted
    ) -> tuple[list[tuple[int, State]], list[tuple[int, State]]] | None:
        """The steps to a cycle with a tick through a wanted state, and those around it."""
        good = {
            n
            for n, state in enumerate(self.states)
            if any(yes for _, yes in each_way(registers_of(state), wanted))
        }
        for component in components(self.steps):
            members = set(component)
            ticks = [
                (n, t)
                for n in component
                for step, t in self.steps[n]
                if step == TICK and t in members
            ]
            marked = sorted(members & good)
            if not ticks or not marked:
                continue
            via, after = min(ticks)
            everywhere = set(range(len(self.states)))
            to_loop = self._way(0, marked[0], everywhere)
            out = self._way(marked[0], via, members)
            back = self._way(after, marked[0], members)
            if to_loop is None or out is None or back is None:
                continue
            return to_loop, [*out, (TICK, self.states[after]), *back]
        return None

    def _way(self, source: int, target: int, inside: set[int]) -> list[tuple[int, State]] | None:
        came: dict[int, tuple[int, int]] = {source: (-2, -1)}
        todo = [source]
        for n in todo:
            if n == target:
                break
            for step, t in self.steps[n]:
                if t in inside and t not in came:
                    came[t] = (step, n)
                    todo.append(t)
        if target not in came:
            return None
        way: list[tuple[int, State]] = []
        at = target
        while at != source:
            step, before = came[at]
            way.append((step, self.states[at]))
            at = before
        return way[::-1]


# ---------------------------------------------------------------- the two forms


def leads_to(question: Question) -> Verdict:
    """The verdict on ``every trigger of R leads to C``."""
    monitor = question.system.monitor
    assert isinstance(monitor, LeadsToMonitor)

    def wanted(reg: Registers) -> bool:
        return monitor.is_quiet(reg) and not monitor.holds(reg)

    try:
        found = supremum(question, monitor.since, wanted, lambda reg: True)
    except Unbounded as without:
        run = without.args[0]
        how = "a run that comes to rest" if run.rests else "a cycle that never ends"
        return Refuted(run, None, how)
    bound = found.bound if found.bound is not None else 0
    monitor.claim(bound)
    question.rethink()
    certificate = _certified(question, found, bound)
    vacuous, why = vacuity(question)
    return Proved(
        certificate,
        None,
        vacuous,
        why,
        None if vacuous else question.system.unit.seconds(bound),
        "inductive invariant, with the longest time it can take",
    )


def measure(question: Question) -> Verdict:
    """The answer to ``measure longest: C after last E``."""
    monitor = question.system.monitor
    assert isinstance(monitor, MeasureMonitor)

    def keeps_counting(reg: Registers) -> bool:
        return reg.clock_from[monitor.since] >= 0

    try:
        found = supremum(question, monitor.since, monitor.measured, keeps_counting)
    except Unbounded as without:
        return Answered("unbounded", without.args[0], None, False, "", "a run without end")
    if found.bound is None:
        why = "its event never occurs, or its condition is never true after it"
        monitor.claim(-1)
        question.rethink()
        certificate = _certified(question, found, -1)
        return Answered(None, None, certificate, True, why, "inductive invariant")
    monitor.claim(found.bound)
    question.rethink()
    certificate = _certified(question, found, found.bound)
    return Answered(
        question.system.unit.seconds(found.bound),
        found.run,
        certificate,
        False,
        "",
        "inductive invariant, and a run that reaches the bound",
    )
