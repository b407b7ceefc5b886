"""The library of standard requirements: sound in itself, and each with a job on either side of it.

Sources of the figures stand in the entries themselves, with how they were read. The window of two
codes: light of a way out stays on for at least 15 min (NFPA 101 (2012) 7.8.1.2.2, quoted), light of
a room is off within 20 min (IECC 2021 C405.2.1.1(1), quoted).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.check import ROOT
from tests.specs.test_specs import proved, verdicts
from verifier.language import format_tree, parse, tree
from verifier.language.library import library, library_files
from verifier.model import check
from verifier.model.job import NoLonger
from verifier.model.report import Report
from verifier.model.standards import check_standard
from verifier.source import SourceFile, Sources

JOBS = ROOT / "specs" / "standard" / "jobs"
NAMES = [standard.name.text for standard in library()]


def test_the_library_is_sound_in_itself() -> None:
    report = Report()
    wrong = [each.name.text for each in library() if not check_standard(each, report)]
    assert wrong == [], report.diagnostics()
    assert len(set(NAMES)) == len(NAMES)


@pytest.mark.parametrize("standard", library(), ids=lambda each: each.name.text)
def test_an_entry_says_where_it_comes_from_and_where_it_applies(standard: tree.Standard) -> None:
    assert standard.label is not None
    assert standard.sources
    assert len(standard.remarks("applies to")) == 1
    for source in standard.sources:
        assert (source.edition is None) == (source.read == "practice")


def test_the_files_of_the_library_are_in_canonical_form_but_for_their_comments() -> None:
    for file in library_files():
        text = format_tree(parse(file)[0])
        lines = [line for line in file.text.split("\n") if not line.startswith("#")]
        assert " ".join(" ".join(lines).split()) == " ".join(text.split())


def test_every_entry_has_a_job_that_keeps_it_and_one_that_breaks_it() -> None:
    assert sorted(path.name for path in JOBS.iterdir()) == sorted(NAMES)
    for name in NAMES:
        assert {path.name for path in (JOBS / name).iterdir()} == {"keeps", "breaks"}


def claimed_in(folder: Path) -> set[str]:
    sources = Sources(
        tuple(SourceFile(path.name, path.read_text()) for path in folder.glob("*.dusk"))
    )
    job, _ = check(sources, folder.name)
    assert job is not None
    return {requirement.standard for requirement in job.requirements}


@pytest.mark.parametrize("name", NAMES)
def test_the_job_that_keeps_it_is_proved_and_the_other_refuted(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    keeps, breaks = JOBS / name / "keeps", JOBS / name / "breaks"
    assert claimed_in(keeps) == claimed_in(breaks) == {name}
    kept, broken = proved(capsys, keeps), proved(capsys, breaks)
    assert set(verdicts(kept).values()) == {"proved"}
    assert not any(each["vacuous"] for each in kept["requirements"])
    assert set(verdicts(broken).values()) == {"refuted"}
    # A corridor that stays lit at part of its power is never turned off, and is told so.
    warned = {each["code"] for each in kept["findings"] if each["severity"] != "note"}
    assert warned <= {"never-turned-off"}
    assert {each["standard"] for each in kept["requirements"]} == {name}


# ---------------------------------------------------------------- the window of two codes


def corridor(tmp_path: Path, minutes: str) -> Path:
    """A corridor that is both a way out and a room whose light follows occupancy."""
    (tmp_path / "corridor.dusk").write_text(
        f"""\
detector corridor_pir "Corridor detector"
lamp corridor_light "Corridor" 4 x 14 W

rule walk_through
  retriggerable
  upon corridor_pir becomes occupied
  upon corridor_pir becomes vacant
  do
    corridor_light on
    wait until corridor_pir is vacant
    wait {minutes}
    corridor_light off
end rule

require egress as egress_stays_on with light corridor_light, detectors corridor_pir
require energy as off_after_vacancy with light corridor_light, detectors corridor_pir
""",
        encoding="utf-8",
    )
    return tmp_path


@pytest.mark.parametrize(
    ("minutes", "egress", "energy"),
    [
        ("12 min", "refuted", "proved"),
        ("14 min 59 s", "refuted", "proved"),
        ("15 min", "proved", "proved"),
        ("17 min 30 s", "proved", "proved"),
        ("20 min", "proved", "proved"),
        ("20 min 1 s", "proved", "refuted"),
        ("25 min", "proved", "refuted"),
    ],
)
def test_two_codes_leave_a_window_from_15_to_20_minutes(
    minutes: str, egress: str, energy: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = proved(capsys, corridor(tmp_path, minutes))
    assert verdicts(found) == {"egress": egress, "energy": energy}


# ---------------------------------------------------------------- what a claim stands for


def requirement_of(text: str) -> Any:
    job, told = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, told
    return job.requirements[0]


POINTS = """\
detector light
detector pir
button push
lamp detectors
limit up
limit down
door gate
  raised by up
  lowered by down
  travel 8 s to 12 s
end door
rule r
  upon pir becomes occupied
  do
    detectors on
end rule
consider power cuts
consider both limits of gate reached
"""


@pytest.mark.parametrize(
    ("claim", "by_hand"),
    [
        (
            # Things called like parameters: each is filled in once.
            "as off_after_vacancy with detectors light and pir, light detectors, time 5 min",
            "while (light is vacant and pir is vacant): no longer than 5 min: detectors is on",
        ),
        (
            "as off_after_vacancy with detectors pir, light detectors",
            "while pir is vacant: no longer than 20 min: detectors is on",
        ),
        (
            "as egress_stays_on with detectors light and pir, light detectors",
            "when light becomes occupied or pir becomes occupied or light becomes vacant "
            "or pir becomes vacant: detectors is on for at least 15 min",
        ),
        (
            "as level_after_power_return with light detectors, stated off",
            "when power returns: detectors is off within 0 s",
        ),
        (
            "as both_limits_is_a_fault with raised up, lowered down, door gate, light detectors",
            "always: up is reached and down is reached implies detectors is on allowing 1 s",
        ),
        (
            "as everything_off_in_the_end with rule r, lights detectors",
            "every trigger of r leads to detectors is off",
        ),
    ],
)
def test_a_claim_is_the_requirement_that_one_would_write_by_hand(claim: str, by_hand: str) -> None:
    claimed = requirement_of(f"{POINTS}require same {claim}\n")
    written = requirement_of(f"{POINTS}require same\n  {by_hand}\nend require\n")
    assert (claimed.scope, claimed.allowing_s) == (written.scope, written.allowing_s)
    if hasattr(claimed.form, "events"):
        assert set(claimed.form.events) == set(written.form.events)
    else:
        assert claimed.form == written.form
    assert claimed.standard
    assert not written.standard
    assert claimed.label, "the entry's own title"


def test_nothing_of_a_claim_points_into_the_library() -> None:
    requirement = requirement_of(
        f"{POINTS}require same as off_after_vacancy with detectors pir, light detectors\n"
    )
    assert requirement.span.file == "job.dusk"


def test_a_claim_in_a_typical_is_made_for_each_application() -> None:
    text = """\
typical landing
  setting run_on 15 min
  detector pir
  lamp light
  rule walk_through
    retriggerable
    upon pir becomes occupied
    do
      light on
      wait run_on
      light off
  end rule
  require not_long as longest_on with light light, time run_on
end typical
apply landing to floor_1
apply landing to floor_2 with run_on 5 min
"""
    job, told = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, told
    limits = {
        each.name: each.form.most_s for each in job.requirements if isinstance(each.form, NoLonger)
    }
    assert limits == {"floor_1.not_long": 900, "floor_2.not_long": 300}
