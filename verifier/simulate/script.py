"""Scripts: a run told in advance, with what is expected of it; read from text.

One line each (``#`` begins a comment)::

    starts side_door shut, night          values at the start; what is not named is at rest
    at 5 s       side_door becomes open   a happening, counted from the start
    after 10 s   night begins             counted from the line before
    after 1 min  expect porch_light is on an expectation, in the words of a condition
    until 30 min                          the script goes on so long

What a script means is in ``script_play``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model import check_form
from verifier.model.figures import Quantity, Unit, Unreadable, quantity
from verifier.model.job import (
    DOOR_VALUES,
    ROOM_VALUES,
    Condition,
    Job,
    PointKind,
    Possible,
)
from verifier.simulate.system import System
from verifier.source import SourceFile, Span
from verifier.surroundings.happenings import (
    CalendarTurns,
    ControllerWakes,
    LevelPassed,
    LevelReached,
    StayedRunsOut,
    WaitRunsOut,
)

BY_ITSELF = (
    WaitRunsOut,
    StayedRunsOut,
    LevelReached,
    LevelPassed,
    CalendarTurns,
    ControllerWakes,
)
"""What no line of a script has to say: it happens when it is due, the controller at the latest."""

SUN = ""
"""The subject of ``night`` and ``day`` in a start (no point has this name)."""

SUN_TURNS = ("night begins", "day begins")
POWER_FAILS = "power fails and returns"
WORDS = ("starts", "at", "after", "until")
"""What a line can begin with."""

_FORMS = (
    "Write `at TIME HAPPENING`, `after TIME HAPPENING`, `at TIME expect CONDITION`, "
    "`starts POINT VALUE` or `until TIME`."
)


@dataclass(frozen=True, slots=True)
class Start:
    """A value at the start: of a point, door or room, or of :data:`SUN`."""

    subject: str
    value: str
    span: Span


@dataclass(frozen=True, slots=True)
class Happens:
    """At ``at_s`` something happens outside, by its words."""

    at_s: Fraction
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Expects:
    """At ``at_s`` a condition is expected to hold; ``text`` is how it was written."""

    at_s: Fraction
    condition: Condition
    text: str
    span: Span


Line = Happens | Expects


@dataclass(frozen=True, slots=True)
class Script:
    """A script that was read; its lines are in order of time, and there is one at least.

    ``end`` is the place of ``until``, or of the last line.
    """

    starts: tuple[Start, ...]
    lines: tuple[Line, ...]
    until_s: Fraction
    end: Span


def parse_script(file: SourceFile, job: Job) -> tuple[Script | None, tuple[Diagnostic, ...]]:
    """The script of a file, or what is wrong with it."""
    return _Reader(file, job).read()


_PART = r"\d+(?:\.\d+)?\s*(?:[A-Za-z]+|%)"
_FIGURE = re.compile(rf"-?(?:\d+:\d+|{_PART}(?:\s*{_PART})*|\d+(?:\.\d+)?)")
_PIECE = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]+|%)")
_EXPECT = re.compile(r"expect(?:\s+|$)")
_NAMED = re.compile(r"[A-Za-z][\w.]*")


class _Reader:
    def __init__(self, file: SourceFile, job: Job) -> None:
        self.file = file
        self.job = job
        self.found: list[Diagnostic] = []
        self.starts: list[Start] = []
        self.lines: list[Line] = []
        self.now = Fraction(0)
        self.lost = False
        """A time above was not understood: `after` and the order of times are not judged."""
        self.until: tuple[Fraction, Span] | None = None
        self.words = possible_words(job)

    def read(self) -> tuple[Script | None, tuple[Diagnostic, ...]]:
        offset = 0
        for raw in self.file.text.split("\n"):
            text = raw.split("#", 1)[0].rstrip()
            begin = offset + len(text) - len(text.lstrip())
            if text.strip():
                self._line(Span(self.file.name, begin, offset + len(text)))
            offset += len(raw) + 1
        if not self.lines and not self.found:
            whole = Span(self.file.name, 0, 0)
            self._wrong("script-empty", "the script says nothing that happens", whole,
                        "Write a line such as `at 0 s side_door becomes open`.")  # fmt: skip
        if self.found:
            return None, tuple(self.found)
        until, end = self.until if self.until is not None else (self.now, self.lines[-1].span)
        return Script(tuple(self.starts), tuple(self.lines), until, end), ()

    def _wrong(self, code: str, message: str, span: Span, hint: str) -> None:
        self.found.append(Diagnostic(code, Severity.ERROR, message, (Label(span),), hint))

    def _text(self, span: Span) -> str:
        return self.file.text[span.start : span.end]

    def _line(self, span: Span) -> None:
        text = self._text(span)
        word = text.split(maxsplit=1)[0]
        rest = _after(span, text, len(word))
        if self.until is not None:
            self._wrong("script-line", "this line lies behind `until`", span,
                        "`until` says how long the script goes on: write it last.")  # fmt: skip
        elif word not in WORDS:
            self._no_line(text, word, span)
        elif rest.start == rest.end:
            self._wrong("script-line", f"nothing stands after `{word}`", span, _FORMS)
        elif word == "starts":
            if self.lines:
                self._wrong("script-line", "`starts` comes before the first happening", span,
                            "Write it above all lines with a time.")  # fmt: skip
            self._starts(rest)
        else:
            self._timed(word, rest, span)

    def _no_line(self, text: str, word: str, span: Span) -> None:
        if " ".join(text.split()) in self.words or word == "expect":
            self._wrong("script-line", "this line does not say when", span,
                        f"Write `at 5 s {' '.join(text.split())}`.")  # fmt: skip
            return
        near = get_close_matches(word, WORDS, n=1, cutoff=0.6)
        hint = f"Did you mean `{near[0]}`? {_FORMS}" if near else _FORMS
        self._wrong("script-line", "this line is not understood", span, hint)

    # ------------------------------------------------------------ times

    def _timed(self, word: str, rest: Span, span: Span) -> None:
        read = self._time(word, rest, span)
        if read is None:
            self.lost = True
            return
        time, what = read
        at = self.now + time if word == "after" else time
        if at < self.now and not self.lost:
            self._wrong("script-time", "this line lies before the one above it", span,
                        "Put the lines in order of time, or write `after` instead of `at`.")  # fmt: skip
            return
        if word == "until":
            self.until = at, span
            if what.start != what.end:
                self._wrong("script-line", "`until` says a time and no more", what,
                            "Take this away, or write it in a line with `at`.")  # fmt: skip
            return
        self.now = at
        if what.start == what.end:
            self._wrong("script-line", "this line does not say what happens", span, _FORMS)
            return
        self._what(at, what)

    def _time(self, word: str, rest: Span, span: Span) -> tuple[Fraction, Span] | None:
        """The time that a line begins with, and what follows it."""
        text = self._text(rest)
        named = _NAMED.match(text)
        if named is not None:
            return self._setting(word, named.group(), rest, span)
        found = _FIGURE.match(text)
        figure = found.group() if found is not None else text.split(maxsplit=1)[0]
        pieces = _PIECE.findall(figure)
        while len(pieces) > 1 and not _is_unit(pieces[-1][1]):
            pieces.pop()  # the number belongs to what follows
        if len(pieces) == 1 and not _is_unit(pieces[0][1]) and not _misspelt(pieces[0][1]):
            figure = pieces[0][0]
        elif pieces and ":" not in figure:
            figure = figure[: [m.end() for m in _PIECE.finditer(figure)][len(pieces) - 1]]
        canonical = " ".join(f"{number} {unit}" for number, unit in _PIECE.findall(figure))
        read = quantity(canonical or figure)
        if figure.startswith("-"):
            read = Unreadable("a time lies at the start of the script or after it",
                              "Write a time that is not below 0 s.")  # fmt: skip
        place = Span(rest.file, rest.start, rest.start + len(figure))
        match read:
            case Quantity(Unit.DURATION, value):
                return value, _after(rest, text, len(figure))
            case Quantity(Unit.NUMBER, _):
                hint = f"Write `{word} {figure.lstrip('-')} s`."
                self._wrong("script-time", f"`{figure}` has no unit", place, hint)
            case Quantity(Unit.CLOCK, _):
                hint = "Times count from the start of the script: `at 5 s`, `after 1 min 30 s`."
                self._wrong("script-time", f"`{figure}` is a clock time", place, hint)
            case Unreadable(message, hint) if found is not None:
                self._wrong("script-time", message, place, hint)
            case _:
                hint = "Write one such as `250 ms`, `10 s` or `1 min 30 s`."
                self._wrong("script-time", f"`{figure}` is not a duration", place, hint)
        return None

    def _setting(
        self, word: str, name: str, rest: Span, span: Span
    ) -> tuple[Fraction, Span] | None:
        setting = next((s for s in self.job.settings if s.name == name), None)
        place = Span(rest.file, rest.start, rest.start + len(name))
        if setting is not None and setting.kind == "duration":
            return setting.value, _after(rest, self._text(rest), len(name))
        if setting is not None:
            message = f"`{name}` is a {setting.kind}, not a duration"
        else:
            message = f"no time stands after `{word}`"
        durations = [s.name for s in self.job.settings if s.kind == "duration"]
        near = get_close_matches(name, durations, n=3, cutoff=0.6)
        text = self._text(rest)
        if near:
            hint = f"Did you mean {_or(near)}?"
        elif _EXPECT.match(text) or " ".join(text.split()) in self.words:
            hint = f"Write one: `{word} 10 s {text}`."
        else:
            hint = "Write one such as `250 ms`, `10 s` or `1 min 30 s`, counted from the start."
        self._wrong("script-time", message, place if setting or near else span, hint)
        return None

    # ------------------------------------------------------------ what happens, what is expected

    def _what(self, at: Fraction, place: Span) -> None:
        text = self._text(place)
        expect = _EXPECT.match(text)
        if expect is not None:
            self._expect(at, text, Span(place.file, place.start + expect.end(), place.end), place)
            return
        words = " ".join(text.split())
        if words in self.words:
            self.lines.append(Happens(at, words, place))
            return
        message, hint = self._not_outside(words)
        self._wrong("script-happening", message, place, hint)

    def _expect(self, at: Fraction, text: str, condition: Span, whole: Span) -> None:
        if condition.start == condition.end:
            self._wrong("script-line", "nothing stands after `expect`", whole,
                        "Write a condition: `expect porch_light is on`.")  # fmt: skip
            return
        before = "possible: "
        requirement, problems, asked = check_form(f"{before}{self._text(condition)}", self.job)

        def moved(span: Span) -> Span:
            if span.file != asked.name:
                return span
            start, end = (
                min(max(condition.start + offset - len(before), condition.start), condition.end)
                for offset in (span.start, span.end)
            )
            return Span(condition.file, start, end) if start < end else condition

        for problem in problems:
            if problem.severity is Severity.ERROR:
                labels = tuple(replace(label, span=moved(label.span)) for label in problem.labels)
                self.found.append(replace(problem, labels=labels))
        if requirement is None:
            return
        if not isinstance(requirement.form, Possible) or requirement.allowing_s:
            self._wrong("script-line", "a condition is expected, and no more", condition,
                        "Write when as the line's own time: `at 10 s expect porch_light is on`.")  # fmt: skip
            return
        words = " ".join(text.split())
        self.lines.append(Expects(at, requirement.form.condition, words, whole))

    def _not_outside(self, words: str) -> tuple[str, str]:
        """Why these words are no happening, and what to do."""
        job, name = self.job, words.split(" ", maxsplit=1)[0]
        nothing = f"`{words}` is nothing that the surroundings can do here"
        if words == POWER_FAILS:
            return "this job does not consider power cuts", "Add `consider power cuts` to the job."
        point = job.point.get(name)
        becomes = words.startswith(f"{name} becomes ")
        if point is not None and words.endswith(" by hand") and point.kind.is_output:
            return (
                f"{name} has no switch of its own",
                f"Declare it `{point.kind.value} {name} … with local switch`, if it has one.",
            )
        if becomes and point is not None and (point.kind.is_output or point.kind is PointKind.FLAG):
            value = words.removeprefix(f"{name} becomes ")
            return (
                f"the rules set {name}, not the surroundings",
                f"To check it, write `expect {name} is {value}`.",
            )
        mine: list[str] = []
        if name in job.door_of_point:
            mine = [w for w in self.words if w.split()[0] == job.door_of_point[name].name]
            nothing = f"{name} is set by the door {job.door_of_point[name].name}"
        elif becomes and (name in job.door or name in job.room):
            mine = [w for w in self.words if name in w.split()]
        elif (becomes or words == f"{name} pressed") and point is None:
            nothing = f"the job has no point `{name}`"
            known = get_close_matches(name, list(job.point), n=3, cutoff=0.6)
            mine = [words.replace(name, other, 1) for other in known]
        near = mine or get_close_matches(words, self.words, n=3, cutoff=0.6)
        if near:
            return nothing, f"Did you mean {_or(near)}?"
        mine = [w for w in self.words if name in w.split()] or self.words
        listed = "; ".join(f"`{w}`" for w in mine[:12]) + ("; …" if len(mine) > 12 else "")
        return nothing, f"What can happen: {listed}."

    # ------------------------------------------------------------ the start

    def _starts(self, rest: Span) -> None:
        at = rest.start
        for part in self._text(rest).split(","):
            place = Span(rest.file, at + len(part) - len(part.lstrip()), at + len(part.rstrip()))
            at += len(part) + 1
            words = part.split()
            if words in (["night"], ["day"]):
                self.starts.append(Start(SUN, words[0], place))
                continue
            if not words:
                self._wrong("script-start", "nothing stands between the commas", rest,
                            "Write `starts side_door shut, night`.")  # fmt: skip
                continue
            name, value = words[0], " ".join(words[1:]).removeprefix("is ")
            fits = self._values(name)
            if value in fits:
                self.starts.append(Start(name, value, place))
                continue
            self._no_start(name, value, fits, place)

    def _no_start(self, name: str, value: str, fits: tuple[str, ...], place: Span) -> None:
        if fits:
            message = f"{name} cannot be `{value}`" if value else f"no value stands after `{name}`"
            self._wrong("script-start", message, place, f"What fits {name}: {', '.join(fits)}.")
            return
        if name in self.job.point:
            self._wrong("script-start", f"{name} is a button: it has no value", place,
                        f"Write `at 0 s {name} pressed`.")  # fmt: skip
            return
        known = [*self.job.point, *self.job.door, *self.job.room, "night", "day"]
        near = get_close_matches(name, known, n=3, cutoff=0.6)
        hint = (
            f"Did you mean {_or(near)}?" if near else "Write a point, door or room and its value."
        )
        self._wrong("script-start", f"the job has no point, door or room `{name}`", place, hint)

    def _values(self, name: str) -> tuple[str, ...]:
        point = self.job.point.get(name)
        if point is not None:
            return point.kind.values
        if name in self.job.door:
            return DOOR_VALUES
        return ROOM_VALUES if name in self.job.room else ()


def possible_words(job: Job) -> list[str]:
    """The words of all that the surroundings of a job can do, in declared order."""
    outside = System(replace(job, requirements=()), None).happenings
    words = [h.what for h in outside if not isinstance(h, BY_ITSELF)]
    # Night and day come whether or not a rule reads them: an expectation may.
    return list(dict.fromkeys((*words, *SUN_TURNS)))


def _after(span: Span, text: str, used: int) -> Span:
    """What follows the first characters of a span's text, without blanks before it."""
    rest = text[used:]
    return Span(span.file, span.start + used + len(rest) - len(rest.lstrip()), span.end)


def _is_unit(word: str) -> bool:
    return isinstance(quantity(f"1 {word}"), Quantity)


def _misspelt(word: str) -> bool:
    """Whether a word is a unit written in another way (``sec``)."""
    read = quantity(f"1 {word}")
    return isinstance(read, Unreadable) and read.hint.startswith("Write")


def _or(words: list[str]) -> str:
    return " or ".join(f"`{word}`" for word in words)
