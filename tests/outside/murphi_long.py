"""Random jobs A to B by prover and model checker: ``python -m tests.outside.murphi_long A B``.

With ``measure`` after it, each job is asked for an exact bound instead (a sharper question than most).
Prints progress, every disagreement with its job, and at the end what was compared.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from tests.outside.murphi import TooLarge, answer_and_vacuity, bound_is, fewest_happenings
from tests.outside.murphi_model import NotExported
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model.job import (
    Job,
    LeadsTo,
    MeasureLongest,
    Point,
    PointKind,
    Requirement,
    Rule,
    Running,
    conditions_and_events_of,
)
from verifier.model.words import (
    assumption_words,
    body_lines,
    condition_words,
    duration,
    fault_words,
    policy_words,
    requirement_words,
    trigger_words,
    value,
)
from verifier.proof.chain import Chain
from verifier.proof.decide import decide
from verifier.proof.proving import chain_task, suspects
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted, Verdict


@dataclass(frozen=True, slots=True)
class Compared:
    """What one job came to: ``kind`` for the table; ``differs`` says how the two disagree.

    ``length``: the fewest happenings were compared too; ``lasting``: the bound of a ``leads to``.
    """

    kind: str
    differs: str = ""
    length: bool = False
    lasting: bool = False


def in_a_word(verdict: Verdict | str) -> str:
    """A verdict's name."""
    return verdict if isinstance(verdict, str) else type(verdict).__name__.lower()


def compare(
    job: Job, requirement: Requirement, *, limit_s: float = 20.0, length: bool = True
) -> Compared:
    """Prover and model checker side by side."""
    verdict: Verdict | str
    found: str
    lasting = vacuous = False
    differs: str | None = None
    try:
        verdict = decide(job, requirement, Budget(limit_s=30))
    except EndlessChainFound:
        verdict = "endless"
    word = in_a_word(verdict)
    try:
        if isinstance(requirement.form, MeasureLongest):
            bound = verdict.bound_s if isinstance(verdict, Answered) else None
            checked = bound_is(job, requirement, bound, limit_s=limit_s)
            found = "answered" if checked == "exact" else checked
            word = word if isinstance(verdict, str | Answered) else "undecided"
        else:
            found, vacuous = answer_and_vacuity(job, requirement, limit_s=limit_s)
        if word == "undecided":
            return Compared("undecided by the prover")
        if found == "endless":
            # A claim is decided on its slice; an endless chain is an error of the whole job.
            chained = word == "endless" or has_chain(job)
            return Compared(
                "endless" if chained else "differs",
                "" if chained else f"prover: {word} and no chain, model checker: endless",
            )
        if found != word:
            return Compared("differs", f"prover: {word}, model checker: {found}")
        if isinstance(verdict, Proved) and verdict.vacuous != vacuous:
            return Compared("differs", f"vacuous by the prover: {verdict.vacuous}, else: {vacuous}")
        if isinstance(verdict, Proved) and verdict.bound_s is not None and not verdict.vacuous:
            lasting = True
            checked = bound_is(job, requirement, verdict.bound_s, limit_s=limit_s)
            if checked != "exact":
                return Compared("differs", f"the longest time {verdict.bound_s} s is {checked}")
        if length:
            differs = length_differs(job, requirement, verdict, limit_s)
    except NotExported as reason:
        return Compared(f"not exported: {reason.args[0]}")
    except TooLarge as reason:
        return Compared(f"too large: {reason.args[0]}")
    return Compared("differs" if differs else found, differs or "", differs is not None, lasting)


def has_chain(job: Job) -> bool:
    """Whether the prover finds an endless chain in the whole job."""
    chains = (chain_task(job, rule, 30.0) for rule in suspects(job))
    return any(isinstance(chain, Chain) for chain in chains)


def length_differs(
    job: Job, requirement: Requirement, verdict: Verdict | str, limit_s: float
) -> str | None:
    """How the lengths of the shortest runs differ, "" if they do not, None if they were not compared.

    The prover counts the happenings of its slice, so the slice is what is searched here. Runs of
    `leads to` end in a cycle or at rest, and are shown differently.
    """
    match verdict:
        case Refuted(run) | Proved(_, run) if run is not None:
            given = len(run.steps)
        case _:
            return None
    if isinstance(requirement.form, LeadsTo):
        return None
    part = slice_job(job, requirement)
    try:
        fewest = fewest_happenings(part, requirement, given, limit_s=limit_s)
    except TooLarge:
        return None
    return "" if fewest == given else f"happenings by the prover: {given}, least: {fewest}"


# ---------------------------------------------------------------- the job as text


def dusk_text(job: Job, requirement: Requirement) -> str:
    """A job in the language."""
    lines = [point_line(point) for point in job.points]
    for door in job.doors:
        lines += [f"door {door.name}", f"  raised by {door.raised_by}"]
        lines.append(f"  lowered by {door.lowered_by}")
        if door.moving_by is not None:
            lines.append(f"  moving by {door.moving_by}")
        least, most = duration(door.travel_least_s), duration(door.travel_most_s)
        lines.append(f"  travel {least} to {most}")
        lines += [f"  starts {door.starts}"] if door.starts is not None else []
        lines.append("end door")
    for room in job.rooms:
        lines.append(f"room {room.name}")
        lines += [f"  entered by {', '.join(room.entered_by)}"] if room.entered_by else []
        lines.append(f"  seen by {', '.join(room.seen_by)}")
        lines += [f"  still at most {duration(room.still_s)}"] if room.still_s else []
        lines += [f"  noticed within {duration(room.noticed_s)}"] if room.noticed_s else []
        lines += [f"  starts {room.starts}"] if room.starts is not None else []
        lines.append("end room")
    lines += [assumption_words(a) for a in job.assumptions]
    lines += [f"consider {fault_words(f)}" for f in job.faults]
    for rule in job.rules:
        lines += rule_lines(rule)
    lines += [f"require {requirement.name}", f"  {requirement_words(requirement)}", "end require"]
    return "\n".join(lines) + "\n"


def point_line(point: Point) -> str:
    """A point's declaration."""
    line = f"{point.kind.value} {point.name}"
    line += f" holds {duration(point.holds_s)}" if point.holds_s else ""
    line += f" rearm {duration(point.rearm_s)}" if point.rearm_s else ""
    if point.starts is not None:
        line += f" starts {value(point.starts)}"
    line += " with local switch" if point.local_switch else ""
    if point.kind.is_output:
        line += f" on power return {point.power_return}"
    if point.kind is PointKind.FLAG and point.retained:
        line += " retained"
    return line


def rule_lines(rule: Rule) -> list[str]:
    """A rule's declaration."""
    lines = [f"rule {rule.name}", f"  {policy_words(rule.policy)}"]
    lines += [f"  {trigger_words(trigger)}" for trigger in rule.triggers]
    if rule.provided is not None:
        lines.append(f"  provided {condition_words(rule.provided)}")
    return [*lines, "  do", *body_lines(rule.body, "    "), "end rule"]


# ---------------------------------------------------------------- many


def as_measure(job: Job, requirement: Requirement) -> Requirement:
    """How long the requirement's condition holds after its events (else a rule's first trigger)."""
    conditions, events = conditions_and_events_of(requirement.form)
    asked = events or (job.rules[0].triggers[0].event,)
    condition = conditions[0] if conditions else Running(job.rules[0].name)
    form = MeasureLongest(condition, asked)
    return Requirement("claim", "", requirement.scope, form, Fraction(0), requirement.span)


def main(first: int, last: int, *, measure: bool = False, limit_s: float = 20.0) -> int:
    """Compares the seeds; the number of disagreements."""
    table: Counter[str] = Counter()
    began = time.monotonic()
    for seed in range(first, last):
        job, requirement = random_job(Random(seed))
        if measure:
            requirement = as_measure(job, requirement)
            job = replace(job, requirements=(requirement,))
        try:
            found = compare(job, requirement, limit_s=limit_s)
        except Exception as fault:  # a fault of either side is a disagreement too
            found = Compared("differs", f"{type(fault).__name__}: {str(fault)[:500]}")
        table[found.kind] += 1
        table["(fewest happenings compared)"] += found.length
        table["(longest time of leads to compared)"] += found.lasting
        if found.differs:
            print(f"--- seed {seed}: {found.differs}\n{dusk_text(job, requirement)}", flush=True)
        if (seed - first) % 50 == 49:
            print(
                f"{seed + 1 - first} in {time.monotonic() - began:.0f} s: {dict(table)}", flush=True
            )
    print(f"{last - first} jobs in {time.monotonic() - began:.0f} s")
    for kind, number in sorted(table.items()):
        print(f"{number:6} {kind}")
    return table["differs"]


if __name__ == "__main__":
    wrong = main(int(sys.argv[1]), int(sys.argv[2]), measure="measure" in sys.argv[3:])
    sys.exit(1 if wrong else 0)
