"""A run as waveforms, in the value change dump that every waveform viewer reads.

Source: IEEE 1364-2005, clause 18. It is written here and not by a library: the part that is used
takes a page, nothing has to be installed for it, and the text is the same whenever it is written
(the format wants a date; it is left out). Strings as values are no part of the standard, and many
readers pass them over, so every signal is a wire, an integer or a real.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from verifier import __version__
from verifier.explain.told import REPORTED
from verifier.handover.traces import Subject, Trace
from verifier.model.words import number, requirement_words
from verifier.pipeline import Result

_UNITS = (("ms", 3), ("us", 6), ("ns", 9), ("ps", 12), ("fs", 15))
_LONGEST = 2**63 - 1
"""Viewers keep the time in 64 bits."""

_FIGURE = re.compile(r"(\d+(?:\.\d+)?(?:/\d+)?) %")

Kind = Literal["wire", "integer", "real"]


@dataclass(frozen=True, slots=True)
class _Signal:
    """One signal: where it is, and what it shows of a state (and the number of it)."""

    scope: tuple[str, ...]
    name: str
    kind: Kind
    shows: Callable[[dict[str, str], int], Fraction]
    told: str = ""
    """What its values mean, where it does not go without saying."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A timescale: ``10 us`` is ``(10, "us")``, of so many parts of a second.

    ``exact`` says that all moments are whole multiples of it.
    """

    magnitude: int
    unit: str
    per_second: int
    exact: bool

    def ticks(self, at_s: Fraction) -> int:
        """A moment in its ticks, the nearest where there is none."""
        return round(at_s * self.per_second)


def vcd_text(result: Result, trace: Trace) -> str:
    """One run, with a line end after it."""
    end_s, just_after = trace.run.end_s
    scale = scale_of((*trace.moments_s, end_s))
    end = max(scale.ticks(end_s) + (1 if just_after else 0), scale.ticks(trace.moments_s[-1]))
    signals = tuple(_signals(trace))
    codes = [_code(k) for k in range(len(signals))]
    lines = [
        "$version",
        f"  duskproof {__version__}",
        "$end",
        "$comment",
        *(f"  {line}" for line in _comment(result, trace, scale, signals)),
        "$end",
        f"$timescale {scale.magnitude} {scale.unit} $end",
        *_declared(_plain(result.name), signals, codes),
        "$enddefinitions $end",
    ]
    shown: dict[str, str] = {}
    last: int | None = None
    for index, state in enumerate(trace.states):
        changed = []
        for signal, code in zip(signals, codes, strict=True):
            text = _change(signal, code, signal.shows(state, index))
            if shown.get(code) != text:
                shown[code] = text
                changed.append(text)
        at = scale.ticks(trace.moments_s[index])
        if at != last:
            lines.append(f"#{at}")
            last = at
        lines.extend(["$dumpvars", *changed, "$end"] if index == 0 else changed)
    if end != last:
        lines.append(f"#{end}")
    lines.append(f"1{codes[-1]}")
    # Viewers show nothing of what changes at the very end, so time goes on a little.
    lines.append(f"#{end + max(end // 20, 1)}")
    return "\n".join(lines) + "\n"


def scale_of(moments_s: tuple[Fraction, ...]) -> Scale:
    """The coarsest timescale from 1 ms down in which all moments are whole.

    Where a moment has no finite decimal, or 64 bits are too few: the finest that fits, not exact.

    >>> scale_of((Fraction(1, 8), Fraction(61)))
    Scale(magnitude=1, unit='ms', per_second=1000, exact=True)
    >>> scale_of((Fraction(1, 32000),)).unit
    'ns'
    """
    longest = max(moments_s, default=Fraction(0))
    finest = Scale(1, "ms", 1000, False)
    for unit, power in _UNITS:
        for magnitude, places in ((100, power - 2), (10, power - 1), (1, power)):
            per_second = 10**places
            if places < 3 or longest * per_second * 2 > _LONGEST:
                continue
            finest = Scale(magnitude, unit, per_second, False)
            if all((at * per_second).denominator == 1 for at in moments_s):
                return Scale(magnitude, unit, per_second, True)
    return finest


# ---------------------------------------------------------------- signals


def _signals(trace: Trace) -> Iterator[_Signal]:
    # No name of the language begins with a line, so these scopes are nobody else's.
    for subject in trace.subjects:
        yield from _of_subject(trace, subject)
    yield _Signal(("_run",), "instant", "integer", lambda _, index: Fraction(index))
    name = "broken" if trace.role == "counterexample" else "reached"
    yield _Signal(("_run",), name, "wire", lambda *_: Fraction(0))


def _of_subject(trace: Trace, subject: Subject) -> Iterator[_Signal]:
    name = subject.name
    *outer, inner = [_plain(part) for part in name.removesuffix(REPORTED).split(".")]
    scope = {"rule": ("_rules",), "report": ("_reported",)}.get(subject.kind, ())
    scope = (*scope, *outer)
    words = tuple(dict.fromkeys(state[name] for state in trace.states))
    if subject.kind == "dimmer":
        if all(len(_figures(word)) == 1 for word in words):
            yield _Signal(scope, inner, "real", _level(name, 0), f"{name}: the level in per cent")
            return
        inside = (*scope, inner)
        yield _Signal(inside, "at_least", "real", _level(name, 0), f"{name}: between two levels")
        yield _Signal(inside, "at_most", "real", _level(name, -1))
    elif subject.kind == "rule":
        many = any(word not in ("idle", "running") for word in words)
        if not many:
            yield _Signal(scope, inner, "wire", _is(name, "running"))
            return
        yield _Signal((*scope, inner), "running", "integer", _count(name, "running"))
        yield _Signal((*scope, inner), "waiting", "integer", _count(name, "waiting"))
    elif len(subject.values) == 2:
        low, high = subject.values
        yield _Signal(scope, inner, "wire", _is(name, high), f"{name}: 1 is {high}, 0 {low}")
    elif subject.values:
        for value in subject.values:
            yield _Signal((*scope, inner), value, "wire", _is(name, value))
    else:
        table = ", ".join(f"{k} is {word}" for k, word in enumerate(words))
        yield _Signal(scope, inner, "integer", _among(name, words), f"{name}: {table}")


def _is(name: str, value: str) -> Callable[[dict[str, str], int], Fraction]:
    return lambda state, _: Fraction(state[name] == value)


def _among(name: str, words: tuple[str, ...]) -> Callable[[dict[str, str], int], Fraction]:
    return lambda state, _: Fraction(words.index(state[name]))


def _level(name: str, which: int) -> Callable[[dict[str, str], int], Fraction]:
    return lambda state, _: _figures(state[name])[which]


def _count(name: str, what: str) -> Callable[[dict[str, str], int], Fraction]:
    def counted(state: dict[str, str], _: int) -> Fraction:
        for part in state[name].split(", "):
            many, _blank, word = part.rpartition(" ")
            if word == what:
                return Fraction(many or 1)
        return Fraction(0)

    return counted


def _figures(word: str) -> tuple[Fraction, ...]:
    """The levels that a dimmer's value names, in per cent.

    >>> _figures("off"), _figures("between 30 % and 62.5 % (rising)")
    ((Fraction(0, 1),), (Fraction(30, 1), Fraction(125, 2)))
    """
    return tuple(Fraction(figure) for figure in _FIGURE.findall(word)) or (Fraction(0),)


# ---------------------------------------------------------------- text


def _comment(
    result: Result, trace: Trace, scale: Scale, signals: tuple[_Signal, ...]
) -> Iterator[str]:
    requirement = trace.requirement
    yield _plain_line(f"{result.name}: {trace.role} of {requirement.name}")
    yield _plain_line(requirement_words(requirement))
    exact = "exact" if scale.exact else "rounded to the nearest; the trace JSON has them exactly"
    yield f"Moments are {exact}."
    yield "Several instants may share a moment: their changes follow each other in this file, and"
    yield "_run.instant counts them."
    end_s, just_after = trace.run.end_s
    if just_after:
        yield f"The run is over just after {number(end_s)} s: it is shown one step of time later."
    if trace.run.cycle_from is not None:
        yield f"From instant {trace.run.cycle_from} on this goes round for ever."
    for signal in signals:
        if signal.told:
            yield _plain_line(signal.told)


def _declared(job: str, signals: tuple[_Signal, ...], codes: list[str]) -> Iterator[str]:
    """The declarations: signals of one scope together, scopes in the order of their first signal."""
    below: dict[tuple[str, ...], list[tuple[_Signal, str]]] = {(): []}
    for signal, code in zip(signals, codes, strict=True):
        for depth in range(len(signal.scope) + 1):
            below.setdefault(signal.scope[:depth], [])
        below[signal.scope].append((signal, code))

    def scope(path: tuple[str, ...], name: str) -> Iterator[str]:
        yield f"$scope module {name} $end"
        for signal, code in below[path]:
            size = {"wire": 1, "integer": 32, "real": 64}[signal.kind]
            yield f"$var {signal.kind} {size} {code} {signal.name} $end"
        for inner in below:
            if inner[:-1] == path and inner:
                yield from scope(inner, inner[-1])
        yield "$upscope $end"

    yield from scope((), job)


def _change(signal: _Signal, code: str, value: Fraction) -> str:
    match signal.kind:
        case "wire":
            return f"{int(value)}{code}"
        case "integer":
            return f"b{int(value):b} {code}"
        case "real":
            return f"r{float(value):.16g} {code}"


def _code(k: int) -> str:
    """The short name of a signal in the file: one printable character, or several.

    >>> _code(0), _code(93), _code(94)
    ('!', '~', '!!')
    """
    text = chr(33 + k % 94)
    return text if k < 94 else text + _code(k // 94 - 1)


def _plain(text: str) -> str:
    """A name without blanks, dots and signs that viewers read otherwise."""
    return re.sub(r"[^A-Za-z0-9_]+", "_", text).strip("_") or "job"


def _plain_line(text: str) -> str:
    """A line of a comment, which `$end` would end."""
    return " ".join(text.replace("$", "S").split())
