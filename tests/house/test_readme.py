"""What the README shows is what comes out."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

from click import Command, Context, Group

from tests.check import ROOT
from verifier.front.command import BESIDE, cli

README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.search(
    r"<!-- failing case: begin -->\n```\n\$ ([^\n]+)\n(.*?)```\n<!-- failing case: end -->",
    README,
    re.DOTALL,
)


def test_the_failing_case_is_the_real_output_of_the_command_beside_it() -> None:
    """If it has changed for the better, put the new output into the README."""
    assert SHOWN is not None
    words = shlex.split(SHOWN[1])
    assert words[0] == "duskproof"
    result = subprocess.run(
        [sys.executable, "-m", "verifier.front.command", *words[1:]],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, "COLUMNS": "100"},
    )
    assert result.returncode == 1
    assert result.stdout == SHOWN[2]


def test_the_script_plays_and_prints_what_is_shown_below_it(tmp_path: Path) -> None:
    """If it has changed for the better, put the new output into the README."""
    (tmp_path / "porch.run").write_text(_between("script"), encoding="utf-8")
    command = ["-m", "verifier.front.command", "try", "specs/boathouse"]
    result = subprocess.run(
        [sys.executable, *command, str(tmp_path / "porch.run")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, "COLUMNS": "100"},
    )
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout == _between("played")


def _between(mark: str) -> str:
    found = re.search(
        rf"<!-- {mark}: begin -->\n```\n(.*?)```\n<!-- {mark}: end -->", README, re.DOTALL
    )
    assert found is not None
    return found[1]


def test_both_commands_do_all_set_up_and_their_folders_exist() -> None:
    lines = [line for line in README.split("\n") if line.startswith("python3 -m venv")]
    set_up = "python3 -m venv .venv && .venv/bin/pip install -e '.[dev]' && "
    assert [line.removeprefix(set_up) for line in lines] == [
        ".venv/bin/duskproof prove specs/boathouse",
        ".venv/bin/pytest -n auto",
    ]
    assert (ROOT / "specs" / "boathouse").is_dir()


def test_ci_runs_the_test_command_of_the_readme_and_the_check_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert '"$bin/pytest" -n auto' in script
    assert "-m tests.check" in script


def test_every_command_and_option_is_in_the_readme_and_no_others() -> None:
    told = set(re.findall(r"`duskproof ([\w-]+)", README))
    assert isinstance(cli, Group)
    commands: dict[str, Command] = dict(cli.commands)
    assert set(commands) <= told <= {*commands, *BESIDE}
    beside = ((name, cli.get_command(Context(cli), name)) for name in BESIDE)
    commands |= {name: command for name, command in beside if command is not None}
    options = {
        option
        for command in (cli, *commands.values())
        for parameter in command.params
        for option in parameter.opts
        if option.startswith("--")
    }
    of_others = {"--version", "--help"}
    assert set(re.findall(r"--[a-z][a-z-]*", README)) - of_others - options == set()
    assert {"--only", "--ask", "--format", "--certificates", "--strict", "--time-limit"} <= options
