"""The files of a points schedule: the one that is kept beside a job, and those that are taken in."""

from __future__ import annotations

from pathlib import Path

from verifier.diagnostics import Diagnostic
from verifier.front.folder import read_file
from verifier.front.written import write_over, write_whole
from verifier.handover.csv_table import CsvTable, csv_text, read_csv
from verifier.handover.schedule import Kept, kept_of, kept_rows
from verifier.handover.schedule_taken import Taken
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

KEPT_FILE = "schedule.csv"
"""In the job's folder: terminal, cable, address and remark of its points."""


def read_kept(folder: str, sources: Sources) -> tuple[Kept, Sources, tuple[Diagnostic, ...]]:
    """What is kept beside the points of a job, the sources with that file, and what is wrong."""
    path = Path(folder) / KEPT_FILE
    if not path.exists():
        return {}, sources, ()
    table, whole, found = read_table(path, sources, KEPT_FILE)
    if table is None:
        return {}, whole, found
    kept, found = kept_of(table)
    return kept, whole, found


def read_table(
    path: Path, sources: Sources, name: str = ""
) -> tuple[CsvTable | None, Sources, tuple[Diagnostic, ...]]:
    """The table of a CSV file, the sources with that file, and what is wrong with it."""
    name = name or str(path)
    file, problem = read_file(path, name)
    whole = sources if file is None else with_file(sources, file)
    if problem is not None:
        return None, whole, (problem,)
    assert file is not None
    table, found = read_csv(file)
    return table, whole, found


def with_file(sources: Sources, file: SourceFile) -> Sources:
    """The sources with one more file, or another text of one."""
    return Sources((*(f for f in sources.files if f.name != file.name), file))


def kept_text(job: Job, kept: Kept) -> str:
    """The text of the file that is kept beside a job."""
    return csv_text(kept_rows(job, kept))


def write_changes(folder: str, job: Job, sources: Sources, taken: Taken, kept: Kept) -> list[str]:
    """Writes what a schedule changes; the names of the files. Raises: NotWritten."""
    names = []
    for file in taken.after.files:
        old = sources.by_name.get(file.name)
        path = Path(folder) / file.name
        if old is None:
            write_whole(path, file.text.encode())
        elif old.text != file.text:
            write_over(path, old.text, file.text)
        else:
            continue
        names.append(file.name)
    if taken.kept != kept:
        order = job_after(job, taken)
        write_whole(Path(folder) / KEPT_FILE, kept_text(order, taken.kept).encode())
        names.append(KEPT_FILE)
    return names


def job_after(job: Job, taken: Taken) -> Job:
    """The job with a schedule taken in."""
    from verifier.model import check

    return check(taken.after, job.name)[0] or job
