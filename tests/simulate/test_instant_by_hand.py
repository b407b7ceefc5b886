"""One instant and its orders, worked out by hand."""

from __future__ import annotations

from tests.meaning.test_by_hand import job_with
from verifier.simulate.instant import beginnings, outcomes
from verifier.simulate.system import System
from verifier.surroundings.happenings import ButtonPressed

GOES_ROUND = """
button push "Push"
flag ready "Ready"
lamp light "Light" 10 W
rule tries
  upon push pressed
  do
    repeat
      light on
      light off
    until ready is yes
    end repeat
end rule
rule readies
  upon push pressed
  do
    ready yes
end rule
"""


def test_an_order_that_never_ends_does_not_hide_one_that_does() -> None:
    """Meaning 4: "in every possible order". `tries` first goes round for ever, `readies` first ends."""
    job = job_with(GOES_ROUND, "never: light is on")
    system = System(job, None)
    (pressed,) = [h for h in system.happenings if isinstance(h, ButtonPressed)]
    (begun,) = beginnings(system)
    found = outcomes(system, begun, pressed)
    assert sorted(outcome.endless for outcome in found) == [False, True]
    (end,) = [outcome.registers for outcome in found if not outcome.endless]
    index = system.layout.index
    assert end.known(index["ready"]) == 2
    assert end.known(index["light"]) == 1
