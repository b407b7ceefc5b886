"""Jobs and verdicts for the tests of explanations."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from verifier import pipeline
from verifier.explain.explained import Explained, explained, failing_run
from verifier.front.folder import read_folder
from verifier.model import check
from verifier.model.job import Job, Requirement
from verifier.proof.decide import decide
from verifier.proof.verdict import Verdict
from verifier.simulate.run import Run
from verifier.source import SourceFile, Sources

SPECS = Path(__file__).parents[2] / "specs"


def sources_of(text: str) -> Sources:
    return Sources((SourceFile("job.dusk", text),))


def job_of(text: str) -> Job:
    job, found = check(sources_of(text), "job")
    assert job is not None, [f.message for f in found]
    return job


def judged(text: str, name: str) -> tuple[Job, Requirement, Verdict]:
    job = job_of(text)
    return job, job.requirement[name], decide(job, job.requirement[name])


def run_of(verdict: Verdict) -> Run:
    run = failing_run(verdict)
    assert run is not None
    return run


@cache
def draft(name: str) -> pipeline.Result:
    """The result of a first draft among the specs."""
    reading = read_folder(str(SPECS / f"{name}-first-draft"))
    question = pipeline.Question(workers=2, years=(2026, 2055))
    return pipeline.prove(reading.sources, reading.name, question, lambda *_: None)


@cache
def told(draft_name: str, requirement: str) -> Explained:
    result = draft(draft_name)
    assert result.job is not None
    for asked, verdict, _ in result.verdicts:
        if asked.name == requirement:
            return explained(result.job, asked, verdict)
    raise AssertionError(requirement)
