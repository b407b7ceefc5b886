"""One measurement in a process of its own: ``python -m tests.benchmarks.one WHO JOB…``.

WHO is ``prover``, ``spacer``, or ``sliced`` (Spacer on the requirement's slice); JOB a family with
its size and ``job`` or ``twin``, or a folder with a requirement. What comes out is one line of JSON
(:class:`Measured`). Time runs from the job's text to the verdict, with the certificate made and
checked; loading the solvers is not in it.
"""

from __future__ import annotations

import gc
import json
import resource
import sys
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of, job_of_folder
from tests.benchmarks.yardstick import answer_of_spacer
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.verdict import Answered, Certificate, Proved, Refuted, Undecided, Verdict

MOST_MB = 3000
"""A process that needs more is ended, for the sake of the others on the machine."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What one process measured.

    Units: ``memory_mb`` is the most that was resident. ``lemmas`` and ``certificate_kb`` are 0
    if there is no certificate.
    """

    verdict: str
    method: str
    seconds: float
    cpu_seconds: float
    lemmas: int
    certificate_kb: float
    memory_mb: float


def by_prover(job: Job, requirement: Requirement, limit_s: float) -> tuple[str, str, int, int]:
    """Verdict, method, number of lemmas and bytes of the certificate."""
    from verifier.proof.decide import decide
    from verifier.proof.question import Budget

    verdict: Verdict = decide(job, requirement, Budget(limit_s=limit_s))
    certificate: Certificate | None = None
    match verdict:
        case Proved() | Refuted() | Answered():
            certificate, method = verdict.certificate, verdict.method
        case Undecided():
            method = ""
    lemmas = len(certificate.lemmas) if certificate is not None else 0
    size = sum(len(text) for _, text in certificate.texts) if certificate is not None else 0
    return type(verdict).__name__.lower(), method, lemmas, size


def measured(who: str, subject: list[str], limit_s: float) -> Measured:
    """The measurement of one subject (see the module)."""
    from verifier.proof.solvers import load_solvers

    load_solvers()  # as `prove` does before its workers begin

    import verifier.language.parser
    import verifier.proof.decide  # noqa: F401

    if len(subject) == 3:
        name, size, which = subject
        family = FAMILY[name]
        text = family.twin(int(size)) if which == "twin" else family.job(int(size))
        began, worked = time.perf_counter(), time.process_time()
        job = job_of(text)
        requirement = job.requirement["promise"]
    else:
        folder, name = subject
        began, worked = time.perf_counter(), time.process_time()
        job = job_of_folder(Path(folder))
        requirement = job.requirement[name]
    if who == "prover":
        verdict, method, lemmas, size_b = by_prover(job, requirement, limit_s)
    else:
        if who == "sliced":
            job = slice_job(job, requirement)
        verdict, method, lemmas, size_b = (
            answer_of_spacer(job, requirement, limit_s),
            "Spacer",
            0,
            0,
        )
    seconds, cpu = time.perf_counter() - began, time.process_time() - worked
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Measured(verdict, method, seconds, cpu, lemmas, size_b / 1000, memory)


def main(arguments: list[str]) -> None:
    """Prints the measurement; the first argument is the limit in seconds."""
    gc.set_threshold(50_000, 20, 100)  # as the command does
    most = MOST_MB * 1024 * 1024
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    print(json.dumps(asdict(measured(arguments[1], arguments[2:], float(arguments[0])))))


if __name__ == "__main__":
    main(sys.argv[1:])
