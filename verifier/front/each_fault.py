"""What survives which fault: a table of verdicts, and the run behind each that does not hold."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from verifier.front.figures import listed
from verifier.front.paint import Paint
from verifier.front.reason import reason
from verifier.front.shown import columns, padded, shortened, shown
from verifier.model.job import Fault, Requirement
from verifier.model.words import fault_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict

_MARKS = {"holds": "✓", "nothing": "○", "fails": "✗", "open": "?"}
_WIDE, _NARROW = 13, 7
_PLAIN = {"✓": "+", "○": "o", "✗": "X", "?": "?"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, the faults that it considers, the verdicts by name."""

    heading: str
    faults: tuple[Fault, ...]
    verdicts: dict[str, Verdict]


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell that leads to a run: its number in the table."""

    number: int
    requirement: Requirement
    verdict: Verdict
    under: str


def columns_of(result: Result) -> tuple[Column, ...]:
    """No fault, each fault alone, all together."""
    found = []
    for one in result.under:
        heading = listed(tuple(fault_words(f) for f in one.faults)) or "no fault"
        found.append(Column(heading, one.faults, {r.name: v for r, v, _ in one.verdicts}))
    if result.job is None:
        return tuple(found)
    together = {r.name: v for r, v, _ in result.verdicts}
    faults = result.job.faults
    heading = (
        "all together" if len(faults) > 1 else fault_words(faults[0]) if faults else "no fault"
    )
    return (*found, Column(heading, faults, together))


def kind_of(verdict: Verdict) -> str:
    """How a verdict stands in the table: ``holds``, ``nothing`` (vacuous), ``fails``, ``open``."""
    match verdict:
        case Proved(vacuous=True) | Answered(vacuous=True):
            return "nothing"
        case Proved() | Answered():
            return "holds"
        case Refuted():
            return "fails"
        case Undecided():
            return "open"


def survives(result: Result, name: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The faults, each alone, that a requirement survives, and those with which it does not hold."""
    good: list[str] = []
    bad: list[str] = []
    for column in columns_of(result):
        if len(column.faults) != 1 or name not in column.verdicts:
            continue
        holds = kind_of(column.verdicts[name]) in ("holds", "nothing")
        (good if holds else bad).append(column.heading)
    return tuple(good), tuple(bad)


def cells_of(result: Result) -> tuple[Cell, ...]:
    """The cells whose verdict does not hold, numbered in order.

    Those of all together are told above; what fails without any fault is told once.
    """
    found: list[Cell] = []
    told: set[str] = set()
    for column in columns_of(result)[:-1]:
        for requirement in result.asked:
            verdict = column.verdicts.get(requirement.name)
            if verdict is None or requirement.name in told:
                continue
            if kind_of(verdict) in ("fails", "open"):
                if not column.faults:
                    told.add(requirement.name)
                found.append(Cell(len(found) + 1, requirement, verdict, column.heading))
    return tuple(found)


def each_fault_text(result: Result, paint: Paint, width: int) -> str:
    """The table with its legend, what each requirement survives, and where each run is."""
    table = columns_of(result)
    numbers = {(c.under, c.requirement.name): c.number for c in cells_of(result)}
    without = {
        c.requirement.name: c.number for c in cells_of(result) if c.under == table[0].heading
    }
    for column in table[1:-1]:
        numbers |= {(column.heading, name): number for name, number in without.items()}
    lines = [paint("Under each fault", "strong")]
    for number, column in enumerate(table, 1):
        lines.extend(
            textwrap.wrap(f"{number}  {shown(column.heading)}", width, subsequent_indent="   ")
        )
    lines.append("")
    names = [r.name for r in result.asked]
    longest = max((columns(n) for n in names), default=8)
    wide = min(longest, 30) + 2 + _WIDE * len(table) <= width
    taken = _WIDE if wide else _NARROW
    if not wide:
        marks = (f"{_marked(kind, paint)} {kind}" for kind in _MARKS)
        lines.extend((", ".join(marks), ""))
    room = max(8, width - 2 - taken * len(table))
    first = min(longest, room) + 2
    head = padded("", first) + "".join(padded(str(n), taken) for n in range(1, len(table) + 1))
    lines.append(paint(head.rstrip(), "quiet"))
    for name in names:
        row = padded(shortened(shown(name), first - 2), first)
        for column in table:
            row += padded(_cell(column, name, numbers, paint, wide), taken)
        lines.append(row.rstrip())
    lines.append("")
    for requirement in result.asked:
        lines.extend(
            textwrap.wrap(_sentence(result, requirement.name), width, subsequent_indent="  ")
        )
    return "\n".join(lines)


def _cell(
    column: Column, name: str, numbers: dict[tuple[str, str], int], paint: Paint, wide: bool
) -> str:
    verdict = column.verdicts.get(name)
    if verdict is None:
        return "not judged" if wide else "-"
    kind = kind_of(verdict)
    number = numbers.get((column.heading, name))
    word = f" {kind}" if wide else ""
    return f"{_marked(kind, paint)}{word}{f' [{number}]' if number is not None else ''}"


def _marked(kind: str, paint: Paint) -> str:
    return _PLAIN[_MARKS[kind]] if paint.plain_marks else _MARKS[kind]


def _sentence(result: Result, name: str) -> str:
    good, bad = survives(result, name)
    table = columns_of(result)
    without = table[0].verdicts.get(name)
    if without is not None and kind_of(without) == "fails":
        return f"{shown(name)} fails without any fault."
    if without is not None and kind_of(without) == "open":
        return f"{shown(name)} is undecided without any fault."
    parts = []
    if good:
        parts.append(f"survives {shown(listed(good))}")
    if bad:
        parts.append(f"does not hold with {shown(listed(bad))}")
    together = table[-1].verdicts.get(name)
    if not bad and len(table) > 2 and together is not None and kind_of(together) == "fails":
        parts.append("fails when they come together")
    return f"{shown(name)} {' and '.join(parts) or 'is not judged'}."


def cell_head(cell: Cell, paint: Paint) -> str:
    """The line above the run of a cell."""
    return f"[{cell.number}] {paint(shown(cell.requirement.name), 'strong')}, {shown(cell.under)}"


def cell_reason(cell: Cell) -> str:
    """Why the verdict of a cell is what it is."""
    return shown(reason(cell.requirement, cell.verdict))
