"""Figures of the trade, on both sides: contact bounce, a detector's lock-out, two codes' window.

Sources beside each figure; what is only said in the trade is marked so.
"""

from __future__ import annotations

import pytest

from verifier.model import check
from verifier.proof.decide import decide
from verifier.proof.verdict import Proved, Refuted
from verifier.source import SourceFile, Sources


def verdict(text: str) -> str:
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    outcome = decide(job, job.requirements[0])
    assert isinstance(outcome, Proved | Refuted), outcome
    return type(outcome).__name__.lower()


DOORBELL = """\
contact tongue "Reed contact on the gate" starts shut
lamp count "Toggled by each opening" 5 W
assume tongue stays open at least 1 s
assume tongue stays shut at least 1 s
consider bounce of tongue up to {bounce}
rule opened
  upon tongue has stayed open for {debounce}
  do
    if count is on then
      count off
    else
      count on
    end if
end rule
require once
  at most 1 times in 900 ms: count changes
end require
"""


@pytest.mark.parametrize(
    ("bounce", "debounce", "wanted"),
    [
        ("1 ms", "20 ms", "proved"),
        ("1 ms", "1 ms", "refuted"),
        ("1 ms", "1.001 ms", "proved"),
        ("15 ms", "20 ms", "proved"),
        ("15 ms", "10 ms", "refuted"),
    ],
)
def test_a_debounce_longer_than_the_bounce_counts_once(
    bounce: str, debounce: str, wanted: str
) -> None:
    """Reed contacts bounce 0.5 to 1 ms (a maker's glossary, seen); micro limit switches change over in
    1 to 15 ms (textbook, seen); usual debounce 20 to 50 ms (from memory)."""
    assert verdict(DOORBELL.format(bounce=bounce, debounce=debounce)) == wanted


PIR = """\
detector pir "PIR module" holds 2500 ms rearm {lock_out}
require apart
  at most 1 times in {window}: pir becomes occupied
end require
"""


@pytest.mark.parametrize(
    ("lock_out", "window", "wanted"),
    [
        ("2500 ms", "4999 ms", "proved"),
        ("2500 ms", "5 s", "refuted"),
        ("3 s", "5499 ms", "proved"),
        ("3 s", "5500 ms", "refuted"),
    ],
)
def test_a_lock_out_keeps_detections_apart(lock_out: str, window: str, wanted: str) -> None:
    """PIR modules are locked out for 2.5 to 3 s after a detection (module data, seen)."""
    assert verdict(PIR.format(lock_out=lock_out, window=window)) == wanted


SHUTTER = """\
limit top "Upper limit"
limit bottom "Lower limit"
door gate "High-speed gate"
  raised by top
  lowered by bottom
  travel 20 s to {longest}
  starts lowered
end door
lamp light "Light" 60 W
rule moving
  retriggerable
  upon bottom becomes clear
  do
    light on
    wait {run_on}
    light off
end rule
require lit
  while gate is moving: always: light is on
  allowing 0 s
end require
"""


def test_a_roller_door_of_three_metres_needs_twenty_seconds() -> None:
    """0.15 m/s (from memory), 3 m: 20 s (computed); a light of less leaves it dark on its way."""
    text = SHUTTER.replace("  allowing 0 s\n", "")
    assert verdict(text.format(longest="20 s", run_on="19 s")) == "refuted"
    # The wait and the end of the travel are due at one moment, and the wait may come first.
    assert verdict(text.format(longest="20 s", run_on="20 s")) == "refuted"
