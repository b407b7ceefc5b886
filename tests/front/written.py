"""Results whose outputs are tested: the first drafts, and small jobs with what these lack."""

from __future__ import annotations

from functools import cache

from tests.explain.jobs import draft, sources_of
from verifier import pipeline
from verifier.handover.traces import Trace, traces_of

DRAFTS = ("boathouse", "stair", "dock", "path")

BLINK = """\
contact gate starts shut
lamp beacon
rule blink
  non-retriggerable
  upon gate becomes open
  do
    repeat
      beacon on
      wait 1 s
      beacon off
      wait 1 s
    until gate is shut
    end repeat
end rule
require dark_in_the_end
  every trigger of blink leads to beacon is off
end require
"""
"""Its run goes round for ever."""

THIRDS = """\
button push
dimmer strip
rule dim
  retriggerable
  upon push pressed
  do
    strip 90 %
    fade strip to 0 % over 10 s
end rule
require bright
  when push pressed: strip at least 30 % for at least 10 s
end require
"""
"""Its run has a moment without a finite decimal: 30 % is reached after 20/3 s."""

REPORTS = """\
contact gate wireless starts shut
lamp yard
consider lost reports of gate
rule light
  at once 2, waiting 1
  upon gate changes
  do
    yard on
    wait 1 min
    yard off
end rule
require lit
  always: gate is open implies yard is on
end require
require two_runs
  never: yard is on and gate is shut
end require
"""
"""Its runs have reports beside what is so, and a rule with many runs."""


@cache
def result(name: str) -> pipeline.Result:
    """The result of a draft, or of one of the jobs above, by its name in lower case."""
    if name in DRAFTS:
        return draft(name)
    texts = {"blink": BLINK, "thirds": THIRDS, "reports": REPORTS}
    question = pipeline.Question(workers=1)
    found = pipeline.prove(sources_of(texts[name]), name, question, lambda *_: None)
    assert found.verdicts, [f.message for f in found.findings]
    return found


ALL = (*DRAFTS, "blink", "thirds", "reports")


def traces(name: str) -> tuple[Trace, ...]:
    """All runs of a result."""
    found = result(name)
    assert found.job is not None
    return traces_of(found.job, found.verdicts)
