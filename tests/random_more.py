"""Random jobs with what real surroundings add: faults of reports, a reaction time, fades.

``python -m tests.random_more A B`` compares the prover with the exhaustive search on the seeds A to
B, prints a table, and every disagreement with its job. Figures are small, so that ticks do not
explode; a fade that is cut short begins the next one from a level that is not known, so there the
two agree on what is proved, and a refutation may be undecided instead.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from random import Random

from tests.outside.murphi_long import dusk_text
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model.job import (
    Fade,
    Fault,
    FaultKind,
    Job,
    Level,
    PointKind,
    Put,
    Requirement,
    Rule,
    Site,
    Statement,
    atoms_and_leaves,
    can_wait,
    read_by,
)
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided
from verifier.simulate.explicit import EndlessChain, TooLarge, search
from verifier.simulate.system import System
from verifier.source import NOWHERE

CAP = 6_000


def random_more(rng: Random) -> tuple[Job, Requirement]:
    """A random job with one thing more, or several."""
    job, requirement = random_job(rng)
    if rng.random() < 0.6:
        job = with_faults(rng, job)
    if rng.random() < 0.35:
        job = with_reaction(rng, job)
    if rng.random() < 0.5:
        job = with_fades(rng, job)
    job = replace(job, requirements=(requirement,))
    return job, requirement


def with_faults(rng: Random, job: Job) -> Job:
    """A fault or two of inputs; both limits of a door."""
    inputs = [p for p in job.points if p.kind.is_input]
    faults: list[Fault] = list(job.faults)
    changed = {}
    for point in rng.sample(inputs, min(len(inputs), 1 + (rng.random() < 0.3))):
        kinds = [FaultKind.LOST_REPORTS, FaultKind.STUCK, FaultKind.BOUNCE]
        if point.kind is not PointKind.BUTTON:
            kinds.append(FaultKind.BROKEN_WIRE)
        for kind in rng.sample(kinds, 1 + (rng.random() < 0.2)):
            within = Fraction(1) if kind is FaultKind.BOUNCE else None
            faults.append(Fault(kind, point.name, within, NOWHERE))
        values = point.kind.values
        changed[point.name] = replace(
            point, wireless=True, broken_wire_reads=rng.choice(values) if values else None
        )
    if job.doors and rng.random() < 0.5:
        faults.append(Fault(FaultKind.BOTH_LIMITS, job.doors[0].name, None, NOWHERE))
    points = tuple(changed.get(p.name, p) for p in job.points)
    return replace(job, points=points, faults=tuple(faults))


def with_reaction(rng: Random, job: Job) -> Job:
    """A controller that takes a second or two."""
    reaction = Fraction(rng.randrange(1, 3))
    site = Site("S", None, None, None, Fraction("-0.833"), reaction, NOWHERE)
    return replace(job, site=site)


def with_fades(rng: Random, job: Job) -> Job:
    """Some settings of dimmers as fades, in rules that can wait already."""
    dimmers = {p.name for p in job.points if p.kind is PointKind.DIMMER}

    def faded(statement: Statement) -> Statement:
        if isinstance(statement, Put) and statement.point in dimmers and rng.random() < 0.7:
            assert isinstance(statement.value, Fraction)
            over = Fraction(rng.choice((2, 4)))
            return Fade(statement.point, statement.value, over, NOWHERE)
        return statement

    def of(rule: Rule) -> Rule:
        return replace(rule, body=tuple(faded(s) for s in rule.body)) if can_wait(rule) else rule

    return replace(job, rules=tuple(of(rule) for rule in job.rules))


def what_is_more(job: Job) -> str:
    """Which of the three a job has, for the table."""
    parts = sorted({f.kind.value for f in job.faults if f.kind is not FaultKind.POWER_CUTS})
    if job.site is not None:
        parts.append("reaction")
    if any(isinstance(s, Fade) for rule in job.rules for s in rule.body):
        parts.append("fades")
    return " + ".join(parts) or "nothing more"


def levels_are_read(job: Job) -> bool:
    """Whether a fade can be seen to be on its way."""
    conditions, _ = read_by(job)
    return any(isinstance(leaf, Level) for c in conditions for leaf in atoms_and_leaves(c))


def compared(job: Job, requirement: Requirement) -> tuple[str, str]:
    """How it came out, and how the two disagree (empty: not)."""
    part = slice_job(job, requirement)
    try:
        found = search(part, requirement, CAP)
    except TooLarge:
        return "too large", ""
    except EndlessChain:
        return "endless", ""
    try:
        verdict = decide(job, requirement, Budget(limit_s=30))
    except EndlessChainFound:
        return "endless", ""
    fades = "fades" in what_is_more(part)
    if isinstance(verdict, Undecided):
        return ("undecided (fades)" if fades else f"undecided: {verdict.reason}"[:90]), ""
    word = type(verdict).__name__.lower()
    if word != found.verdict:
        # From a level that is not known the search goes every way, and only some are real.
        known = fades and found.verdict == "refuted" and word == "proved"
        return word, "" if known else f"prover: {word}, search: {found.verdict}"
    run = verdict.run if isinstance(verdict, Refuted | Answered) else verdict.witness
    plain = isinstance(verdict, Proved | Refuted) and found.happenings is not None and not fades
    if run is not None and plain and len(run.steps) != found.happenings:
        return (
            word,
            f"happenings by the prover: {len(run.steps)}, by the search: {found.happenings}",
        )
    if isinstance(verdict, Answered) and isinstance(found.bound_units, Fraction) and not fades:
        bound = System(part, requirement).unit.seconds(found.bound_units)
        if verdict.bound_s != bound:
            return word, f"bound by the prover: {verdict.bound_s}, by the search: {bound}"
    return word, ""


def main(first: int, last: int) -> int:
    """Compares the seeds; the number of disagreements."""
    table: Counter[tuple[str, str]] = Counter()
    began, wrong = time.monotonic(), 0
    for seed in range(first, last):
        job, requirement = random_more(Random(seed))
        try:
            kind, differs = compared(job, requirement)
        except Exception as fault:  # a fault of either side is a disagreement too
            kind, differs = "fault", f"{type(fault).__name__}: {str(fault)[:300]}"
        table[what_is_more(job), kind] += 1
        if differs:
            wrong += 1
            reaction = "" if job.site is None else f"# reaction within {job.site.reaction_s} s\n"
            text = dusk_text(job, requirement)
            print(f"--- seed {seed}: {differs}\n{reaction}{text}", flush=True)
    print(f"{last - first} jobs in {time.monotonic() - began:.0f} s, {wrong} disagreements")
    kinds: Counter[str] = Counter()
    for (more, kind), count in sorted(table.items()):
        kinds[kind] += count
        print(f"{count:6} {more}: {kind}")
    print(dict(kinds))
    return wrong


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2])) else 0)
