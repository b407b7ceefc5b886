"""An edited schedule is taken in: which declarations change, which are new, what is kept beside.

Only what differs is touched, option by option, so that the rest of the job's text stays as its
author wrote it. What comes of it is checked as any job is before anything is written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from difflib import get_close_matches

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.explain.edits import Edit, edited
from verifier.handover.csv_table import Cell, CsvTable
from verifier.handover.schedule import (
    CLAUSES,
    COLUMNS,
    DECLARED,
    DERIVED,
    FLAGS,
    KEPT,
    KINDS,
    OUTPUTS,
    Declared,
    Kept,
    cells_of,
    columns_of,
    declared_points,
    same_places,
    schedule_of,
    written,
)
from verifier.language import tree
from verifier.model import check
from verifier.model.figures import Unit, Unreadable, quantity
from verifier.model.job import Job, PointKind
from verifier.source import SourceFile, Sources, Span

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_YES = {"yes": "yes", "y": "yes", "x": "yes", "true": "yes", "1": "yes"}
_NO = ("", "no", "n", "false", "0", "-")
_UNITS = {"holds": Unit.DURATION, "rearm": Unit.DURATION, "power": Unit.POWER, "starts": Unit.LEVEL}
_EXAMPLES = {"holds": "8 s", "rearm": "3 s", "power": "2 x 58 W", "starts": "60 %"}


@dataclass(frozen=True, slots=True)
class Taken:
    """What comes of a schedule: the sources and what is kept beside, as they would be; findings.

    With an error among the findings nothing may be written.
    """

    after: Sources
    kept: Kept
    findings: tuple[Diagnostic, ...]

    @property
    def rejected(self) -> bool:
        """Whether something is wrong with it."""
        return any(f.severity is Severity.ERROR for f in self.findings)


def taken_in(job: Job, sources: Sources, kept: Kept, table: CsvTable) -> Taken:
    """What a schedule changes."""
    return _TakingIn(job, sources, kept, table).taken()


class _TakingIn:
    def __init__(self, job: Job, sources: Sources, kept: Kept, table: CsvTable) -> None:
        self.job, self.sources, self.table = job, sources, table
        self.kept: Kept = dict(kept)
        self.declared = declared_points(job, sources)
        self.found: list[Diagnostic] = []
        self.edits: list[Edit] = []
        self.new: list[str] = []
        self.rows: dict[str, tuple[Cell, ...]] = {}
        self.now = {row["name"]: row for row in schedule_of(job, sources, {}).rows}

    def taken(self) -> Taken:
        columns, found = columns_of(self.table, COLUMNS)
        self.found.extend(found)
        if columns is None:
            return Taken(self.sources, self.kept, tuple(self.found))
        for row in self.table.rows:
            self._row(row, columns)
        after = self.sources
        if not self._wrong():
            after = self._written()
        if not self._wrong():
            self._check(after, columns)
        return Taken(after, self.kept, tuple(self.found))

    def _wrong(self) -> bool:
        return any(each.severity is Severity.ERROR for each in self.found)

    def tell(
        self, cell: Cell, code: str, message: str, hint: str, severity: Severity = Severity.ERROR
    ) -> None:
        """Takes in a finding at a cell."""
        self.found.append(Diagnostic(code, severity, message, (Label(cell.span),), hint))

    # ------------------------------------------------------------ rows

    def _row(self, row: tuple[Cell, ...], columns: dict[str, int]) -> None:
        cells = cells_of(row, columns)
        for cell in row[len(self.table.head) :]:
            if cell.text.strip():
                self.tell(
                    cell,
                    "schedule-cell",
                    "the row has more cells than the first row has headings",
                    "Put a cell with a delimiter in it into quotation marks.",
                )
                return
        name_cell = cells.get("name", row[0])
        name = name_cell.text.strip()
        if not name:
            self.tell(
                name_cell,
                "schedule-name",
                "the row names no point",
                "Write its name, or empty the row.",
            )
            return
        if name in self.rows:
            self.tell(
                name_cell,
                "schedule-name",
                f"{name} stands in two rows",
                "Take one of them out.",
            )
            return
        self.rows[name] = row
        declared = self.declared.get(name)
        wanted = self._wanted(cells, None if declared is None else declared.node.kind)
        if declared is not None:
            self._known(name, declared, cells, wanted)
        else:
            self._unknown(name, name_cell, cells, wanted)
        self._beside(name, cells)

    def _beside(self, name: str, cells: dict[str, Cell]) -> None:
        was = self.kept.get(name, ("", "", "", ""))
        texts = [
            " ".join(cells[column].text.split()) if column in cells else before
            for column, before in zip(KEPT, was, strict=True)
        ]
        now = (texts[0], texts[1], texts[2], texts[3])
        if any(now) or name in self.kept:
            self.kept[name] = now

    def _wanted(self, cells: dict[str, Cell], kind: str | None) -> dict[str, str]:
        """What the cells say of a declaration, by column, in its own words; bad cells are told."""
        wanted: dict[str, str] = {}
        if "kind" in cells and cells["kind"].text.strip():
            kind = " ".join(cells["kind"].text.split()).lower()
        for column in DECLARED:
            empty = column == "kind" and column in cells and not cells[column].text.strip()
            if column in cells and not empty:
                text = self._cell(column, cells[column], kind or "")
                if text is not None:
                    wanted[column] = text
        return wanted

    def _cell(self, column: str, cell: Cell, kind: str) -> str | None:
        """A cell's text as a declaration has it; None if it cannot be."""
        text = " ".join(cell.text.split())
        match column:
            case "label":
                if '"' in text or "\n" in cell.text:
                    self.tell(
                        cell,
                        "schedule-cell",
                        "a label has no quotation marks and stands on one line",
                        "Take them out.",
                    )
                    return None
                return text
            case "kind":
                if text.lower() in KINDS:
                    return text.lower()
                self._unfit(cell, column, KINDS)
                return None
            case "wired":
                said = text.lower().removeprefix("normally ")
                if said in ("", "open", "closed"):
                    return f"normally {said}" if said else ""
                self._unfit(cell, column, ("normally open", "normally closed"))
                return None
            case _ if column in FLAGS:
                if text.lower() in _YES or text.lower() in _NO:
                    return _YES.get(text.lower(), "")
                self._unfit(cell, column, ("yes", "no"))
                return None
            case "power return":
                if text.lower() in ("off", "on", "last"):
                    return text.lower()
                if not text:
                    return "off" if kind in OUTPUTS else ""
                self._unfit(cell, column, ("off", "on", "last"))
                return None
            case "broken wire reads" | "starts" if kind in KINDS and (
                column != "starts" or kind != "dimmer"
            ):
                fitting = PointKind(kind).values
                if not text or text.lower() in fitting:
                    return text.lower()
                self._unfit(cell, column, fitting)
                return None
            case _:
                return self._figure(column, cell, text)

    def _figure(self, column: str, cell: Cell, text: str) -> str | None:
        """A figure, or the name of a setting (of a dimmer's start also on and off)."""
        if not text or (_NAME.fullmatch(text) and column != "power"):
            return text
        figure = quantity(text)
        unit = _UNITS.get(column)
        if isinstance(figure, Unreadable) or (unit is not None and figure.unit is not unit):
            example = _EXAMPLES.get(column, "")
            self.tell(
                cell,
                "schedule-cell",
                f"`{text}` does not fit under `{column}`",
                f"Write {unit.value if unit else 'a figure'} such as `{example}`, or leave it empty.",
            )
            return None
        return text

    def _unfit(self, cell: Cell, column: str, fitting: tuple[str, ...]) -> None:
        text = " ".join(cell.text.split())
        hint = f"It can be {', '.join(fitting)} or empty." if fitting else "Leave it empty."
        if column == "kind":
            hint = f"It is one of {', '.join(fitting)}."
        self.tell(cell, "schedule-cell", f"`{text}` does not fit under `{column}`", hint)

    # ------------------------------------------------------------ a point that is there

    def _known(
        self, name: str, declared: Declared, cells: dict[str, Cell], wanted: dict[str, str]
    ) -> None:
        was = written(declared.node)
        changed = {c: text for c, text in wanted.items() if not _same(c, text, was[c])}
        self._derived(name, cells)
        if not changed:
            return
        if declared.of_typical:
            first = next(iter(changed))
            self.tell(
                cells[first],
                "schedule-typical",
                f"{name} comes from a typical, so that its `{first}` is that of others, too",
                "Change the typical in the job's text; terminal, cable, address and remark are taken in.",
            )
            return
        node = declared.node
        inserted: list[str] = []
        for column, text in changed.items():
            self._change(node, column, text, inserted)
        if inserted:
            end = max([node.name.span.end, *(c.span.end for c in node.clauses)])
            if node.label is not None:
                end = max(end, node.label.span.end)
            self.edits.append(
                Edit(Span(node.name.span.file, end, end), "".join(f" {each}" for each in inserted))
            )

    def _derived(self, name: str, cells: dict[str, Cell]) -> None:
        """Notes cells that were edited and follow from the rest."""
        is_so = self.now[name]
        for column in DERIVED:
            if column in cells and not _same(column, cells[column].text, is_so[column]):
                self.tell(
                    cells[column],
                    "schedule-column",
                    f"`{column}` follows from the doors, rooms and rules: the cell is left alone",
                    "Change it in the job's text.",
                    Severity.WARNING,
                )

    def _change(self, node: tree.Point, column: str, text: str, inserted: list[str]) -> None:
        """One option of a declaration: replaced, taken out, or noted to be put in at the end."""
        file = node.name.span.file
        if column == "kind":
            start = node.span.start
            self.edits.append(Edit(Span(file, start, start + len(node.kind)), text))
            return
        if column == "label":
            new = f'"{text}"' if text else ""
            if node.label is not None:
                self._replace(node.label.span, new)
            elif new and node.clauses:
                end = node.name.span.end
                self.edits.append(Edit(Span(file, end, end), f" {new}"))
            elif new:
                inserted.insert(0, new)
            return
        clause = next((c for c in node.clauses if c.words == CLAUSES[column]), None)
        new = clause_words(column, text)
        if clause is not None:
            self._replace(clause.span, new)
        elif new:
            inserted.append(new)

    def _replace(self, span: Span, text: str) -> None:
        """Puts a text in place of a span; without one the blanks before it go, too."""
        start = span.start
        if not text:
            before = self.sources.by_name[span.file].text[:start]
            start = len(before.rstrip(" \t"))
        self.edits.append(Edit(Span(span.file, start, span.end), text))

    # ------------------------------------------------------------ a point that is new

    def _unknown(
        self, name: str, cell: Cell, cells: dict[str, Cell], wanted: dict[str, str]
    ) -> None:
        kind = wanted.get("kind", "")
        if not kind:
            if "kind" in cells and cells["kind"].text.strip():
                return
            near = get_close_matches(name, list(self.declared), n=3, cutoff=0.6)
            hint = f"Did you mean {' or '.join(near)}? " if near else ""
            self.tell(
                cell,
                "schedule-name",
                f"the job has no point called {name}",
                f"{hint}A new point needs a kind: {', '.join(KINDS)}.",
            )
            return
        if not _NAME.fullmatch(name):
            self.tell(
                cell,
                "schedule-name",
                f"`{name}` cannot be the name of a new point",
                "A name begins with a letter; letters, digits and `_` follow.",
            )
            return
        words = [kind, name]
        if wanted.get("label"):
            words.append(f'"{wanted["label"]}"')
        for column in CLAUSES:
            text = wanted.get(column, "")
            usual = column == "power return" and text == "off" and kind in OUTPUTS
            if text and not usual:
                words.append(clause_words(column, text))
        self.new.append(" ".join(words))

    def _written(self) -> Sources:
        """The sources with all changes; new points stand after the last one that is declared."""
        after = edited(self.sources, self.edits)
        if not self.new:
            return after
        text = "".join(f"{line}\n" for line in self.new)
        places = [d.node for d in self.declared.values() if not d.of_typical]
        if not places:
            names = {file.name for file in after.files}
            name = "points.dusk" if "points.dusk" not in names else after.files[0].name
            files = [f for f in after.files if f.name != name]
            old = after.by_name[name].text if name in names else ""
            files.append(SourceFile(name, f"{text}\n{old}" if old else text))
            return Sources(tuple(sorted(files, key=lambda f: f.name)))
        last = places[-1]
        old = self.sources.by_name[last.name.span.file].text
        end = old.find("\n", max([last.name.span.end, *(c.span.end for c in last.clauses)]))
        at = len(old) if end < 0 else end + 1
        before = "\n" if end < 0 else ""
        added = Edit(Span(last.name.span.file, at, at), before + text)
        return edited(self.sources, [*self.edits, added])

    # ------------------------------------------------------------ what comes of it

    def _check(self, after: Sources, columns: dict[str, int]) -> None:
        """Checks the new text, and that it says what the schedule says."""
        job, found = check(after, self.job.name)
        errors = [each for each in found if each.severity is Severity.ERROR]
        if job is None or errors:
            for each in errors:
                self.found.append(
                    replace(
                        each,
                        code="schedule-clash",
                        message=f"with the schedule taken in: {each.message}",
                        labels=(self._label(each, after), *each.labels[1:]),
                    )
                )
            return
        for name, row in self.rows.items():
            declared = declared_points(job, after)[name]
            cells = cells_of(row, columns)
            for column, text in self._wanted(cells, declared.node.kind).items():
                if not _same(column, text, written(declared.node)[column]):
                    raise AssertionError(f"schedule: {name}'s {column} was not taken in")
        for column, text, names in same_places(job, self.kept):
            cell = self._cell_of(names[-1], column, columns)
            self.tell(
                cell,
                "schedule-same-place",
                f"{' and '.join(names)} have the same {column}, {text}",
                "Give each its own, unless they are meant to share it.",
                Severity.WARNING,
            )
        for name in self.kept:
            if name not in job.point:
                self.tell(
                    self.table.head[0],
                    "schedule-left-over",
                    f"{name} is kept in schedule.csv and is no point of the job",
                    "Take its row out of schedule.csv if the point is gone.",
                    Severity.WARNING,
                )

    def _label(self, each: Diagnostic, after: Sources) -> Label:
        """The row of the schedule that an error in the new text comes from, if it can be told."""
        label = each.labels[0]
        file = after.by_name.get(label.span.file)
        if file is not None:
            line = file.line(file.line_and_column(label.span.start)[0]).split()
            name = line[1] if len(line) > 1 else ""
            if name in self.rows:
                return Label(self.rows[name][0].span, label.text)
        return Label(self.table.head[0].span, label.text)

    def _cell_of(self, name: str, column: str, columns: dict[str, int]) -> Cell:
        row = self.rows.get(name)
        if row is None:
            return self.table.head[0]
        return cells_of(row, columns).get(column, row[0])


def clause_words(column: str, text: str) -> str:
    """An option as a declaration has it; empty for none.

    >>> clause_words("wired", "normally open"), clause_words("power", "18 W"), clause_words("wireless", "")
    ('wired normally open', '18 W', '')
    """
    if not text:
        return ""
    if column in FLAGS:
        return CLAUSES[column]
    match column:
        case "power":
            return text
        case "wired":
            return f"wired {text}"
        case _:
            return f"{CLAUSES[column]} {text}"


def _same(column: str, one: str, other: str) -> bool:
    """Whether two texts of a cell say the same."""
    if column in FLAGS:
        return bool(one) is bool(other)
    return " ".join(one.split()) == " ".join(other.split())
