"""The page for the people of the house: ten lines, true, and in no engineer's words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from verifier.front.house_shown import house_body, house_text
from verifier.front.paint import PLAIN
from verifier.handover.house import MOST_LINES, House, house
from verifier.model import check
from verifier.model.job import Job
from verifier.proof import ProofOptions, prove_job
from verifier.source import SourceFile, Sources

SPECS = Path(__file__).resolve().parents[2] / "specs"
ENGINEERING = (
    "requirement", "retriggerable", "trigger", "verdict", "proved", "proof", "refuted", "bound",
    "solver", "certificate", "undecided", "occupied", "vacant", "state", "event", "kWh",
)  # fmt: skip


def page(job: Job) -> House:
    options = ProofOptions(time_limit_s=20, workers=2, certificates=False, structure=False)
    judged = prove_job(job, job.requirements, options, lambda *_: None)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in judged.verdicts}
    return house(job, verdicts, 20.0, 2, lambda name: None)


def folder(name: str) -> Job:
    files = tuple(SourceFile(p.name, p.read_text()) for p in sorted((SPECS / name).glob("*.dusk")))
    job, told = check(Sources(files), name)
    assert job is not None, told
    return job


def job_of(text: str) -> Job:
    job, told = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, told
    return job


@pytest.mark.parametrize(
    "name", ["boathouse", "boathouse-first-draft", "stair", "path", "washroom"]
)
def test_ten_lines_in_plain_words(name: str) -> None:
    found = page(folder(name))
    assert len(found.lines) >= 1
    assert len(found.lines) + len(found.promises) <= MOST_LINES
    own = " ".join(f"{head} {sentences}" for head, sentences in found.lines)
    shown = house_text(found, PLAIN, 100)
    for word in ENGINEERING:
        assert not re.search(rf"\b{word}s?\b", own), word
    assert "_" not in own
    assert all(head in shown for head, _ in found.lines)


def test_how_soon_each_lamp_of_the_boathouse_is_off() -> None:
    # by hand: walk_time, door_time; bench_time and two steps of 10 s; 15 min; 20 min
    lines = dict(page(folder("boathouse")).lines)
    for lamp, within in (
        ("Bay lights", "2 minutes"),
        ("Porch light", "1 minute"),
        ("Bench strip", "5 minutes 20 seconds"),
        ("Changing room light", "15 minutes"),
        ("Drying fan", "20 minutes"),
    ):
        assert lines[lamp].endswith(f"off within {within}."), lines[lamp]
    assert "Before the dark there is less light." in lines["Bench strip"]
    assert lines["After a power cut"] == (
        "The changing room light comes on; the drying fan stays off; all others come back as they were."
    )


def test_only_what_was_proved_is_promised() -> None:
    job = folder("boathouse-first-draft")
    found = page(job)
    options = ProofOptions(time_limit_s=20, workers=2, certificates=False, structure=False)
    judged = prove_job(job, job.requirements, options, lambda *_: None)
    failing = {r.label for r, verdict, _ in judged.verdicts if type(verdict).__name__ != "Proved"}
    assert failing
    assert not failing & set(found.promises)


def test_a_lamp_by_the_clock_says_when_it_goes_off() -> None:
    (lamps,) = (s for head, s in page(folder("path")).lines if head == "Path lamps")
    assert lamps.endswith("They go off when it gets 23:15, or when day begins.")


def test_a_lamp_that_nothing_ends_and_one_with_a_switch_of_its_own() -> None:
    found = page(
        job_of(
            'button push "Push-button"\nlamp light "Hall light" with local switch\nrule r\n'
            "  upon push pressed\n  do\n    light on\nend rule\n"
            "require never_dark\n  possible: light is on\nend require\n"
        )
    )
    ((head, sentences),) = found.lines
    assert head == "Hall light"
    assert sentences == (
        "It comes on when the push-button is pressed. How long it stays on is up to whoever uses it. "
        "Switched on by hand at the lamp it may stay on."
    )
    assert found.promises == ()


def test_a_house_whose_rules_light_nothing() -> None:
    found = page(job_of("lamp light\nrequire dark\n  never: light is on\nend require\n"))
    assert found.lines == ()
    assert "No light comes on by itself" in house_text(found, PLAIN, 60)
    assert "<table" not in house_body(found)
