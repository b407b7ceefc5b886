"""A real cluster of several worker processes: the same answers to the byte, workers lost or not."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from verifier.front.command import run

dask = pytest.importorskip("distributed")

ROOT = Path(__file__).parents[2]

ROOMS = 24


def job() -> str:
    """A typical applied with another figure in each room, so that no two slices are alike."""
    lines = ["typical room", "  setting run_on 1 min", "  detector pir", "  lamp light 10 W"]
    lines += ["  rule walk", "    retriggerable", "    upon pir becomes occupied", "    do"]
    lines += ["      light on", "      wait run_on", "      light off", "  end rule"]
    lines += ["  require off", "    after last pir becomes occupied: light is off within run_on"]
    lines += ["  end require", "  require too_soon"]
    lines += ["    after last pir becomes occupied: light is off within 50 s"]
    lines += ["  end require", "  require longest"]
    lines += ["    measure longest: light is on after last pir becomes occupied"]
    lines += ["  end require", "end typical"]
    lines += [f"apply room to room_{n} with run_on {60 + n} s" for n in range(ROOMS)]
    return "\n".join(lines) + "\n"


@dataclass
class Started:
    """A scheduler and its workers, each a process of its own."""

    address: str
    workers: list[subprocess.Popen[bytes]]


ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def process(*words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_" + words[0], *words[1:]],
        cwd=ROOT,
        env=ENVIRONMENT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )


@pytest.fixture(autouse=True)
def key_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platformdirs.user_state_path", lambda *_, **__: tmp_path / "state")


@pytest.fixture
def cluster() -> Iterator[Started]:
    scheduler = process(
        "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-show"
    )
    workers: list[subprocess.Popen[bytes]] = []
    try:
        address = ""
        assert scheduler.stderr is not None
        for line in scheduler.stderr:
            found = re.search(rb"(tcp://127\.0\.0\.1:\d+)", line)
            if found:
                address = found[1].decode()
                break
        assert address
        options = ("--nthreads", "1", "--no-dashboard", "--no-nanny", "--memory-limit", "0")
        workers = [process("worker", address, *options) for _ in range(3)]
        with dask.Client(address, timeout=30, set_as_default=False) as client:
            client.wait_for_workers(3, timeout=60)
        yield Started(address, workers)
    finally:
        for each in (*workers, scheduler):
            if each.poll() is None:
                os.killpg(each.pid, signal.SIGKILL)
            each.wait()
            if each.stderr is not None:
                each.stderr.close()


def told(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = run(["prove", str(folder), *words])
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "job"
    made.mkdir()
    (made / "job.dusk").write_text(job(), encoding="utf-8")
    return made


def certificates(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.filterwarnings("default")
def test_three_workers_one_of_them_killed_say_what_one_process_says(
    cluster: Started, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    alone = told(folder, capsys, "--workers", "1", "--certificates", str(here))
    assert alone[0] == 1
    kill = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import os, signal, sys, time; time.sleep(1.0); os.killpg(int(sys.argv[1]), signal.SIGKILL)",
            str(cluster.workers[1].pid),
        ]
    )
    words = ("--cluster", cluster.address, "--certificates", str(there))
    began = time.monotonic()
    spread = told(folder, capsys, *words, "--cache", str(tmp_path / "cache"))
    assert kill.wait() == 0
    assert time.monotonic() - began > 1.0, "it was over before a worker was killed"
    assert cluster.workers[1].wait(10) == -signal.SIGKILL
    assert spread == alone
    assert certificates(there) == certificates(here)
    # The sender kept all of it: the cluster is not asked again, it may even be gone.
    for each in cluster.workers:
        if each.poll() is None:
            os.killpg(each.pid, signal.SIGKILL)
    assert told(folder, capsys, *words, "--cache", str(tmp_path / "cache")) == alone


@pytest.mark.filterwarnings("default")
def test_a_cluster_without_workers_is_told(
    cluster: Started, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for each in cluster.workers:
        os.killpg(each.pid, signal.SIGKILL)
        each.wait()
    time.sleep(1.0)
    code, out, _ = told(folder, capsys, "--cluster", cluster.address)
    assert code == 2
    assert "no-cluster" in out
    assert "no workers" in out


@pytest.mark.filterwarnings("default")
def test_nothing_at_the_address_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("verifier.proof.cluster.CONNECT_S", 0.5)
    for address in ("tcp://127.0.0.1:9", "nonsense", "tcp://", ":::"):
        code, out, err = told(folder, capsys, "--cluster", address)
        assert code == 2, address
        assert "no-cluster" in out
        assert "Traceback" not in out + err
