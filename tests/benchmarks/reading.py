"""A job from one text, or from a folder."""

from __future__ import annotations

from pathlib import Path

from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources


def job_of(text: str) -> Job:
    """The checked job of a text. Raises: ValueError if it has errors."""
    return _job((SourceFile("job.dusk", text),))


def job_of_folder(folder: Path) -> Job:
    """The checked job of a folder. Raises: ValueError if it has errors."""
    files = sorted(folder.glob("*.dusk"))
    return _job(tuple(SourceFile(file.name, file.read_text("utf-8")) for file in files))


def _job(files: tuple[SourceFile, ...]) -> Job:
    job, findings = check(Sources(files), "benchmark")
    if job is None:
        raise ValueError("; ".join(finding.message for finding in findings))
    return job
