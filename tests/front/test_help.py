"""The help of every command teaches with an example, and the example does what it says."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest

from tests.check import ROOT
from verifier.front.command import cli, run

CONTEXT = click.Context(cli)
NAMES = cli.list_commands(CONTEXT)

STAY = frozenset({"watch", "play", "serve-editor"})
"""Commands that go on until they are ended: of their examples the words alone are read."""


def command_called(name: str) -> click.Command:
    found = cli.get_command(CONTEXT, name)
    assert found is not None
    return found


def help_of(name: str, capsys: pytest.CaptureFixture[str]) -> str:
    assert run([name, "--help"]) == 0
    return capsys.readouterr().out


def examples(text: str) -> list[list[str]]:
    """The lines of a paragraph that has nothing but commands (and ``Example:``), as words."""
    found: list[list[str]] = []
    for paragraph in text.split("\n\n"):
        lines = [line.strip() for line in paragraph.strip().splitlines()]
        lines = [line for line in lines if line != "Example:"]
        if lines and all(line.startswith("duskproof ") for line in lines):
            for line in lines:
                found += [shlex.split(each) for each in line.split(" && ")]
    return found


@pytest.mark.parametrize("name", NAMES)
def test_the_example_in_every_help_runs(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit code 0, or 1 where the example is about something that fails; never 2, 3 or 70."""
    text = help_of(name, capsys)
    lines = examples(text)
    assert lines, f"`duskproof {name} --help` shows no example"
    assert lines[-1][1] == name
    if name in STAY:
        command_called(name).make_context(name, lines[-1][2:])
        return
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    shutil.copytree(ROOT / "specs", "specs")
    if name == "new":
        shown = [line for line in text.split("\n") if re.match(r"\s+[a-z_]+ = ", line)]
        Path("cellar.toml").write_text("\n".join(shown), "utf-8")
    for words in lines:
        assert words[0] == "duskproof"
        code = run(words[1:])
        out, err = capsys.readouterr()
        assert code in (0, 1), (words, out, err)
        for place, word in enumerate(words[:-1]):
            if word == "-o":
                assert Path(words[place + 1]).stat().st_size > 0


@pytest.mark.parametrize("name", NAMES)
def test_help_says_in_its_first_line_what_the_list_of_commands_says_and_fits(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = help_of(name, capsys)
    assert all(len(line) <= 80 for line in text.splitlines()), text
    assert not any(option.help is None for option in options(name)), name
    assert command_called(name).get_short_help_str(200)


def options(name: str) -> list[click.Option]:
    """The options of a command whose names alone do not say what they are."""
    found = [each for each in command_called(name).params if isinstance(each, click.Option)]
    return [each for each in found if "--format" not in each.opts]
