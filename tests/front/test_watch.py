"""`duskproof watch`: what an edit has changed is told, and no more; a save cuts a proof short."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command
from verifier.front.command_watch import watch
from verifier.front.watched import CutShort, Look, cut_short_by_change, look_at, wait_for_change
from verifier.workbench import Workbench

JOB = """\
button push "Push-button"
lamp porch "Porch light"
lamp hall "Hall light"

rule porch_run "Porch light for a minute"
  retriggerable
  upon push pressed
  do
    porch on
    wait 1 min
    porch off
end rule

require porch_short "Never longer than a minute after the last press"
  after last push pressed: porch is off within 1 min
end require

require hall_dark "The hall stays dark"
  never: hall is on
end require
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "place"
    path.mkdir()
    (path / "job.dusk").write_text(JOB, "utf-8")
    return path


def told(
    folder: Path, edits: list[Callable[[], object]], capsys: pytest.CaptureFixture[str]
) -> list[str]:
    """What is said after each edit, without the clock; the first of it at the beginning."""
    left = iter(edits)
    said: list[str] = []

    def next_look(path: Path, seen: Look | None) -> Look | None:
        said.append(capsys.readouterr().out)
        edit = next(left, None)
        if edit is None:
            raise KeyboardInterrupt
        edit()
        return look_at(path)

    with Workbench("place") as bench, pytest.raises(KeyboardInterrupt):
        watch(str(folder), bench, next_look)
    return [said[0], *(text.partition("  ")[2] for text in said[1:])]


def test_only_what_an_edit_changes_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = folder / "job.dusk"

    def put(old: str, new: str) -> Callable[[], object]:
        return lambda: file.write_text(file.read_text("utf-8").replace(old, new), "utf-8")

    def both() -> None:
        (folder / "more.dusk").unlink()
        put("wait 2 min", "wait 1 min")()

    first, longer, wrong, mended, same, more, less = told(
        folder,
        [
            put("wait 1 min", "wait 2 min"),
            put("end rule", "end rool"),
            put("end rool", "end rule"),
            lambda: os.utime(file, ns=(1, 1)),
            lambda: (folder / "more.dusk").write_text(
                "require lit\n  possible: porch is on\nend require\n", "utf-8"
            ),
            both,
        ],
        capsys,
    )
    assert first.startswith(f"Watching {folder}: 1 file. Ctrl-C ends it.\n\n")
    assert "\n2 requirements: 2 proved." in first
    assert "porch_short" not in first

    assert longer.startswith("job.dusk changed\n\n✗ REFUTED  porch_short")
    assert "(was proved)\n" in longer
    assert "1 min  " in longer
    assert "hall_dark" not in longer
    assert "2 requirements: 1 proved, 1 refuted." in longer
    assert "1 as before, 1 question asked anew." in longer

    assert "[missing-end]" in wrong
    assert "1 error: nothing is judged until it is mended." in wrong
    assert "PROVED" not in wrong

    assert "All as before, 0 questions asked anew." in mended
    assert "✗" not in mended
    assert same == "saved, and the same as before\n\n"
    assert more.startswith("more.dusk new\n")
    assert "PROVED  lit  (new)" in more
    assert "2 as before" in more
    assert less.startswith(
        "job.dusk changed; more.dusk gone\n\n✓ PROVED  porch_short  (was refuted)"
    )
    assert "No longer asked: lit." in less


def test_a_folder_that_goes_away_is_told_and_watched_further(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    away = folder.parent / "away"
    _, gone, back = told(folder, [lambda: folder.rename(away), lambda: away.rename(folder)], capsys)
    assert "job.dusk gone" in gone
    assert "[no-such-folder]" in gone
    assert "job.dusk new" in back
    assert "All as before" in back


def test_a_save_during_a_proof_begins_with_the_new_text(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    judge = Workbench.judge
    calls: list[str] = []

    def slow(self: Workbench, *given: object, **more: object) -> object:
        calls.append(self.sources.files[0].text)
        if len(calls) == 2:
            (folder / "job.dusk").write_text(JOB.replace("1 min", "3 min"), "utf-8")
            for _ in range(600):  # a proof that would take a minute
                time.sleep(0.1)
            raise AssertionError("the proof was not cut short")
        return judge(self, *given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Workbench, "judge", slow)
    longer = JOB.replace("wait 1 min", "wait 2 min")
    _, cut, after = told(
        folder, [lambda: (folder / "job.dusk").write_text(longer, "utf-8"), lambda: None], capsys
    )
    assert cut == "job.dusk changed\n\nChanged meanwhile: beginning again with the new text.\n\n"
    assert calls[1:] == [longer, JOB.replace("1 min", "3 min")]
    assert "All as before, 1 question asked anew." in after
    assert "job.dusk changed" in after


def test_work_is_cut_short_by_a_change_alone_and_ctrl_c_stays_ctrl_c(folder: Path) -> None:
    seen = look_at(folder)
    with cut_short_by_change(folder, seen) as cut:
        time.sleep(0.6)
    assert not cut()
    with pytest.raises(KeyboardInterrupt), cut_short_by_change(folder, seen):
        signal.raise_signal(signal.SIGINT)
    (folder / "new.dusk").write_text("", "utf-8")
    with pytest.raises(CutShort), cut_short_by_change(folder, seen):
        time.sleep(60)


def test_a_look_sees_texts_alone(folder: Path) -> None:
    seen = look_at(folder)
    assert seen is not None
    (folder / "notes.txt").write_text("x", "utf-8")
    (folder / ".job.dusk.part").write_text("x", "utf-8")
    assert look_at(folder) == seen
    (folder / "broken.dusk").symlink_to(folder / "nowhere")
    assert [name for name, _, _ in look_at(folder) or ()] == ["broken.dusk", "job.dusk"]
    assert look_at(folder / "nowhere") is None


def test_an_editor_may_write_in_several_steps(folder: Path) -> None:
    seen = look_at(folder)

    def steps() -> Iterator[None]:
        (folder / "job.dusk").unlink()
        yield
        (folder / "job.dusk").write_text(JOB[:30], "utf-8")
        yield
        (folder / "job.dusk").write_text(JOB, "utf-8")

    def write() -> None:
        for _ in steps():
            time.sleep(0.05)

    writer = threading.Thread(target=write)
    writer.start()
    now = wait_for_change(folder, seen)
    writer.join()
    assert now == look_at(folder)


def test_ctrl_c_ends_it_well_and_what_is_no_folder_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    program = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler);"
        "from verifier.front.command import run; sys.exit(run(sys.argv[1:]))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, "watch", str(folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("2 requirements: 2 proved."):
                break
        process.send_signal(signal.SIGINT)
        assert "No longer watched." in process.stdout.read()
    assert process.returncode == 0
    assert command.run(["watch", str(folder / "nowhere")]) == 2
    assert "[no-such-folder]" in capsys.readouterr().out
