"""What is known of a requirement, by what has been heard so far: never green by accident."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.front.editor.test_server import POINTS, PROMISES, RULES
from verifier.front.editor.jobs import OpenJob
from verifier.front.editor.lenses import lenses

ORDER = 7


def judged_job() -> OpenJob:
    """A job of which a judging has begun."""
    job = OpenJob(None, "lobby")
    for name, text in (("points", POINTS), ("rules", RULES), ("promises", PROMISES)):
        job.put(f"{name}.dusk", text)
    job.begin(ORDER, job.read())
    return job


def verdict(name: str, state: str, number: int = ORDER) -> dict[str, Any]:
    return {
        "kind": "verdict",
        "id": number,
        "name": name,
        "state": state,
        "vacuous": False,
        "answer": "",
        "reason": "as it is",
        "method": "",
        "acted": [],
    }


def over(*, interrupted: bool = False, rejected: bool = False) -> dict[str, Any]:
    return {
        "kind": "judged",
        "id": ORDER,
        "interrupted": interrupted,
        "rejected": rejected,
        "findings": [],
    }


def states(job: OpenJob) -> list[str]:
    return [each.state for each in job.states()]


def test_a_proof_counts_when_all_is_judged_and_a_failing_run_at_once() -> None:
    job = judged_job()
    assert states(job) == ["running", "running"]
    job.heard(verdict("enough", "proved"))
    assert states(job) == ["running", "running"]
    job.heard(verdict("short", "failed"))
    assert states(job) == ["running", "failed"]
    job.heard(over())
    assert states(job) == ["proved", "failed"]


@pytest.mark.parametrize(
    "end",
    [over(interrupted=True), {"kind": "fault", "id": ORDER, "words": "died"}],
    ids=["cut short", "a fault"],
)
def test_without_a_whole_judging_nothing_is_proved(end: dict[str, Any]) -> None:
    job = judged_job()
    job.heard(verdict("enough", "proved"))
    job.heard(verdict("short", "failed"))
    job.heard(end)
    assert states(job) == ["stale", "failed"]
    job = judged_job()
    job.heard(verdict("enough", "proved"))
    job.stopped()
    assert states(job) == ["stale", "stale"]


def test_with_an_error_of_the_whole_job_no_verdict_counts() -> None:
    job = judged_job()
    job.heard(verdict("enough", "proved"))
    job.heard(verdict("short", "failed"))
    job.heard(over(rejected=True))
    assert states(job) == ["stale", "stale"]


def test_what_is_said_of_an_older_text_is_not_heard() -> None:
    job = judged_job()
    assert not job.heard(verdict("enough", "proved", ORDER - 1))
    assert states(job) == ["running", "running"]


def test_between_a_key_stroke_and_its_reading_nothing_is_green() -> None:
    job = judged_job()
    job.heard(verdict("enough", "proved"))
    job.heard(over())
    job.put("rules.dusk", RULES.replace("light on", "light off"))
    assert states(job) == ["stale", "stale"]
    job.put("rules.dusk", RULES)
    assert states(job) == ["stale", "stale"]
    job.read()
    assert states(job)[0] == "proved"


def test_a_file_that_changes_on_disk_makes_stale_too(tmp_path: Path) -> None:
    (tmp_path / "points.dusk").write_text(POINTS, encoding="utf-8")
    job = OpenJob(tmp_path, "lobby")
    job.put("rules.dusk", RULES + PROMISES)
    job.begin(ORDER, job.read())
    job.heard(verdict("enough", "proved"))
    job.heard(verdict("short", "failed"))
    job.heard(over())
    assert states(job) == ["proved", "failed"]
    (tmp_path / "points.dusk").write_text(POINTS.replace("1 min", "90 s"), encoding="utf-8")
    job.read()
    assert states(job) == ["stale", "stale"]


def test_of_a_requirement_that_a_typical_makes_several_times_the_worst_leads() -> None:
    text = (
        "button push\ntypical t\n  lamp light\n  require off\n    never: light is on\n"
        "  end require\nend typical\napply t to a, b, c\n"
    )
    job = OpenJob(None, "j")
    job.put("j.dusk", text)
    reading = job.read()
    job.begin(ORDER, reading)
    for name, state in (("a.off", "proved"), ("b.off", "failed"), ("c.off", "proved")):
        job.heard(verdict(name, state))
    job.heard(over())
    found = lenses(job, reading, reading.sources.files[0], "file:///j.dusk")
    titles = [each.command.title for each in found if each.command is not None]
    assert titles == ["✗ 1 failed, ✓ 2 proved", "its story", "look for a change"]
    assert found[1].command is not None
    assert list(found[1].command.arguments or ()) == ["file:///j.dusk", "b.off"]
