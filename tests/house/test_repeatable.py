"""The same input gives the same output to the byte, but for the seconds that it took.

Whatever seed the hashes have, however many workers there are, and whatever ran before.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from verifier.front.command import run

ROOT = Path(__file__).parents[2]
JOBS = [str(ROOT / "specs" / name) for name in ("boathouse-first-draft", "boathouse", "washroom")]


def without_seconds(text: str) -> str:
    """The JSON text with every time that it took put to 0."""

    def still(value: Any) -> Any:
        match value:
            case dict():
                return {k: 0 if k == "seconds" else still(v) for k, v in value.items()}
            case list():
                return [still(item) for item in value]
            case _:
                return value

    return json.dumps(still(json.loads(text)))


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def came_out(folder: Path, hash_seed: str, workers: int) -> tuple[str, dict[str, bytes]]:
    """Result and certificates of a process of its own."""
    arguments = ["prove", *JOBS, "--format", "json", "--workers", str(workers)]
    ended = subprocess.run(
        [sys.executable, "-m", "verifier.front.command", *arguments, "--certificates", str(folder)],
        env={**os.environ, "PYTHONHASHSEED": hash_seed},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ended.returncode == 1, ended.stderr
    return without_seconds(ended.stdout), files_of(folder)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, bytes]]:
    return came_out(tmp_path_factory.mktemp("first"), "0", 1)


@pytest.mark.parametrize(("hash_seed", "workers"), [("1", 2), ("2", 5)])
def test_seed_and_workers_change_nothing(
    first: tuple[str, dict[str, bytes]], tmp_path: Path, hash_seed: str, workers: int
) -> None:
    told, files = came_out(tmp_path, hash_seed, workers)
    assert told == first[0]
    assert list(files) == list(first[1])
    assert files == first[1]


def test_earlier_runs_change_nothing(
    first: tuple[str, dict[str, bytes]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["prove", JOBS[2]])
    for number in range(2):
        capsys.readouterr()
        target = tmp_path / str(number)
        run(["prove", *JOBS, "--format", "json", "--workers", "1", "--certificates", str(target)])
        assert without_seconds(capsys.readouterr().out) == first[0]
        assert files_of(target) == first[1]


def test_text_and_graph_repeat_too() -> None:
    """Where no time is told, the whole text is the same."""

    def said(seed: str, *arguments: str) -> bytes:
        return subprocess.run(
            [sys.executable, "-m", "verifier.front.command", *arguments],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            timeout=300,
            check=False,
        ).stdout

    for arguments in (
        ("prove", JOBS[0]),
        ("graph", JOBS[0]),
        ("graph", JOBS[0], "--format", "dot"),
        ("graph", JOBS[0], "--format", "mermaid"),
        ("try", str(ROOT / "specs" / "boathouse")),
        ("codes",),
    ):
        assert said("1", *arguments) == said("2", *arguments)
