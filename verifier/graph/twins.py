"""Parts of a job that are copies of one another: what a typical brought forth in many places.

What stands under one prefix (``floor_1.``) is an island if it speaks of no name from elsewhere, and
nothing elsewhere speaks of a name of its own. Two islands that are the same but for their prefix
are twins: what is true of the one is true of the other under its own names, since rules, slices
and findings know no more of a thing than what speaks of it. So a job can be looked at with the
first of each kind alone, and what is found be told of its twins.

That they are twins is not taken from how they were made: both are walked side by side, name by
name, by reflection. Nothing is believed to be an island that this walk did not show to be one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from fractions import Fraction
from operator import attrgetter
from typing import Any

from verifier.diagnostics import Diagnostic, Label
from verifier.graph.access import SHARED
from verifier.graph.recent import Recent
from verifier.graph.slice import mentions
from verifier.model.job import (
    LABEL_FIELDS,
    NAME_FIELDS,
    Assumption,
    Door,
    Fault,
    Job,
    LeadsTo,
    Point,
    Requirement,
    Room,
    Rule,
)
from verifier.source import Span

MOST_KINDS = 8
"""With how many islands from the same lines an island is compared (they differ in their settings)."""

Part = Point | Door | Room | Rule | Assumption | Fault | Requirement


@dataclass(frozen=True, slots=True)
class Twins:
    """A job without all but the first of islands that are the same, and where the others stand.

    ``of`` has for the prefix of each such first (its full stop with it) those of its twins, in
    declared order; it is empty, and ``firsts`` the job itself, if there are none.
    """

    job: Job
    firsts: Job
    of: dict[str, tuple[str, ...]]

    def names_of(self, name: str) -> Iterator[str]:
        """The names that a name of ``firsts`` has among the twins of its island; its own is none."""
        prefix = _prefix(name)
        for other in self.of.get(prefix, ()):
            yield other + name[len(prefix) :]

    def told_of_all(self, found: Iterable[Diagnostic]) -> list[Diagnostic] | None:
        """What was found of ``firsts``, with the same of their twins under the names of these.

        None: of something found it cannot be told where it belongs.
        """
        at: dict[Span, list[str]] = {}
        for first, parts in _gathered(self.firsts)[0].items():
            if first in self.of:
                for span in dict.fromkeys(_spans(tuple(parts))):
                    at.setdefault(span, []).append(first)
        told: list[Diagnostic] = []
        for each in found:
            told.append(each)
            owners = at.get(each.labels[0].span, [])
            if len(owners) > 1:
                # The same lines with other settings: its words tell of which of them it was found.
                owners = [first for first in owners if _with_prefix(each, first, "") != each]
                if len(owners) != 1:
                    return None
            for first in owners:
                told += [_with_prefix(each, first, other) for other in self.of[first]]
        return told


def _with_prefix(told: Diagnostic, one: str, other: str) -> Diagnostic:
    """What is told, with the names under one prefix under another."""
    if one not in f"{told.message}{told.hint}{[label.text for label in told.labels]}":
        return told
    name = re.compile(rf"(?<![\w.]){re.escape(one)}(?=\w)")

    def text(words: str) -> str:
        return name.sub(other, words)

    labels = tuple(Label(label.span, text(label.text)) for label in told.labels)
    return replace(told, message=text(told.message), hint=text(told.hint), labels=labels)


def _twins(job: Job) -> Twins:
    nothing = Twins(job, job, {})
    islands, rest = _gathered(job)
    if len(islands) < 2 or _ties_all(job):
        return nothing
    of, outside = _compared(islands)
    if not of:
        return nothing
    rest += outside
    spoken_of = {_prefix(name) for part in rest for name in mentions(part)}
    kept: dict[str, tuple[str, ...]] = {}
    for first, others in of.items():
        apart = tuple(other for other in others if other not in spoken_of)
        if first not in spoken_of and apart:
            kept[first] = apart
    left_out = {other for others in kept.values() for other in others}
    return Twins(job, _without(job, left_out), kept)


_recent = Recent(_twins)


def twins_of(job: Job) -> Twins:
    """The islands of a job that are the same up to names."""
    return _recent.of(job)


def _ties_all(job: Job) -> bool:
    """Whether what is assumed reaches from one part to all others: through the sun, or `leads to`."""
    tied = [set(mentions(assumption)) for assumption in job.assumptions]
    through = any(names & SHARED and names - SHARED for names in tied)
    named = any(names - SHARED for names in tied)
    return through or (named and any(isinstance(r.form, LeadsTo) for r in job.requirements))


# ---------------------------------------------------------------- gathering


def _prefix(name: str) -> str:
    """The outermost prefix of a name, its full stop with it; empty if it has none."""
    return name[: name.find(".") + 1]


def _gathered(job: Job) -> tuple[dict[str, list[Part]], list[Part]]:
    """The parts of a job by the prefix under which they stand, and those that stand under none."""
    islands: dict[str, list[Part]] = {}
    rest: list[Part] = []
    named: tuple[tuple[Point | Door | Room | Rule | Requirement, ...], ...] = (
        job.points,
        job.doors,
        job.rooms,
        job.rules,
        job.requirements,
    )
    for group in named:
        for item in group:
            prefix = _prefix(item.name)
            (islands.setdefault(prefix, []) if prefix else rest).append(item)
    for assumption in job.assumptions:
        prefix = _prefix(_subject(assumption))
        (islands.setdefault(prefix, []) if prefix else rest).append(assumption)
    for fault in job.faults:
        prefix = _prefix(_subject(fault))
        (islands.setdefault(prefix, []) if prefix else rest).append(fault)
    return islands, rest


def _subject(part: Assumption | Fault) -> str:
    """A name by which it is told where a part without one belongs; empty if it speaks of none."""
    return next((name for name in mentions(part) if name not in SHARED), "")


def _spans(value: object) -> Iterator[Span]:
    """Every place that stands anywhere in a value."""
    if isinstance(value, Span):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _spans(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _spans(getattr(value, field.name))


def _without(job: Job, left_out: set[str]) -> Job:
    """A job without what stands under some prefixes."""
    if not left_out:
        return job

    def named(group: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(item for item in group if _prefix(item.name) not in left_out)

    def about(group: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(item for item in group if _prefix(_subject(item)) not in left_out)

    return replace(
        job,
        points=named(job.points),
        doors=named(job.doors),
        rooms=named(job.rooms),
        rules=named(job.rules),
        requirements=named(job.requirements),
        assumptions=about(job.assumptions),
        faults=about(job.faults),
    )


# ---------------------------------------------------------------- comparing


def _compared(islands: dict[str, list[Part]]) -> tuple[dict[str, tuple[str, ...]], list[Part]]:
    """For the first of each kind its twins; and the parts of what is no twin of anything."""
    kinds: dict[tuple[int, Span], list[str]] = {}
    of: dict[str, list[str]] = {}
    for prefix, parts in islands.items():
        known = kinds.setdefault((len(parts), parts[0].span), [])
        for first in known:
            if _same_parts(islands[first], parts, _Walk(first, prefix)):
                of.setdefault(first, []).append(prefix)
                break
        else:
            if len(known) < MOST_KINDS:
                known.append(prefix)
    alike = {*of, *(other for others in of.values() for other in others)}
    outside = [p for prefix, parts in islands.items() if prefix not in alike for p in parts]
    return {first: tuple(others) for first, others in of.items()}, outside


def _same_parts(one: list[Part], other: list[Part], walk: _Walk) -> bool:
    return all(map(walk.same, one, other))


_Plan = tuple[Callable[[Any], tuple[Any, ...]], Callable[[Any], tuple[Any, ...]]]
_plans: dict[type, _Plan | None] = {}


_LEAVES = frozenset({Span, str, int, bool, Fraction, type(None)})
"""What has no names in it, where it is no name itself."""


def _plan(kind: type) -> _Plan | None:
    """How to get the names of a value of a class, and all else that counts; None: it is a leaf."""
    if not is_dataclass(kind):
        return None
    counted = [f.name for f in fields(kind) if f.name not in LABEL_FIELDS]
    named = [name for name in counted if name == "name" or name in NAME_FIELDS]
    return _getter(named), _getter([name for name in counted if name not in named])


def _getter(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    match names:
        case []:
            return lambda _: ()
        case [name]:
            return lambda value: (getattr(value, name),)
        case _:
            return attrgetter(*names)


class _Walk:
    """A walk over two islands at once, one name with the one prefix beside one with the other."""

    def __init__(self, one: str, other: str) -> None:
        self._one = one
        self._other = other
        self._cut = len(one)

    def same(self, one: Any, other: Any) -> bool:
        """Whether two values are the same but for the prefix, which every name in them has."""
        kind = type(one)
        if kind is not type(other):
            return False
        if kind is tuple:
            return len(one) == len(other) and all(map(self.same, one, other))
        try:
            plan = _plans[kind]
        except KeyError:
            plan = _plans[kind] = _plan(kind)
        if plan is None or kind is Span:
            return one is other or bool(one == other)
        names, values = plan
        if not all(map(self._same_name, names(one), names(other))):
            return False
        for a, b in zip(values(one), values(other), strict=True):
            if not (a is b and type(a) in _LEAVES) and not self.same(a, b):
                return False
        return True

    def _same_name(self, one: Any, other: Any) -> bool:
        """Whether what a name's field holds is the same: a name, several, or none."""
        if type(one) is str and type(other) is str:
            cut = self._cut
            return (
                one[:cut] == self._one
                and other[: len(self._other)] == self._other
                and one[cut:] == other[len(self._other) :]
            )
        if type(one) is tuple and type(other) is tuple:
            return len(one) == len(other) and all(map(self._same_name, one, other))
        return one is None and other is None
