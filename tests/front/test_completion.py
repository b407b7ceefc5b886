"""`duskproof completion`: what a shell offers, asked as the shells ask; and bash itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command
from verifier.front.command import cli

PROGRAM = "from verifier.front.command import main; main()"


def offered(*words: str) -> list[tuple[str, str]]:
    """What is offered for the last word: (kind, value)."""
    result = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={
            **os.environ,
            "COMP_WORDS": " ".join(("duskproof", *words)),
            "COMP_CWORD": str(len(words)),
            "_DUSKPROOF_COMPLETE": "bash_complete",
        },
    )
    assert result.stderr == ""
    pairs = (line.partition(",") for line in result.stdout.splitlines() if line)
    return [(kind, value) for kind, _, value in pairs]


def test_commands_and_options_are_offered() -> None:
    import click

    names = cli.list_commands(click.Context(cli))
    assert [value for _, value in offered("")] == names
    assert offered("wat") == [("plain", "watch")]
    assert ("plain", "--each-fault") in offered("prove", "--e")
    assert offered("prove", "x", "--format", "") == [("plain", "text"), ("plain", "json")]
    assert offered("completion", "") == [("plain", "bash"), ("plain", "zsh"), ("plain", "fish")]


def test_folders_are_offered_and_then_the_names_in_their_job() -> None:
    assert offered("prove", "spe") == [("dir", "spe")]
    assert offered("prove", "specs/stair", "--only", "") == [
        ("plain", name) for name in requirements("specs/stair")
    ]
    assert offered("read-back", "specs/boathouse", "--only", "fan_r") == [("plain", "fan_run")]
    assert offered("graph", "specs/boathouse", "--rule", "be") == [
        ("plain", "bench_light"),
        ("plain", "beacon_reset"),
    ]
    assert offered("prove", "specs/nowhere", "--only", "") == []
    assert offered("prove", "--only", "") == []


def requirements(folder: str) -> list[str]:
    """The names, read in another way: line by line."""
    lines = (ROOT / folder / "promises.dusk").read_text("utf-8").splitlines()
    return [line.split()[1] for line in lines if line.startswith("require ")]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_accepts_what_is_printed(
    shell: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert command.run(["completion", shell]) == 0
    text = capsys.readouterr().out
    assert f"_DUSKPROOF_COMPLETE={shell}_complete" in text
    assert "duskproof" in text
    found = shutil.which(shell)
    if found is None:
        pytest.skip(f"{shell} is not installed (apt-get install {shell})")
    file = tmp_path / "completion"
    file.write_text(text, "utf-8")
    result = subprocess.run([found, "-n", str(file)], capture_output=True, text=True, check=False)
    assert (result.returncode, result.stderr) == (0, "")


def test_bash_completes_a_command(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("bash is not installed (apt-get install bash)")
    assert command.run(["completion", "bash"]) == 0
    (tmp_path / "completion").write_text(capsys.readouterr().out, "utf-8")
    (tmp_path / "duskproof").write_text(
        f"#!/bin/sh\nexec {sys.executable} -c '{PROGRAM}'\n", "utf-8"
    )
    (tmp_path / "duskproof").chmod(0o755)
    script = (
        f"source {tmp_path / 'completion'}; COMP_WORDS=(duskproof read); COMP_CWORD=1; "
        f"_duskproof_completion {tmp_path / 'duskproof'}; echo ${{COMPREPLY[@]}}; "
        "complete -p duskproof"
    )
    result = subprocess.run(
        [bash, "-c", script],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert result.stdout.split("\n")[0] == "read-back"
    assert "-F _duskproof_completion duskproof" in result.stdout


def test_completing_loads_no_solver_and_no_command_that_is_not_used() -> None:
    program = (
        "import sys\nfrom verifier.front.command import run\n"
        "try:\n    run([])\nexcept SystemExit:\n    pass\n"
        "print([m for m in sys.modules if m in ('z3', 'cvc5', 'rich') or 'front.command_' in m])"
    )
    result = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={
            **os.environ,
            "COMP_WORDS": "duskproof ",
            "COMP_CWORD": "1",
            "_DUSKPROOF_COMPLETE": "bash_complete",
        },
    )
    assert result.stdout.splitlines()[-1] == "[]"
