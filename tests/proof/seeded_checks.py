"""The checks that a fault of the trusted core can be noticed by, and the search for what notices which.

``python -m tests.proof.seeded_checks [WORDS]`` seeds each fault (whose name has the words in it) and
prints, for each check, the first witness that notices it: this is how the table of
``test_seeded_core.py`` was made.
"""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Callable, Iterable
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from tests.meaning.test_by_hand import CASES, job_with
from tests.meaning.test_meaning import ENDLESS, SITES, claims, expected, in_words
from tests.meaning.test_meaning import job_of as case_of
from tests.outside import murphi
from tests.outside.mtl import first_broken
from tests.outside.mtl_monitors import JUDGED, Bench, form_of, requirement_of
from tests.outside.murphi_long import compare
from tests.outside.test_mtl import VARIANTS, line, safety_of
from tests.outside.test_mtl import cases as timelines
from tests.proof.core_faults import FAULTS, MONITORS, ORDERS, Seed
from tests.proof.order_jobs import JOBS
from tests.proof.test_differential import agree
from tests.proof.test_driver import differences
from tests.random_jobs import random_job
from verifier.model import check
from verifier.model.job import Job, Requirement
from verifier.proof import blocked, question
from verifier.proof.chain import Chain
from verifier.proof.checker import check_texts, texts_anew
from verifier.proof.closed import EvidenceFailed, NotChecked
from verifier.proof.decide import decide
from verifier.proof.proving import chain_task, suspects
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.relation import relation_of
from verifier.proof.verdict import Undecided
from verifier.simulate.system import System
from verifier.source import SourceFile, Sources

LIMIT_S = 4.0

CERTIFICATE = "certificate"

SLOW = (*SITES, "74-free-clock", "75-clock-events")
"""Cases that take seconds each."""


class Noticed(Exception):
    """A check noticed a fault; ``args[0]`` says how."""


def verdict_of(job: Any, requirement: Any) -> Any:
    """The verdict in words. Raises: Noticed if its evidence failed."""
    try:
        return in_words(decide(job, requirement, Budget(limit_s=LIMIT_S)))
    except (EvidenceFailed, NotChecked) as failure:
        raise Noticed(f"{CERTIFICATE} or replay: {failure}") from failure
    except EndlessChainFound:
        return "endless"


def differs(found: Any, wanted: Any) -> bool:
    """Whether a verdict is a wrong one: none at all is not."""
    return bool(found != wanted) and not str(found).startswith("undecided")


def by_timelines(witness: tuple[Any, ...]) -> None:
    """A monitor against the formula of temporal logic (independent)."""
    name, scoped, gaps, *count = witness
    if isinstance(name, tuple):
        kind_name, duration, allowing = name
        by_line(kind_name, duration, allowing, scoped, gaps)
        return
    kind = next(kind for kind in JUDGED if kind.__name__ == name)
    for requirement, timeline in timelines(kind, scoped, gaps, *(count or [60])):
        formula = safety_of(requirement)
        if Bench.of(requirement).first_bad(timeline, formula) != first_broken(formula, timeline):
            raise Noticed("another moment than the formula's")


def by_line(kind: str, duration: int, allowing: int, instants: str, end: str) -> None:
    """A monitor against its formula on one timeline, in a scope, with gaps allowed."""
    (found,) = [k for k in JUDGED if k.__name__ == kind]
    form = form_of(found, Fraction(duration), 1)
    requirement = requirement_of(form, scoped=True, allowing_s=Fraction(allowing))
    timeline = line(*instants.split(", "), end=end)
    formula = safety_of(requirement)
    if Bench.of(requirement).first_bad(timeline, formula) != first_broken(formula, timeline):
        raise Noticed("another moment than the formula's")


def by_case(witness: tuple[Any, ...]) -> None:
    """A verdict of the contract's own cases."""
    case, name = witness
    job, _ = case_of(case)
    assert job is not None
    found, wanted = verdict_of(job, job.requirement[name]), expected(case)[name]
    if differs(found, wanted):
        raise Noticed(f"{found}, not {wanted}")


def by_hand(witness: tuple[Any, ...]) -> None:
    """A verdict that was worked out by hand from a sentence of the contract."""
    text, form, wanted = CASES[witness[0]]
    job = job_with(text, form)
    found = verdict_of(job, job.requirements[0])
    if differs(found, wanted):
        raise Noticed(f"{found}, not {wanted}")


def asked(witness: tuple[Any, ...]) -> tuple[Job, Requirement]:
    """A job with its requirement: of a name one in which the order matters, of a number a random one."""
    (which,) = witness
    if isinstance(which, int):
        return random_job(Random(which))
    job, found = check(Sources((SourceFile("job.dusk", JOBS[which]),)), which)
    assert job is not None, found
    return job, job.requirements[0]


def by_driver(witness: tuple[Any, ...]) -> None:
    """The relation over unknown states against concrete execution over every order."""
    job, requirement = asked(witness)
    system = System(job, requirement)
    relation = relation_of(system, question.commuting(system))
    if next(differences(relation, Random(1), 60), None) is not None:
        raise Noticed("relation and concrete execution differ")


def by_endless(witness: tuple[Any, ...]) -> None:
    """An endless chain of the contract's cases."""
    job, _ = case_of(witness[0])
    assert job is not None
    chains = [chain_task(job, rule, LIMIT_S) for rule in suspects(job)]
    if not any(isinstance(chain, Chain) for chain in chains):
        raise Noticed("no chain is found")


def by_search(witness: tuple[Any, ...]) -> None:
    """The prover against the exhaustive search, which merges no orders."""
    job, requirement = asked(witness)
    try:
        agree(job, requirement)
    except (EvidenceFailed, NotChecked) as failure:
        raise Noticed(f"{CERTIFICATE} or replay: {failure}") from failure
    except (AssertionError, EndlessChainFound) as failure:
        raise Noticed("prover and search differ") from failure


def by_certificate_anew(witness: tuple[Any, ...]) -> None:
    """The certificate's conditions made anew from the rules, over every order."""
    job, requirement = asked(witness)
    try:
        verdict = decide(job, requirement, Budget(limit_s=LIMIT_S))
    except EndlessChainFound:
        return
    certificate = None if isinstance(verdict, Undecided) else getattr(verdict, "certificate", None)
    if certificate is None:
        return
    try:
        check_texts(texts_anew(job, requirement, certificate), 30)
    except (EvidenceFailed, NotChecked) as failure:
        raise Noticed(str(failure)) from failure


def by_rumur(witness: tuple[Any, ...]) -> None:
    """The prover against a model checker of others (independent)."""
    job, requirement = random_job(Random(witness[0]))
    try:
        found = compare(job, requirement, limit_s=LIMIT_S, length=True)
    except (EvidenceFailed, NotChecked) as failure:
        raise Noticed(f"{CERTIFICATE} or replay: {failure}") from failure
    if found.differs:
        raise Noticed(found.differs)


CHECKS: dict[str, Callable[[tuple[Any, ...]], None]] = {
    "temporal logic": by_timelines,
    "certificate anew": by_certificate_anew,
    "every order": by_driver,
    "exhaustive search": by_search,
    "the contract's cases": by_case,
    "by hand": by_hand,
    "endless chains": by_endless,
    "Rumur": by_rumur,
}


def notices(check: str, witness: tuple[Any, ...]) -> str:
    """How a check notices, with a witness, that something is wrong; empty if it does not.

    What breaks down of itself is noticed too: no verdict comes out.
    """
    try:
        CHECKS[check](witness)
    except Noticed as how:
        return str(how.args[0])
    except (AssertionError, KeyError, ValueError, IndexError, StopIteration, AttributeError) as how:
        return f"{type(how).__name__} in the tool"
    return ""


def noticed_by(seed: Seed, check: str, witness: tuple[Any, ...]) -> str:
    """How a check notices a fault that is seeded while it looks; empty if it does not."""
    forget()
    try:
        with pytest.MonkeyPatch.context() as patch:
            seed(patch)
            return notices(check, witness)
    finally:
        forget()


def forget() -> None:
    """What was found out about a job by a faulty core is not kept, and the other way round."""
    for known in (blocked.doomed_in, blocked._reasons):
        known.cache_clear()


MONITOR_OF = {
    "WhenWithin": "Within",
    "WhenFor": "ForAtLeast",
    "Never": "Always",
    "Possible": "Always",
}
"""Forms whose monitor has another name."""


def of_kind(kind: type, fault: str) -> bool:
    """Whether a fault, by its name, is one of the monitor of a form."""
    name = MONITOR_OF.get(kind.__name__, kind.__name__)
    return fault.startswith(f"{name}Monitor")


def witnesses(check: str, fault: str) -> Iterable[tuple[Any, ...]]:
    """What a check is tried with."""
    match check:
        case "temporal logic":
            variants = sorted(VARIANTS, key=lambda v: not of_kind(v[0], fault))
            return [(kind.__name__, scoped, gaps) for kind, scoped, gaps in variants]
        case "the contract's cases":
            return [(case, name) for case, name in claims() if case not in SLOW]
        case "by hand":
            return [(case,) for case in CASES]
        case "every order" | "exhaustive search" | "certificate anew":
            return [*((name,) for name in JOBS), *((seed,) for seed in range(1000, 1025))]
        case "endless chains":
            return [(case,) for case in ENDLESS]
        case _:
            return [(seed,) for seed in range(5000, 5030)] if murphi.is_there() else []


def checks_of(fault: str) -> list[str]:
    """The checks that can notice a fault: a timeline has no rules, a monitor no orders."""
    if fault.startswith(("LeadsTo", "Measure", "`leads to`", "`measure`")):
        return ["the contract's cases", "by hand", "Rumur"]
    if fault in MONITORS:
        return ["temporal logic", "the contract's cases", "by hand", "Rumur"]
    if fault in ORDERS:
        return ["certificate anew", "every order", "exhaustive search"]
    return ["the contract's cases", "by hand", "every order", "endless chains", "Rumur"]


SECONDS = 8
"""What a witness is given while witnesses are looked for."""


def stop(*_: object) -> None:
    """Ends a witness that takes too long."""
    raise TimeoutError


def first_witness(fault: str, check: str) -> tuple[tuple[Any, ...], str] | None:
    """The first witness with which a check notices a fault, and how; None if it does not."""
    until = time.monotonic() + 6 * SECONDS
    for witness in witnesses(check, fault):
        if time.monotonic() > until:
            return None
        signal.alarm(SECONDS)
        try:
            how = noticed_by(FAULTS[fault], check, witness)
        except TimeoutError:
            continue
        finally:
            signal.alarm(0)
        if how:
            return witness, how
    return None


def main() -> None:
    """Prints what notices each fault: of a monitor's the first check, of the others two."""
    words = sys.argv[1:]
    signal.signal(signal.SIGALRM, stop)
    for fault in FAULTS:
        if words and not any(word in fault for word in words):
            continue
        most = left = 1 if fault in MONITORS else 3 if fault in ORDERS else 2
        for name in checks_of(fault):
            found = first_witness(fault, name) if left else None
            if found is not None:
                left -= 1
                print(f"{(fault, name, found[0])!r},  # {found[1][:90]}", flush=True)
        if left == most:
            print(f"# NOTHING notices: {fault}", flush=True)


if __name__ == "__main__":
    main()
