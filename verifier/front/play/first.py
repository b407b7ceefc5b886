"""The job that the page shows when it is given none."""

from __future__ import annotations

from verifier.front.folder import Reading
from verifier.source import SourceFile, Sources

_TEXT = """\
# A boathouse's side door: light for whoever comes in.
contact side_door  "Side door"
lamp    porch      "Porch light" 12 W

rule come_in "Light for whoever comes in"
  retriggerable
  upon side_door becomes open
  do
    porch on
    wait 2 min
    porch off
end rule

require lit "Never dark in front of an open door"
  always: side_door is open implies porch is on
end require

require off_again "Off in the end"
  no longer than 10 min: porch is on
end require
"""


def first_job() -> Reading:
    """A small job with something to find."""
    return Reading("first", Sources((SourceFile("job.dusk", _TEXT),)), ())
