"""A slice under names and places of its own making: what is the same up to them is proved once.

The k-th name of a slice becomes ``$k$``, in the order in which the slice's parts speak of them, and
the k-th place of the text the span ``[k, k)`` of no file. Labels go. What is left is the whole of
what a proof depends on, so slices with one key have one answer: a verdict on the canonical slice is
carried to each of them by giving the names back. That is sound because the names are told apart
and nothing else of them is ever read: the texts of a certificate are those of the other slice with
its constants renamed one to one, which changes no answer. The renaming itself is checked against
both slices (:mod:`verifier.proof.renaming`), and a run is replayed under its own names.

The order of declarations is part of a slice: it can matter to what happens in one instant.
"""

from __future__ import annotations

import enum
import functools
import hashlib
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from typing import Any

from verifier.model.job import LABEL_FIELDS, NAME_FIELDS, Job
from verifier.source import Span
from verifier.surroundings.almanac import almanac_of

NAMES = NAME_FIELDS | {"name"}
"""Fields that hold names of the job."""

LAYOUT = "slice, 1"
"""The layout of what a key is made of."""


@dataclass(frozen=True, slots=True)
class Canonical:
    """A slice and what was asked with it, in canonical names, and what those stand for.

    ``names[k]`` is the name for ``$k$``, ``spans[k]`` the place for ``[k, k)``; ``extra`` what else
    a task needs (conditions that stand in the slice are the same objects in it).
    """

    part: Job
    extra: Any
    names: tuple[str, ...]
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """A part of a job without its names and places, and these in the order in which they come."""

    digest: bytes
    names: tuple[str, ...]
    spans: tuple[Span, ...]


def shape_of(value: object) -> Shape:
    """The shape of a value of the model. Raises: TypeError at what no job is made of."""
    out: list[str] = []
    names: list[str] = []
    spans: list[Span] = []
    _walk(value, out, names, spans)
    digest = hashlib.sha256("\0".join(out).encode()).digest()
    return Shape(digest, tuple(names), tuple(spans))


_Field = tuple[str, str]
_plans: dict[type, tuple[_Field, ...]] = {}


def _plan(kind: type) -> tuple[_Field, ...]:
    """The fields of a class that are looked at, and what each holds."""
    plan = _plans.get(kind)
    if plan is None:
        plan = _plans[kind] = tuple(field for field in _fields(kind) if field[1] != "label")
    return plan


@functools.cache
def _fields(kind: type) -> tuple[_Field, ...]:
    """All fields of a class and what each holds: a name or names, a label, or what is neither."""

    def holds(name: str) -> str:
        return "name" if name in NAMES else "label" if name in LABEL_FIELDS else "plain"

    return tuple((field.name, holds(field.name)) for field in fields(kind))


def _walk(value: object, out: list[str], names: list[str], spans: list[Span]) -> None:
    kind = type(value)
    if kind is Span:
        assert isinstance(value, Span)
        out.append("@")
        spans.append(value)
    elif kind is tuple:
        assert isinstance(value, tuple)
        out.append("(")
        for item in value:
            _walk(item, out, names, spans)
        out.append(")")
    elif kind in _plans or is_dataclass(value):
        out.append(kind.__name__)
        for field, holds in _plan(kind):
            inside = getattr(value, field)
            if holds == "name" and inside is not None:
                if type(inside) is str:
                    out.append("$")
                    names.append(inside)
                else:
                    out.append(f"${len(inside)}")
                    names.extend(inside)
            else:
                _walk(inside, out, names, spans)
        out.append(".")
    else:
        out.append(_leaf(value))


def _leaf(value: object) -> str:
    """A text that is the same for the same value alone."""
    match value:
        case enum.Enum():
            return f"{type(value).__name__}.{value.name}"
        case frozenset():
            return f"{{{','.join(sorted(map(_leaf, value)))}}}"
        case None | bool() | int() | str() | Fraction():
            return repr(value)
        case _:
            raise TypeError(f"{type(value).__name__} is no part of a job")


class Shapes:
    """The shapes of the parts of a job, each made once."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[object, Shape]] = {}

    def of(self, value: object) -> Shape:
        """The shape of a part; it is kept, so that its identity stays its own."""
        found = self._known.get(id(value))
        if found is None:
            found = (value, shape_of(value))
            self._known[id(value)] = found
        return found[1]


@dataclass(frozen=True, slots=True)
class Keyed:
    """The key of a slice: a digest of all but its names and places, which stand beside it."""

    key: str
    names: tuple[str, ...]
    spans: tuple[Span, ...]


def keyed(shapes: Shapes, part: Job, extra: object = None) -> Keyed:
    """The key of a slice (or of a whole job that is asked one thing) and what its names stand for."""
    digest = hashlib.sha256(f"{LAYOUT} {part.years} {part.seasons} {_site(part)}".encode())
    names: dict[str, int] = {}
    spans: dict[Span, int] = {}

    def take(shape: Shape) -> None:
        digest.update(shape.digest)
        numbers = [names.setdefault(name, len(names)) for name in shape.names]
        places = [spans.setdefault(span, len(spans)) for span in shape.spans]
        digest.update(f"{numbers}{places}".encode())

    for group in (part.points, part.doors, part.rooms, part.rules, part.assumptions, part.faults):
        digest.update(f"{len(group)}".encode())
        for item in group:
            take(shapes.of(item))
    take(shape_of((part.requirements, extra)))
    return Keyed(digest.hexdigest(), tuple(names), tuple(spans))


def _site(part: Job) -> str:
    """All of a site but its name, and what its calendar is worked out from."""
    site = part.site
    if site is None:
        return "no site"
    place = (site.latitude_deg, site.longitude_deg, site.timezone, almanac_of(site))
    return repr((*place, site.night_below_deg, site.reaction_s))


def canonical(part: Job, keyed: Keyed, extra: Any = None) -> Canonical:
    """The slice in canonical names."""
    names = {name: f"${k}$" for k, name in enumerate(keyed.names)}
    spans = {span: Span("", k, k) for k, span in enumerate(keyed.spans)}
    rename = Renaming(names.__getitem__, spans.__getitem__, labels=False)

    def each(group: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(rename(item) for item in group)

    site = part.site
    if site is not None:
        site = type(site)(
            "",
            site.latitude_deg,
            site.longitude_deg,
            site.timezone,
            site.night_below_deg,
            site.reaction_s,
            Span("", 0, 0),
        )
    renamed = Job(
        name="",
        site=site,
        points=each(part.points),
        doors=each(part.doors),
        rooms=each(part.rooms),
        rules=each(part.rules),
        assumptions=each(part.assumptions),
        faults=each(part.faults),
        requirements=each(part.requirements),
        years=part.years,
        seasons=part.seasons,
    )
    return Canonical(renamed, rename(extra), keyed.names, keyed.spans)


class Renaming:
    """Values with other names and places. What is one object stays one object."""

    def __init__(
        self,
        name: Callable[[str], str],
        span: Callable[[Span], Span],
        *,
        labels: bool,
        text: Callable[[str], str] | None = None,
    ) -> None:
        """``text``: what becomes of strings that are no names; ``labels``: whether labels stay."""
        self._name = name
        self._span = span
        self._labels = labels
        self._text = text
        self._done: dict[int, tuple[object, Any]] = {}

    def __call__(self, value: Any) -> Any:
        """The value renamed."""
        kind = type(value)
        if kind is Span:
            return self._span(value)
        if kind is tuple:
            return tuple(self(item) for item in value)
        if kind is str:
            return value if self._text is None else self._text(value)
        if kind not in _plans and not is_dataclass(value):
            return value
        done = self._done.get(id(value))
        if done is None:
            done = (value, self._dataclass(value, kind))
            self._done[id(value)] = done
        return done[1]

    def _dataclass(self, value: Any, kind: type) -> Any:
        inside: dict[str, Any] = {}
        for name, holds in _fields(kind):
            held = getattr(value, name)
            if holds == "label":
                inside[name] = held if self._labels else ""
            elif holds == "name" and held is not None:
                many = isinstance(held, tuple)
                inside[name] = tuple(map(self._name, held)) if many else self._name(held)
            else:
                inside[name] = self(held)
        return kind(**inside)
