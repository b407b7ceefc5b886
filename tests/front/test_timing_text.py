"""The picture in the terminal: its numbers are those of the instants that are told below it."""

from __future__ import annotations

import pytest

from tests.explain.jobs import judged
from verifier.explain.explained import explained
from verifier.front.paint import Paint
from verifier.front.timing_text import timing_text

JOB = """
contact gate
lamp yard
rule lit
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 5 s
    yard off
end rule
require asked
  always: gate is open implies yard is on
end require
require late
  after last gate becomes open: yard is on within 1 s
end require
require short
  no longer than 2 s: yard is on
end require
"""


@pytest.mark.parametrize(
    ("name", "heads"),
    [
        ("asked", ["start", "end"]),
        ("late", ["start", "1", "2"]),
        ("short", ["start", "1", "end"]),
    ],
)
def test_only_instants_at_which_something_happens_have_a_number(
    name: str, heads: list[str]
) -> None:
    job, requirement, verdict = judged(JOB, name)
    story = explained(job, requirement, verdict).story
    assert story is not None
    head = timing_text(story.diagram, Paint(False), 100)[0].split()
    assert head == heads
    assert [h for h in heads if h.isdigit()] == [str(m.number) for m in story.moments]
