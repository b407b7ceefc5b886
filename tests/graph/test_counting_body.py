"""A body that counts in three flags: no loop, however often it comes to the same test."""

from __future__ import annotations

from verifier.graph.flow import IDLE
from verifier.graph.transitions import transitions_of
from verifier.model import check
from verifier.model.job import Put
from verifier.source import SourceFile, Sources

TEXT = """
button push "Push"
flag ones "Ones"
flag twos "Twos"
flag fours "Fours"
rule counts
  upon push pressed
  do
    ones no
    twos no
    fours no
    repeat
      if ones is no then
        ones yes
      elsif twos is no then
        ones no
        twos yes
      else
        ones no
        twos no
        fours yes
      end if
    until ones is yes and twos is yes and fours is yes
    end repeat
end rule
require counted
  when push pressed: fours is yes within 1 s
end require
"""


def test_a_body_that_counts_to_seven_ends() -> None:
    """Binary counting: seven passes, of which the last sets all three; it never goes round for ever."""
    job, told = check(Sources((SourceFile("job.dusk", TEXT),)), "job")
    assert job is not None, told
    (way,) = transitions_of(job, job.rules[0])
    assert way.target == IDLE
    assert way.outcome == "ends"
    settings = [effect for effect in way.effects if isinstance(effect, Put)]
    assert {s.point: s.value for s in settings} == {"ones": "yes", "twos": "yes", "fours": "yes"}
    assert len(settings) == 3 + 4 + 2 * 2 + 3
