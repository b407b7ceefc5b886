"""The cause-and-effect table as text, CSV and the body of a page."""

from __future__ import annotations

from verifier.front.page import text
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.front.table_text import table_text, widest
from verifier.handover.csv_table import csv_text
from verifier.handover.effects import Column, Effects, Part, Row
from verifier.source import Sources

_NOTHING = "–"


def effects_title(effects: Effects) -> str:
    """The title of the paper."""
    site = effects.job.site
    return f"Cause and effect: {effects.job.name if site is None else site.name}"


def effects_text(effects: Effects, paint: Paint, width: int) -> str:
    """The table for the terminal: columns by letters, with a key."""
    lines = [paint(shown(effects_title(effects)), "strong")]
    for number, part in enumerate(effects.parts, 1):
        if len(effects.parts) > 1:
            lines += ["", paint(f"Part {number} of {len(effects.parts)}", "strong")]
        lines += ["", *_part_text(part, paint, width)]
    if effects.returning:
        lines += ["", paint("When power returns, before any rule", "strong")]
        lines += [f"  {shown(column.label)}: {what}" for column, what in effects.returning]
    if effects.by_hand:
        lines += ["", paint("Also switched by hand, at the lamp", "strong")]
        lines += [f"  {shown(column.label)}" for column in effects.by_hand]
    return "\n".join(lines)


def _part_text(part: Part, paint: Paint, width: int) -> list[str]:
    lines = []
    letters = [chr(ord("A") + k) if k < 26 else f"A{k}" for k in range(len(part.columns))]
    for letter, column in zip(letters, part.columns, strict=True):
        lines.append(f"  {letter}  {shown(column.label)} ({shown(column.name)})")
    for number, title, policy in part.rules:
        said = f": {policy}" if policy else ""
        lines.append(f"  {number}  {shown(title)}{said}")
    cells = [
        widest((row.cells[k] for row in part.rows), len(letters[k]), 9)
        for k in range(len(part.columns))
    ]
    first = widest((row.number for row in part.rows), 3, 6)
    rest = max(width - first - sum(cells) - 2 * (len(cells) + 2), 24)
    cause = rest * 3 // 5
    head = ("row", "cause", *letters, "then")
    rows = [
        (row.number, _cause(row), *(cell for cell in row.cells), _then(row)) for row in part.rows
    ]
    lines.append("")
    lines += table_text(head, rows, (first, cause, *cells, rest - cause))
    return lines


def _cause(row: Row) -> str:
    return f"{row.cause}, if {row.only_if}" if row.only_if else row.cause


def _then(row: Row) -> str:
    return "; ".join(filter(None, (row.also, row.then)))


def effects_csv(effects: Effects, sources: Sources) -> str:
    """The table for a spreadsheet: all parts in one, a column for each output."""
    columns: list[Column] = []
    for part in effects.parts:
        columns += [column for column in part.columns if column not in columns]
    head = ["row", "rule", "cause", "only if", *(c.name for c in columns), "also", "then", "place"]
    rows: list[list[str]] = [head]
    for part in effects.parts:
        for row in part.rows:
            cells = dict(zip((c.name for c in part.columns), row.cells, strict=True))
            rows.append(
                [
                    row.number,
                    row.rule,
                    row.cause,
                    row.only_if,
                    *(cells.get(c.name, "") for c in columns),
                    row.also,
                    row.then,
                    sources.place(row.span),
                ]
            )
    return csv_text(rows)


def effects_body(effects: Effects) -> str:
    """The body of a page."""
    parts = [f"<h1>{text(effects_title(effects))}</h1>"]
    parts.append(
        "<p>Each row is a cause: a trigger of a rule, or the end of one of its waits. Each column is "
        "something that is switched; a dash: nothing happens to it.</p>"
    )
    for number, part in enumerate(effects.parts, 1):
        title = f"Part {number}" if len(effects.parts) > 1 else "The rules"
        parts.append(f"<section><h2>{title}</h2>{_part_html(part, title)}</section>")
    if effects.returning:
        rows = "".join(
            f'<tr><th scope="row">{text(column.label)}</th><td>{text(what)}</td></tr>'
            for column, what in effects.returning
        )
        parts.append(
            "<section><h2>When power returns</h2><table><caption>Before any rule acts</caption>"
            '<thead><tr><th scope="col">Output</th><th scope="col">Then</th></tr></thead>'
            f"<tbody>{rows}</tbody></table></section>"
        )
    if effects.by_hand:
        items = "".join(f"<li>{text(column.label)}</li>" for column in effects.by_hand)
        parts.append(
            f"<section><h2>Also switched by hand, at the lamp</h2><ul>{items}</ul></section>"
        )
    return "\n".join(parts)


def _part_html(part: Part, title: str) -> str:
    rules = "".join(
        f"<dt>{number}</dt><dd>{text(title)}{text(f': {policy}') if policy else ''}</dd>"
        for number, title, policy in part.rules
    )
    heads = "".join(
        f'<th scope="col">{text(column.label)}<br><span class="small">{text(column.name)}</span></th>'
        for column in part.columns
    )
    rows = []
    for row in part.rows:
        cells = "".join(f"<td>{text(cell or _NOTHING)}</td>" for cell in row.cells)
        only = f'<br><span class="small">if {text(row.only_if)}</span>' if row.only_if else ""
        rows.append(
            f'<tr><th scope="row">{text(row.number)}</th><td>{text(row.cause)}{only}</td>'
            f"{cells}<td>{text(_then(row))}</td></tr>"
        )
    return (
        f'<dl>{rules}</dl><div class="scroll" tabindex="0" role="region" '
        f'aria-label="{text(title)}: table">'
        '<table><thead><tr><th scope="col">Row</th><th scope="col">Cause</th>'
        f'{heads}<th scope="col">Then</th></tr></thead><tbody>{"".join(rows)}</tbody></table></div>'
    )
