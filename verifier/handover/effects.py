"""The cause-and-effect table of a job: what each trigger and each wait's end does to each output.

Rows are causes: a trigger of a rule with its guard, and what comes after each wait of a body.
Columns are outputs (and flags, which are the controller's own notes). All of it comes from the
guarded transitions of the rules.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import assert_never

from verifier.explain.naming import named
from verifier.explain.plain import plain_condition, plain_event
from verifier.graph.access import rule_access
from verifier.graph.branches import reachable_ways
from verifier.graph.flow import ENDLESS, IDLE, Flow, Place, flow_of
from verifier.graph.transitions import OnCondition, OnEvent, OnExpiry, OnLimit, Transition
from verifier.graph.values import structure_of
from verifier.model.job import (
    Cancel,
    EndRun,
    Fade,
    If,
    Job,
    Point,
    PointKind,
    Policy,
    Put,
    Repeat,
    Rule,
    Statement,
    Wait,
    WaitUntil,
)
from verifier.model.words import duration, value
from verifier.source import Span

MOST_COLUMNS = 8
"""Columns of a table that still fits a page; a larger one is split by part."""

NEVER = "as the rules stand it is never set going"
"""What is said of a rule without rows."""

MOST_ROWS = 24
"""Rows of a table that still fits a page."""


@dataclass(frozen=True, slots=True)
class Column:
    """A thing that rules set: its name, what it is called, and its kind."""

    name: str
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class Row:
    """A cause and its effects.

    ``number`` is that of the rule and of the row in it; ``cause`` and ``only_if`` (empty: always)
    in plain words; ``cells`` what happens to each column (empty: nothing); ``also`` what else is
    done; ``then`` what the rule does next. ``span`` is the place of the trigger or wait.
    """

    number: str
    rule: str
    cause: str
    only_if: str
    cells: tuple[str, ...]
    also: str
    then: str
    span: Span


@dataclass(frozen=True, slots=True)
class Part:
    """Rules and outputs that belong together, as one table; ``rules`` are (number, title, policy)."""

    columns: tuple[Column, ...]
    rules: tuple[tuple[int, str, str], ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Effects:
    """The whole table: one part, or several where it would not fit a page.

    ``returning`` is what each output does when power returns, before any rule acts: (column, what).
    ``by_hand`` are the outputs that a switch at the lamp sets as well.
    """

    job: Job
    parts: tuple[Part, ...]
    returning: tuple[tuple[Column, str], ...]
    by_hand: tuple[Column, ...]


def effects_of(job: Job) -> Effects:
    """The cause-and-effect table of a job."""
    columns = tuple(
        Column(p.name, p.label or p.name, p.kind.value)
        for p in job.points
        if p.kind.is_output or p.kind is PointKind.FLAG
    )
    numbers = {rule.name: number for number, rule in enumerate(job.rules, 1)}
    rows = {rule.name: tuple(_rows(job, rule, numbers[rule.name])) for rule in job.rules}
    set_by_rule = {rule.name: rule_access(rule).writes for rule in job.rules}
    used = tuple(c for c in columns if any(c.name in names for names in set_by_rule.values()))
    whole = len(used) <= MOST_COLUMNS and sum(map(len, rows.values())) <= MOST_ROWS
    groups = [tuple(job.rules)] if whole else _groups(job, set_by_rule)
    parts = []
    for rules in groups:
        chosen = tuple(c for c in used if any(c.name in set_by_rule[r.name] for r in rules))
        heads = tuple(
            (numbers[r.name], r.label or r.name, _policy(r) if rows[r.name] else NEVER)
            for r in rules
        )
        lines = tuple(_row(each, chosen) for r in rules for each in rows[r.name])
        if rules:
            parts.append(Part(chosen, heads, lines))
    returning = tuple((column, _returning(job.point[column.name])) for column in columns)
    by_hand = tuple(c for c in columns if job.point[c.name].local_switch)
    return Effects(job, tuple(parts), returning, by_hand)


def _groups(job: Job, sets: dict[str, frozenset[str]]) -> list[tuple[Rule, ...]]:
    """The rules by what they set: those that set the same thing stay together, in declared order.

    Groups that fit a page together are put on one.
    """
    found: list[tuple[list[Rule], set[str]]] = []
    for rule in job.rules:
        together = [group for group in found if group[1] & sets[rule.name]]
        rules = [r for group in together for r in group[0]] + [rule]
        names = set(sets[rule.name]).union(*(group[1] for group in together))
        found = [group for group in found if group not in together]
        found.append((rules, names))
    order = {rule.name: place for place, rule in enumerate(job.rules)}
    found.sort(key=lambda group: min(order[r.name] for r in group[0]))
    joined: list[tuple[list[Rule], set[str]]] = []
    for rules, names in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and len(last[1] | names) <= MOST_COLUMNS
            and len(last[0]) + len(rules) <= 5
        ):
            joined[-1] = ([*last[0], *rules], last[1] | names)
        else:
            joined.append((rules, names))
    return [tuple(sorted(rules, key=lambda r: order[r.name])) for rules, _ in joined]


def _returning(point: Point) -> str:
    if point.kind is PointKind.FLAG:
        starts = point.starts or "no"
        return "as before" if point.retained else str(starts)
    return "as before" if point.power_return == "last" else point.power_return


def _policy(rule: Rule) -> str:
    """What a further trigger does while the rule runs; empty where it cannot meet it running."""
    if not any(isinstance(p.statement, Wait | WaitUntil | Fade) for p in flow_of(rule).places):
        return ""
    match rule.policy:
        case Policy(1, 0, True):
            return "a further trigger starts it anew"
        case Policy(1, 0, False):
            return "a further trigger is ignored while it runs"
        case Policy(at_once, waiting, gives_way):
            up_to = f"up to {at_once} at once"
            more = f", {waiting} more wait" if waiting else ""
            full = "the oldest gives way" if gives_way else "a further trigger is ignored"
            return f"{up_to}{more}; when full, {full}"


# ---------------------------------------------------------------- rows


@dataclass(frozen=True, slots=True)
class _Drafted:
    """A row before its columns are chosen."""

    number: str
    rule: str
    cause: str
    only_if: str
    effects: tuple[Statement, ...]
    then: str
    job: Job
    span: Span


def _rows(job: Job, rule: Rule, number: int) -> Iterable[_Drafted]:
    flow = flow_of(rule)
    ways = reachable_ways(job, rule, structure_of(job))
    from_place: dict[int, str] = {}
    place = 0
    for way in ways:
        if way.source != IDLE and way.source not in from_place:
            place += 1
            from_place[way.source] = f"{number}.{place}"
    counts: dict[str, int] = {}
    heads = sum(way.source == IDLE for way in ways)
    shown = 0
    for way in ways:
        if way.source == IDLE:
            shown += 1
            name = f"{number}" if heads == 1 else f"{number}{_letter(shown)}"
        else:
            name = from_place[way.source]
            counts[name] = counts.get(name, 0) + 1
            same = sum(w.source == way.source for w in ways)
            name = name if same == 1 else f"{name}{_letter(counts[name])}"
        guard = " and ".join(
            f"({text})" if " or " in text and len(way.guard) > 1 else text
            for text in (plain_condition(c, job) for c in way.guard)
        )
        if way.summarised:
            guard = "depends: more ways than a table can tell apart"
        yield _Drafted(
            name,
            rule.name,
            _cause(way, job),
            guard,
            way.effects,
            _then(way, flow, from_place, job),
            job,
            way.spans[0] if way.spans else rule.span,
        )


def _letter(number: int) -> str:
    """A letter for a number: a, b, … z, then aa, ab, and so on."""
    text = ""
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("a") + rest) + text
    return text


def _cause(way: Transition, job: Job) -> str:
    match way.on:
        case OnEvent(event):
            return plain_event(event, job)
        case OnExpiry(seconds):
            return f"{duration(seconds)} later"
        case OnCondition(condition):
            return f"as soon as {plain_condition(condition, job)}"
        case OnLimit(seconds):
            return f"or {duration(seconds)} later at the latest"
        case _:
            assert_never(way.on)


def _then(way: Transition, flow: Flow, from_place: dict[int, str], job: Job) -> str:
    """What the rule does next."""
    match way.outcome:
        case "ends":
            return "done"
        case "ended":
            return "ends here"
        case "cancels itself":
            return "stops itself"
        case "endless candidate":
            return "goes round for ever"
        case _:
            pass
    assert way.target != ENDLESS
    place: Place = flow.places[way.target]
    row = from_place.get(way.target, "")
    after = f" (row {row})" if row else ""
    match place.statement:
        case Wait(seconds):
            return f"waits {duration(seconds)}{after}"
        case WaitUntil(condition, None):
            return (
                f"waits for row {row}" if row else f"waits until {plain_condition(condition, job)}"
            )
        case WaitUntil(condition, limit) if limit is not None:
            waits = (
                f"waits for row {row}" if row else f"waits until {plain_condition(condition, job)}"
            )
            return f"{waits}, at most {duration(limit)}"
        case Fade(_, _, seconds):
            return f"fades for {duration(seconds)}{after}"
        case _:
            return "done"


def _row(drafted: _Drafted, columns: tuple[Column, ...]) -> Row:
    cells = tuple(
        ", then ".join(
            dict.fromkeys(_effect(s) for s in drafted.effects if _target(s) == column.name)
        )
        for column in columns
    )
    also = [
        f"stops {named(drafted.job, s.rule).words}"
        for s in drafted.effects
        if isinstance(s, Cancel)
    ]
    return Row(
        drafted.number,
        drafted.rule,
        drafted.cause,
        drafted.only_if,
        cells,
        "; ".join(dict.fromkeys(also)),
        drafted.then,
        drafted.span,
    )


def _target(statement: Statement) -> str:
    match statement:
        case Put(point):
            return point
        case Fade(dimmer):
            return dimmer
        case _:
            return ""


def _effect(statement: Statement) -> str:
    match statement:
        case Put(_, given):
            return value(given)
        case Fade(_, percent, over_s):
            return f"to {value(percent)} over {duration(over_s)}"
        case Wait() | WaitUntil() | If() | Repeat() | Cancel() | EndRun():
            return ""
        case _:
            assert_never(statement)
