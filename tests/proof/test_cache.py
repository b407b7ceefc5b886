"""Answers that are kept: never a wrong verdict, whatever happens to the file."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest

from verifier.model import check
from verifier.model.job import Job
from verifier.proof import Effort, ProofOptions, prove_job, whole
from verifier.proof import cache as caching
from verifier.proof.cache import Cache
from verifier.proof.obligations import Obligation, Plan
from verifier.proof.proving import JobResult
from verifier.proof.stored import NotStored, restored, stored
from verifier.proof.verdict import OutOfTime, Proved, Refuted, Undecided
from verifier.source import SourceFile, Sources

ROOT = Path(__file__).parents[2]

JOB = """\
detector pir "Hall"
button push "Door"
lamp light "Hall light" 10 W
lamp sign "Sign" 5 W
rule walk
  retriggerable
  upon pir becomes occupied
  do
    light on
    wait 60 s
    light off
end rule
rule show
  retriggerable
  upon push pressed
  do
    sign on
    wait 30 s
    sign off
end rule
require dark_after
  after last pir becomes occupied: light is off within 60 s
end require
require too_soon
  after last pir becomes occupied: light is off within 59 s
end require
require longest
  measure longest: sign is on after last push pressed
end require
require comes_back
  every trigger of show leads to sign is off
end require
require can_be
  possible: light is on and sign is on
end require
"""


def the_job(text: str = JOB) -> Job:
    job, findings = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, findings
    return job


class Place:
    """A folder with a cache and its key, and what a job comes to with it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "cache"
        self.key_folder = folder / "key"
        self.file = self.folder / caching.FILE
        self.said = ""

    def judged(self, job: Job | None = None, **options: object) -> JobResult:
        cache = Cache(self.folder, self.key_folder)
        asked = the_job() if job is None else job
        given = ProofOptions(cache=cache, **options)  # type: ignore[arg-type]
        try:
            return prove_job(asked, asked.requirements, given, lambda *_: None)
        finally:
            self.said = cache.said()
            cache.close()

    def change(self, sql: str, *values: object) -> None:
        with closing(sqlite3.connect(self.file)) as base, base:
            base.execute(sql, values)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


def verdicts(result: JobResult) -> list[object]:
    return [(requirement.name, verdict) for requirement, verdict, _ in result.verdicts]


FRESH: list[JobResult] = []


def fresh() -> JobResult:
    """What the job comes to without any cache."""
    if not FRESH:
        job = the_job()
        FRESH.append(prove_job(job, job.requirements, ProofOptions(), lambda *_: None))
    return FRESH[0]


def test_a_second_run_proves_nothing_and_says_the_same(place: Place) -> None:
    first = place.judged()
    second = place.judged()
    assert verdicts(first) == verdicts(second) == verdicts(fresh())
    assert first.findings == second.findings == fresh().findings
    assert first.effort.reused == 0
    assert second.effort.reused == second.effort.distinct == 5
    assert second.effort.rechecked == 1
    assert place.said == ""


def test_certificates_are_kept_with_their_texts(place: Place) -> None:
    first = place.judged(certificates=True)
    second = place.judged(certificates=True)
    assert verdicts(first) == verdicts(second)
    proved = [v for _, v, _ in second.verdicts if isinstance(v, Proved) and v.certificate]
    assert proved
    assert all("light" in str(v.certificate) or "sign" in str(v.certificate) for v in proved)
    assert all(v.certificate.texts for v in proved if v.certificate)


def test_all_can_be_checked_anew(place: Place) -> None:
    place.judged()
    again = place.judged(recheck=1.0)
    # What is possible, and what fails, is shown by a run and has no certificate.
    assert again.effort.rechecked == 3
    assert again.effort.refused == 0
    assert verdicts(again) == verdicts(fresh())


def test_another_figure_is_another_question(place: Place) -> None:
    place.judged()
    other = the_job(JOB.replace("wait 60 s", "wait 61 s"))
    result = place.judged(other)
    assert result.effort.reused == 2  # only the sign's own
    found = {r.name: v for r, v, _ in result.verdicts}
    assert isinstance(found["dark_after"], Refuted)


def test_other_names_are_no_other_question(place: Place) -> None:
    place.judged()
    other = the_job(JOB.replace("light", "lantern").replace("pir", "eye").replace("walk", "a"))
    result = place.judged(other)
    assert result.effort.reused == result.effort.distinct == 5
    run = next(v.run for r, v, _ in result.verdicts if isinstance(v, Refuted))
    assert run is not None
    assert [step.what for step in run.steps] == ["eye becomes occupied"]


# ---------------------------------------------------------------- poisoned


def rows(place: Place) -> list[tuple[str, bytes, bytes]]:
    with closing(sqlite3.connect(place.file)) as base:
        found = base.execute("SELECT key, answer, texts FROM answers WHERE kind = 'verdict'")
        return list(found)


def test_a_flipped_verdict_is_not_believed(place: Place) -> None:
    place.judged()
    for key, answer, _ in rows(place):
        value = restored(answer)
        other: object
        match value:
            case Proved():
                other = replace(value, vacuous=not value.vacuous)
            case Refuted(run):
                other = Proved(None, run, False, "", None, "a guess")
            case _:
                other = Undecided(OutOfTime(1.0), 3)
        place.change("UPDATE answers SET answer = ? WHERE key = ?", stored(other), key)
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert result.effort.reused == 0
    assert "altered" in place.said


@pytest.mark.parametrize("column", ["answer", "texts", "seal", "limit_s", "kind"])
def test_no_column_can_be_altered(place: Place, column: str) -> None:
    place.judged()
    new: object = {"limit_s": 1e9, "kind": "chain"}.get(column, b"\x00" * 32)
    place.change(f"UPDATE answers SET {column} = ?", new)
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert result.effort.reused == 0


def test_answers_cannot_change_places(place: Place) -> None:
    place.judged()
    with closing(sqlite3.connect(place.file)) as base, base:
        everything = list(base.execute("SELECT * FROM answers ORDER BY key"))
        base.execute("DELETE FROM answers")
        keys = [row[0] for row in everything]
        for key, row in zip([*keys[1:], keys[0]], everything, strict=True):
            base.execute("INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?, ?)", (key, *row[1:]))
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert result.effort.reused == 0


def test_what_another_user_kept_is_not_believed(place: Place, tmp_path: Path) -> None:
    place.judged()
    place.key_folder = tmp_path / "another key"
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert result.effort.reused == 0


def test_a_wrong_proof_under_our_own_seal_is_found_when_it_is_checked(place: Place) -> None:
    """As a fault of an older prover would leave it: sealed, and its certificate worth nothing."""
    broken = the_job(JOB.replace("wait 60 s", "wait 61 s"))
    cache = Cache(place.folder, place.key_folder)
    plan = proving_plan(broken)
    for obligation in plan:
        certificate = next(
            v.certificate
            for r, v, _ in fresh().verdicts
            if r.name == "dark_after" and isinstance(v, Proved)
        )
        if obligation.kind == "verdict":
            cache.keep(obligation, Proved(certificate, None, False, "", None, "a guess"), 60.0)
    cache.close()
    result = place.judged(broken, recheck=1.0)
    found = {r.name: v for r, v, _ in result.verdicts}
    assert isinstance(found["dark_after"], Refuted)
    assert result.effort.refused
    assert place.judged(broken).effort.refused == 0


def test_a_wrong_proof_is_found_while_others_are_at_work_and_all_is_proved_afresh(
    place: Place,
) -> None:
    """Some of it was kept, some is open and begun on: what was begun is not lost, nor told twice."""
    edited = the_job(JOB.replace("wait 30 s", "wait 31 s"))
    place.judged()
    cache = Cache(place.folder, place.key_folder)
    certificate = next(
        v.certificate
        for r, v, _ in fresh().verdicts
        if r.name == "comes_back" and isinstance(v, Proved)
    )
    for obligation in proving_plan(edited):
        if any(one.requirement.name == "dark_after" for one in obligation.asked):
            cache.keep(obligation, Proved(certificate, None, False, "", None, "a guess"), 60.0)
    cache.close()
    told: list[str] = []
    cache = Cache(place.folder, place.key_folder)
    result = prove_job(
        edited,
        edited.requirements,
        ProofOptions(cache=cache, recheck=1.0, workers=2),
        lambda requirement, *_: told.append(requirement.name),
    )
    cache.close()
    plainly = prove_job(edited, edited.requirements, ProofOptions(), lambda *_: None)
    assert result.effort.refused
    assert result.effort.reused == 0
    assert verdicts(result) == verdicts(plainly)
    assert sorted(told) == sorted(r.name for r in edited.requirements)


def proving_plan(job: Job) -> list[Obligation]:
    plan = Plan(job, twins=True)
    plan.ask_all((), job.requirements, ())
    return plan.obligations


def test_a_run_that_was_kept_is_played_again(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.judged()
    played: list[str] = []
    honest = whole.replay_on_whole

    def seen(job: Job, requirement: object, *rest: object) -> None:
        played.append(getattr(requirement, "name", ""))
        honest(job, requirement, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("verifier.proof.renaming.replay_on_whole", seen)
    place.judged()
    assert sorted(played) == ["can_be", "longest", "too_soon"]


# ---------------------------------------------------------------- in trouble


def test_a_damaged_file_is_put_aside(place: Place) -> None:
    place.folder.mkdir()
    place.file.write_bytes(b"no database at all" * 500)
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert "damaged" in place.said
    assert place.judged().effort.reused == 5


def test_a_file_damaged_inside_does_no_harm(place: Place) -> None:
    place.judged()
    data = bytearray(place.file.read_bytes())
    data[4096:] = b"\xff" * (len(data) - 4096)
    place.file.write_bytes(bytes(data))
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert place.said


def test_a_locked_file_is_done_without(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.judged()
    monkeypatch.setattr(caching, "LOCKED_S", 0.05)
    with closing(sqlite3.connect(place.file, isolation_level=None)) as base:
        base.execute("PRAGMA locking_mode = EXCLUSIVE")
        base.execute("BEGIN EXCLUSIVE")
        result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert "locked" in place.said


def test_no_folder_to_write_to_is_done_without(place: Place) -> None:
    place.folder.write_text("a file in its place", encoding="utf-8")
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert place.said


def test_a_full_disk_is_done_without(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    honest = Cache._connected

    def small(cache: Cache) -> sqlite3.Connection:
        base = honest(cache)
        base.execute("PRAGMA max_page_count = 3")
        return base

    monkeypatch.setattr(Cache, "_connected", small)
    result = place.judged()
    assert verdicts(result) == verdicts(fresh())
    assert "full" in place.said


# ---------------------------------------------------------------- undecided, killed


def test_undecided_holds_only_for_as_much_time(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("verifier.proof.decide.decide", lambda *_: Undecided(OutOfTime(10.0), 3))
    place.judged(time_limit_s=10.0)
    assert place.judged(time_limit_s=10.0).effort.reused == 5
    assert place.judged(time_limit_s=5.0).effort.reused == 5
    monkeypatch.undo()
    more = place.judged(time_limit_s=60.0)
    assert more.effort.reused == 0
    assert verdicts(more) == verdicts(fresh())


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_killed_run_loses_nothing_that_was_proved(place: Place, tmp_path: Path) -> None:
    text = ["typical room", "  setting run_on 1 min", "  detector pir", "  lamp light 10 W"]
    text += ["  rule walk", "    retriggerable", "    upon pir becomes occupied", "    do"]
    text += ["      light on", "      wait run_on", "      light off", "  end rule"]
    text += [
        "  require off_again",
        "    after last pir becomes occupied: light is off within run_on",
    ]
    text += ["  end require", "end typical"]
    text += [f"apply room to room_{n} with run_on {60 + n} s" for n in range(60)]
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.dusk").write_text("\n".join(text) + "\n", encoding="utf-8")
    environment = {**os.environ, "DUSKPROOF_CACHE": "", "XDG_STATE_HOME": str(tmp_path / "key")}
    command = [sys.executable, "-m", "verifier.front.command", "prove", str(folder)]
    command += ["--cache", str(place.folder), "--workers", "1"]
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    until = time.monotonic() + 60
    while time.monotonic() < until and process.poll() is None and kept(place) < 10:
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()
    before = kept(place)
    assert 10 <= before < 60
    place.key_folder = tmp_path / "key" / "duskproof"
    job = the_job("\n".join(text) + "\n")
    result = place.judged(job, structure=False)
    assert place.said == ""
    assert result.effort.reused == before
    assert len(result.verdicts) == 60
    assert all(isinstance(v, Proved) for _, v, _ in result.verdicts)


def kept(place: Place) -> int:
    """How many verdicts a cache holds, as another process sees it."""
    if not place.file.exists():
        return 0
    try:
        with closing(sqlite3.connect(place.file)) as base:
            asked = "SELECT COUNT(*) FROM answers WHERE kind = 'verdict'"
            return int(base.execute(asked).fetchone()[0])
    except sqlite3.OperationalError:  # the table is not there yet
        return 0


def test_what_is_no_answer_is_not_stored() -> None:
    with pytest.raises(NotStored):
        stored(the_job())
    for data in (b"", b"x", stored("a")[:-3]):
        with pytest.raises(NotStored):
            restored(data)


def test_the_key_changes_with_the_prover(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.judged()
    monkeypatch.setattr(caching, "prover", lambda: "another one")
    assert place.judged().effort == Effort(distinct=5)


# ---------------------------------------------------------------- what lies outside the prover

SITE = """\
site "Yard"
  latitude 51.5 deg
  longitude 0 deg
  timezone "Europe/London"
end site
lamp light "Light" 10 W
rule at_noon
  upon at 12:00 provided night
  do
    light on
end rule
require never_by_day
  never: night and between 12:00 and 13:00
end require
require stays_dark
  never: light is on
end require
"""


def test_what_was_proved_of_another_calendar_is_not_believed(tmp_path: Path) -> None:
    """Rules of a time zone change with the machine's updates; here London goes by Tokyo's clock."""
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "job.dusk").write_text(SITE)
    changed = tmp_path / "zones" / "Europe" / "London"
    changed.parent.mkdir(parents=True)
    tokyo = resources.files("tzdata").joinpath("zoneinfo", "Asia", "Tokyo")
    changed.write_bytes(tokyo.read_bytes())
    found = []
    for zones in ("", str(tmp_path / "zones"), ""):
        environment = dict(os.environ, PYTHONTZPATH=zones, XDG_STATE_HOME=str(tmp_path / "state"))
        job, kept = str(tmp_path / "job"), str(tmp_path / "kept")
        command = ("prove", job, "--cache", kept, "--years", "2026-2026")
        ended = subprocess.run(
            (sys.executable, "-m", "verifier.front.command", *command, "--format", "json"),
            env=environment,
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        told = json.loads(ended.stdout)["requirements"]
        found.append([requirement["verdict"] for requirement in told])
    assert found == [["proved", "proved"], ["refuted", "refuted"], ["proved", "proved"]]
