"""Rooms with more than one detector, worked out by hand from the contract's words on rooms."""

from __future__ import annotations

import pytest

from tests.meaning.test_by_hand import job_with
from tests.meaning.test_meaning import in_words
from verifier.proof.decide import decide

TWO = """
contact door "Door" starts shut
detector near "Near" rearm 30 s
detector far "Far"
lamp light "Light" 10 W
room hall "Hall"
  entered by door
  seen by near, far
  noticed within 20 s
end room
assume door stays open at most 1 s
assume door stays shut at least 1 h
rule lit
  upon near becomes occupied
  do
    light on
end rule
"""
"""People come in and go while the door is open, 1 s at most, so that they come in for the last time
no later than 1 s after the first. `near` rests for 30 s, unless it is due itself: 20 s after
somebody came into the empty room, and then it has not been occupied since. It is vacant for at
least those 20 s each time. That `far` is due does not let `near` off."""

ONE_WATCHED = """
contact door "Door" starts shut
detector near "Near" rearm 30 s
detector far "Far"
room hall "Hall"
  entered by door
  seen by near, far
  starts peopled
  still at most 10 min
  noticed within 20 s
end room
"""


@pytest.mark.parametrize(
    ("text", "form", "verdict"),
    [
        (TWO, "no shorter than 20 s: near is vacant", "proved"),
        (TWO, "no shorter than 21 s: near is vacant", "refuted"),
        # "while it is peopled each detector that sees it … is not vacant longer than `still at
        # most`", which counts "from the first notice": who is there at the start binds both.
        (ONE_WATCHED, "while hall is peopled: no longer than 10 min: near is vacant", "proved"),
        (ONE_WATCHED, "while hall is peopled: no longer than 9 min: near is vacant", "refuted"),
    ],
)
def test_what_two_detectors_of_a_room_are_held_to(text: str, form: str, verdict: str) -> None:
    job = job_with(text, form)
    assert in_words(decide(job, job.requirements[0])) == verdict
