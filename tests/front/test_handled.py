"""A trigger that finds its rule running shows in no point: table and JSON say what became of it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from verifier.front.command import run

RULE = """
rule glow
  {policy}
  upon push pressed
  do
    light on
    wait 10 s
    light off
end rule
"""

HEAD = 'button push "Push-button"\nbutton stop "Stop"\nlamp light "Light" 10 W\n'

PRESSED_TWICE = "at 0 s push pressed\nat 4 s push pressed\n"


def tried(folder: Path, job: str, script: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The table's lines of a script."""
    (folder / "job.dusk").write_text(job, encoding="utf-8")
    (folder / "a.run").write_text(script, encoding="utf-8")
    assert run(["try", str(folder)]) == 0
    return capsys.readouterr().out.splitlines()


def at(lines: list[str], moment: str) -> str:
    return next(line for line in lines if line.startswith(moment))


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        ("retriggerable", "glow: run started again"),
        ("non-retriggerable", "trigger of glow dropped: already running"),
    ],
)
def test_a_second_trigger_is_told_by_its_policy(
    policy: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = tried(tmp_path, HEAD + RULE.format(policy=policy), PRESSED_TWICE, capsys)
    assert words not in at(lines, "0 s")
    assert words in at(lines, "4 s")


def test_a_full_rule_drops_what_has_no_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = PRESSED_TWICE + "at 5 s push pressed\n"
    lines = tried(tmp_path, HEAD + RULE.format(policy="at once 2"), script, capsys)
    assert "dropped" not in at(lines, "4 s")
    assert "glow 2 running" in at(lines, "4 s")
    assert "trigger of glow dropped: already running" in at(lines, "5 s")


def test_a_trigger_that_waits_its_turn_is_not_called_dropped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = tried(
        tmp_path, HEAD + RULE.format(policy="at once 1, waiting 1"), PRESSED_TWICE, capsys
    )
    assert "dropped" not in "\n".join(lines)


def test_a_rule_that_was_cancelled_and_began_anew_is_not_called_dropped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cancel = "rule clear\n  upon push pressed\n  do\n    cancel glow\nend rule\n"
    job = HEAD + cancel + RULE.format(policy="non-retriggerable")
    lines = tried(tmp_path, job, PRESSED_TWICE, capsys)
    assert "dropped" not in "\n".join(lines)


def test_a_run_that_ends_at_the_same_moment_and_begins_anew_is_not_called_dropped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again = RULE.format(policy="non-retriggerable").replace(
        "upon push pressed", "upon push pressed\n  upon light becomes off"
    )
    lines = tried(tmp_path, HEAD + again, "at 0 s push pressed\nat 12 s stop pressed\n", capsys)
    # Its own `light off` comes while it still runs: the trigger is handled after the body.
    assert "dropped" not in at(lines, "10 s")


def test_of_a_typicals_rules_only_the_one_that_was_triggered_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = (
        "typical landing\n  button push\n  lamp light\n"
        + RULE.format(policy="retriggerable")
        + "end typical\napply landing to one, two\n"
    )
    script = "at 0 s one.push pressed\nat 1 s two.push pressed\nat 2 s one.push pressed\n"
    lines = tried(tmp_path, job, script, capsys)
    assert "one.glow: run started again" in at(lines, "2 s")
    assert "two.glow: run" not in "\n".join(lines)
    assert "again" not in at(lines, "1 s")


def test_a_failing_run_says_it_in_text_and_in_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    claim = "require lit\n  when push pressed: light is on for at least 10 s\nend require\n"
    text = HEAD + RULE.format(policy="non-retriggerable") + claim
    (tmp_path / "job.dusk").write_text(text, encoding="utf-8")
    assert run(["prove", str(tmp_path)]) == 1
    assert "dropped: already running" in capsys.readouterr().out
    assert run(["prove", str(tmp_path), "--format", "json"]) == 1
    (lit,) = json.loads(capsys.readouterr().out)["requirements"]
    handled = [step["handled"] for step in lit["counterexample"]["steps"]]
    assert {"glow": "dropped: already running"} in handled
    assert handled[0] == {}
