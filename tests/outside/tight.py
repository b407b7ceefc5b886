"""Tight claims: ``python -m tests.outside.tight A B [murphi]`` for the random jobs A to B.

A random job is blunt about fine meaning: most of its claims hold, or fail, by far. Here each job is
asked in every form that has a figure, and the figure is moved to where the answer turns: there, and
half a unit and a unit beside it, closed and open bounds, instants of one moment, and what a policy
drops make the difference. Where the answer turns is found by the exhaustive search; the prover has
to agree there, and with ``murphi`` the model checker too.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random
from typing import Any

from tests.outside.murphi_long import Compared, compare, dusk_text, in_a_word
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Event,
    Form,
    Job,
    Never,
    NoLonger,
    NoShorter,
    Requirement,
    Running,
    WhenFor,
    WhenWithin,
    conditions_and_events_of,
)
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Proved, Refuted, Undecided
from verifier.simulate.explicit import EndlessChain, TooLarge, search

CAP = 4_000
MOST = 9
"""The greatest figure that is tried, in seconds: the jobs' own are 1 to 4."""

FIGURES: dict[type, str] = {
    WhenWithin: "within_s",
    WhenFor: "for_s",
    AfterLast: "within_s",
    Before: "for_s",
    NoLonger: "most_s",
    NoShorter: "least_s",
    AtMostTimes: "in_s",
    Always: "allowing_s",
    Never: "allowing_s",
}
"""Which figure of a form is moved; of `always` and `never` it is what they allow."""


def in_every_form(job: Job, requirement: Requirement, rng: Random) -> Iterator[Requirement]:
    """The requirement's condition and events in each form that has a figure."""
    conditions, events = conditions_and_events_of(requirement.form)
    condition = conditions[0] if conditions else Running(job.rules[0].name)
    asked: tuple[Event, ...] = events or (job.rules[0].triggers[0].event,)
    one = Fraction(1)
    forms: tuple[Form, ...] = (
        WhenWithin(asked, condition, one),
        WhenFor(asked, condition, one),
        AfterLast(asked, condition, one),
        Before(asked, condition, one),
        NoLonger(one, condition),
        NoShorter(one, condition),
        AtMostTimes(rng.randrange(1, 3), one, asked),
        Always(condition),
        Never(condition),
    )
    for form in forms:
        yield replace(requirement, name="claim", form=form, allowing_s=Fraction(0))


def with_figure(requirement: Requirement, figure: Fraction) -> Requirement:
    """The requirement with another figure."""
    name = FIGURES[type(requirement.form)]
    if name == "allowing_s":
        return replace(requirement, allowing_s=figure)
    given: dict[str, Any] = {name: figure}
    return replace(requirement, form=replace(requirement.form, **given))


def by_search(job: Job, requirement: Requirement) -> str:
    """The answer of the exhaustive search. Raises: TooLarge, EndlessChain."""
    asked = replace(job, requirements=(requirement,))
    return search(slice_job(asked, requirement), requirement, CAP).verdict


def turning(job: Job, requirement: Requirement) -> int | None:
    """The figure after which the answer is another one; None if it is the same for all."""

    def answer(figure: int) -> str:
        return by_search(job, with_figure(requirement, Fraction(figure)))

    low, high = 1, MOST
    first = answer(low)
    if first == answer(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if answer(middle) == first:
            low = middle
        else:
            high = middle
    return low


@dataclass(frozen=True, slots=True)
class Tight:
    """One claim beside the turning: how it came out, and how the two disagree (empty: not)."""

    kind: str
    requirement: Requirement
    differs: str


def claims_of(seed: int, *, murphi: bool = False) -> Iterator[Tight]:
    """The claims of one job, each compared."""
    rng = Random(seed)
    job, requirement = random_job(rng)
    for asked in in_every_form(job, requirement, rng):
        form = type(asked.form).__name__
        try:
            where = turning(job, asked)
        except (TooLarge, EndlessChain) as why:
            yield Tight(type(why).__name__, asked, "")
            continue
        if where is None:
            yield Tight("the same for all figures", asked, "")
            continue
        for figure in (Fraction(where), Fraction(2 * where + 1, 2), Fraction(where + 1)):
            claim = with_figure(asked, figure)
            yield from _judged(job, claim, form, murphi=murphi and figure.denominator == 1)


def _judged(job: Job, claim: Requirement, form: str, *, murphi: bool) -> Iterator[Tight]:
    whole = replace(job, requirements=(claim,))
    try:
        wanted = by_search(job, claim)
    except TooLarge:
        # Half a unit makes twice as many ticks.
        yield Tight("TooLarge", claim, "")
        return
    try:
        verdict = decide(whole, claim, Budget(limit_s=30))
    except EndlessChainFound:
        yield Tight("EndlessChain", claim, "")
        return
    if isinstance(verdict, Undecided):
        yield Tight("undecided", claim, "")
        return
    assert isinstance(verdict, Proved | Refuted)
    found = in_a_word(verdict)
    wrong = "" if found == wanted else f"prover: {found}, search: {wanted}"
    yield Tight(f"{form} {wanted}", claim, wrong)
    if murphi:
        told: Compared = compare(whole, claim)
        yield Tight(f"murphi: {told.kind.split(':')[0]}", claim, told.differs)


def main(first: int, last: int, *, murphi: bool = False) -> int:
    """Compares the seeds; the number of disagreements."""
    table: Counter[str] = Counter()
    began, wrong = time.monotonic(), 0
    for seed in range(first, last):
        for one in claims_of(seed, murphi=murphi):
            table[one.kind] += 1
            if one.differs:
                wrong += 1
                job, _ = random_job(Random(seed))
                text = dusk_text(job, one.requirement)
                print(f"--- seed {seed}: {one.differs}\n{text}", flush=True)
        if (seed - first) % 100 == 99:
            print(f"{seed + 1 - first} in {time.monotonic() - began:.0f} s", flush=True)
    print(f"{last - first} jobs in {time.monotonic() - began:.0f} s")
    for kind, count in sorted(table.items()):
        print(f"{count:6} {kind}")
    return wrong


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2]), murphi="murphi" in sys.argv) else 0)
