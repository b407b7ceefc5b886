"""The points schedule for the terminal, and what taking one in would change."""

from __future__ import annotations

import difflib

from verifier.diagnostics import Diagnostic
from verifier.explain.edits import diff_of
from verifier.front.diagnostic_text import diagnostic_text
from verifier.front.paint import Paint
from verifier.front.schedule_files import KEPT_FILE, job_after, kept_text
from verifier.front.shown import shown
from verifier.front.table_text import table_text, widest
from verifier.handover.schedule import KEPT, Kept, Schedule
from verifier.handover.schedule_taken import Taken
from verifier.model.job import Job
from verifier.source import SourceFile, Sources


def points_text(schedule: Schedule, paint: Paint, width: int) -> str:
    """The schedule: name, label, kind, what is kept beside, and which rules have to do with it."""
    columns = ["name", "label", "kind", "belongs to", "read by", "set by"]
    columns += [c for c in KEPT if any(row[c] for row in schedule.rows)]
    widths = [widest((row[c] for row in schedule.rows), len(c), 24) for c in columns]
    while sum(widths) + 2 * (len(widths) - 1) > width and max(widths) > 8:
        widths[widths.index(max(widths))] -= 1
    rows = [[row[c] for c in columns] for row in schedule.rows]
    return "\n".join(table_text(columns, rows, widths))


def changes_text(job: Job, sources: Sources, taken: Taken, kept: Kept, paint: Paint) -> list[str]:
    """What taking a schedule in changes, as a diff."""
    names = {file.name for file in taken.after.files}
    missing = [SourceFile(name, "") for name in sorted(names - {f.name for f in sources.files})]
    before = Sources(tuple(sorted((*sources.files, *missing), key=lambda f: f.name)))
    lines = list(diff_of(before, taken.after))
    if taken.kept != kept:
        old = kept_text(job, kept).splitlines() if kept else []
        new = kept_text(job_after(job, taken), taken.kept).splitlines()
        lines += difflib.unified_diff(old, new, KEPT_FILE, KEPT_FILE, n=0, lineterm="")
    return [_painted(shown(line), paint) for line in lines]


def _painted(line: str, paint: Paint) -> str:
    if line.startswith("+"):
        return paint(line, "good")
    return paint(line, "bad") if line.startswith("-") else line


def findings_text(
    findings: tuple[Diagnostic, ...], sources: Sources, paint: Paint, width: int
) -> list[str]:
    """The findings, each with its place, and an empty line after each."""
    lines: list[str] = []
    for each in findings:
        lines += [diagnostic_text(each, sources, paint, width).rstrip("\n"), ""]
    return lines
