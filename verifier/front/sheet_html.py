"""The test sheet as a page to walk with: purpose, cautions, preparation, rows, sign-off."""

from __future__ import annotations

from fractions import Fraction

from verifier.explain.figures import counted
from verifier.explain.labels import labels_of, with_labels
from verifier.front.page import cautions, text
from verifier.handover.fingerprint import Fingerprint
from verifier.handover.sheet import Look, Section, Sheet, Step
from verifier.handover.sheet_words import equipment, instruction
from verifier.model.words import duration

COLUMNS = (
    "Reference",
    "Requirement",
    "Rule",
    "Precondition",
    "Do",
    "Wait",
    "Expect",
    "Tolerance",
    "Observed",
    "Pass / fail / not applicable",
    "Initials and date",
    "Note",
)


def rows_of(sheet: Sheet) -> tuple[tuple[str, ...], ...]:
    """The rows as texts, one for each look (or doing without one); columns as :data:`COLUMNS`."""
    labels = labels_of(sheet.job)
    found: list[tuple[str, ...]] = []
    for section in sheet.sections:
        for k, step in enumerate(section.steps):
            before = _start(section, labels) if k == 0 else "as it was left"
            do = instruction(sheet.job, step.do) if step.do else "Wait, and touch nothing"
            looks: tuple[Look | None, ...] = step.looks or (None,)
            for n, look in enumerate(looks):
                found.append(_row(section, step, look, n, before, do, labels))
                before = "as it was left"
    return tuple(found)


def _row(
    section: Section,
    step: Step,
    look: Look | None,
    n: int,
    before: str,
    do: str,
    labels: dict[str, str],
) -> tuple[str, ...]:
    letter = "abcdefghij"[n] if len(step.looks) > 1 else ""
    wait, expect, tolerance, note = "", "", "", ""
    if look is not None:
        since = step.at_s if n == 0 else step.looks[n - 1].at_s
        wait = _seconds(look.at_s - since)
        expect = with_labels(", ".join(f"{name} {value}" for name, value in look.expect), labels)
        tolerance = f"± {_seconds(look.tolerance_s)}"
        if look.tolerance_s < 1:
            note = "quick: look at once"
    notes = [note] if note else []
    if step.by_night:
        notes.append("by night")
    return (
        f"{section.number}.{step.number}{letter}",
        ", ".join(step.requirements),
        ", ".join(step.rules),
        before,
        do if n == 0 else "Wait, and touch nothing",
        wait,
        expect,
        tolerance,
        "",
        "",
        "",
        "; ".join(notes),
    )


def _seconds(seconds: Fraction) -> str:
    if seconds < 1:
        return f"{float(seconds):.1f} s"
    return duration(Fraction(round(seconds)))


def _start(section: Section, labels: dict[str, str]) -> str:
    parts = [
        value if subject == "sun" else f"{subject} {value}" for subject, value in section.start
    ]
    return with_labels(", ".join(parts), labels)


def sheet_title(sheet: Sheet) -> str:
    """The title of the page."""
    site = sheet.job.site
    return f"Test sheet: {sheet.job.name if site is None else site.name}"


def sheet_body(sheet: Sheet, made: Fingerprint) -> str:
    """The body of the page."""
    head = "".join(f'<th scope="col">{text(c)}</th>' for c in COLUMNS)
    rows = rows_of(sheet)
    parts = [
        f"<h1>{text(sheet_title(sheet))}</h1>",
        f"<p>{text(_size(sheet))}</p>",
        "<section><h2>Purpose</h2><p>To see on site that points are wired and named as the rules have "
        "them, and that the controller does what the rules say. The rules themselves were proved; a "
        "proof knows nothing of wires.</p></section>",
        cautions(),
        "<section><h2>Preparation</h2><ul>"
        + "".join(f"<li>{text(line)}</li>" for line in equipment(sheet.job))
        + "<li>Nobody else in the rooms and at the doors; tell those who are.</li>"
        "<li>Before each part bring everything to its precondition, and wait until nothing runs any "
        "more.</li></ul></section>",
    ]
    parts.append(_sampling(sheet))
    for section in sheet.sections:
        names = ", ".join(rule.name for rule in section.part.rules)
        own = [row for row in rows if row[0].startswith(f"{section.number}.")]
        cells = "".join(_html_row(row) for row in own)
        parts.append(
            f"<section><h2>Part {section.number}</h2><p>Rules: {text(names)}. "
            f"It takes {text(_seconds(section.until_s))}.</p>"
            f'<div class="scroll" tabindex="0" role="region" aria-label="Steps of part {section.number}">'
            f'<table class="sheet"><thead><tr>{head}</tr></thead><tbody>{cells}</tbody></table></div>'
            "</section>"
        )
    parts.append(
        "<section><h2>Return to normal</h2><p>Uncover the photocell, set the clock right, turn every "
        "switch back, and leave each lamp as the house wants it.</p></section>"
    )
    parts.append(_coverage(sheet))
    parts.append(
        '<section><h2>Sign-off</h2><table class="sign"><thead><tr><th scope="col">Tested by</th>'
        '<th scope="col">Witnessed by</th><th scope="col">Date</th><th scope="col">Faults found, '
        "and what became of them</th></tr></thead><tbody><tr><td></td><td></td><td></td><td></td></tr>"
        f'</tbody></table><p class="small">Rules with SHA-256 {made.whole}.</p></section>'
    )
    return "\n".join(parts)


def _size(sheet: Sheet) -> str:
    steps, seconds = sheet.naive
    looks = sum(max(1, len(step.looks)) for s in sheet.sections for step in s.steps)
    return (
        f"{counted(sheet.steps, 'step')}, {counted(looks, 'look')}, {_seconds(sheet.seconds)} of "
        f"waiting and looking. One test for each of the {counted(len(sheet.covered), 'goal')}, each "
        f"from rest, would be {counted(steps, 'look')} and {_seconds(seconds)}. No sheet can do with "
        f"fewer than {counted(sheet.least, 'doing')}."
    )


def _sampling(sheet: Sheet) -> str:
    """How many of many rooms of one kind are tested; empty where each is."""
    if not sheet.sampled:
        return ""
    items = "".join(
        f"<li>{each.tested} of {len(each.rooms)} like {text(', '.join(each.rooms[0]))}</li>"
        for each in sheet.sampled
    )
    return (
        "<section><h2>Rooms of one kind</h2><p>Of more than seven rooms of one kind a tenth at least is "
        "tested, spread over the building; if three in ten of them fail, test all (modelled on IECC "
        f"C408.3; the local code decides).</p><ul>{items}</ul></section>"
    )


def _html_row(row: tuple[str, ...]) -> str:
    first, *rest = row
    cells = "".join(f"<td>{text(cell)}</td>" for cell in rest)
    return f'<tr><th scope="row">{text(first)}</th>{cells}</tr>'


def _coverage(sheet: Sheet) -> str:
    covered = "".join(f"<li>{text(goal)}</li>" for goal in sheet.covered)
    parts = [f'<section class="appendix"><h2>What the steps bring about</h2><ul>{covered}</ul>']
    if sheet.missing:
        items = "".join(f"<li>{text(goal)}</li>" for goal in sheet.missing)
        parts.append(
            "<h3>Not in this sheet</h3><p>No way to these was found that a person can go: they cannot "
            f"happen, or not by hand.</p><ul>{items}</ul>"
        )
    if sheet.unlooked:
        items = ", ".join(sheet.unlooked)
        parts.append(f"<p>No step looks at the figures of: {text(items)}.</p>")
    parts.append("</section>")
    return "".join(parts)
