"""What is certain when a trigger is handled: only where that is in its own instant (12)."""

from __future__ import annotations

import pytest

from verifier.graph.transitions import event_facts
from verifier.model import check
from verifier.model.job import Becomes, Is
from verifier.source import SourceFile, Sources

TEXT = """
contact door "Door"
lamp light "Light" 10 W
rule lit
  upon door becomes open
  do
    light on
end rule
require lit
  when door becomes open: light is on within 5 s
end require
"""

PLACE = '  latitude 52.21 deg\n  longitude 0.12 deg\n  timezone "Europe/London"\n'


@pytest.mark.parametrize(
    ("site", "certain"),
    [
        ("", True),
        (f'site "Quay"\n{PLACE}end site\n', True),
        ('site "Quay"\n  reaction within 1 s\nend site\n', False),
        ('site "Quay"\n  reaction within 200 ms\nend site\n', False),
    ],
)
def test_the_door_is_still_open_if_the_controller_takes_no_time(site: str, certain: bool) -> None:
    job, told = check(Sources((SourceFile("job.dusk", site + TEXT),)), "job")
    assert job is not None, told
    (rule,) = job.rules
    facts = event_facts(job, rule, rule.triggers[0].event)
    assert facts == ((Is("door", "open"),) if certain else ())
    assert isinstance(rule.triggers[0].event, Becomes)
