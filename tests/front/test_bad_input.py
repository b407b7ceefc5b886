"""What is no job: exit code 2, a place, what is wrong and what to do; never a traceback."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from verifier.front.command import run

POINTS = 'contact gate "Gate"\nlamp light "Light" 10 W\n'
RULE = "rule lit\n  retriggerable\n  upon gate becomes open\n  do\n    light on\nend rule\n"
REQUIRE = 'require r "R"\n  possible: light is on\nend require\n'

RANDOM_BYTES = random.Random(7).randbytes(4096)

CASES: dict[str, tuple[bytes | None, str]] = {
    "an empty folder": (None, ""),
    "an empty file": (b"", "a.dusk"),
    "random bytes": (RANDOM_BYTES, "a.dusk:"),
    "ten megabytes": (b"# padding\n" * 1024 * 1024, "a.dusk"),
    "only zeros": (bytes(1000), "a.dusk:"),
    "UTF-16": (POINTS.encode("utf-16"), "a.dusk:1:1"),
    "half a character": ((POINTS + "# ").encode() + b"\xe2\x82", "a.dusk:3:3"),
    "only comments": (b"# nothing\n", "a.dusk"),
    "no requirement": ((POINTS + RULE).encode(), "a.dusk"),
    "neither rules nor requirements": (POINTS.encode(), "a.dusk"),
    "nothing but a rule": (RULE.encode(), "a.dusk:3:8"),
    "an unknown name": ((POINTS + RULE.replace("light", "lihgt") + REQUIRE).encode(), "a.dusk:7:5"),
    "a level for a duration": (
        (POINTS + RULE.replace("light on", "light on\n    wait 60 %") + REQUIRE).encode(),
        "a.dusk:8:10",
    ),
    "an unknown unit": (
        (POINTS + RULE.replace("light on", "light on\n    wait 60 lux") + REQUIRE).encode(),
        "a.dusk:8:1",
    ),
    "another language": (b'{"rules": []}\n', "a.dusk:1:1"),
    "an end that is missing": ((POINTS + RULE.replace("end rule\n", "")).encode(), "a.dusk:"),
    "a line without end": (b"(" * 200_000, "a.dusk:1:"),
    "deep parentheses": (
        (POINTS + REQUIRE.replace("light is on", "(" * 5000 + "light is on" + ")" * 5000)).encode(),
        "a.dusk:",
    ),
    "direction characters": ("lamp \u202e\u2066 x\n".encode(), "a.dusk:1:"),
}


@pytest.mark.parametrize("case", CASES)
def test_wrong_input_ends_with_2_a_place_and_a_remedy(
    case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, place = CASES[case]
    if content is not None:
        (tmp_path / "a.dusk").write_bytes(content)
    code = run(["prove", str(tmp_path), "--format", "json"])
    captured = capsys.readouterr()
    found = json.loads(captured.out)
    errors = [f for f in found["findings"] if f["severity"] == "error"]
    assert (code, captured.err) == (2, "")
    assert errors
    assert errors[0]["where"].startswith(place or str(tmp_path)), errors[0]
    assert all(f["message"] and f["hint"] for f in errors)

    code = run(["prove", str(tmp_path)])
    captured = capsys.readouterr()
    assert code == 2
    assert "do: " in captured.out
    assert "Traceback" not in captured.out + captured.err
    assert len(captured.out) < 60_000


def test_requirements_without_rules_are_judged_with_a_warning_and_a_remedy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # The contract's cases demand verdicts of such jobs (doors, detectors, power return), so it
    # cannot be an error.
    (tmp_path / "a.dusk").write_text(POINTS + REQUIRE.replace("possible", "never"))
    assert run(["prove", str(tmp_path), "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    told = next(f for f in found["findings"] if f["code"] == "no-rules")
    assert (told["severity"], told["where"]) == ("warning", "a.dusk:4:3")
    assert "rule" in told["hint"]
    assert run(["prove", str(tmp_path), "--strict"]) == 1


def test_a_mistake_in_one_file_is_placed_in_that_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "points.dusk").write_text(POINTS)
    (tmp_path / "rules.dusk").write_text(RULE.replace("gate", "gaet"))
    (tmp_path / "what.dusk").write_text(REQUIRE)
    assert run(["prove", str(tmp_path)]) == 2
    out = capsys.readouterr().out
    assert out.startswith("rules.dusk:3:8: error: ")
    assert "gate" in out
