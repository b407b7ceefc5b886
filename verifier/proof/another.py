"""Another failing run: one in which something that the first one needs never happens."""

from __future__ import annotations

from verifier.model.job import Job, Possible, Requirement
from verifier.proof.closed import EvidenceFailed, NotOnTheWhole
from verifier.proof.engines import Breaks, holds_or_breaks
from verifier.proof.evidence import run_of
from verifier.proof.fit import NoRealRun
from verifier.proof.lasting import Unbounded, supremum
from verifier.proof.moves import Moves, TooLarge
from verifier.proof.question import Budget, EndlessChainFound, Question
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.run import Run
from verifier.surroundings.state import Registers


def run_without(
    job: Job, requirement: Requirement, what: frozenset[str], limit_s: float
) -> Run | None:
    """A run that breaks a requirement and in which nothing of ``what`` (by its words) happens.

    It is replayed like any other; None if there is none, or if that could not be told in time.
    """
    if isinstance(requirement.form, Possible):
        return None
    question = Question(job, requirement, Budget(limit_s=limit_s))
    system = question.system
    system.happenings = tuple(h for h in system.happenings if h.what not in what)
    question.moves = Moves(system, question.commute, question.moves.is_bad)
    try:
        return _found(question)
    except (TooLarge, NotOnTheWhole, NoRealRun, EndlessChainFound, EvidenceFailed):
        return None


def _found(question: Question) -> Run | None:
    monitor = question.system.monitor
    match monitor:
        case MeasureMonitor():
            since, wanted = monitor.since, monitor.measured

            def counting(reg: Registers) -> bool:
                return reg.clock_from[since] >= 0

        case LeadsToMonitor():
            since = monitor.since

            def wanted(reg: Registers) -> bool:
                return monitor.is_quiet(reg) and not monitor.holds(reg)

            def counting(reg: Registers) -> bool:
                return True

        case _:
            return _safety(question)
    try:
        supremum(question, since, wanted, counting)
    except Unbounded as without:
        run: Run = without.args[0]
        return run
    return None


def _safety(question: Question) -> Run | None:
    found = holds_or_breaks(question)
    return (
        run_of(question, found.timeline, question.system.bad) if isinstance(found, Breaks) else None
    )
