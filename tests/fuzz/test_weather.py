"""Bad weather: interrupted at any moment, starved of memory, solvers that hang or lie, links, long paths.

Whatever happens: an exit code of the contract, no traceback, nothing written but what was asked.
"""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.meaning.test_by_hand import LIT
from verifier.front.command import run
from verifier.front.reason import undecided_words
from verifier.proof import ProofOptions, checker, prove_job
from verifier.proof.solvers import Answer
from verifier.proof.verdict import Undecided

ROOT = Path(__file__).parents[2]
BOATHOUSE = ROOT / "specs" / "boathouse"
PROVE = [sys.executable, "-m", "verifier.front.command", "prove"]

JOB = f"""{LIT}require off_again
  after last push pressed: light is off within 30 s
end require
require lit_at_all
  possible: light is on
end require
"""


def a_job(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "a.dusk").write_text(JOB, encoding="utf-8")
    return folder


# ---------------------------------------------------------------- interrupted


@pytest.mark.skipif(os.name != "posix", reason="sends SIGINT, which Windows has not")
@pytest.mark.parametrize("after_ms", [20, 60, 120, 200, 300, 450, 600, 900])
def test_ctrl_c_at_any_moment_ends_cleanly(after_ms: int, tmp_path: Path) -> None:
    """A real terminal sends SIGINT to the whole group of processes."""
    process = subprocess.Popen(
        [*PROVE, str(BOATHOUSE), "--certificates", str(tmp_path / "c"), "--workers", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(after_ms / 1000)
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    # In the first moments Python itself is not up yet, and says so in its own way.
    if process.returncode == -signal.SIGINT or "verifier" not in err + out:
        return
    assert process.returncode in (0, 130), err
    assert "Traceback" not in out + err
    assert nobody_left(process.pid)


def nobody_left(group: int) -> bool:
    """Whether no process of the group is there any more, within some seconds."""
    for _ in range(50):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        except PermissionError:
            pass
        time.sleep(0.1)
    return False


# ---------------------------------------------------------------- starved


@pytest.mark.skipif(sys.platform != "linux", reason="RLIMIT_AS works as asked on Linux alone")
@pytest.mark.parametrize("megabytes", [120, 200, 300, 450, 700])
def test_too_little_memory_is_no_verdict_and_no_traceback(megabytes: int) -> None:
    ended = subprocess.run(
        ["sh", "-c", f'ulimit -v {megabytes * 1024}; exec "$@"', "sh", *PROVE, str(BOATHOUSE)],
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    said = ended.stdout + ended.stderr
    assert ended.returncode in (0, 3, 70), said[-2000:]
    assert "Traceback" not in said
    if ended.returncode == 0:
        assert "19 proved" in said


def test_a_full_disk_is_told_and_the_verdicts_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(self: Path, *_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    job = a_job(tmp_path / "job")
    monkeypatch.setattr(Path, "write_text", full)
    assert run(["prove", str(job), "--certificates", str(tmp_path / "c")]) == 2
    out = capsys.readouterr().out
    assert "no space left on device" in out
    assert "PROVED  off_again" in out


# ---------------------------------------------------------------- solvers that hang or lie


def hang(*_: object) -> Answer:
    time.sleep(600)
    return Answer.UNSAT


def give_up(*_: object) -> Answer:
    raise MemoryError("out of memory")


@pytest.mark.parametrize(
    ("solver", "answer"), [(hang, "stopped at its limit"), (give_up, "memory")]
)
def test_a_solver_that_hangs_or_is_starved_leaves_the_others_unharmed(
    monkeypatch: pytest.MonkeyPatch, solver: object, answer: str
) -> None:
    from tests.proof.test_left_out import job_of

    monkeypatch.setattr(checker, "check_with_cvc5", solver)
    job = job_of(JOB)
    options = ProofOptions(time_limit_s=1.0, workers=2)
    result = prove_job(job, job.requirements, options, lambda *_: None)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
    undecided = verdicts["off_again"]
    assert isinstance(undecided, Undecided)
    assert answer in undecided_words(undecided.reason)
    assert type(verdicts["lit_at_all"]).__name__ == "Proved"  # by a run


@pytest.mark.parametrize("lie", [Answer.SAT, Answer.BROKEN])
def test_solvers_that_disagree_are_the_tools_own_fault(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    lie: Answer,
) -> None:
    monkeypatch.setattr(checker, "check_with_cvc5", lambda *_: lie)
    assert run(["prove", str(a_job(tmp_path)), "--only", "off_again"]) == 70
    said = capsys.readouterr()
    assert "PROVED" not in said.out
    assert "Traceback" not in said.out + said.err


# ---------------------------------------------------------------- paths, links, and who writes where


def snapshot(folder: Path) -> dict[str, tuple[float, int]]:
    return {
        str(path.relative_to(folder)): (path.lstat().st_mtime, path.lstat().st_size)
        for path in folder.rglob("*")
        if "__pycache__" not in path.parts
    }


def test_nothing_is_written_but_what_was_asked(tmp_path: Path) -> None:
    """Home, working folder, job: all as before; certificates in their folder alone."""
    home, job, work = tmp_path / "home", a_job(tmp_path / "job"), tmp_path / "work"
    home.mkdir()
    work.mkdir()
    before = snapshot(tmp_path)
    environment = {**os.environ, "HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1"}
    environment["PYTHONPATH"] = str(ROOT)
    for arguments in (
        [*PROVE, str(job)],
        [*PROVE, str(job), "--format", "json", "--certificates", str(tmp_path / "asked")],
        [*PROVE[:-1], "graph", str(job)],
        [*PROVE[:-1], "try", str(BOATHOUSE)],
        [*PROVE[:-1], "check-certificate", str(tmp_path / "asked"), "--rules", str(job)],
    ):
        ended = subprocess.run(
            arguments, cwd=work, env=environment, capture_output=True, timeout=120, check=False
        )
        assert ended.returncode == 0, ended
    after = {k: v for k, v in snapshot(tmp_path).items() if k.split(os.sep)[0] != "asked"}
    after_files = {k: v for k, v in after.items() if not (tmp_path / k).is_dir()}
    assert after_files == {k: v for k, v in before.items() if not (tmp_path / k).is_dir()}


def test_two_processes_may_write_the_same_certificates(tmp_path: Path) -> None:
    job = a_job(tmp_path / "job")
    both = [
        subprocess.Popen(
            [*PROVE, str(job), "--certificates", str(tmp_path / "c")], stdout=subprocess.DEVNULL
        )
        for _ in range(2)
    ]
    assert [process.wait(timeout=120) for process in both] == [0, 0]
    assert run(["check-certificate", str(tmp_path / "c"), "--rules", str(job)]) == 0


@pytest.mark.skipif(os.name != "posix", reason="links need rights on Windows")
def test_links_that_go_round_or_nowhere_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    round_, nowhere = tmp_path / "round", tmp_path / "nowhere"
    for folder in (round_, nowhere):
        a_job(folder)
    (round_ / "b.dusk").symlink_to(round_ / "c.dusk")
    (round_ / "c.dusk").symlink_to(round_ / "b.dusk")
    (nowhere / "b.dusk").symlink_to(tmp_path / "gone")
    (tmp_path / "self").symlink_to(tmp_path / "self")
    for folder in (round_, nowhere, tmp_path / "self"):
        assert run(["prove", str(folder)]) == 2
        captured = capsys.readouterr()
        assert "do: " in captured.out
        assert "Traceback" not in captured.out + captured.err


@pytest.mark.parametrize("path", ["x" * 5_000, "/".join(["y" * 100] * 60), "a\0b", "\udc80"])
def test_paths_that_no_disk_has_are_told(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["prove", path], ["graph", path], ["try", path], ["check-certificate", path]):
        assert run(arguments) == 2
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        assert len(captured.out) < 30_000


def test_a_clock_that_jumps_moves_no_limit() -> None:
    """Limits are kept by a clock that only goes on; the time of day is read nowhere."""
    for path in (ROOT / "verifier").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\btime\.time\(|datetime\.(now|today|utcnow)\(", text), path
