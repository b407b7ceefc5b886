"""Scripts: a run told in advance, with what is expected of it, played on the interpreter.

One line each (``#`` begins a comment)::

    starts side_door shut, night          values at the start; what is not named is at rest
    at 5 s       side_door becomes open   a happening, counted from the start
    after 10 s   night begins             counted from the line before
    after 1 min  expect porch_light is on an expectation, in the words of a condition
    until 30 min                          the script goes on so long

What runs out by itself happens on time in between. At the moment of a line it happens before
that line; with ``every_order`` it is tried after it too, and so is every order of handling.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model.figures import Quantity, Unit, quantity
from verifier.model.job import (
    DOOR_VALUES,
    ROOM_VALUES,
    Condition,
    Is,
    Job,
    Level,
    Or,
    PointKind,
    Possible,
    Requirement,
)
from verifier.simulate.replay import Concrete, Replayed, fails, happen, passed
from verifier.simulate.run import Run, Step
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import System
from verifier.source import SourceFile, Span
from verifier.surroundings.happenings import Happening, QuietBegins, StayedRunsOut, WaitRunsOut
from verifier.surroundings.state import each_way
from verifier.surroundings.world import FALSE, TRUE

MOST_BRANCHES = 400
"""Runs that are followed side by side with ``every_order``."""

ConditionOf = Callable[[str], tuple[Condition | None, tuple[Diagnostic, ...]]]
"""Reads a condition: given by whoever may read text (the front)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line: at ``at_s`` a happening (by its words) or an expectation."""

    at_s: Fraction
    happening: str | None
    expectation: Condition | None
    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Script:
    """A script that was read: (subject, value) at the start, lines in order of time, its end."""

    starts: tuple[tuple[str, str, Span], ...]
    lines: tuple[Line, ...]
    until_s: Fraction


@dataclass(frozen=True, slots=True)
class Expected:
    """An expectation and whether it was kept, in every run that was followed."""

    line: Line
    kept: bool


@dataclass(frozen=True, slots=True)
class Played:
    """What came out.

    ``run`` breaks an expectation if any order does; ``ways`` is in how many ways the script ends.
    """

    run: Run
    expected: tuple[Expected, ...]
    ways: int


# ---------------------------------------------------------------- reading

_TIME = r"\d+(?:\.\d+)?\s*(?:ms|s|min|h)\b"
_LINE = re.compile(rf"(?P<word>at|after)\s+(?P<time>{_TIME}(?:\s+{_TIME})*)\s+(?P<rest>\S.*)")
_UNTIL = re.compile(r"until\s+(?P<time>.+)")


def parse_script(
    file: SourceFile, job: Job, condition_of: ConditionOf
) -> tuple[Script | None, tuple[Diagnostic, ...]]:
    """The script of a file, or what is wrong with it."""
    return _Reader(file, job, condition_of).read()


class _Reader:
    def __init__(self, file: SourceFile, job: Job, condition_of: ConditionOf) -> None:
        self.file = file
        self.job = job
        self.condition_of = condition_of
        self.found: list[Diagnostic] = []
        self.starts: list[tuple[str, str, Span]] = []
        self.lines: list[Line] = []
        self.now = Fraction(0)
        self.until: Fraction | None = None
        outside = System(replace(job, requirements=()), None).happenings
        self.words = list(
            dict.fromkeys(h.what for h in outside if not isinstance(h, WaitRunsOut | StayedRunsOut))
        )

    def read(self) -> tuple[Script | None, tuple[Diagnostic, ...]]:
        offset = 0
        for raw in self.file.text.split("\n"):
            text = raw.split("#", 1)[0].rstrip()
            begin = offset + len(text) - len(text.lstrip())
            if text.strip():
                self._line(text.strip(), Span(self.file.name, begin, offset + len(text)))
            offset += len(raw) + 1
        if not self.lines and not self.found:
            whole = Span(self.file.name, 0, 0)
            self._wrong("script-empty", "the script says nothing that happens", whole,
                        "Write a line such as `at 0 s side_door becomes open`.")  # fmt: skip
        if self.found:
            return None, tuple(self.found)
        last = self.lines[-1].at_s
        return Script(tuple(self.starts), tuple(self.lines), max(last, self.until or last)), ()

    def _wrong(self, code: str, message: str, span: Span, hint: str) -> None:
        self.found.append(Diagnostic(code, Severity.ERROR, message, (Label(span),), hint))

    def _line(self, text: str, span: Span) -> None:
        if text.startswith("starts "):
            self._starts(text, span)
            return
        until = _UNTIL.fullmatch(text)
        if until is not None:
            self.until = self._time(until.group("time"), span)
            return
        match = _LINE.fullmatch(text)
        if match is None:
            self._wrong(
                "script-line",
                "this line is not understood",
                span,
                "Write `at TIME HAPPENING`, `after TIME HAPPENING`, `at TIME expect CONDITION`, "
                "`starts POINT VALUE` or `until TIME`.",
            )
            return
        time = self._time(match.group("time"), span)
        if time is None:
            return
        at = time if match.group("word") == "at" else self.now + time
        if at < self.now:
            self._wrong("script-time", "this line lies before the one above it", span,
                        "Put the lines in order of time, or write `after` instead of `at`.")  # fmt: skip
            return
        self.now = at
        self._what(match.group("rest"), at, span)

    def _time(self, text: str, span: Span) -> Fraction | None:
        read = quantity(text.strip())
        if isinstance(read, Quantity) and read.unit is Unit.DURATION:
            return read.value
        self._wrong("script-time", f"`{text.strip()}` is not a duration", span,
                    "Write one such as `250 ms`, `10 s` or `1 min 30 s`.")  # fmt: skip
        return None

    def _what(self, rest: str, at: Fraction, span: Span) -> None:
        place = Span(span.file, span.end - len(rest), span.end)
        if rest.startswith("expect "):
            condition, problems = self.condition_of(rest.removeprefix("expect "))
            for problem in problems:
                if problem.severity is Severity.ERROR:
                    self.found.append(replace(problem, labels=(Label(place),)))
            if condition is not None:
                self.lines.append(Line(at, None, condition, rest, place))
            return
        words = " ".join(rest.split())
        if words in self.words:
            self.lines.append(Line(at, words, None, words, place))
            return
        near = get_close_matches(words, self.words, n=3, cutoff=0.6)
        hint = " or ".join(f"`{n}`" for n in near) if near else "; ".join(self.words[:12])
        self._wrong(
            "script-happening",
            f"`{words}` is nothing that the surroundings can do here",
            place,
            f"Did you mean {hint}?" if near else f"What can happen: {hint}.",
        )

    def _starts(self, text: str, span: Span) -> None:
        for part in text.removeprefix("starts ").split(","):
            words = part.split()
            if words in (["night"], ["day"]):
                self.starts.append(("sun", words[0], span))
                continue
            fits = self._values(words[0]) if words else ()
            if len(words) < 2 or " ".join(words[1:]) not in fits:
                what = f"fits {words[0]}: {', '.join(fits)}" if fits else "a point, door or room"
                self._wrong("script-start", f"`{part.strip()}` says no value to start with", span,
                            f"Write `NAME VALUE`; {what}." if not fits else f"What {what}.")  # fmt: skip
                continue
            self.starts.append((words[0], " ".join(words[1:]), span))

    def _values(self, name: str) -> tuple[str, ...]:
        point = self.job.point.get(name)
        if point is not None:
            return () if point.kind is PointKind.BUTTON else point.kind.values
        if name in self.job.door:
            return DOOR_VALUES
        return ROOM_VALUES if name in self.job.room else ()


# ---------------------------------------------------------------- playing


class CannotPlay(Exception):
    """A line cannot be done; ``args[0]`` is the diagnostic."""


def _cannot(code: str, message: str, span: Span, hint: str) -> CannotPlay:
    return CannotPlay(Diagnostic(code, Severity.ERROR, message, (Label(span),), hint))


@dataclass(frozen=True, slots=True)
class _Way:
    state: Concrete
    steps: tuple[Step, ...]
    broken: frozenset[int]


def play(job: Job, script: Script, *, every_order: bool = False) -> Played:
    """The run of a script. Raises: CannotPlay."""
    return _Player(job, script, every_order).play()


class _Player:
    def __init__(self, job: Job, script: Script, every_order: bool) -> None:
        conditions = [line.expectation for line in script.lines if line.expectation is not None]
        asked = conditions[0] if len(conditions) == 1 else Or(tuple(conditions))
        requirement = (
            Requirement("expected", "", None, Possible(asked), Fraction(0), script.lines[0].span)
            if conditions
            else None
        )
        only = () if requirement is None else (requirement,)
        self.job = replace(job, requirements=only)
        self.system = System(self.job, requirement)
        self.script = script
        self.every = every_order
        self.size = self.system.unit.size_s

    def play(self) -> Played:
        start = self._start()
        ways = [_Way(start, (), frozenset())]
        now = Fraction(0)
        for number, line in enumerate(self.script.lines):
            ways = self._until(ways, now, line.at_s, line.span)
            now = line.at_s
            ways = self._do(ways, number, line)
        ways = self._until(ways, now, self.script.until_s, self.script.lines[-1].span)
        broken = frozenset(n for way in ways for n in way.broken)
        shown = next((way for way in ways if way.broken), ways[0])
        run = Run(
            tuple(seen_values(self.system, start).items()), shown.steps, self.script.until_s,
            False, None, False,
        )  # fmt: skip
        expected = tuple(
            Expected(line, number not in broken)
            for number, line in enumerate(self.script.lines)
            if line.expectation is not None
        )
        return Played(run, expected, len({way.state for way in ways}))

    def _start(self) -> Concrete:
        system, world = self.system, self.system.world
        reg = system.fresh()
        for subject, value, span in self.script.starts:
            variable, mask = self._located(subject, value, span)
            reg.facts[variable] &= mask
            if not reg.facts[variable]:
                raise _cannot("script-start", f"`{subject} {value}` contradicts another start",
                              span, "Leave one of the two out.")  # fmt: skip
        del world
        for begun, _ in each_way(reg, system.begin):
            values = []
            for variable, source in enumerate(begun.source):
                mask = begun.facts[source] if source >= 0 else begun.value[variable]
                values.append(mask & -mask)
            if all(values[v] & reg.facts[v] for v in range(len(values))):
                return Concrete(tuple(values), (Fraction(0),) * len(system.layout.clocks))
        span = self.script.starts[0][2] if self.script.starts else self.script.lines[0].span
        raise _cannot("script-start", "no run of this job begins so", span,
                      "Look at the `starts` of the job itself, and at what is assumed.")  # fmt: skip

    def _located(self, subject: str, value: str, span: Span) -> tuple[int, int]:
        world = self.system.world
        if subject == "sun":
            if world.night is None:
                raise _cannot("script-start", "nothing in the job reads night or day", span,
                              "Leave it out.")  # fmt: skip
            return world.night, TRUE if value == "night" else FALSE
        point = self.job.point.get(subject)
        if point is not None and point.kind is PointKind.DIMMER:
            return world.locate(
                Level(subject, "above" if value == "on" else "at most", Fraction(0))
            )
        return world.locate(Is(subject, value))

    # ------------------------------------------------------------ time

    def _until(self, ways: list[_Way], now: Fraction, at: Fraction, span: Span) -> list[_Way]:
        """Lets time pass up to a moment; what runs out on the way happens, also at its end."""
        done: list[_Way] = []
        todo = [(way, now) for way in ways]
        while todo:
            way, here = todo.pop()
            left = (at - here) / self.size
            wait = self._due_in(way.state)
            if wait is None or wait > left:
                later = passed(self.system, way.state, left)
                assert later is not None
                done.append(replace(way, state=later))
                continue
            later = passed(self.system, way.state, wait)
            assert later is not None
            moment = here + wait * self.size
            if self.every and wait == left:
                # What is due at this moment may also come after the line.
                done.append(replace(way, state=later))
            following = self._run_out(later, way, moment, span)
            todo.extend((one, moment) for one in following)
            if len(todo) + len(done) > MOST_BRANCHES:
                raise _cannot("script-orders", "there are too many orders to try them all", span,
                              "Leave --every-order out, or make the script shorter.")  # fmt: skip
        return _distinct(done)

    def _due_in(self, state: Concrete) -> Fraction | None:
        """Units until something has to happen; None: nothing ever has to."""
        waits = [
            bound.limit - state.clocks[bound.clock]
            for bound in self.system.layout.bounds
            if all(state.values[v] & m for v, m in bound.when)
        ]
        return min(waits) if waits else None

    def _run_out(self, state: Concrete, way: _Way, at: Fraction, span: Span) -> list[_Way]:
        found: list[_Way] = []
        for happening in self.system.happenings:
            if isinstance(happening, WaitRunsOut | StayedRunsOut):
                results = happen(self.system, state, happening)
                found.extend(self._stepped(way, state, result, at, happening) for result in results)
                if found and not self.every:
                    return found[:1]
        if found:
            return found
        raise _cannot(
            "script-due",
            f"before this line, at {_clock(at)}, the surroundings have to do something: a door "
            "has to stop or arrive, or a stretch ends that is assumed to be bounded",
            span,
            "Write what happens, in a line before this one.",
        )

    def _stepped(
        self, way: _Way, before: Concrete, result: Replayed, at: Fraction, happening: Happening
    ) -> _Way:
        changes = changes_between(self.system, before, result.state)
        step = Step(at, at, False, happening.what, changes, result.because)
        return replace(way, state=result.state, steps=(*way.steps, step))

    # ------------------------------------------------------------ lines

    def _do(self, ways: list[_Way], number: int, line: Line) -> list[_Way]:
        if line.expectation is not None:
            condition = line.expectation
            return [
                way
                if fails(self.system, way.state, lambda r: self.system.holds(r, condition, True))
                else replace(way, broken=way.broken | {number})
                for way in ways
            ]
        found: list[_Way] = []
        for way in ways:
            for happening in self.system.happenings:
                if happening.what != line.happening or isinstance(happening, QuietBegins):
                    continue
                results = happen(self.system, way.state, happening)
                chosen = results if self.every else results[:1]
                found.extend(
                    self._stepped(way, way.state, result, line.at_s, happening) for result in chosen
                )
        if not found:
            raise _cannot(
                "script-impossible",
                f"`{line.text}` is not possible at {_clock(line.at_s)}",
                line.span,
                "It is so already, or a door, a hold time or an assumption does not allow it yet.",
            )
        return _distinct(found)


def _distinct(ways: list[_Way]) -> list[_Way]:
    """One way for each state and set of broken expectations, the first of each."""
    kept: dict[tuple[Concrete, frozenset[int]], _Way] = {}
    for way in ways:
        kept.setdefault((way.state, way.broken), way)
    return list(kept.values())


def _clock(seconds: Fraction) -> str:
    from verifier.model.words import duration

    return duration(seconds) if seconds else "0 s"
