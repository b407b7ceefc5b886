"""The points schedule of a job: a row for each point, as it is handed to those who wire it.

What the job's text says of a point comes from there, as it is written. Terminal, cable, address and
remark stand in a table of their own, ``schedule.csv`` in the job's folder.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.graph.access import rule_access
from verifier.handover.csv_table import Cell, CsvTable
from verifier.language import tree
from verifier.language.parser import parse
from verifier.model.job import Job, PointKind
from verifier.source import Sources

KEPT = ("terminal", "cable", "address", "remark")
"""What is kept beside the points, and not in the job's text."""

DECLARED = (
    "label",
    "kind",
    "wired",
    "broken wire reads",
    "wireless",
    "holds",
    "rearm",
    "power",
    "starts",
    "power return",
    "local switch",
    "retained",
)
"""What the job's text says of a point."""

DERIVED = ("belongs to", "read by", "set by")
"""What follows from the rest: shown and never taken in."""

COLUMNS = ("name", *DECLARED, *DERIVED, *KEPT)

CLAUSES = {
    "wired": "wired normally",
    "broken wire reads": "broken wire reads",
    "wireless": "wireless",
    "holds": "holds",
    "rearm": "rearm",
    "power": "power",
    "starts": "starts",
    "power return": "on power return",
    "local switch": "with local switch",
    "retained": "retained",
}
"""The words of the option that a column stands for."""

FLAGS = ("wireless", "local switch", "retained")
"""Columns that say yes or nothing."""

OUTPUTS = ("lamp", "dimmer", "load")

Kept = dict[str, tuple[str, str, str, str]]
"""Terminal, cable, address and remark by the name of a point."""


@dataclass(frozen=True, slots=True)
class Declared:
    """Where a point is declared; ``of_typical``: in a typical, so that several points are."""

    node: tree.Point
    of_typical: bool


@dataclass(frozen=True, slots=True)
class Schedule:
    """The rows of all points, by the names of :data:`COLUMNS`, in declared order."""

    rows: tuple[dict[str, str], ...]


def schedule_of(job: Job, sources: Sources, kept: Kept) -> Schedule:
    """The schedule of a job; ``kept`` is what stands beside its points."""
    declared = declared_points(job, sources)
    access = {rule.name: rule_access(rule) for rule in job.rules}
    rows = []
    for point in job.points:
        row = dict.fromkeys(COLUMNS, "")
        row["name"] = point.name
        row.update(written(declared[point.name].node))
        row["belongs to"] = ", ".join(belongs_to(job, point.name))
        row["read by"] = ", ".join(r for r, a in access.items() if point.name in a.reads)
        row["set by"] = ", ".join(r for r, a in access.items() if point.name in a.writes)
        row.update(zip(KEPT, kept.get(point.name, ("", "", "", "")), strict=True))
        rows.append(row)
    return Schedule(tuple(rows))


def declared_points(job: Job, sources: Sources) -> dict[str, Declared]:
    """Where each point of a job is declared, by its full name."""
    by_place: dict[tuple[str, int], Declared] = {}

    def take(declarations: Iterable[tree.Declaration], of_typical: bool) -> None:
        for node in declarations:
            if isinstance(node, tree.Point):
                by_place[node.name.span.file, node.name.span.start] = Declared(node, of_typical)
            elif isinstance(node, tree.Typical):
                take(node.declarations, True)

    for file in sources.files:
        take(parse(file)[0].declarations, False)
    return {p.name: by_place[p.span.file, p.span.start] for p in job.points}


def written(node: tree.Point) -> dict[str, str]:
    """What a declaration says, by column, as it is written; what holds if nothing is, where that helps."""
    found = {"label": node.label.text if node.label else "", "kind": node.kind}
    options = {clause.words: clause for clause in node.clauses}
    for column, words in CLAUSES.items():
        clause = options.get(words)
        if clause is None:
            found[column] = "off" if column == "power return" and node.kind in OUTPUTS else ""
        elif column in FLAGS:
            found[column] = "yes"
        else:
            (operand,) = clause.operands
            found[column] = f"normally {operand.text}" if column == "wired" else operand.text
    return found


def belongs_to(job: Job, name: str) -> tuple[str, ...]:
    """The doors and rooms that a point belongs to, by name."""
    found = []
    for door in job.doors:
        if name in (door.raised_by, door.lowered_by, door.moving_by):
            found.append(door.name)
    for room in job.rooms:
        if name in room.seen_by or name in room.entered_by:
            found.append(room.name)
    return tuple(found)


# ---------------------------------------------------------------- what is kept beside


def kept_of(table: CsvTable) -> tuple[Kept, tuple[Diagnostic, ...]]:
    """What a ``schedule.csv`` keeps, and what is wrong with it."""
    columns, found = columns_of(table, ("name", *KEPT))
    if columns is None:
        return {}, found
    kept: Kept = {}
    for row in table.rows:
        cells = cells_of(row, columns)
        name = cells["name"].text.strip() if "name" in cells else ""
        if name:
            texts = [cells[c].text.strip() if c in cells else "" for c in KEPT]
            kept[name] = (texts[0], texts[1], texts[2], texts[3])
    return kept, found


def kept_rows(job: Job, kept: Kept) -> list[list[str]]:
    """The rows of ``schedule.csv``: its head, the job's points in order, then names of no point."""
    order = [p.name for p in job.points if any(kept.get(p.name, ()))]
    order += [name for name in kept if name not in job.point]
    return [["name", *KEPT], *([name, *kept[name]] for name in order)]


def columns_of(
    table: CsvTable, known: tuple[str, ...]
) -> tuple[dict[str, int] | None, tuple[Diagnostic, ...]]:
    """Where each known column stands; None without one called ``name``."""
    columns: dict[str, int] = {}
    found: list[Diagnostic] = []
    for place, cell in enumerate(table.head):
        name = " ".join(cell.text.replace("_", " ").split()).lower()
        if name in columns:
            found.append(
                _problem(
                    cell,
                    "schedule-header",
                    f"the column `{name}` stands twice in the first row",
                    "Take one of them out.",
                )
            )
        elif name in known:
            columns[name] = place
        elif name:
            found.append(
                _problem(
                    cell,
                    "schedule-column",
                    f"`{cell.text}` is no column of a schedule; it is left alone",
                    f"The columns are {', '.join(known)}.",
                    Severity.WARNING,
                )
            )
    if "name" not in columns:
        found.append(
            _problem(
                table.head[0],
                "schedule-header",
                "the first row has no column `name`, so it cannot be told which point a row is of",
                f"Begin with a row of headings: {', '.join(known[:4])}, ….",
            )
        )
    wrong = any(each.severity is Severity.ERROR for each in found)
    return (None if wrong else columns), tuple(found)


def cells_of(row: tuple[Cell, ...], columns: dict[str, int]) -> dict[str, Cell]:
    """The cells of a row by column; those that a short row does not have are left out."""
    return {name: row[place] for name, place in columns.items() if place < len(row)}


def same_places(job: Job, kept: Kept) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Terminals and addresses that two points or more have: (column, text, names)."""
    found = []
    for column in ("terminal", "address"):
        place = KEPT.index(column)
        by_text: dict[str, list[str]] = {}
        for point in job.points:
            text = kept.get(point.name, ("", "", "", ""))[place]
            if text:
                by_text.setdefault(" ".join(text.lower().split()), []).append(point.name)
        for names in by_text.values():
            if len(names) > 1:
                found.append((column, kept[names[0]][place], tuple(names)))
    return tuple(found)


def _problem(
    cell: Cell, code: str, message: str, hint: str, severity: Severity = Severity.ERROR
) -> Diagnostic:
    return Diagnostic(code, severity, message, (Label(cell.span),), hint)


KINDS = tuple(kind.value for kind in PointKind)
