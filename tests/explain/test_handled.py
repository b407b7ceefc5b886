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


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row of the table is one line."""
    monkeypatch.setenv("COLUMNS", "160")


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


def test_a_trigger_that_waits_its_turn_is_told_and_the_one_that_has_no_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = PRESSED_TWICE + "at 5 s push pressed\nat 25 s stop pressed\n"
    lines = tried(tmp_path, HEAD + RULE.format(policy="at once 1, waiting 1"), script, capsys)
    assert "waits" not in at(lines, "0 s")
    assert "glow running, 1 waiting, trigger of glow waits its turn" in at(lines, "4 s")
    assert "trigger of glow dropped: all places taken" in at(lines, "5 s")
    # Its turn comes: nothing waits any more, and nothing was dropped.
    assert at(lines, "10 s").count("glow") == 2  # the wait that runs out, and `glow running`
    assert "waiting" not in at(lines, "10 s")


@pytest.mark.parametrize("policy", ["at once 2, oldest gives way", "at once 1, waiting 1"])
def test_two_presses_at_once_are_told_as_two_runs_or_as_one_that_waits(
    policy: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    twice = RULE.format(policy=policy).replace("upon push", "upon light becomes on\n  upon push")
    lines = tried(tmp_path, HEAD + twice, "at 0 s push pressed\n", capsys)
    assert ("waits its turn" in at(lines, "0 s")) == ("waiting" in policy)
    assert ("glow 2 running" in at(lines, "0 s")) == ("waiting" not in policy)


def test_the_oldest_run_that_gives_way_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rule = RULE.format(policy="at once 2, oldest gives way")
    script = PRESSED_TWICE + "at 5 s push pressed\nat 12 s stop pressed\n"
    lines = tried(tmp_path, HEAD + rule, script, capsys)
    assert "gave way" not in at(lines, "4 s")
    assert "glow: oldest run gave way" in at(lines, "5 s")
    # The first run is gone: the next that ends is the one of 4 s.
    assert not any(line.startswith("10 s") for line in lines)


def test_with_a_queue_the_oldest_run_gives_way_only_when_all_places_are_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rule = RULE.format(policy="at once 1, waiting 1, oldest gives way")
    script = PRESSED_TWICE + "at 5 s push pressed\nat 12 s stop pressed\n"
    lines = tried(tmp_path, HEAD + rule, script, capsys)
    assert "trigger of glow waits its turn" in at(lines, "4 s")
    assert "gave way" not in at(lines, "4 s")
    assert "glow: oldest run gave way" in at(lines, "5 s")


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
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
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


@pytest.mark.parametrize(
    ("policy", "outcome"),
    [
        ("at once 1, waiting 1", "waits its turn"),
        ("at once 2, oldest gives way", "oldest run gave way"),
    ],
)
def test_a_failing_run_says_in_json_who_waits_and_who_gave_way(
    policy: str, outcome: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    claim = "require rare\n  at most 2 times in 5 s: glow starts\nend require\n"
    if "waiting" in policy:
        claim = "require short\n  no longer than 15 s: glow is running\nend require\n"
    text = HEAD + RULE.format(policy=policy) + claim
    (tmp_path / "job.dusk").write_text(text, encoding="utf-8")
    assert run(["prove", str(tmp_path), "--format", "json"]) == 1
    found = json.loads(capsys.readouterr().out)["requirements"]
    steps = [s for r in found if r["counterexample"] for s in r["counterexample"]["steps"]]
    assert {"glow": outcome} in [step["handled"] for step in steps]
