"""One requirement, from its slice to a verdict with evidence.

Whatever engine answers, a proof is checked by two solvers on the relation that the interpreter
gives, and a run is replayed on the interpreter.
"""

from __future__ import annotations

import time
from dataclasses import replace

from verifier.model.job import Job, LeadsTo, MeasureLongest, Possible, Requirement
from verifier.proof.closed import EvidenceFailed, NotChecked, NotOnTheWhole
from verifier.proof.engines import Breaks, Holds, Open, holds_or_breaks
from verifier.proof.evidence import certified, run_of
from verifier.proof.fit import NoRealRun
from verifier.proof.lasting import leads_to, measure
from verifier.proof.moves import TooLarge
from verifier.proof.question import Budget, Question
from verifier.proof.vacuity import vacuity
from verifier.proof.verdict import (
    Certificate,
    LimitMet,
    ProofNotChecked,
    Proved,
    Refuted,
    RunCannotBe,
    RunNotOnTheWhole,
    Undecided,
    Verdict,
)


def decide(job: Job, requirement: Requirement, budget: Budget | None = None) -> Verdict:
    """The verdict on one requirement of a job.

    Raises: EvidenceFailed, EndlessChainFound.
    """
    given = budget or Budget()
    until = time.monotonic() + given.limit_s
    unreal = NoRealRun("")
    for seasons in SEASONS:
        left = replace(given, limit_s=max(until - time.monotonic(), 0.0))
        try:
            dated = job if job.seasons == seasons else replace(job, seasons=seasons)
            return _decided(Question(dated, requirement, left))
        except NoRealRun as none:
            unreal = none
            if none.args[1:] or time.monotonic() > until:
                break
    return Undecided(RunCannotBe(str(unreal.args[0])), 0)


SEASONS = (1, 4, 12)
"""Into how many parts the year is told apart, if a run that was found is on no real date."""


def _decided(question: Question) -> Verdict:
    """The verdict on a question. Raises: EvidenceFailed, EndlessChainFound, NoRealRun."""
    try:
        match question.requirement.form:
            case MeasureLongest():
                return measure(question)
            case LeadsTo():
                return leads_to(question)
            case Possible():
                return _possible(question)
            case _:
                return _safety(question)
    except TooLarge as large:
        depth = large.args[0] if large.args else 0
        return Undecided(LimitMet(), depth)
    except NotChecked as failure:
        return Undecided(ProofNotChecked(str(failure)), 0)
    except NotOnTheWhole as failure:
        return Undecided(RunNotOnTheWhole(str(failure)), 0)


def _answer(question: Question) -> Breaks | Open | tuple[Certificate, str]:
    """A path, or why there is none to be had, or a checked certificate and how it was found."""
    result = holds_or_breaks(question)
    if isinstance(result, Holds) and not result.sure:
        try:
            return certified(question, result.lemmas), result.method
        except (EvidenceFailed, NotChecked):
            result = holds_or_breaks(question, apart=False)
    if isinstance(result, Holds):
        return certified(question, result.lemmas), result.method
    return result


def _safety(question: Question) -> Verdict:
    match _answer(question):
        case Breaks(timeline, method):
            return Refuted(run_of(question, timeline, question.system.bad), None, method)
        case Open(depth, reason, held_up):
            return Undecided(reason, depth, held_up)
        case (certificate, method):
            vacuous, why = vacuity(question)
            return Proved(certificate, None, vacuous, why, None, method)


def _possible(question: Question) -> Verdict:
    match _answer(question):
        case Breaks(timeline, method):
            run = run_of(question, timeline, question.system.bad)
            return Proved(None, run, False, "", None, method)
        case Open(depth, reason, held_up):
            return Undecided(reason, depth, held_up)
        case (certificate, method):
            return Refuted(None, certificate, method)
