"""What a room tells, as values and as JSON: moments, lanes, things, rules, what can be done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from verifier.explain.diagram import Kind
from verifier.source import Span
from verifier.teach.playing import By
from verifier.teach.reactions import Reaction
from verifier.teach.shown import Action, Due, Refused, RuleShown, Thing
from verifier.teach.watching import Judged

if TYPE_CHECKING:
    from verifier.teach.room import RoomSession

Place = Callable[[Span], dict[str, Any]]
"""How a place in the text is told: whoever shows the text knows how it counts."""


def plain_place(span: Span) -> dict[str, Any]:
    """A span as file and offsets in characters."""
    return {"file": span.file, "from": span.start, "to": span.end}


@dataclass(frozen=True, slots=True)
class Order:
    """One order in which a moment can come out: its key, and what is told of it."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that happened, with all that it set off.

    ``number`` counts from 1. ``by`` says who made it happen; ``changes`` are (subject, new value),
    ``told`` the same in words; ``lines`` are the places that acted, in order. ``orders`` are there
    where this moment can come out differently: the key of one is for :meth:`RoomSession.choose`.
    """

    number: int
    at_s: Fraction
    clock: str
    what: str
    by: By
    changes: tuple[tuple[str, str], ...]
    told: tuple[str, ...]
    reactions: tuple[Reaction, ...]
    lines: tuple[Span, ...]
    orders: tuple[Order, ...]


@dataclass(frozen=True, slots=True)
class LaneShown:
    """One thing through time: (from, to, value) in seconds from the start, without gaps."""

    name: str
    label: str
    kind: Kind
    values: tuple[tuple[Fraction, Fraction, str], ...]


def room_values(session: RoomSession, place: Place, since: int) -> dict[str, Any]:
    """A room as JSON values; times in seconds, exact to a microsecond."""
    due = session.due()
    showing = session.showing
    return {
        "now_s": seconds(session.now_s),
        "clock": session.clock,
        "things": [thing_values(thing) for thing in session.things],
        "rules": [rule_values(rule, place) for rule in session.rules],
        "possible": [action_values(action) for action in session.possible()],
        "refused": [refused_values(refused) for refused in session.refused()],
        "due": [due_values(each) for each in due],
        "moments": [moment_values(m, place) for m in session.moments if m.number > since],
        "stopped": session.stopped,
        "judged": None if session.judged is None else judged_values(session.judged),
        "lanes": [lane_values(lane) for lane in session.lanes()],
        "showing": None if showing is None else {"step": showing[0], "of": showing[1]},
    }


def seconds(figure: Fraction) -> int | float:
    """Seconds for a picture or a counter: to a microsecond, whole where they are."""
    return int(figure) if figure.denominator == 1 else round(float(figure), 6)


def thing_values(thing: Thing) -> dict[str, Any]:
    """A thing; ``level`` from 0 to 1, null where it has none."""
    return {
        "name": thing.name,
        "label": thing.label,
        "kind": thing.kind,
        "value": thing.value,
        "words": thing.words,
        "level": None if thing.level is None else round(float(thing.level), 4),
        "of": thing.of,
        "reported": thing.reported,
        "faults": list(thing.faults),
    }


def rule_values(rule: RuleShown, place: Place) -> dict[str, Any]:
    """A rule with its runs."""
    return {
        "name": rule.name,
        "label": rule.label,
        "value": rule.value,
        "line": place(rule.span),
        "runs": [
            {
                "line": place(run.line),
                "waits": run.waits,
                "since_s": seconds(run.since_s),
                "left_s": None if run.left_s is None else seconds(run.left_s),
            }
            for run in rule.runs
        ],
    }


def action_values(action: Action) -> dict[str, Any]:
    """Something that can be done."""
    return {
        "key": action.key,
        "words": action.words,
        "whose": action.whose,
        "thing": action.thing,
        "value": action.value,
    }


def refused_values(refused: Refused) -> dict[str, Any]:
    """Something that cannot be done now."""
    return {
        "key": refused.key,
        "words": refused.words,
        "thing": refused.thing,
        "why": refused.why,
        "hint": refused.hint,
    }


def due_values(due: Due) -> dict[str, Any]:
    """Something that is due."""
    return {"in_s": seconds(due.in_s), "words": due.words, "outside": due.outside}


def moment_values(moment: Moment, place: Place) -> dict[str, Any]:
    """A moment with what it set off."""
    return {
        "number": moment.number,
        "at_s": seconds(moment.at_s),
        "clock": moment.clock,
        "what": moment.what,
        "by": moment.by,
        "changes": [{"name": name, "value": value} for name, value in moment.changes],
        "told": list(moment.told),
        "reactions": [reaction_values(reaction, place) for reaction in moment.reactions],
        "lines": [place(span) for span in moment.lines],
        "orders": [
            {"key": order.key, "words": order.words, "chosen": order.chosen}
            for order in moment.orders
        ],
    }


def reaction_values(reaction: Reaction, place: Place) -> dict[str, Any]:
    """How a rule reacted."""
    return {
        "rule": reaction.rule,
        "outcome": reaction.outcome,
        "words": reaction.words,
        "line": place(reaction.span),
    }


def judged_values(judged: Judged) -> dict[str, Any]:
    """How the watched requirement stands."""
    return {
        "requirement": judged.requirement,
        "standing": judged.standing,
        "at_s": None if judged.at_s is None else seconds(judged.at_s),
        "just_after": judged.just_after,
        "left_s": None if judged.left_s is None else seconds(judged.left_s),
        "longest_s": None if judged.longest_s is None else seconds(judged.longest_s),
        "words": judged.words,
    }


def lane_values(lane: LaneShown) -> dict[str, Any]:
    """A lane: stretches of (from, to, value)."""
    return {
        "name": lane.name,
        "label": lane.label,
        "kind": lane.kind,
        "values": [
            {"from_s": seconds(begin), "to_s": seconds(end), "value": value}
            for begin, end, value in lane.values
        ],
    }
