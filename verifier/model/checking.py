"""A job from its sources: every pass of the model, in order.

Sources → trees → typicals applied → names declared → points, doors, rooms → rules, assumptions,
faults, requirements.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import TypeVar

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.language import parse, parse_form, tree
from verifier.language.library import library
from verifier.model import places, points, requirements, rules
from verifier.model.applying import Placed, applied
from verifier.model.job import (
    Assumption,
    Door,
    Fault,
    Job,
    Point,
    Requirement,
    Room,
    Setting,
    Site,
)
from verifier.model.names import Names, RuleName, Thing
from verifier.model.report import Report
from verifier.model.standards import Library, check_standard, claim
from verifier.model.usage import check_usage, usage
from verifier.model.whole import check_whole
from verifier.source import SourceFile, Sources, Span

Node = TypeVar("Node")


def check(sources: Sources, name: str) -> tuple[Job | None, tuple[Diagnostic, ...]]:
    """The checked job of the sources, None iff a diagnostic is an error.

    After a syntax mistake nothing else is checked: what could not be read would be missed
    everywhere.
    """
    declarations: list[tree.Declaration] = []
    syntax: list[Diagnostic] = []
    empty: list[SourceFile] = []
    for file in sources.files:
        found, mistakes = parsed(file)
        if not found.declarations and not mistakes:
            empty.append(file)
        declarations.extend(found.declarations)
        syntax.extend(mistakes)
    if any(mistake.severity is Severity.ERROR for mistake in syntax):
        return None, tuple(syntax)
    report = Report()
    for file in empty if declarations else ():
        report.note(
            "empty-file",
            f"there is nothing in {file.name} but comments",
            Span(file.name, 0, 0),
            "Declare something in it, or delete it.",
        )
    placed, failed = applied(declarations, report)
    job = _Checking(placed, failed, report).job(name)
    if not placed and not report.has_errors:
        first = sources.files[0].name if sources.files else ""
        report.error(
            "empty-job",
            "there is nothing in the job",
            Span(first, 0, 0),
            "Declare points, rules and requirements in its .dusk files.",
        )
    return (None if report.has_errors else job), (*syntax, *report.diagnostics())


@functools.lru_cache(maxsize=256)
def parsed(file: SourceFile) -> tuple[tree.File, tuple[Diagnostic, ...]]:
    """The tree of a file and its mistakes of syntax; one that has not changed since is not read again."""
    return parse(file)


def check_form(
    text: str, job: Job, name: str = "asked"
) -> tuple[Requirement | None, tuple[Diagnostic, ...], SourceFile]:
    """A requirement typed on its own, checked against a job; with the file that its spans speak of."""
    file = SourceFile(f"({name})", text)
    scoped, mistakes = parse_form(file)
    if scoped is None:
        return None, mistakes, file
    report = Report()
    names = Names(_things_of(job), report)
    found = requirements.scoped(scoped, name, "", names)
    return (None if report.has_errors else found), report.diagnostics(), file


def _things_of(job: Job) -> dict[str, Thing]:
    things: dict[str, Thing] = {each.name: each for each in job.points}
    things.update({each.name: each for each in job.doors})
    things.update({each.name: each for each in job.rooms})
    things.update({each.name: RuleName(each.name, each.span) for each in job.rules})
    things.update({each.name: each for each in job.settings})
    return things


_Named = (
    tree.Setting
    | tree.Point
    | tree.Door
    | tree.Room
    | tree.Rule
    | tree.Requirement
    | tree.Claim
    | tree.Standard
)
"""What has a name of its own."""


def _group(node: _Named) -> str:
    """Those that share their names."""
    match node:
        case tree.Requirement() | tree.Claim():
            return "requirement"
        case tree.Standard():
            return "standard"
        case _:
            return "thing"


def _declared_as(node: _Named) -> str:
    match node:
        case tree.Point(kind):
            return f"a {kind}"
        case tree.Claim():
            return "a requirement"
        case tree.Standard():
            return "a standard requirement"
        case _:
            return f"a {type(node).__name__.lower()}"


class _Checking:
    """The passes over the declarations of one job; each fills what the later ones read."""

    def __init__(
        self,
        placed: tuple[Placed, ...],
        failed: frozenset[str],
        report: Report,
    ) -> None:
        self._report = report
        self._things: dict[str, Thing] = {}
        self._names = Names(self._things, report, broken=set(failed))
        self._seen_from: dict[str, Names] = {}
        self._placed = self._unique(placed)

    def job(self, name: str) -> Job:
        """The job; where something was wrong it is incomplete."""
        settings = self._settings()
        site = self._site()
        found_points = self._points()
        doors = self._doors()
        for placed, node in self._each(tree.Rule):
            whole = placed.prefix + node.name.text
            self._things[whole] = RuleName(whole, node.name.span)
        rooms = self._rooms()
        found_rules = tuple(
            rules.rule(node, placed.prefix + node.name.text, self._seen(placed))
            for placed, node in self._each(tree.Rule)
        )
        assumptions = self._assumptions()
        faults = self._faults()
        found = Job(
            name,
            site,
            found_points,
            doors,
            rooms,
            found_rules,
            assumptions,
            faults,
            self._requirements(faults),
            settings,
            usage=usage((node, self._seen(placed)) for placed, node in self._each(tree.Usage)),
        )
        check_usage(found, self._report)
        if not self._report.has_errors:
            check_whole(found, self._names.used, self._report)
        return found

    # ------------------------------------------------------------ names

    def _unique(self, placed: tuple[Placed, ...]) -> tuple[Placed, ...]:
        """The declarations without those whose name is taken."""
        taken: dict[tuple[str, str], _Named] = {}
        kept: list[Placed] = []
        for each in placed:
            node = each.declaration
            if not isinstance(node, _Named):
                kept.append(each)
                continue
            if "." in node.name.text:
                self._report.error(
                    "dotted-name",
                    f"{node.name.text} cannot be declared: full stops come from applying typicals",
                    node.name.span,
                    f"Write `{node.name.text.replace('.', '_')}`.",
                )
                self._names.broken.add(each.prefix + node.name.text)
                continue
            group = _group(node)
            first = taken.setdefault((group, each.prefix + node.name.text), node)
            if first is not node:
                was, now = _declared_as(first), _declared_as(node)
                self._report.error(
                    "duplicate-name",
                    f"{each.prefix + node.name.text} is declared twice, "
                    + (f"each time as {now}" if was == now else f"as {was} and as {now}"),
                    node.name.span,
                    "Give one of them another name.",
                    also=(Label(first.name.span, "declared here first"),),
                )
                continue
            kept.append(each)
        return tuple(kept)

    def _each(self, kind: type[Node]) -> Iterable[tuple[Placed, Node]]:
        for placed in self._placed:
            if isinstance(placed.declaration, kind):
                yield placed, placed.declaration

    def _seen(self, placed: Placed) -> Names:
        seen = self._seen_from.get(placed.prefix)
        if seen is None:
            seen = self._seen_from[placed.prefix] = self._names.seen_from(placed.prefix)
        return seen

    # ------------------------------------------------------------ passes

    def _settings(self) -> tuple[Setting, ...]:
        found: list[Setting] = []
        for placed, node in self._each(tree.Setting):
            each = points.setting(node, placed.prefix + node.name.text, self._seen(placed))
            if each is None:
                self._names.broken.add(placed.prefix + node.name.text)
            else:
                found.append(each)
        self._things.update({each.name: each for each in found})
        return tuple(found)

    def _site(self) -> Site | None:
        nodes = [node for _, node in self._each(tree.Site)]
        for second in nodes[1:]:
            self._report.error(
                "given-twice",
                "a job has one site",
                second.label.span,
                "Take one of them out.",
                also=(Label(nodes[0].label.span, "the first one"),),
            )
        return places.site(nodes[0], self._names) if nodes else None

    def _points(self) -> tuple[Point, ...]:
        found = tuple(
            points.point(node, placed.prefix + node.name.text, self._seen(placed))
            for placed, node in self._each(tree.Point)
        )
        self._things.update({each.name: each for each in found})
        return found

    def _doors(self) -> tuple[Door, ...]:
        found: list[Door] = []
        for placed, node in self._each(tree.Door):
            each = places.door(node, placed.prefix + node.name.text, self._seen(placed))
            if each is None:
                self._names.broken.add(placed.prefix + node.name.text)
            else:
                found.append(each)
        self._things.update({each.name: each for each in found})
        places.check_doors_apart(tuple(found), self._names)
        return tuple(found)

    def _rooms(self) -> tuple[Room, ...]:
        found = tuple(
            places.room(node, placed.prefix + node.name.text, self._seen(placed))
            for placed, node in self._each(tree.Room)
        )
        self._things.update({each.name: each for each in found})
        return found

    def _assumptions(self) -> tuple[Assumption, ...]:
        found: list[Assumption] = []
        for placed in self._placed:
            node = placed.declaration
            if isinstance(node, tree.AssumeCondition | tree.AssumeStays):
                each = requirements.assumption(node, self._seen(placed))
                if each is not None:
                    found.append(each)
        return tuple(found)

    def _faults(self) -> tuple[Fault, ...]:
        found: list[Fault] = []
        for placed, node in self._each(tree.Fault):
            each = requirements.fault(node, self._seen(placed))
            if each is None:
                continue
            same = [one for one in found if (one.kind, one.subject) == (each.kind, each.subject)]
            if same:
                self._report.error(
                    "given-twice",
                    "this fault is considered twice",
                    each.span,
                    "Take one of them out.",
                    also=(Label(same[0].span, "the first time"),),
                )
                continue
            found.append(each)
        return tuple(found)

    def _requirements(self, faults: tuple[Fault, ...]) -> tuple[Requirement, ...]:
        standards, broken = self._standards()
        found: list[Requirement] = []
        for placed in self._placed:
            node = placed.declaration
            if isinstance(node, tree.Requirement):
                name = placed.prefix + node.name.text
                each = requirements.requirement(node, name, self._seen(placed))
            elif isinstance(node, tree.Claim):
                name = placed.prefix + node.name.text
                each = claim(node, name, self._seen(placed), Library(standards, broken, faults))
            else:
                continue
            if each is not None:
                found.append(each)
        return tuple(found)

    def _standards(self) -> tuple[dict[str, tree.Standard], frozenset[str]]:
        """Those of the library and of the job, none where the job has nothing to do with any.

        Beside them the names of those in which something is wrong.
        """
        own = [node for _, node in self._each(tree.Standard)]
        claimed = {node.standard.text for _, node in self._each(tree.Claim)}
        if not own and not claimed:
            return {}, frozenset()
        found = {standard.name.text: standard for standard in library()}
        shipped, broken = tuple(found), []
        for standard in own:
            name = standard.name.text
            if not check_standard(standard, self._report, shipped):
                broken.append(name)
            elif name not in claimed:
                self._report.warning(
                    "standard-not-claimed",
                    f"no requirement is claimed as {name}, so nothing comes of it",
                    standard.name.span,
                    f"Write `require NAME as {name} with …`, or take it out.",
                )
            found.setdefault(name, standard)
        return found, frozenset(broken)
