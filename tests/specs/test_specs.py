"""The jobs in ``specs/`` and the published examples: what comes out is what their pages say."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from tests.check import ROOT
from verifier.front import command

SPECS = ROOT / "specs"
PUBLISHED = Path(__file__).parent / "published"
DRAFT = SPECS / "boathouse-first-draft"
WASHROOM = SPECS / "washroom"
JOBS = (
    "boathouse",
    "boathouse-first-draft",
    "dock",
    "dock-first-draft",
    "path",
    "path-first-draft",
    "stair",
    "stair-first-draft",
    "washroom",
)
"""Jobs with a page that says what comes out; ``standard`` is the library of requirements."""

_ROW = re.compile(r"^\| `([a-z_.]+)` \| ((?:proved|refuted|answered)[^|]*?) \|", re.MULTILINE)
_FINDING = re.compile(r"^\| `([a-z-]+)` \| (\S+\.dusk:\d+) \|", re.MULTILINE)

Change = tuple[str, str]


def proved(capsys: pytest.CaptureFixture[str], folder: Path, *only: str) -> Any:
    """What the command says of a folder, read from its JSON."""
    options = [word for name in only for word in ("--only", name)]
    years = ["--years", "2026-2055"]  # the sun of other years stands a little elsewhere
    code = command.run(["prove", str(folder), "--format", "json", *years, *options])
    out = capsys.readouterr().out
    assert code in (0, 1), out
    found = json.loads(out)
    refuted = any(entry["verdict"] == "refuted" for entry in found["requirements"])
    assert code == (1 if refuted else 0)
    return found


def said(entry: Any) -> str:
    """A verdict as the pages write it: ``proved (at most 120 s)``, ``answered (unbounded)``."""
    assert not entry["vacuous"], entry["name"]
    verdict, bound = str(entry["verdict"]), entry["bound_s"]
    if bound is None:
        return verdict
    figure = bound if bound == "unbounded" else f"{bound} s"
    return f"{verdict} ({figure})" if verdict == "answered" else f"{verdict} (at most {figure})"


def table(page: Path) -> list[tuple[str, str]]:
    """The rows of a page's table of verdicts, in their order."""
    return [(m.group(1), m.group(2)) for m in _ROW.finditer(page.read_text(encoding="utf-8"))]


def verdicts(found: Any) -> dict[str, str]:
    return {entry["name"]: entry["verdict"] for entry in found["requirements"]}


def steps_of(found: Any, name: str) -> list[Any]:
    """The steps of the run that breaks a requirement."""
    entry = next(entry for entry in found["requirements"] if entry["name"] == name)
    steps: list[Any] = entry["counterexample"]["steps"]
    return steps


def changed(source: Path, target: Path, changes: Iterable[Change]) -> Path:
    """A copy of a job in which each text, which stands there once, is changed."""
    target.mkdir()
    texts = {path.name: path.read_text(encoding="utf-8") for path in source.glob("*.dusk")}
    for old, new in changes:
        holding = [name for name, text in texts.items() if old in text]
        assert len(holding) == 1, old
        assert texts[holding[0]].count(old) == 1, old
        texts[holding[0]] = texts[holding[0]].replace(old, new)
    for name, text in texts.items():
        (target / name).write_text(text, encoding="utf-8")
    return target


# ---------------------------------------------------------------- the pages


@pytest.mark.parametrize("name", JOBS)
def test_a_page_says_what_the_tool_says(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = proved(capsys, SPECS / name)
    rows = table(SPECS / name / "README.md")
    assert rows == [(entry["name"], said(entry)) for entry in found["requirements"]]
    places = {(f["code"], f["where"].rsplit(":", 1)[0]) for f in found["findings"]}
    page = (SPECS / name / "README.md").read_text(encoding="utf-8")
    assert {m.groups() for m in _FINDING.finditer(page)} <= places


def test_every_folder_of_specs_is_tried_here() -> None:
    folders = {path.parent.name for path in SPECS.glob("*/*.dusk")}
    assert folders - {"standard"} == set(JOBS)
    assert all((SPECS / name / "README.md").is_file() for name in folders)


def alone(capsys: pytest.CaptureFixture[str], folder: Path, fault: str) -> dict[str, Any]:
    """By the words of each fault (none: empty) the verdicts with it alone; the fault is added."""
    command.run(["prove", str(folder), "--each-fault", "--consider", fault, "--format", "json"])
    found = json.loads(capsys.readouterr().out)
    return {" and ".join(one["faults"]): verdicts(one) for one in found["each_fault"]}


def test_the_pages_say_which_faults_the_boathouse_survives(
    capsys: pytest.CaptureFixture[str],
) -> None:
    lost = "lost reports of bench_motion"
    sound = alone(capsys, SPECS / "boathouse", lost)
    assert list(sound) == ["", "power cuts", lost]
    assert sound["power cuts"] == sound[""]
    fallen = {name for name, verdict in sound[lost].items() if verdict != sound[""][name]}
    assert fallen == {"bench_seen", "bench_off"}
    draft = alone(capsys, DRAFT, lost)
    fallen = {name for name, verdict in draft["power cuts"].items() if verdict != draft[""][name]}
    assert fallen == {"porch_off", "bench_off"}


def test_the_dock_does_not_survive_a_detector_that_is_stuck(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = alone(capsys, SPECS / "dock", "ramp_pir stuck")
    assert {n for n, v in found["ramp_pir stuck"].items() if v == "refuted"} == {"seen_lit"}


# ---------------------------------------------------------------- the boathouse


def test_the_boathouse_proves_whole_and_both_solvers_checked_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = proved(capsys, SPECS / "boathouse")
    assert set(verdicts(found).values()) == {"proved", "answered"}
    assert all(finding["severity"] == "note" for finding in found["findings"])
    for entry in found["requirements"]:
        if entry["name"] == "fan_by_night":  # a run, not a certificate
            assert entry["witness"]["steps"]
        else:
            assert entry["certificate"] == {"checked_by": ["z3", "cvc5"]}, entry["name"]


def test_the_first_draft_has_the_same_points() -> None:
    first, second = (
        [
            line
            for line in (SPECS / name / "points.dusk").read_text(encoding="utf-8").splitlines()
            if not line.startswith(("#", "setting leave_time"))
        ]
        for name in ("boathouse", "boathouse-first-draft")
    )
    assert first == second


# ---------------------------------------------------------------- the first draft

DUSK = (
    "  upon motor_run becomes on provided night\n",
    "  upon motor_run becomes on provided night\n  upon night begins provided motor_run is on\n",
)
STOPS = ("wait until shutter_up is reached", "wait until motor_run is off")
BAY_POWER = (
    "  retriggerable\n  upon motor_run becomes on",
    "  retriggerable\n  upon power returns provided bay_lights is on\n  upon motor_run becomes on",
)
WALK_IN = ("if motor_run is off then", "if not shutter_light is running then")
AFTER_WALK = (
    "    wait walk_time\n    bay_lights off\n",
    "    wait walk_time\n    if not walk_in is running then\n      bay_lights off\n    end if\n",
)
RESTARTED = (
    "  non-retriggerable\n  upon side_door becomes open provided night\n",
    "  retriggerable\n  upon side_door becomes open provided night\n",
)
LAST_OUT_WAITS = (
    "    wait leave_time\n    porch_light off\n",
    "    wait leave_time\n    if not side_door_light is running then\n"
    "      porch_light off\n    end if\n",
)
PORCH_POWER = (
    RESTARTED[0],
    RESTARTED[1] + "  upon power returns provided porch_light is on\n",
)
BENCH_POWER = (
    "  upon bench_motion becomes occupied\n",
    "  upon bench_motion becomes occupied\n  upon power returns provided bench_strip is on\n",
)
BENCH_WAITS = (
    "    wait bench_time\n",
    "    wait until bench_motion has stayed vacant for bench_time\n",
)
ROOM_WAITS = (
    ", at most 30 min\n    if timed out then\n"
    "      end run  # somebody is still there: leave it on\n    end if\n",
    "\n",
)
LEVEL = (
    "    wait 10 min\n    if side_door is open then\n",
    "    if side_door is open then\n"
    "      wait until side_door has stayed open for 10 min or side_door is shut\n"
    "    end if\n    if side_door has stayed open for 10 min then\n",
)
LEVEL_UNTIL = ("until side_door is shut\n", "until not side_door has stayed open for 10 min\n")
LAST_OUT_RULE = """rule last_out "Porch light for the last one, who has just turned the key"
  retriggerable
  upon key_switch becomes on provided night
  do
    porch_light on
    wait leave_time
    porch_light off
end rule
"""
LOCK_UP_BODY = """  upon key_switch becomes on
  do
    locked_up yes
    fan off
    porch_light off
"""
LIGHT_OUT = "    if night then\n      porch_light on\n    end if\n"
LUCKY_ORDER = (
    (LAST_OUT_RULE, ""),
    (LOCK_UP_BODY, LOCK_UP_BODY + LIGHT_OUT),
)
UNLUCKY_ORDER = (
    (LAST_OUT_RULE, ""),
    (
        LOCK_UP_BODY,
        LOCK_UP_BODY.replace("    porch_light off\n", LIGHT_OUT + "    porch_light off\n"),
    ),
)

MENDED: dict[str, tuple[Change, ...]] = {
    "moving_light": (DUSK,),
    "walk_out": (DUSK, BAY_POWER, WALK_IN),
    "bay_off": (STOPS, BAY_POWER, WALK_IN),
    "bay_not_alone": (BAY_POWER, WALK_IN),
    "walk_in_lit": (AFTER_WALK,),
    "porch_lit": (RESTARTED, LAST_OUT_WAITS),
    "leave_lit": LUCKY_ORDER,
    "porch_off": (PORCH_POWER,),
    "bench_seen": (BENCH_WAITS,),
    "bench_off": (BENCH_POWER,),
    "room_off": (ROOM_WAITS,),
    "blink_late": (LEVEL, LEVEL_UNTIL),
}


def test_each_promise_that_the_draft_breaks_has_a_remedy_here(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = verdicts(proved(capsys, DRAFT))
    assert [name for name, verdict in found.items() if verdict == "refuted"] == list(MENDED)


@pytest.mark.parametrize("name", MENDED)
def test_the_mistake_mended_the_promise_is_proved(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With what stands behind it, where there is more: the page names the right ones."""
    assert verdicts(proved(capsys, DRAFT, name)) == {name: "refuted"}
    mended = changed(DRAFT, tmp_path / "mended", MENDED[name])
    assert verdicts(proved(capsys, mended, name)) == {name: "proved"}


def test_three_mistakes_stand_behind_one_promise_one_after_the_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rounds = []
    for mended in range(4):
        job = changed(DRAFT, tmp_path / str(mended), MENDED["bay_off"][:mended])
        found = proved(capsys, job, "bay_off")
        shown = () if mended == 3 else [step["what"] for step in steps_of(found, "bay_off")]
        rounds.append((verdicts(found)["bay_off"], "power fails and returns" in shown))
    assert rounds == [("refuted", False), ("refuted", True), ("refuted", False), ("proved", False)]


# What must stand in the run, in this order, for a reader to see the mistake.
SHOWN: dict[str, tuple[str, ...]] = {
    "moving_light": ("shutter starts to go up", "night begins"),
    "bay_off": ("shutter starts to go up", "shutter stops part way"),
    "bay_not_alone": ("side_door becomes open", "power fails and returns"),
    "walk_in_lit": (
        "shutter arrives at the top",
        "side_door becomes open",
        "a wait of shutter_light runs out",
    ),
    "porch_lit": (
        "side_door becomes open",
        "side_door becomes shut",
        "side_door becomes open",
        "a wait of side_door_light runs out",
    ),
    "leave_lit": ("key_switch becomes on",),
    "bench_seen": ("bench_motion becomes occupied", "a wait of bench_light runs out"),
    "room_off": (
        "room_pir becomes occupied",
        "room_pir becomes vacant",
        "the last one leaves changing",
        "a wait of room_on runs out",
    ),
    "blink_late": (
        "side_door becomes open",
        "side_door becomes shut",
        "side_door becomes open",
        "a wait of left_open runs out",
    ),
}


def test_the_runs_of_the_draft_are_short_and_show_the_mistake(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = proved(capsys, DRAFT)
    for name, wanted in SHOWN.items():
        steps = [step["what"] for step in steps_of(found, name)]
        remaining = iter(steps)
        assert all(what in remaining for what in wanted), (name, steps)
        assert len(steps) <= 7, (name, steps)


def test_without_dusk_nobody_would_see_the_first_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cuts = "consider power cuts\n"
    night = changed(DRAFT, tmp_path / "night", [(cuts, f"{cuts}assume always night\n")])
    (entry,) = proved(capsys, night, "moving_light")["requirements"]
    assert (entry["verdict"], entry["vacuous"]) == ("proved", False)
    day = changed(DRAFT, tmp_path / "day", [(cuts, f"{cuts}assume always day\n")])
    (entry,) = proved(capsys, day, "moving_light")["requirements"]
    assert (entry["verdict"], entry["vacuous"]) == ("proved", True)
    shown = [step["what"] for step in steps_of(proved(capsys, DRAFT), "moving_light")]
    assert shown == ["shutter starts to go up", "night begins"]


def test_the_sixth_mistake_shows_in_one_order_of_two(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With both rules in one body each order can be had on its own."""
    for name, changes, verdict in (
        ("lucky", LUCKY_ORDER, "proved"),
        ("unlucky", UNLUCKY_ORDER, "refuted"),
    ):
        job = changed(DRAFT, tmp_path / name, changes)
        assert verdicts(proved(capsys, job, "leave_lit")) == {"leave_lit": verdict}
    (step,) = steps_of(proved(capsys, DRAFT), "leave_lit")
    rules = (DRAFT / "rules.dusk").read_text(encoding="utf-8").splitlines()
    handled = [
        next(line for line in reversed(rules[: int(place.split(":")[1])]) if line[:5] == "rule ")
        for place in step["because"]
    ]
    assert [line.split()[1] for line in handled] == ["last_out", "lock_up"]


# ---------------------------------------------------------------- the washroom

PULSES = "assume pir stays occupied at most 1 min\n"


def test_the_washroom_agrees_with_practice(capsys: pytest.CaptureFixture[str]) -> None:
    """Source: common practice, no source."""
    found = proved(capsys, WASHROOM)
    judged = verdicts(found)
    assert judged["door_next"] == judged["door_stay"] == "refuted"
    assert judged["basin_next"] == judged["basin_stay"] == "proved"
    assert judged["mirror_stay"] == "refuted"
    assert judged["cubicle_stay"] == "proved"
    came = [step["what"] for step in steps_of(found, "door_next") if "washroom" in step["what"]]
    assert came == [
        "somebody comes into washroom",
        "the last one leaves washroom",
        "somebody comes into washroom",
    ]


def test_a_restarted_run_is_safe_only_while_each_movement_is_a_new_detection(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Source: common practice, no source."""
    stays = changed(WASHROOM, tmp_path / "stays", [(PULSES, "")])
    names = ("basin_stay", "cubicle_stay")
    assert verdicts(proved(capsys, stays, *names)) == dict(zip(names, ("refuted", "proved")))


@pytest.mark.parametrize(
    ("name", "run_on", "verdict"),
    [
        # a minute occupied and four vacant, less the 2 s allowed
        ("basin_stay", "4 min 58 s", "proved"),
        ("basin_stay", "4 min 57 s 999 ms", "refuted"),
        # four minutes vacant, less the 2 s allowed
        ("cubicle_stay", "3 min 58 s", "proved"),
        ("cubicle_stay", "3 min 57 s 999 ms", "refuted"),
    ],
)
def test_the_time_of_the_washroom_may_be_so_short_and_no_shorter(
    name: str, run_on: str, verdict: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = changed(
        WASHROOM, tmp_path / "job", [("setting run_on 5 min", f"setting run_on {run_on}")]
    )
    assert verdicts(proved(capsys, job, name)) == {name: verdict}


# ---------------------------------------------------------------- published examples


def test_published_examples_come_out_as_published(capsys: pytest.CaptureFixture[str]) -> None:
    """Sources: named in ``published/README.md`` and at the head of each job."""
    come_out = [
        (f"{name}.{entry['name']}", said(entry))
        for name in ("second_press", "click", "switch")
        for entry in proved(capsys, PUBLISHED / name)["requirements"]
    ]
    assert table(PUBLISHED / "README.md") == come_out


@pytest.mark.parametrize(
    ("name", "change", "requirement"),
    [
        ("second_press", (" and not lamp_level has stayed 30 % for 5 s", ""), "not_late"),
        ("second_press", ("30 % for 5 s then", "30 % for 5 s 1 ms then"), "not_late"),
        ("click", ("wait 300 ms", "wait 301 ms"), "decided"),
        ("click", ("wait 300 ms", "wait 299 ms"), "single_late"),
        ("click", ("      asked no\n      double_light on", "      double_light on"), "waits"),
        ("switch", ("  provided fresh is no\n", ""), "not_before"),
        (
            "switch",
            ("    fresh no\n    wait 1 min\n", "    fresh no\n    wait 61 s\n"),
            "off_by_itself",
        ),
    ],
)
def test_a_published_example_built_wrongly_loses_its_verdict(
    name: str,
    change: Change,
    requirement: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert verdicts(proved(capsys, PUBLISHED / name, requirement)) == {requirement: "proved"}
    wrong = changed(PUBLISHED / name, tmp_path / "wrong", [change])
    assert verdicts(proved(capsys, wrong, requirement)) == {requirement: "refuted"}
