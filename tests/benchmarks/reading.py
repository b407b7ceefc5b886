"""A job from one text."""

from __future__ import annotations

from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources


def job_of(text: str) -> Job:
    """The checked job of a text. Raises: ValueError if it has errors."""
    job, findings = check(Sources((SourceFile("job.dusk", text),)), "benchmark")
    if job is None:
        raise ValueError("; ".join(finding.message for finding in findings))
    return job
