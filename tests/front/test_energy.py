"""`duskproof energy`: the table, its sources, JSON, and wrong input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command
from verifier.front.energy_text import day_text, figure

BOATHOUSE = ROOT / "specs" / "boathouse"

JOB = """\
lamp light 100 W
lamp sign
button push
rule r
  retriggerable
  upon push pressed
  do
    light on
    sign on
    wait 10 min
    light off
    sign off
end rule
"""
USED = "usage\n  push pressed 12 times a day\nend usage\n"


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = command.run(["energy", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def written(folder: Path, text: str) -> str:
    (folder / "job.dusk").write_text(text, "utf-8")
    return str(folder)


def test_the_boathouse_in_a_year(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = ran(capsys, str(BOATHOUSE), "--weeks", "4")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    head = next(line for line in lines if line.startswith("kWh a year"))
    row = next(line for line in lines if line.startswith("bench_strip"))
    assert len(row) <= 100
    assert (
        head.index("formula") < head.index("at most") < head.index("left on") < head.index("cost")
    )
    assert " 17.6 " in row
    assert "20.3" in row
    words = " ".join(out.split())
    assert "energy.dusk:6: bench_motion becomes occupied for 3 min 10 times a day" in words
    assert "a kWh costs 0.30 GBP (made up)" in words
    assert "points.dusk:14: bench_strip draws 40 W (as declared)" in words
    assert (
        "proved on no longer than 5 min 20 s after bench_motion becomes vacant (3,650 a year)"
        in words
    )
    assert "A dimmer is taken to draw power in proportion to its level (an assumption)." in words
    assert "these rules never run here: lock_up, come_back and beacon_reset" in words
    assert "Traceback" not in out


def test_json_says_the_same_and_twice_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = (str(BOATHOUSE), "--weeks", "2", "--format", "json", "--seed", "5")
    code, out, _ = ran(capsys, *arguments)
    assert code == 0
    found = json.loads(out)
    bench = next(each for each in found["outputs"] if each["name"] == "bench_strip")
    assert bench["at_most"]["proved_s"] == "320"
    assert bench["at_most"]["after"] == [{"event": "bench_motion becomes vacant", "times": 3650.0}]
    assert bench["kwh"] == bench["formula"]["kwh"]
    assert bench["left_on_kwh"] == pytest.approx(40 * 8760 / 1000)
    assert found["kwh"] == pytest.approx(sum(each["kwh"] for each in found["outputs"]))
    assert (found["seed"], found["weeks"], found["price_per_kwh"]) == (5, 2, "0.3")
    assert ran(capsys, *arguments)[1] == out


def test_a_lamp_without_a_power_is_timed_and_left_out_of_the_sum(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = ran(capsys, written(tmp_path, JOB + USED), "--weeks", "1")
    assert code == 0
    assert "Left out, as no power is stated: sign." in out
    assert "(no source is stated)" in out
    assert "too little for an interval" in " ".join(out.split())


@pytest.mark.parametrize(
    ("text", "code", "hint"),
    [
        (JOB, "no-usage", "Write `usage`"),
        (JOB + "usage\nend usage\n", "no-usage", "Write `usage`"),
        (
            JOB.replace("push pressed", "push pressed provided night") + USED,
            "no-nights",
            "Write `night between 18:00 and 06:00`",
        ),
        (
            JOB + "usage\n  push pressed often a day\nend usage\n",
            "wording",
            "Write `2 times a day`.",
        ),
    ],
)
def test_what_is_missing_is_told(
    text: str, code: str, hint: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, out, err = ran(capsys, written(tmp_path, text))
    assert told == 2
    assert code in out + err
    assert hint in " ".join((out + err).split())
    assert "Traceback" not in out + err


def test_rules_that_go_round_are_too_much(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        "lamp a 10 W\nlamp b\nbutton push\nrule one\n  upon push pressed\n  upon b becomes on\n  do\n"
        "    a on\n    b off\nend rule\nrule two\n  upon a becomes on\n  do\n    b on\n    a off\n"
        f"end rule\n{USED}"
    )
    told, out, _ = ran(capsys, written(tmp_path, text))
    assert told == 2
    assert "too-much-happens" in out


@pytest.mark.parametrize(
    "given", [["--weeks", "0"], ["--weeks", "53"], ["--seed", "-1"], ["--year", "1"]]
)
def test_options_out_of_range_are_refused(
    given: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = ran(capsys, str(BOATHOUSE), *given)
    assert code == 2
    assert given[0] in err


def test_figures_have_no_false_digits() -> None:
    assert [figure(x) for x in (0.004, 9.994, 99.94, 1016.2)] == ["0.00", "9.99", "99.9", "1016"]
    assert [day_text(x) for x in (0.0, 59.6, 3599.6, 8951.0)] == [
        "0 s",
        "1 min",
        "1 h",
        "2 h 29 min",
    ]
