"""The graphs as tables: what a drawing shows, in words, one row for each of its lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from verifier.graph.build import Drive, Node, drives
from verifier.graph.dead import Dead, numbered_ways
from verifier.graph.flow import ENDLESS, IDLE, Place
from verifier.graph.transitions import Transition, on_words
from verifier.model.job import Job
from verifier.model.words import condition_words, statement_words

if TYPE_CHECKING:
    import networkx

OUTCOMES = {
    "ended": "end run",
    "cancels itself": "cancels itself",
    "endless candidate": "endless candidate",
}
"""Outcomes of a way that are worth a word."""


@dataclass(frozen=True, slots=True)
class Row:
    """One way of a rule: from which place, when, if what is so, doing what, to which place.

    ``number`` counts from 1 within the rule. ``never`` is the reason why the way never happens
    (empty: it can); ``marks`` are further words about it.
    """

    rule: str
    number: int
    source: int
    when: str
    guard: str
    does: tuple[str, ...]
    target: int
    marks: tuple[str, ...]
    never: str

    @property
    def told(self) -> tuple[str, ...]:
        """All that is to be said about the row, in words."""
        return (*((f"never, as {self.never}",) if self.never else ()), *self.marks)


def rows_of(graph: networkx.MultiDiGraph[Node], rule: str, dead: Dead) -> tuple[Row, ...]:
    """The ways of a rule in order of the text."""
    return tuple(
        Row(
            rule=rule,
            number=name[1] + 1,
            source=way.source,
            when=on_words(way.on),
            guard=guard_words(way),
            does=tuple(statement_words(statement) for statement in way.effects),
            target=way.target,
            marks=marks_of(way),
            never=dead.ways.get(name, ""),
        )
        for name, way in numbered_ways(graph)
        if way.rule == rule
    )


def guard_words(transition: Transition) -> str:
    """The guard of a transition as one condition, without the outer brackets."""
    texts = [condition_words(condition) for condition in transition.guard]
    if len(texts) == 1:
        return texts[0]
    return " and ".join(f"({text})" if _is_joined(text) else text for text in texts)


def _is_joined(text: str) -> bool:
    return " or " in text or " and " in text or " implies " in text


def marks_of(transition: Transition) -> tuple[str, ...]:
    """What a transition's outcome adds, in words; whether it stands for many."""
    outcome = OUTCOMES.get(transition.outcome)
    return (
        *((outcome,) if outcome else ()),
        *(("summarised",) if transition.summarised else ()),
    )


def place_name(number: int) -> str:
    """The short name of a place: ``idle``, ``#1`` and so on."""
    return {IDLE: "idle", ENDLESS: "endless"}.get(number, f"#{number}")


def place_words(place: Place) -> str:
    """The name of a place with what it rests at."""
    name = place_name(place.number)
    return name if place.number == IDLE else f"{name}  {place.words}"


# ---------------------------------------------------------------- who drives what

KINDS = ("shared", "door", "room", "input", "flag", "output", "rule")
"""What the things of the who-drives-what graph are."""


@dataclass(frozen=True, slots=True)
class Thing:
    """A node of the who-drives-what graph; ``label`` is what its author calls it (or nothing).

    ``never``: a rule that never fires.
    """

    name: str
    kind: str
    label: str
    never: bool


@dataclass(frozen=True, slots=True)
class DriveRow:
    """One edge: what drives, how, what is driven; ``never`` if a rule that never fires does it."""

    source: Thing
    how: Drive
    target: Thing
    never: bool


@dataclass(frozen=True, slots=True)
class Drives:
    """The who-drives-what graph: its things in declared order, its edges by what is driven."""

    name: str
    things: tuple[Thing, ...]
    rows: tuple[DriveRow, ...]

    @property
    def alone(self) -> tuple[Thing, ...]:
        """The things that have no edge."""
        joined = {end.name for row in self.rows for end in (row.source, row.target)}
        return tuple(thing for thing in self.things if thing.name not in joined)


def drives_of(job: Job, dead: Dead, only: tuple[str, ...] = ()) -> Drives:
    """Who drives what; with ``only`` these rules and what stands right beside them alone."""
    graph = drives(job)
    labels = {rule.name: rule.label for rule in job.rules}
    labels.update({door.name: door.label for door in job.doors})
    labels.update({room.name: room.label for room in job.rooms})
    things: dict[str, Thing] = {}
    for name, kind in graph.nodes(data="kind"):
        if kind == "point":
            point = job.point[name]
            words = "output" if point.kind.is_output else "flag"
            words = "input" if point.kind.is_input else words
            things[name] = Thing(name, words, point.label, False)
        else:
            things[name] = Thing(name, kind, labels.get(name, ""), name in dead.rules)
    rows = [
        DriveRow(things[source], how, things[target], things[source].never or things[target].never)
        for source, target, how in graph.edges(data="how")
        if not only or source in only or target in only
    ]
    order = {name: position for position, name in enumerate(things)}
    rules = {rule.name for rule in job.rules}

    def place(row: DriveRow) -> tuple[int, int]:
        """Edges of one rule stand together: what comes into it, then what it does."""
        return (order[row.target.name if row.target.name in rules else row.source.name], 0)

    if only:
        ends = {end.name for row in rows for end in (row.source, row.target)}
        kept = tuple(t for t in things.values() if t.name in ends or t.name in only)
    else:
        kept = tuple(things.values())
    return Drives(job.name, kept, tuple(sorted(rows, key=place)))
