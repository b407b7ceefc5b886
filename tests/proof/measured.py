"""What is measured, claimed: ``python -m tests.proof.measured A B`` for the random jobs A to B.

A random job of timers of all policies on a lamp or two, with the figures of real jobs, which are too
large for an exhaustive search. What `measure longest` answers is asked as a claim, at that figure and a
little less: the one has to be proved and the other refuted, by a run that fails between the two. The engines
on both sides are not the same, so each checks the other.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from random import Random

from tests.outside.murphi_long import dusk_text
from tests.random_jobs import point
from verifier.model.job import (
    AfterLast,
    Becomes,
    Branch,
    Condition,
    Event,
    Fault,
    FaultKind,
    If,
    Is,
    Job,
    MeasureLongest,
    Not,
    Point,
    PointKind,
    Policy,
    Pressed,
    Put,
    Requirement,
    Rule,
    Running,
    Statement,
    Trigger,
    Wait,
    WaitUntil,
)
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided
from verifier.source import NOWHERE

FIGURES = tuple(map(Fraction, ("7", "13/2", "30", "47", "90", "120", "61/4", "3600")))
LITTLE = Fraction(1, 8)
"""Less than the unit of any such job."""

POLICIES = (
    Policy(1, 0, True),
    Policy(1, 0, True),
    Policy(1, 0, False),
    Policy(2, 0, False),
    Policy(2, 0, True),
    Policy(1, 1, False),
    Policy(1, 2, True),
)


def timed_job(rng: Random) -> Job:
    """Timers on a lamp or two, and what is asked: how long the first is on after the last trigger."""
    count = 1 + rng.randrange(4)
    lamps = ["light", "sign"][: 1 + rng.randrange(2)]
    points: list[Point] = []
    events: list[Event] = []
    for k in range(count):
        kind = rng.choice((PointKind.BUTTON, PointKind.DETECTOR, PointKind.CONTACT))
        holds = rng.choice(FIGURES) if kind is PointKind.DETECTOR and rng.random() < 0.3 else None
        points.append(point(f"input_{k}", kind, holds_s=holds))
        pressed = kind is PointKind.BUTTON
        events.append(
            Pressed(f"input_{k}") if pressed else Becomes(Is(f"input_{k}", kind.values[1]))
        )
    points += [point(lamp, PointKind.LAMP) for lamp in lamps]
    inputs = [p for p in points if p.kind.is_input and p.kind is not PointKind.BUTTON]
    rules = tuple(_timer(rng, k, events[k], count, lamps, inputs) for k in range(count))
    asked = MeasureLongest(Is("light", "on"), tuple(events))
    requirement = Requirement("claim", "", None, asked, Fraction(0), NOWHERE)
    cuts = rng.random() < 0.15
    faults = (Fault(FaultKind.POWER_CUTS, None, None, NOWHERE),) if cuts else ()
    return Job("timed", None, tuple(points), (), (), rules, (), faults, (requirement,))


def _timer(
    rng: Random, number: int, event: Event, count: int, lamps: list[str], inputs: list[Point]
) -> Rule:
    """One timer: on, a wait or a few, off."""
    lamp = lamps[0] if number == 0 else rng.choice(lamps)
    off: Statement = Put(lamp, "off", NOWHERE)

    def condition() -> Condition:
        others = [k for k in range(count) if k != number]
        if others and rng.random() < 0.5:
            return Running(f"timer_{rng.choice(others)}")
        if inputs and rng.random() < 0.6:
            chosen = rng.choice(inputs)
            return Is(chosen.name, rng.choice(chosen.kind.values))
        return Is(rng.choice(lamps), "on")

    def wait() -> Statement:
        if rng.random() < 0.25:
            return WaitUntil(condition(), rng.choice(FIGURES), NOWHERE)
        return Wait(rng.choice(FIGURES), NOWHERE)

    body: list[Statement] = [Put(lamp, "on", NOWHERE), wait()]
    if rng.random() < 0.4:
        body.append(If((Branch(condition(), (wait(),), NOWHERE),), (), NOWHERE))
    if rng.random() < 0.2:
        body.append(If((Branch(Not(condition()), (off,), NOWHERE),), (wait(), off), NOWHERE))
    body.append(off)
    provided = condition() if rng.random() < 0.2 else None
    triggers = (Trigger(event, None, NOWHERE),)
    return Rule(
        f"timer_{number}", "", rng.choice(POLICIES), triggers, provided, tuple(body), NOWHERE
    )


def claimed(job: Job, limit_s: float = 5.0) -> Iterator[tuple[str, str]]:
    """How each came out, and how the two disagree (empty: not). Raises: EndlessChainFound."""
    requirement = job.requirements[0]
    form = requirement.form
    assert isinstance(form, MeasureLongest)
    measured = decide(job, requirement, Budget(limit_s))
    if not isinstance(measured, Answered):
        reason = measured.reason if isinstance(measured, Undecided) else measured
        yield f"not measured: {type(reason).__name__}", ""
        return
    bound = measured.bound_s
    if not isinstance(bound, Fraction):
        yield f"measured: {bound}", ""
    never = Not(form.condition)
    for figure, wanted in _figures(bound):
        claim = replace(requirement, form=AfterLast(form.events, never, figure))
        found = decide(replace(job, requirements=(claim,)), claim, Budget(limit_s))
        if isinstance(found, Undecided):
            yield "undecided", ""
            continue
        differs = ""
        if not isinstance(found, wanted):
            differs = f"measured {bound}, but at {figure} s {type(found).__name__.lower()}"
        elif isinstance(found, Refuted) and isinstance(bound, Fraction):
            run = found.run
            assert run is not None
            if not run.steps or run.fails_s < figure:
                differs = f"it is told to fail at {run.fails_s} s, sooner than {figure} s"
        yield wanted.__name__.lower(), differs


def _figures(bound: Fraction | str | None) -> tuple[tuple[Fraction, type[Proved | Refuted]], ...]:
    """Figures that are claimed, and what has to come of each."""
    if bound is None:
        return ((LITTLE, Proved),)
    if not isinstance(bound, Fraction):
        return ((Fraction(10_000), Refuted),)
    if bound <= LITTLE:
        return ((LITTLE, Proved),)
    return ((bound, Proved), (bound - LITTLE, Refuted))


def main(first: int, last: int) -> int:
    """Claims what is measured of the seeds; the number of disagreements."""
    table: Counter[str] = Counter()
    began, wrong = time.monotonic(), 0
    for seed in range(first, last):
        job = timed_job(Random(seed))
        try:
            found = list(claimed(job))
        except EndlessChainFound:
            found = [("endless", "")]
        except Exception as fault:  # the tool's own word against itself
            found = [("fault", f"{type(fault).__name__}: {str(fault)[:300]}")]
        for kind, differs in found:
            table[kind] += 1
            if differs:
                wrong += 1
                text = dusk_text(job, job.requirements[0])
                print(f"--- seed {seed}: {differs}\n{text}", flush=True)
    print(f"{last - first} jobs in {time.monotonic() - began:.0f} s, {wrong} disagreements")
    print(dict(table))
    return wrong


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2])) else 0)
