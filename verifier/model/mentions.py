"""Where each name of a job stands: who declares it, and who speaks of it.

It is told from the syntax trees alone, so that it can be told of a text that has mistakes, too.
What a name stands for follows :class:`verifier.model.names.Names`: the nearest one, from inside a
typical outwards to wherever it is applied. A dotted name is several: in ``floor_1.pir`` the place
``floor_1`` and the point ``pir`` of the typical that is applied there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, assert_never

from verifier.language import tree
from verifier.model.job import DOOR_VALUES, ROOM_VALUES, PointKind
from verifier.source import Span

Group = Literal["thing", "requirement", "standard", "typical", "place", "parameter"]
"""Those that share their names: points, doors, rooms, rules and settings are things."""

VALUE_WORDS = frozenset(
    [word for kind in PointKind for word in kind.values]
    + [*DOOR_VALUES, *ROOM_VALUES, "running", "anywhere"]
)
"""The words that are values: where a value stands they are never names."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """What a name stands for.

    ``inside`` is the typical (or standard requirement) in which it is declared; empty: the job.
    """

    group: Group
    inside: str
    name: str


@dataclass(frozen=True, slots=True)
class Declared:
    """A declaration of a name: what kind of thing (``lamp``, ``rule``, …), and where it stands."""

    symbol: Symbol
    kind: str
    label: str
    span: Span
    whole: Span


@dataclass(frozen=True, slots=True)
class Mention:
    """A place where a name stands, and all that it stands for there.

    It is several only inside a typical that is applied at places from which the name is not the same.
    """

    span: Span
    symbols: tuple[Symbol, ...]
    declares: bool


_Role = Literal["thing", "setting", "value"]


@dataclass(frozen=True, slots=True)
class _Said:
    """A name as it stands in a declaration, not yet looked up."""

    name: tree.Name
    role: _Role = "thing"


class Mentions:
    """All names of some files. ``files`` are the job's; ``library`` the standards that come with the tool."""

    def __init__(self, files: Iterable[tree.File], library: Iterable[tree.Standard] = ()) -> None:
        self._top = tuple(each for file in files for each in file.declarations)
        self.library = tuple(library)
        self._applied: dict[tuple[str, str], dict[str, None]] = {}
        self._applied_in: dict[str, dict[str, None]] = {}
        self.declared: dict[Symbol, tuple[Declared, ...]] = {}
        found: dict[Symbol, list[Declared]] = {}
        for each in self._declarations():
            found.setdefault(each.symbol, []).append(each)
        self.declared = {symbol: tuple(places) for symbol, places in found.items()}

    # ------------------------------------------------------------ declarations

    def _declarations(self) -> Iterator[Declared]:
        for declaration in (*self._top, *self.library):
            yield from self._declares(declaration, "")

    def _declares(self, node: tree.Declaration, inside: str) -> Iterator[Declared]:
        match node:
            case tree.Typical(name, label, inner, span):
                yield _declared("typical", "", name, "typical", label, span)
                for each in inner:
                    yield from self._declares(each, name.text)
            case tree.Apply(typical, names, _, span):
                self._applied_in.setdefault(typical.text, {})[inside] = None
                for name in names:
                    self._applied.setdefault((inside, name.text), {})[typical.text] = None
                    yield _declared("place", inside, name, "place", None, span)
            case tree.Setting(name, _, span):
                yield _declared("thing", inside, name, "setting", None, span)
            case tree.Point(kind, name, label, _, span):
                yield _declared("thing", inside, name, kind, label, span)
            case tree.Door(name, label, _, span):
                yield _declared("thing", inside, name, "door", label, span)
            case tree.Room(name, label, _, span):
                yield _declared("thing", inside, name, "room", label, span)
            case tree.Rule(name, label, _, _, span):
                yield _declared("thing", inside, name, "rule", label, span)
            case tree.Requirement(name, label, _, span):
                yield _declared("requirement", inside, name, "requirement", label, span)
            case tree.Claim(name, label, _, _, span):
                yield _declared("requirement", inside, name, "requirement", label, span)
            case tree.Standard(name, label, _, _, span):
                yield _declared("standard", "", name, "standard requirement", label, span)
                for takes in node.parameters:
                    yield _declared(
                        "parameter", name.text, takes.name, "parameter", takes.label, takes.span
                    )
            case tree.Site() | tree.AssumeCondition() | tree.AssumeStays() | tree.Fault():
                pass
            case tree.Usage():
                pass
            case _:
                assert_never(node)

    def seen_from(self, inside: str) -> tuple[Declared, ...]:
        """What can be named inside a typical (empty: in the job), its own first, then outwards."""
        found: dict[Symbol, Declared] = {}
        todo, done = [inside], {inside}
        while todo:
            scope = todo.pop(0)
            for symbol, places in self.declared.items():
                if symbol.inside == scope and symbol.group in ("thing", "place"):
                    found.setdefault(symbol, places[0])
            for outer in self._applied_in.get(scope, {}):
                if outer not in done:
                    done.add(outer)
                    todo.append(outer)
        return tuple(found.values())

    def typicals_at(self, inside: str, place: str) -> tuple[str, ...]:
        """The typicals that are applied to a place."""
        return tuple(self._applied.get((inside, place), ()))

    # ------------------------------------------------------------ mentions

    @cached_property
    def all(self) -> tuple[Mention, ...]:
        """Every place where a name stands that stands for something, in the order of the text."""
        found = [
            Mention(each.span, (symbol,), True)
            for symbol, places in self.declared.items()
            for each in places
        ]
        for declaration in self._top:
            found.extend(self._mentions(declaration, ""))
        return tuple(sorted(found, key=lambda each: (each.span.file, each.span.start)))

    def at(self, file: str, offset: int) -> Mention | None:
        """The name that stands at a place, or ends there."""
        for each in self.all:
            if each.span.file == file and each.span.start <= offset <= each.span.end:
                return each
        return None

    def of(self, symbol: Symbol) -> tuple[Mention, ...]:
        """All places where a symbol is named."""
        return tuple(each for each in self.all if symbol in each.symbols)

    def _mentions(self, node: tree.Declaration, inside: str) -> Iterator[Mention]:
        match node:
            case tree.Typical(name, _, inner):
                for each in inner:
                    yield from self._mentions(each, name.text)
            case tree.Apply(typical, _, overrides):
                yield from self._whole(typical, "typical", "")
                for override in overrides:
                    yield from self._whole(override.setting, "thing", typical.text)
            case tree.Claim(_, _, standard, arguments):
                yield from self._whole(standard, "standard", "")
                for argument in arguments:
                    yield from self._whole(argument.parameter, "parameter", standard.text)
                    for given in argument.given:
                        if isinstance(given, tree.Name):
                            yield from self._found(_Said(given), inside)
            case tree.Standard(name):
                for said in _of_standard(node):
                    yield from self._whole(said.name, "parameter", name.text)
            case _:
                for said in _said(node):
                    yield from self._found(said, inside)

    def _whole(self, name: tree.Name, group: Group, inside: str) -> Iterator[Mention]:
        symbol = Symbol(group, inside, name.text)
        if symbol in self.declared:
            yield Mention(name.span, (symbol,), False)

    def _found(self, said: _Said, inside: str) -> Iterator[Mention]:
        if said.role == "value" and said.name.text in VALUE_WORDS:
            return
        segments = said.name.text.split(".")
        ways = self._from(segments, inside, ())
        start = said.name.span.start
        for number, segment in enumerate(segments):
            symbols = tuple(dict.fromkeys(way[number] for way in ways))
            if said.role != "thing" and number == len(segments) - 1:
                symbols = tuple(s for s in symbols if self.declared[s][0].kind == "setting")
            if symbols:
                span = Span(said.name.span.file, start, start + len(segment))
                yield Mention(span, symbols, False)
            start += len(segment) + 1

    def _from(
        self, segments: list[str], inside: str, behind: tuple[str, ...]
    ) -> list[tuple[Symbol, ...]]:
        """What a name can stand for, seen from inside a typical: a symbol for each of its segments."""
        here = self._in(segments, inside)
        if here or inside in behind:
            return here
        outwards = self._applied_in.get(inside, {}) if inside else {}
        if inside and not outwards:
            outwards = {"": None}  # a typical that is applied nowhere yet
        return [way for outer in outwards for way in self._from(segments, outer, (*behind, inside))]

    def _in(self, segments: list[str], inside: str) -> list[tuple[Symbol, ...]]:
        if len(segments) == 1:
            symbol = Symbol("thing", inside, segments[0])
            return [(symbol,)] if symbol in self.declared else []
        place = Symbol("place", inside, segments[0])
        return [
            (place, *rest)
            for typical in self._applied.get((inside, segments[0]), {})
            for rest in self._in(segments[1:], typical)
        ]


def _declared(
    group: Group, inside: str, name: tree.Name, kind: str, label: tree.Label | None, whole: Span
) -> Declared:
    text = "" if label is None else label.text
    return Declared(Symbol(group, inside, name.text), kind, text, name.span, whole)


# ---------------------------------------------------------------- names in declarations


def _said(node: tree.Declaration) -> Iterator[_Said]:
    """The names that a declaration speaks of, its own not among them."""
    match node:
        case tree.Point(_, _, _, clauses):
            for clause in clauses:
                if clause.words not in ("wired normally", "on power return"):
                    yield from _operands(clause, "value")
        case tree.Site(_, clauses) | tree.Door(_, _, clauses):
            for clause in clauses:
                yield from _operands(clause, "thing" if clause.words.endswith(" by") else "value")
        case tree.Room(_, _, clauses):
            for clause in clauses:
                yield from _operands(clause, "thing" if clause.words.endswith(" by") else "value")
        case tree.Rule(_, _, head, body):
            for line in head:
                yield from _of_head(line)
            yield from _of_body(body)
        case tree.AssumeCondition(_, condition):
            yield from _of_condition(condition)
        case tree.AssumeStays(subject, value, _, duration):
            yield _Said(subject)
            yield from _amounts("value", value)
            yield from _amounts("setting", duration)
        case tree.Fault(_, fault_of, within):
            yield from [] if fault_of is None else [_Said(fault_of)]
            yield from _amounts("setting", within)
        case tree.Requirement(_, _, scoped):
            yield from _of_scoped(scoped)
        case tree.Usage(_, lines):
            for use in lines:
                yield from _of_use(use)
        case tree.Setting() | tree.Claim() | tree.Standard() | tree.Typical() | tree.Apply():
            pass
        case _:
            assert_never(node)


def _of_standard(node: tree.Standard) -> Iterator[_Said]:
    yield from _of_scoped(node.scoped)
    for fault in node.needs:
        yield from _said(fault)


def _operands(clause: tree.Clause, role: _Role) -> Iterator[_Said]:
    for operand in clause.operands:
        if isinstance(operand, tree.Name):
            yield _Said(operand, role)


def _amounts(role: _Role, *amounts: tree.Amount | None) -> Iterator[_Said]:
    for amount in amounts:
        if isinstance(amount, tree.Name):
            yield _Said(amount, role)


def _of_head(line: tree.HeadLine) -> Iterator[_Said]:
    match line:
        case tree.Policy():
            pass
        case tree.Upon(event, guard):
            yield from _of_event(event)
            if guard is not None:
                yield from _of_condition(guard)
        case tree.Provided(condition):
            yield from _of_condition(condition)
        case _:
            assert_never(line)


def _of_body(body: Iterable[tree.Statement]) -> Iterator[_Said]:
    for statement in body:
        yield from _of_statement(statement)


def _of_statement(node: tree.Statement) -> Iterator[_Said]:
    match node:
        case tree.Put(point, value):
            yield _Said(point)
            yield from _amounts("value", value)
        case tree.Fade(dimmer, level, over):
            yield _Said(dimmer)
            yield from _amounts("value", level)
            yield from _amounts("setting", over)
        case tree.Wait(duration):
            yield from _amounts("setting", duration)
        case tree.WaitUntil(condition, at_most):
            yield from _of_condition(condition)
            yield from _amounts("setting", at_most)
        case tree.If(arms, otherwise):
            for arm in arms:
                yield from _of_condition(arm.condition)
                yield from _of_body(arm.body)
            yield from _of_body(otherwise or ())
        case tree.Repeat(body, until):
            yield from _of_body(body)
            yield from _of_condition(until)
        case tree.Cancel(rule):
            yield _Said(rule)
        case tree.EndRun():
            pass
        case _:
            assert_never(node)


def _of_condition(node: tree.Condition) -> Iterator[_Said]:
    match node:
        case tree.Is(subject, value):
            yield _Said(subject)
            yield from _amounts("value", value)
        case tree.Compare(subject, _, amount):
            yield _Said(subject)
            yield from _amounts("setting", amount)
        case tree.Stayed(subject, value, duration):
            yield _Said(subject)
            yield from _amounts("value", value)
            yield from _amounts("setting", duration)
        case tree.Between(begin, end):
            yield from _amounts("setting", begin, end)
        case tree.Not(item) | tree.Group(item):
            yield from _of_condition(item)
        case tree.And(items) | tree.Or(items):
            for item in items:
                yield from _of_condition(item)
        case tree.Implies(left, right):
            yield from _of_condition(left)
            yield from _of_condition(right)
        case tree.OfEach(_, each):
            yield from _of_condition(each)
        case tree.Sun() | tree.TimedOut():
            pass
        case _:
            assert_never(node)


def _of_event(node: tree.Event) -> Iterator[_Said]:
    match node:
        case tree.Becomes(subject, value):
            yield _Said(subject)
            yield from _amounts("value", value)
        case tree.NamedEvent(subject):
            yield _Said(subject)
        case tree.Stayed():
            yield from _of_condition(node)
        case tree.AtClock(time):
            yield from _amounts("setting", time)
        case tree.AnyEvent(item):
            yield from _of_event(item)
        case tree.WorldEvent():
            pass
        case _:
            assert_never(node)


def _of_scoped(node: tree.ScopedForm) -> Iterator[_Said]:
    if node.scope is not None:
        yield from _of_condition(node.scope)
    form = node.form
    for event in form.events:
        yield from _of_event(event)
    if form.condition is not None:
        yield from _of_condition(form.condition)
    yield from _amounts("setting", form.amount, node.allowing)
    if form.rule is not None:
        yield _Said(form.rule)


def _of_use(node: tree.UsageLine) -> Iterator[_Said]:
    match node:
        case tree.Use(subject, value, lasts, often):
            yield _Said(subject)
            yield from _amounts("value", value)
            yield from _amounts("setting", lasts, often.begin, often.end)
        case tree.NightHours(begin, end):
            yield from _amounts("setting", begin, end)
        case tree.Standby(point, power):
            yield _Said(point)
            yield from _amounts("setting", power)
        case tree.Price():
            pass
        case _:
            assert_never(node)
