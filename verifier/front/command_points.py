"""`duskproof points`: the points schedule, out as CSV and in again."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from verifier.diagnostics import Severity
from verifier.explain.figures import counted
from verifier.front.console import FOLDER, checked, say, tell, terminal_width
from verifier.front.paper import PaperPath
from verifier.front.schedule_files import read_kept, read_table, write_changes
from verifier.front.written import NotWritten, write_whole
from verifier.handover.schedule import Kept
from verifier.pipeline import Result
from verifier.source import Sources


@click.command("points")
@FOLDER
@click.option(
    "-o", "path", type=PaperPath((".csv",)), metavar="FILE.csv", help="Write the schedule there."
)
@click.option("--semicolons", is_flag=True, help="Semicolons between the cells, and not commas.")
@click.option("--format", "form", type=click.Choice(["text", "csv"]), default="text")
@click.option(
    "--take-in",
    "taken",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.csv",
    help="Take an edited schedule in: shows what would change.",
)
@click.option("--apply", "write", is_flag=True, help="With --take-in: make the changes.")
def command(
    folder: str, path: Path | None, semicolons: bool, form: str, taken: Path | None, write: bool
) -> int:
    """Show the points schedule of a job, write it as CSV, or take an edited one in.

    A row for each point: what it is and how it is connected, what it belongs to, which rules read or
    set it, and terminal, cable, address and remark. These four are kept in schedule.csv in the
    job's folder; the rest comes from the job's text. With --take-in the changes are shown as a
    diff, and --apply makes them.

    \b
    Example:
      duskproof points specs/boathouse -o points.csv
    """
    from verifier.front.paint import paint_for
    from verifier.front.schedule_text import points_text
    from verifier.handover.csv_table import csv_text
    from verifier.handover.schedule import COLUMNS, schedule_of

    if write and taken is None:
        raise click.UsageError("--apply goes with --take-in FILE.csv")
    if taken is not None and path is not None:
        raise click.UsageError("give -o or --take-in, not both")
    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    kept, sources, found = read_kept(folder, result.sources)
    result = replace(result, sources=sources, findings=found)
    if any(each.severity is Severity.ERROR for each in found):
        return tell((result,), "text", False)
    if taken is not None:
        return _take_in(result, folder, taken, kept, write)
    assert result.job is not None
    schedule = schedule_of(result.job, _of_job(sources), kept)
    rows = [list(COLUMNS), *([row[c] for c in COLUMNS] for row in schedule.rows)]
    whole = csv_text(rows, ";" if semicolons else ",")
    if path is not None:
        # A spreadsheet takes UTF-8 for what it is by the mark before it.
        data = whole.encode("ascii" if whole.isascii() else "utf-8-sig")
        try:
            write_whole(path, data)
        except NotWritten as problem:
            return tell((replace(result, findings=(problem.args[0],)),), "text", False)
        say(f"The schedule of {len(schedule.rows)} points is in {path}.")
    elif form == "csv":
        say(whole, end="")
    else:
        say(points_text(schedule, paint_for(sys.stdout), terminal_width()))
    return 0


def _of_job(sources: Sources) -> Sources:
    return Sources(tuple(file for file in sources.files if file.name.lower().endswith(".dusk")))


def _take_in(result: Result, folder: str, path: Path, kept: Kept, write: bool) -> int:
    """Takes a schedule in; what is wrong with it is told with its place."""
    from verifier.front.paint import paint_for
    from verifier.front.schedule_text import changes_text, findings_text
    from verifier.handover.schedule_taken import taken_in

    assert result.job is not None
    paint, width = paint_for(sys.stdout), terminal_width()
    table, sources, found = read_table(path, result.sources)
    if table is None:
        hint = "Give a schedule that `duskproof points FOLDER -o FILE.csv` wrote."
        found = tuple(
            replace(each, hint=hint) if each.code == "file-not-readable" else each for each in found
        )
        say("\n".join([*findings_text(found, sources, paint, width), "Nothing was taken in."]))
        return 2
    own = _of_job(result.sources)
    taken = taken_in(result.job, own, kept, table)
    if taken.rejected:
        wrong = sum(each.severity is Severity.ERROR for each in taken.findings)
        told = f"Nothing was taken in: {counted(wrong, 'error')}."
        say("\n".join([*findings_text(taken.findings, sources, paint, width), told]))
        return 2
    changes = changes_text(result.job, own, taken, kept, paint)
    lines = [*findings_text(taken.findings, sources, paint, width), *changes]
    if not changes:
        say("\n".join([*lines, "The schedule says what the job says: nothing changes."]))
        return 0
    if not write:
        say("\n".join([*lines, "", "Nothing was written; with --apply it is."]))
        return 0
    try:
        names = write_changes(folder, result.job, own, taken, kept)
    except NotWritten as problem:
        return tell((replace(result, sources=sources, findings=(problem.args[0],)),), "text", False)
    say("\n".join([*lines, "", f"Written: {', '.join(names)}."]))
    return 0
