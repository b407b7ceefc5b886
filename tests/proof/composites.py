"""Jobs of several parts, judged in several ways: ``python -m tests.proof.composites A B``.

Takes the seeds A to B of :mod:`tests.random_composites`, prints a table and every disagreement with
its job. Each requirement is judged as a job is (slices under canonical names), under its own names,
by the exhaustive search on its slice and on the whole job, and again after an edit with what was
kept. Then it is asked in forms with a figure, which is moved to where the answer turns: there, and
half a second and a second later, prover and search have to turn as well.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from tests.outside.murphi_long import dusk_text
from tests.outside.tight import in_every_form, with_figure
from tests.random_composites import composite, edited
from tests.random_more import levels_are_read, what_is_more
from verifier.graph.slice import slice_job
from verifier.model.job import (
    AfterLast,
    Condition,
    Job,
    MeasureLongest,
    Not,
    Requirement,
)
from verifier.proof import ProofOptions, prove_job
from verifier.proof.cache import Memory
from verifier.proof.decide import decide
from verifier.proof.proving import JobResult
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.explicit import EndlessChain, Found, TooLarge, search
from verifier.simulate.system import System

CAP = 4_000
"""States of the exhaustive search, on a slice and on the whole job."""

MOST = 12
"""The greatest figure that is tried, in seconds: the jobs' own are 1 to 4, and add up."""

LIMIT_S = 20.0


@dataclass(frozen=True, slots=True)
class Compared:
    """One comparison: of what kind it was, and how the two differ (empty: not)."""

    kind: str
    differs: str = ""
    requirement: Requirement | None = None


def as_seen(verdict: Verdict) -> object:
    """A verdict as people see it, its certificates aside."""
    match verdict:
        case Proved(_, witness, vacuous, why, bound_s):
            return "proved", witness, vacuous, why, bound_s
        case Refuted(run, certificate):
            return "refuted", run, certificate is None
        case Answered(bound_s, run, _, vacuous, why):
            return "answered", bound_s, run, vacuous, why
        case Undecided():
            return "undecided"


def judged(job: Job, *, kept: Memory | None = None, workers: int = 1) -> JobResult:
    """The job's requirements, judged as a job is."""
    options = ProofOptions(LIMIT_S, workers=workers, structure=False, cache=kept)
    return prove_job(job, job.requirements, options, lambda *_: None)


def compared(seed: int, *, cap: int = CAP, tight: bool = True) -> Iterator[Compared]:
    """Everything about the composite of one seed."""
    rng = Random(seed)
    job, joint = composite(rng)
    kept = Memory()
    result = judged(job, kept=kept)
    chains = [f for f in result.findings if f.code.endswith(("endless-chain", "chain-undecided"))]
    if chains:
        yield Compared("endless chain")
        return
    # States that are left out of all runs are known of the whole job only.
    joint = f"{joint}, blocked" if result.findings else joint
    for requirement, verdict, _ in result.verdicts:
        yield from _one(job, requirement, verdict, joint, cap)
    other = edited(rng, job)
    for one, where in ((other, "edit"), (job, "back")):
        yield from _after_an_edit(one, kept, where)
    if tight:
        for requirement in job.requirements:
            yield from _tight(job, requirement, rng, cap)


def _one(
    job: Job, requirement: Requirement, verdict: Verdict, joint: str, cap: int
) -> Iterator[Compared]:
    """One requirement's verdict beside those of other ways."""
    word = type(verdict).__name__.lower()
    try:
        own = decide(job, requirement, Budget(LIMIT_S))
    except EndlessChainFound:
        yield Compared("own names", "an endless chain that the job's result has not", requirement)
        return
    if not isinstance(own, Undecided) and not isinstance(verdict, Undecided):
        same = as_seen(own) == as_seen(verdict)
        yield Compared("own names", "" if same else f"{verdict} / {own}", requirement)
    elif type(own) is not type(verdict):
        yield Compared(f"undecided: {verdict} / {own}"[:150])
    whole = replace(job, requirements=(requirement,))
    yield from _searched(f"whole, {joint}", whole, requirement, verdict, word, cap)
    if not joint.endswith("blocked"):
        part = slice_job(job, requirement)
        yield from _searched(f"slice, {joint}", part, requirement, verdict, word, cap)


def _searched(
    name: str, job: Job, requirement: Requirement, verdict: Verdict, word: str, cap: int
) -> Iterator[Compared]:
    try:
        found = search(job, requirement, cap)
    except TooLarge:
        yield Compared(f"{name}: too large")
        return
    except EndlessChain:
        yield Compared(f"{name}: endless", "search finds an endless chain", requirement)
        return
    if isinstance(verdict, Undecided):
        yield Compared(f"{name}: undecided"[:120])
        return
    fades = "fades" in what_is_more(job)
    if found.verdict != word:
        known = fades and found.verdict == "refuted" and word == "proved"
        differs = "" if known else f"prover: {word}, search: {found.verdict}"
    else:
        differs = "" if fades else bounds_differ(job, requirement, verdict, found)
    yield Compared(f"{name}: {word}", differs, requirement)


def bounds_differ(job: Job, requirement: Requirement, verdict: Verdict, found: Found) -> str:
    """How the exact bounds of prover and search differ; empty: they do not."""
    if isinstance(verdict, Answered):
        bound = found.bound_units
        if isinstance(bound, Fraction):
            bound = System(job, requirement).unit.seconds(bound)
        if bound != verdict.bound_s:
            return f"bound by the prover: {verdict.bound_s}, by the search: {bound}"
    return ""


def _after_an_edit(job: Job, kept: Memory, where: str) -> Iterator[Compared]:
    """The job with what was kept beside the job from cold."""
    warm, cold = judged(job, kept=kept), judged(job, workers=2)
    one = [(r.name, as_seen(v)) for r, v, _ in warm.verdicts], warm.findings
    two = [(r.name, as_seen(v)) for r, v, _ in cold.verdicts], cold.findings
    yield Compared(where, "" if one == two else f"{one} / {two}")


# ---------------------------------------------------------------- tight claims


def _tight(job: Job, requirement: Requirement, rng: Random, cap: int) -> Iterator[Compared]:
    """The requirement in a form with a figure, where its answer turns."""
    if levels_are_read(job):
        return
    forms = list(in_every_form(job, requirement, rng))
    for asked in rng.sample(forms, 2):
        yield from _turning(job, asked, cap)
    if isinstance(requirement.form, MeasureLongest):
        yield from _at_its_bound(job, requirement, requirement.form)


def _verdict(job: Job, claim: Requirement) -> Verdict | None:
    """The verdict as the job's; None for an endless chain."""
    result = judged(replace(job, requirements=(claim,)))
    return result.verdicts[0][1] if result.verdicts else None


def _turning(job: Job, asked: Requirement, cap: int) -> Iterator[Compared]:
    def answer(figure: Fraction) -> str:
        try:
            verdict = decide(job, with_figure(asked, figure), Budget(LIMIT_S))
        except EndlessChainFound:
            return "endless"
        return type(verdict).__name__.lower()

    low, high = Fraction(1), Fraction(MOST)
    first = answer(low)
    form = type(asked.form).__name__
    if first == answer(high):
        yield Compared(f"{form}: the same for all figures")
        return
    while high - low > Fraction(1, 2):
        middle = (2 * (low + high) // 2) / Fraction(2)
        if answer(middle) == first:
            low = middle
        else:
            high = middle
    for figure in (low, high):
        claim = with_figure(asked, figure)
        verdict = _verdict(job, claim)
        if verdict is None or isinstance(verdict, Undecided):
            yield Compared(f"{form}: {verdict}"[:100])
            continue
        word = type(verdict).__name__.lower()
        if word != answer(figure):
            yield Compared(f"{form} turns", f"canonical {word}, own {answer(figure)}", claim)
        whole = replace(job, requirements=(claim,))
        yield from _searched(f"tight, {form}", whole, claim, verdict, word, cap)


def _at_its_bound(job: Job, requirement: Requirement, form: MeasureLongest) -> Iterator[Compared]:
    """What is measured, as a claim at that figure and half a second less."""
    verdict = decide(job, requirement, Budget(LIMIT_S))
    if not isinstance(verdict, Answered) or not isinstance(verdict.bound_s, Fraction):
        return
    bound = verdict.bound_s
    never: Condition = Not(form.condition)
    for figure, wanted in ((bound, Proved), (bound - Fraction(1, 2), Refuted)):
        if figure <= 0:
            continue
        claim = replace(requirement, form=AfterLast(form.events, never, figure))
        found = _verdict(job, claim)
        wrong = not isinstance(found, wanted | Undecided)
        differs = f"measured {bound}, at {figure}: {found}" if wrong else ""
        yield Compared("a measure as a claim", differs, claim)


def main(first: int, last: int) -> int:
    """Compares the seeds; the number of disagreements."""
    table: Counter[str] = Counter()
    began, wrong = time.monotonic(), 0
    for seed in range(first, last):
        try:
            found = list(compared(seed))
        except Exception as fault:  # a fault of either side is a disagreement too
            found = [Compared("fault", f"{type(fault).__name__}: {str(fault)[:500]}")]
        for one in found:
            table[one.kind] += 1
            if one.differs:
                wrong += 1
                job, joint = composite(Random(seed))
                asked = one.requirement or job.requirements[0]
                text = dusk_text(job, asked)
                print(f"--- seed {seed} ({joint}; {one.kind}): {one.differs}\n{text}", flush=True)
        if (seed - first) % 50 == 49:
            print(f"{seed + 1 - first} in {time.monotonic() - began:.0f} s", flush=True)
    print(f"{last - first} jobs in {time.monotonic() - began:.0f} s, {wrong} disagreements")
    for kind, count in sorted(table.items()):
        print(f"{count:6} {kind}")
    return wrong


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2])) else 0)
