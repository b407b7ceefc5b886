"""Scripts played on the interpreter, in exact times.

What runs out by itself (waits, ``has stayed`` timers) happens on time between the lines. At the
moment of a line it happens before that line. With ``every_order`` it is tried after it too, and
so is every order in which rules can be handled. An expectation is read when all that is due at
its moment has happened.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model.job import (
    Condition,
    Is,
    Job,
    Level,
    Night,
    Or,
    PointKind,
    Possible,
    Requirement,
)
from verifier.simulate.beginning import at_rest
from verifier.simulate.instant import Outcome, outcomes
from verifier.simulate.replay import Concrete, concrete, fails, passed, registers_of
from verifier.simulate.run import Run, RunClock, Step
from verifier.simulate.script import (
    BY_ITSELF,
    SUN,
    SUN_TURNS,
    Expects,
    Happens,
    Line,
    Script,
    Start,
)
from verifier.simulate.script_reason import Reason, clock_words, what_is_due, why_not
from verifier.simulate.seen import seen_values
from verifier.simulate.system import System
from verifier.source import Span
from verifier.surroundings.calendar import WEEK_S
from verifier.surroundings.happenings import Happening, LevelReached, QuietBegins
from verifier.surroundings.state import Bound
from verifier.surroundings.world import FALSE, TRUE

MOST_BRANCHES = 400
"""Runs that are followed side by side with ``every_order``."""

MOST_STEPS = 10_000
"""Happenings that are played in all: some seconds."""


@dataclass(frozen=True, slots=True)
class Expected:
    """An expectation, and whether it was kept in every order; ``ever`` says: in some order."""

    line: Expects
    kept: bool
    ever: bool


@dataclass(frozen=True, slots=True)
class Differs:
    """The first moment at which orders end differently: what can be seen of (subject, values)."""

    at_s: Fraction
    values: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Played:
    """What came out.

    ``run`` is the run of declared order; if an expectation is broken in any order, the first run
    that breaks one. ``impossible`` are happenings that some orders do not allow (the script ends
    there in those orders), with the reason.
    """

    run: Run
    expected: tuple[Expected, ...]
    differs: Differs | None
    impossible: tuple[tuple[Happens, str], ...]


class CannotPlay(Exception):
    """A line cannot be done."""

    def __init__(self, code: str, message: str, span: Span, hint: str) -> None:
        super().__init__(message)
        self.diagnostic = Diagnostic(code, Severity.ERROR, message, (Label(span),), hint)


def play(job: Job, script: Script, *, every_order: bool = False) -> Played:
    """The run of a script. Raises: CannotPlay."""
    return _Player(job, script, every_order).play()


Trail = tuple["Trail", Step] | None
"""The steps of a way, the newest first (ways share what they have in common)."""

Seen = tuple[str, ...]
"""What is seen of each subject, in declared order."""

_BEFORE = Fraction(-1)
"""The moment given to what was seen at the last comparison."""


@dataclass(frozen=True, slots=True)
class _Way:
    """One order. ``recent`` are (moment, what is seen from then on), since the last comparison."""

    state: Concrete
    trail: Trail
    recent: tuple[tuple[Fraction, Seen], ...]
    broken: frozenset[int]
    kept: frozenset[int]


class _Player:
    def __init__(self, job: Job, script: Script, every_order: bool) -> None:
        requirement = _reads(script)
        self.job = replace(job, requirements=() if requirement is None else (requirement,))
        self.system = System(self.job, requirement)
        self.script = script
        self.every = every_order
        self.size = self.system.unit.size_s
        self.subjects: tuple[str, ...] = ()
        self._clock: RunClock | None = None
        self.steps = 0
        self.differs: Differs | None = None
        self.stopped: list[_Way] = []
        self.impossible: dict[Happens, Reason] = {}

    def play(self) -> Played:
        self._can_be_played()
        start = self._start()
        begins = seen_values(self.system, start)
        self.subjects, seen = tuple(begins), tuple(begins.values())
        placed = self.system.world.in_calendar
        if placed is not None:
            calendar = placed.calendar
            phase = calendar.phases[start.values[placed.phase].bit_length() - 1]
            begun = Fraction(calendar.marks.times[phase.stretch])
            self._clock = RunClock(begun, None, calendar.marks.period == WEEK_S)
        ways = [_Way(start, None, ((Fraction(0), seen),), frozenset(), frozenset())]
        now, lines = Fraction(0), self.script.lines
        for number, line in enumerate(lines):
            match line:
                case Expects():
                    later = any(
                        isinstance(other, Happens) and other.at_s == line.at_s
                        for other in lines[number + 1 :]
                    )
                    ways = self._expect(ways, number, line, now, later)
                case Happens():
                    ways = self._until(ways, now, line, self.every)
                    ways = self._do(ways, line)
            now = line.at_s
            ways = self._compared(ways, now)
        last = Happens(self.script.until_s, "", self.script.end)
        ways = self._compared(self._until(ways, now, last, False), self.script.until_s + 1)
        return self._played(begins, [*ways, *self.stopped])

    def _can_be_played(self) -> None:
        """A script counts from its start and knows no date, so a site's calendar cannot turn in it."""
        placed = self.system.world.in_calendar
        if placed is None or placed.calendar.site is None:
            return
        raise CannotPlay(
            "script-calendar",
            "the job's site rules its clock and sun, and a script names no date",
            self.script.lines[0].span,
            "Play it without latitude, longitude and timezone in the site: then the clock goes "
            "round from the first time that the job reads, and night and day come when the script "
            "says.",
        )

    def _played(self, begins: dict[str, str], ways: list[_Way]) -> Played:
        broken = frozenset(n for way in ways for n in way.broken)
        kept = frozenset(n for way in ways for n in way.kept)
        shown = next((way for way in ways if way.broken), ways[0])
        run = Run(
            tuple(begins.items()), _steps(shown.trail), self.script.until_s, False, None, False,
            self._clock,
        )  # fmt: skip
        expected = tuple(
            Expected(line, number not in broken, number in kept)
            for number, line in enumerate(self.script.lines)
            if isinstance(line, Expects)
        )
        return Played(
            run,
            expected,
            self.differs,
            tuple((line, said) for line, (said, _) in self.impossible.items()),
        )

    # ------------------------------------------------------------ the start

    def _start(self) -> Concrete:
        reg = self.system.fresh()
        found = at_rest(self.system, reg)
        if found is None:
            raise CannotPlay(
                "script-start", "no run of this job begins at all", self.script.lines[0].span,
                "Look at the `starts` of the job, and at what is assumed.",
            )  # fmt: skip
        for start in self.script.starts:
            variable, mask = self._located(start)
            reg.facts[variable] &= mask
            found = at_rest(self.system, reg)
            if found is None:
                name = "it" if start.subject == SUN else start.subject
                raise CannotPlay(
                    "script-start", f"no run begins with {name} {start.value}", start.span,
                    "The job's own `starts`, an assumption, or another start of the script "
                    "says otherwise; outputs start off and doors at rest.",
                )  # fmt: skip
        return found

    def _located(self, start: Start) -> tuple[int, int]:
        world = self.system.world
        if start.subject == SUN:
            assert world.night is not None
            return world.night, TRUE if start.value == "night" else FALSE
        point = self.job.point.get(start.subject)
        if point is not None and point.kind is PointKind.DIMMER:
            relation = "above" if start.value == "on" else "at most"
            return world.locate(Level(start.subject, relation, Fraction(0)))  # type: ignore[arg-type]
        return world.locate(Is(start.subject, start.value))

    # ------------------------------------------------------------ time

    def _until(self, ways: list[_Way], now: Fraction, line: Line, postpone: bool) -> list[_Way]:
        """Lets time pass up to the moment of a line; what runs out by then happens.

        ``postpone``: what is due at that very moment may also be left for after the line.
        """
        done: list[_Way] = []
        followed: set[tuple[object, ...]] = set()
        todo = [(way, now, False) for way in reversed(ways)]
        while todo:
            way, here, put_off = todo.pop()
            if put_off:
                done.append(way)
                continue
            key = (*self._key(way), way.recent, here)
            if key in followed:
                continue  # another order has led to the same, and looked the same on the way
            followed.add(key)
            left = (line.at_s - here) / self.size
            bound = self._next(way.state, outside=False)
            wait = None if bound is None else bound.limit - way.state.clocks[bound.clock]
            self._not_overdue(way.state, here, min(left, wait) if wait is not None else left, line)
            if wait is None or wait > left:
                done.append(replace(way, state=self._passed(way.state, left)))
                continue
            moment, state = here + wait * self.size, self._passed(way.state, wait)
            here_now = replace(way, state=state)
            following = self._run_out(here_now, moment, line)
            if postpone and wait == left:
                todo.append((here_now, moment, True))
            todo.extend((one, moment, False) for one in reversed(following))
            _not_too_many(len(todo) + len(done), line)
        return done

    def _passed(self, state: Concrete, units: Fraction) -> Concrete:
        later = passed(self.system, state, units)
        assert later is not None, "script: time passed a bound"
        return later

    def _next(self, state: Concrete, *, outside: bool) -> Bound | None:
        """What ends the time that can pass first: of the surroundings, or by itself."""
        bounds = [
            bound
            for bound in self.system.layout.bounds
            if bound.outside is outside and all(state.values[v] & m for v, m in bound.when)
        ]
        return min(bounds, key=lambda b: b.limit - state.clocks[b.clock], default=None)

    def _not_overdue(self, state: Concrete, here: Fraction, units: Fraction, line: Line) -> None:
        bound = self._next(state, outside=True)
        if bound is None:
            return
        wait = bound.limit - state.clocks[bound.clock]
        if wait < units:
            said, hint = what_is_due(self.system, self._passed(state, wait), bound)
            due = clock_words(here + wait * self.size)
            raise CannotPlay(
                "script-due", f"before this, at {due}, something has to happen: {said}",
                line.span, hint,
            )  # fmt: skip

    def _run_out(self, way: _Way, at: Fraction, line: Line) -> list[_Way]:
        found: list[_Way] = []
        for happening in self.system.happenings:
            if isinstance(happening, BY_ITSELF):
                self._at_a_known_moment(way.state, happening, line)
                found.extend(self._happen(way, happening, at, line))
                if found and not self.every:
                    return found
        if not found:
            raise CannotPlay(
                "script-due",
                f"time cannot go on at {clock_words(at)}: what runs out then would break an "
                "assumption",
                line.span,
                "Write what has to happen before, or look at the assumptions of the job.",
            )
        return found

    def _at_a_known_moment(self, state: Concrete, happening: Happening, line: Line) -> None:
        """After a fade that was cut short the next one begins at a level that is not told apart."""
        if not isinstance(happening, LevelReached):
            return
        fading = self.system.fading[happening.dimmer]
        reach = fading.ways[happening.way].reaches[happening.crossing]
        going = state.values[fading.active] & 2 << happening.way
        if going and reach.earliest != reach.latest:
            raise CannotPlay(
                "script-fade",
                f"{happening.dimmer} fades from where another fade was cut short, which a script "
                "does not tell",
                line.span,
                "Let the first fade end, or set a level, before the next begins; `prove` works "
                "with every level in between.",
            )

    def _happen(self, way: _Way, happening: Happening, at: Fraction, line: Line) -> Iterator[_Way]:
        found: list[Outcome] = outcomes(self.system, registers_of(way.state), happening)
        for outcome in found if self.every else found[:1]:
            self.steps += 1
            if self.steps > MOST_STEPS:
                raise CannotPlay(
                    "script-long", f"more than {MOST_STEPS} things happen up to this line",
                    line.span, "Let the script end earlier; something may go round for ever.",
                )  # fmt: skip
            if outcome.endless:
                raise CannotPlay(
                    "script-endless",
                    f"what happens at {clock_words(at)} ({happening.what}) never settles: the "
                    "rules go round with no time passing",
                    line.span,
                    "`duskproof prove` shows the rules of the chain (endless-chain).",
                )
            state, old = concrete(outcome, way.state), way.recent[-1][1]
            seen = tuple(seen_values(self.system, state).values())
            changes = tuple(
                (subject, new)
                for subject, was, new in zip(self.subjects, old, seen, strict=True)
                if was != new
            )
            step = Step(at, at, False, happening.what, changes, outcome.because)
            before = [each for each in way.recent if each[0] != at] if self.every else ()
            recent = (*before, (at, seen))
            yield replace(way, state=state, trail=(way.trail, step), recent=recent)

    # ------------------------------------------------------------ lines

    def _expect(
        self, ways: list[_Way], number: int, line: Expects, now: Fraction, later: bool
    ) -> list[_Way]:
        """Reads an expectation when all is settled that is due at its moment.

        ``later``: a happening follows at this moment, so what is due may also come after it.
        """
        system, condition = self.system, line.condition
        found: list[_Way] = []
        for way in self._until(ways, now, line, self.every and later):
            due = self._next(way.state, outside=False)
            if due is not None and way.state.clocks[due.clock] == due.limit:
                found.append(way)  # put off until after that happening: not read
            elif fails(system, way.state, lambda reg: system.holds(reg, condition, True)):
                found.append(replace(way, kept=way.kept | {number}))
            else:
                found.append(replace(way, broken=way.broken | {number}))
        return found

    def _do(self, ways: list[_Way], line: Happens) -> list[_Way]:
        found: list[_Way] = []
        for way in ways:
            before = len(found)
            for happening in self.system.happenings:
                if happening.what == line.words and not isinstance(happening, QuietBegins):
                    found.extend(self._happen(way, happening, line.at_s, line))
            if len(found) > before:
                continue
            self.stopped.append(way)
            if line not in self.impossible:
                self.impossible[line] = why_not(self.system, way.state, line.words, line.at_s)
        if not found:
            said, hint = self.impossible[line]
            raise CannotPlay(
                "script-impossible",
                f"`{line.words}` is not possible at {clock_words(line.at_s)}: {said}",
                line.span,
                hint,
            )
        _not_too_many(len(found), line)
        return found

    # ------------------------------------------------------------ many orders

    def _compared(self, ways: list[_Way], now: Fraction) -> list[_Way]:
        """One way for each state; notes the first moment before ``now`` at which they differ."""
        if len(ways) > 1 and self.differs is None:
            self.differs = _first_difference(self.subjects, ways, now)
        kept: dict[tuple[object, ...], _Way] = {}
        for way in ways:
            last = [(_BEFORE, seen) for at, seen in way.recent if at < now][-1:]
            recent = (*last, *(each for each in way.recent if each[0] >= now))
            kept.setdefault(self._key(way), replace(way, recent=recent))
        return list(kept.values())

    def _key(self, way: _Way) -> tuple[object, ...]:
        """What tells ways apart: values, clocks that matter, expectations so far."""
        state = way.state
        matters = tuple(
            time if any(all(state.values[v] & m for v, m in when) for when in uses) else None
            for time, uses in zip(state.clocks, self.system.layout.uses, strict=True)
        )
        return state.values, matters, way.broken, way.kept


def _not_too_many(count: int, line: Line) -> None:
    if count > MOST_BRANCHES:
        raise CannotPlay(
            "script-orders", "there are too many orders to try them all", line.span,
            "Leave --every-order out, or make the script shorter.",
        )  # fmt: skip


def _reads(script: Script) -> Requirement | None:
    """A requirement that reads what the script reads, so that its timers are there."""
    conditions: list[Condition] = [
        line.condition for line in script.lines if isinstance(line, Expects)
    ]
    turns = any(isinstance(line, Happens) and line.words in SUN_TURNS for line in script.lines)
    if turns or any(start.subject == SUN for start in script.starts):
        conditions.append(Night())
    if not conditions:
        return None
    asked = conditions[0] if len(conditions) == 1 else Or(tuple(conditions))
    return Requirement("expected", "", None, Possible(asked), Fraction(0), script.lines[0].span)


def _steps(trail: Trail) -> tuple[Step, ...]:
    found: list[Step] = []
    while trail is not None:
        trail, step = trail
        found.append(step)
    return tuple(reversed(found))


def _first_difference(subjects: tuple[str, ...], ways: list[_Way], now: Fraction) -> Differs | None:
    """The first moment before ``now`` at whose end ways are seen to differ."""
    for moment in sorted({at for way in ways for at, _ in way.recent if _BEFORE < at < now}):
        seen = [[values for at, values in way.recent if at <= moment][-1] for way in ways]
        differing = tuple(
            (subject, tuple(dict.fromkeys(values)))
            for subject, values in zip(subjects, zip(*seen, strict=True), strict=True)
            if len(set(values)) > 1
        )
        if differing:
            return Differs(moment, differing)
    return None
