"""The yardstick: plain Spacer on the whole system of a job, with nothing cut away and nothing fused.

No slice, no lemmas, no orders left out; one question, z3's own preprocessing. Each step is one
happening or one step of handling it (:mod:`tests.benchmarks.unfused`).
"""

from __future__ import annotations

from typing import Literal

from tests.benchmarks.unfused import TooMany, unfused
from verifier.model.job import Job, Requirement
from verifier.proof.spacer import Reader

Answered = Literal["proved", "refuted", "undecided"]


def answer_of_spacer(job: Job, requirement: Requirement, limit_s: float) -> Answered:
    """What Spacer says of a requirement; ``undecided`` if its time was over, or an instant has no end.

    Units: ``limit_s`` in seconds, soft.
    """
    import z3

    try:
        system = unfused(job, requirement)
    except TooMany:
        return "undecided"
    reader = Reader(z3, system)
    fixedpoint = z3.Fixedpoint()
    fixedpoint.set(
        **{"engine": "spacer", "spacer.push_pob": True, "timeout": round(limit_s * 1000)}
    )
    reached = z3.Function("reached", *(v.sort() for v in reader.now), z3.BoolSort())
    failed = z3.Function("failed", z3.BoolSort())
    for relation in (reached, failed):
        fixedpoint.register_relation(relation)
    for variable in (*reader.now, *reader.then, *reader.choices):
        fixedpoint.declare_var(variable)
    here = reached(*reader.now)
    fixedpoint.rule(here, [reader.term(system.initial)])
    for step in system.transitions:
        fixedpoint.rule(reached(*reader.then), [here, reader.term(step)])
    fixedpoint.rule(failed(), [here, reader.term(system.bad)])
    try:
        answer = fixedpoint.query(failed()).r
    except z3.Z3Exception:  # how it tells that its time was over, at times
        return "undecided"
    if answer == -1:
        return "proved"
    return "refuted" if answer == 1 else "undecided"
