"""What survives which fault: a table of verdicts, and the run behind each that does not hold."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, assert_never

from verifier.front.figures import listed, rounded
from verifier.front.paint import Paint
from verifier.front.reason import reason
from verifier.front.shown import columns, padded, shortened, shown
from verifier.model.job import Fault, Requirement
from verifier.model.words import fault_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.run import Run

Kind = Literal["holds", "vacuous", "fails", "undecided", "answered"]
"""How a verdict stands in the table."""

_MARKS: dict[Kind, str] = {
    "holds": "✓",
    "vacuous": "○",
    "fails": "✗",
    "undecided": "?",
    "answered": "=",
}
_PLAIN = {"✓": "+", "○": "o", "✗": "X", "?": "?", "=": "="}
_BETWEEN = 2
"""Blanks between two columns."""

_MOST_NAME = 30
_MOST_LISTED = 2
"""More faults than that are not listed where a requirement survives all."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, the faults that it considers, the verdicts by name."""

    heading: str
    faults: tuple[Fault, ...]
    verdicts: dict[str, Verdict]


@dataclass(frozen=True, slots=True)
class Cell:
    """What cells of the table lead to: its number there, and under which faults it is so."""

    number: int
    requirement: Requirement
    verdict: Verdict
    under: tuple[str, ...]


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


def kind_of(verdict: Verdict) -> Kind:
    """How a verdict stands in the table."""
    match verdict:
        case Proved(vacuous=True) | Answered(vacuous=True):
            return "vacuous"
        case Proved():
            return "holds"
        case Answered():
            return "answered"
        case Refuted():
            return "fails"
        case Undecided():
            return "undecided"
        case _:
            assert_never(verdict)


def survives(result: Result, name: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The faults, each alone, that a requirement survives, and those with which it does not hold."""
    found = _alone(result, name)
    good = tuple(fault for fault, kind in found if kind in ("holds", "vacuous", "answered"))
    return good, tuple(fault for fault, _ in found if fault not in good)


def _alone(result: Result, name: str) -> tuple[tuple[str, Kind], ...]:
    """Each fault that was judged alone, and how the requirement stands under it."""
    return tuple(
        (column.heading, kind_of(column.verdicts[name]))
        for column in columns_of(result)
        if len(column.faults) == 1 and name in column.verdicts
    )


def cells_of(result: Result) -> tuple[Cell, ...]:
    """What cells lead to, numbered in order: where it does not hold, or never came into play.

    Those of the last column are told above; what is so without any fault is told once, and so is
    what is the same under several faults.
    """
    table = columns_of(result)
    found: list[Cell] = []
    place: dict[object, int] = {}
    for column in table[:-1]:
        for requirement in result.asked:
            verdict = column.verdicts.get(requirement.name)
            if verdict is None or kind_of(verdict) not in ("fails", "undecided", "vacuous"):
                continue
            known = place.get(_told_with(requirement, verdict))
            without = table[0].verdicts.get(requirement.name)
            if known is None and without is not None and kind_of(without) == "fails":
                known = place.get(_told_with(requirement, without))
            if known is not None:
                one = found[known]
                found[known] = replace(one, under=(*one.under, column.heading))
                continue
            place[_told_with(requirement, verdict)] = len(found)
            found.append(Cell(len(found) + 1, requirement, verdict, (column.heading,)))
    return tuple(found)


def _told_with(requirement: Requirement, verdict: Verdict) -> object:
    """What is alike of two verdicts that are told once."""
    run = verdict.run if isinstance(verdict, Refuted) else None
    return requirement.name, reason(requirement, verdict), None if run is None else _course(run)


def _course(run: Run) -> object:
    """What happens in a run, and when."""
    steps = tuple((step.earliest_s, step.just_after, step.what) for step in run.steps)
    return steps, run.fails_s, run.fails_just_after, run.cycle_from, run.rests


# ---------------------------------------------------------------- the table


def each_fault_text(result: Result, paint: Paint, width: int) -> str:
    """The table with its legend, what each requirement survives, and where each run is."""
    table = columns_of(result)
    lines = [paint("Under each fault", "strong")]
    for number, column in enumerate(table, 1):
        lines.extend(
            textwrap.wrap(f"{number}  {shown(column.heading)}", width, subsequent_indent="   ")
        )
    lines.append("")
    lines.extend(_table(result, table, paint, width))
    lines.extend(textwrap.wrap(_where(result, table), width))
    lines.append("")
    for requirement in result.asked:
        for sentence in _sentences(result, requirement.name):
            lines.extend(textwrap.wrap(shown(sentence), width, subsequent_indent="  "))
    return "\n".join(lines)


def _where(result: Result, table: tuple[Column, ...]) -> str:
    """Where the runs are."""
    if cells_of(result):
        return (
            f"A number in brackets leads to what is told below; column {len(table)} is told above."
        )
    return f"Column {len(table)} is told above."


def _table(result: Result, table: tuple[Column, ...], paint: Paint, width: int) -> list[str]:
    """The table: with words, or with marks alone where they do not fit; in parts if need be."""
    numbers = {
        (under, cell.requirement.name): cell.number
        for cell in cells_of(result)
        for under in cell.under
    }
    names = [requirement.name for requirement in result.asked]
    longest = max((columns(name) for name in names), default=8)
    lines: list[str] = []
    for words in (True, False):
        rows = [[_cell(column, name, numbers, paint, words) for column in table] for name in names]
        taken = _BETWEEN + max((columns(cell) for row in rows for cell in row), default=1)
        taken = max(taken, _BETWEEN + len(str(len(table))))
        first = min(longest, _MOST_NAME if words else max(8, min(_MOST_NAME, width // 3)))
        if first + taken * len(table) <= width:
            break
    at_once = max(1, (width - first) // taken)
    if not words:
        marks = (f"{_marked(kind, paint)} {kind}" for kind in _MARKS)
        lines.extend((*textwrap.wrap(f"{', '.join(marks)}, - not judged", width), ""))
    for begin in range(0, len(table), at_once):
        part = range(begin, min(begin + at_once, len(table)))
        head = [str(k + 1) for k in part]
        lines.append(paint(_row("", first, head, taken), "quiet"))
        for name, row in zip(names, rows, strict=True):
            lines.append(_row(shown(name), first, [row[k] for k in part], taken))
        lines.append("")
    return lines


def _row(name: str, first: int, cells: Iterable[str], taken: int) -> str:
    text = padded(shortened(name, first), first)
    return (text + "".join(" " * _BETWEEN + padded(c, taken - _BETWEEN) for c in cells)).rstrip()


def _cell(
    column: Column, name: str, numbers: dict[tuple[str, str], int], paint: Paint, words: bool
) -> str:
    verdict = column.verdicts.get(name)
    if verdict is None:
        return "- not judged" if words else "-"
    kind = kind_of(verdict)
    number = numbers.get((column.heading, name))
    word = f" {_bound(verdict) if isinstance(verdict, Answered) else kind}" if words else ""
    return f"{_marked(kind, paint)}{word}{f' [{number}]' if number is not None else ''}"


def _marked(kind: Kind, paint: Paint) -> str:
    return _PLAIN[_MARKS[kind]] if paint.plain_marks else _MARKS[kind]


def _bound(verdict: Answered) -> str:
    """The answer to a question, short."""
    if verdict.bound_s is None:
        return "vacuous"
    return "unbounded" if verdict.bound_s == "unbounded" else rounded(verdict.bound_s)


# ---------------------------------------------------------------- what a requirement survives


def _sentences(result: Result, name: str) -> tuple[str, ...]:
    """Which faults a requirement survives, in a sentence or two."""
    table = columns_of(result)
    without = table[0].verdicts.get(name)
    if without is None:
        return (f"{name} was not judged without faults.",)
    if any(isinstance(column.verdicts.get(name), Answered) for column in table):
        return (_answers(table, name),)
    found = _alone(result, name)
    kind = kind_of(without)
    together = table[-1].verdicts.get(name)
    if kind in ("fails", "undecided"):
        said = "fails" if kind == "fails" else "is undecided"
        holding = tuple(fault for fault, one in found if one in ("holds", "vacuous"))
        but = f", and holds with {listed(holding)}" if holding else ""
        return (f"{name} {said} without any fault{but}.",)
    everything = [*(one for _, one in found), *([] if together is None else [kind_of(together)])]
    if len(found) > _MOST_LISTED and all(one in ("holds", "vacuous") for one in everything):
        return (f"{name} survives each of these faults, alone and together.", *_never(kind, found))
    parts = [
        f"{words} {listed(faults)}"
        for words, kinds in (
            ("survives", ("holds", "vacuous")),
            ("does not hold with", ("fails",)),
            ("is undecided with", ("undecided",)),
        )
        if (faults := tuple(fault for fault, one in found if one in kinds))
    ]
    if len(table) > 2 and together is not None and all(k in ("holds", "vacuous") for _, k in found):
        if kind_of(together) == "fails":
            parts.append("does not hold when they come together")
        elif kind_of(together) == "undecided":
            parts.append("is undecided when they come together")
    said = _joined(parts) or "was not judged with faults"
    return (f"{name} {said}.", *_never(kind, found))


def _never(without: Kind, found: tuple[tuple[str, Kind], ...]) -> tuple[str, ...]:
    """Where a requirement never comes into play, as a sentence."""
    faults = tuple(fault for fault, one in found if one == "vacuous")
    parts = ["without faults"] if without == "vacuous" else []
    parts.extend([f"with {listed(faults, 'or')}"] if faults else [])
    if not parts:
        return ()
    words = " and ".join(parts)
    return (f"  {words[:1].upper()}{words[1:]} it never comes into play.",)


def _joined(parts: list[str]) -> str:
    """Parts of a sentence that hold lists themselves."""
    return ", and ".join(parts) if len(parts) > 1 else "".join(parts)


def _answers(table: tuple[Column, ...], name: str) -> str:
    """The answers to a question, column by column, those that are alike together."""
    under: dict[str, list[str]] = {}
    for column in table:
        verdict = column.verdicts.get(name)
        if verdict is None:
            answer = "not judged"
        elif not isinstance(verdict, Answered):
            answer = "undecided"
        elif verdict.bound_s is None:
            answer = "nothing to measure"
        else:
            answer = _bound(verdict)
        heading = column.heading if column.faults else "without faults"
        under.setdefault(answer, []).append(heading if not column.faults else f"with {heading}")
    if len(under) == 1 and len(table) > 2:
        return f"{name}: {next(iter(under))} without faults and with each of them."
    told = "; ".join(f"{answer} {listed(tuple(where))}" for answer, where in under.items())
    return f"{name}: {told.replace('with all together', 'with all of them together')}."


def cell_head(cell: Cell, paint: Paint, width: int) -> list[str]:
    """The lines above what a cell leads to: its number, how it stands, under which faults."""
    kind = kind_of(cell.verdict)
    name = paint(shown(cell.requirement.name), "strong")
    under = shown(f"Under: {'; '.join(cell.under)}.")
    indent = "    "
    return [
        f"[{cell.number}] {name}, {_marked(kind, paint)} {kind}",
        *textwrap.wrap(under, width, initial_indent=indent, subsequent_indent=indent),
    ]


def cell_reason(cell: Cell) -> str:
    """Why the verdict of a cell is what it is."""
    return shown(reason(cell.requirement, cell.verdict))
