"""The yardstick: plain Spacer on the whole system of a job, with nothing cut away.

No slice, no lemmas, no orders left out; one question, z3's own preprocessing. Steps are fused
(a happening with all that it sets off is one step), for that is the only relation that there is:
it spares Spacer the places between, so the ratios are less than against a system without that.
"""

from __future__ import annotations

from typing import Literal

from verifier.model.job import Job, Requirement
from verifier.proof.relation import relation_of
from verifier.proof.spacer import Reader, system_of
from verifier.simulate.system import System

Answered = Literal["proved", "refuted", "undecided"]


def answer_of_spacer(job: Job, requirement: Requirement, limit_s: float) -> Answered:
    """What Spacer says of a requirement; ``undecided`` if its time was over.

    Units: ``limit_s`` in seconds, soft.
    """
    import z3

    system = system_of(relation_of(System(job, requirement)))
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
