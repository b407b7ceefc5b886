"""Jobs whose verdict hangs on one step of the interpreter or of a monitor, worked out by hand.

Each came from a wrong version that no test noticed; the sentence of the contract stands beside it.
By the prover, and by the exhaustive search.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.meaning.test_by_hand import job_with
from tests.meaning.test_meaning import in_words
from verifier.graph.slice import slice_job
from verifier.proof.decide import decide
from verifier.simulate.explicit import search

FOUR_PULSES = """
contact door "Door" starts shut
flag done "Done"
lamp light "Light" 10 W
assume door stays shut at most 1 s
rule pulses
  non-retriggerable
  upon door becomes open provided done is no
  do
    done yes
    light on
    wait 1 s
    light off
    wait 7 s
    light on
    wait 1 s
    light off
    wait 3 s
    light on
    wait 1 s
    light off
    wait 3 s
    light on
    wait 1 s
    light off
end rule
"""
"""The light comes on 0, 8, 12 and 16 s after the door has opened, which it has to within 1 s."""

QUEUE = """
button push "Push"
flag done "Done"
flag fed "Fed"
flag first "First"
flag may "May"
flag second "Second"
flag third "Third"
flag kick "Kick"
lamp light "Light" 10 W
rule served
  at once 1, waiting 1, oldest gives way
  upon kick becomes yes
  upon first becomes yes provided may is yes
  upon second becomes yes
  upon third becomes yes
  do
    light on
    wait 1 s
    light off
end rule
rule begin
  non-retriggerable
  upon push pressed provided done is no
  do
    done yes
    kick yes
    wait 250 ms
    may yes
    first yes
    wait 250 ms
    may no
end rule
rule feed
  upon served ends provided fed is no
  do
    fed yes
    second yes
    third yes
end rule
"""
"""One run, one trigger that waits and whose guard is false when its turn comes; as the run ends, two
more. In every order both of them run: either the first takes its turn before them and is dropped
by its guard, or the place is full and it gives way as the oldest. So the light is on for 3 s."""

CASES: dict[str, tuple[str, str, Any]] = {
    # "no N + 1 occurrences of E lie within D or less, first to last": 8, 12 and 16 s do.
    "three occurrences, the first of four not among them": (
        FOUR_PULSES,
        "at most 2 times in 10 s: light becomes on",
        "refuted",
    ),
    "four occurrences in 16 s": (
        FOUR_PULSES,
        "at most 3 times in 16 s: light becomes on",
        "refuted",
    ),
    "no four in less": (
        FOUR_PULSES,
        "at most 3 times in 15 s: light becomes on",
        "proved",
    ),
    "the oldest that waits gives way": (QUEUE, "no shorter than 3 s: light is on", "proved"),
    "and no other": (QUEUE, "no longer than 2999 ms: light is on", "refuted"),
    "nothing runs twice": (QUEUE, "no longer than 3 s: light is on", "proved"),
}


@pytest.mark.parametrize("case", CASES)
def test_the_prover_gives_the_verdict(case: str) -> None:
    text, form, verdict = CASES[case]
    job = job_with(text, form)
    assert in_words(decide(job, job.requirements[0])) == verdict


@pytest.mark.parametrize("case", [c for c in CASES if "ms" not in CASES[c][1]])
def test_the_exhaustive_search_gives_the_verdict(case: str) -> None:
    text, form, verdict = CASES[case]
    job = job_with(text, form)
    requirement = job.requirements[0]
    assert search(slice_job(job, requirement), requirement, 100_000).verdict == verdict
