"""Scripts played on the reference interpreter: boundaries, orders, and what a script cannot say."""

from __future__ import annotations

import pytest

from verifier.diagnostics import Diagnostic
from verifier.model import check, check_form
from verifier.model.job import Condition, Job, Possible
from verifier.simulate.script import CannotPlay, Played, parse_script, play
from verifier.source import SourceFile, Sources

JOB = """
contact gate "Gate" starts shut
button push "Push-button"
switch key "Key switch" starts off
limit top "Upper limit switch"
limit bottom "Lower limit switch"
lamp light "Light" 10 W
lamp sign "Sign" 10 W
lamp bell "Bell lamp" 10 W
door shutter "Shutter"
  raised by top
  lowered by bottom
  travel 12 s to 20 s
end door
rule glow
  retriggerable
  upon push pressed
  do
    light on
    wait 10 s
    light off
end rule
rule once
  non-retriggerable
  upon push pressed
  do
    sign on
    wait 10 s
    sign off
end rule
rule ask
  non-retriggerable
  upon gate becomes open
  do
    wait until key is on
    bell on
end rule
rule again
  retriggerable
  upon bell becomes on
  do
    wait 1 s
    bell off
    wait 1 s
    bell on
end rule
require any_light
  possible: light is on
end require
"""


def the_job() -> Job:
    job, found = check(Sources((SourceFile("job.dusk", JOB),)), "job")
    assert job is not None, found
    return job


def read(text: str, job: Job) -> tuple[object, tuple[Diagnostic, ...]]:
    def condition_of(words: str) -> tuple[Condition | None, tuple[Diagnostic, ...]]:
        requirement, found, _ = check_form(f"possible: {words}", job)
        if requirement is None or not isinstance(requirement.form, Possible):
            return None, found
        return requirement.form.condition, found

    return parse_script(SourceFile("a.run", text), job, condition_of)


def played(text: str, *, every_order: bool = False) -> Played:
    job = the_job()
    script, found = read(text, job)
    assert script is not None, found
    return play(job, script, every_order=every_order)  # type: ignore[arg-type]


def kept(text: str, *, every_order: bool = False) -> list[bool]:
    return [expected.kept for expected in played(text, every_order=every_order).expected]


def test_a_wait_runs_out_on_time_and_not_a_millisecond_before() -> None:
    script = "at 0 s push pressed\nat 9999 ms expect light is on\nat 10 s expect light is off"
    assert kept(script) == [True, True]


def test_a_trigger_while_its_own_rule_waits_restarts_it_or_is_dropped() -> None:
    script = (
        "at 0 s push pressed\nafter 5 s push pressed\n"
        "at 12 s expect light is on\nat 12 s expect sign is off"
    )
    assert kept(script) == [True, True]


def test_an_expiry_and_a_press_at_one_moment_come_in_both_orders() -> None:
    script = "at 0 s push pressed\nat 10 s push pressed\nat 10 s expect sign is on"
    assert kept(script) == [True], "by default what is due comes first, so the press starts a run"
    assert kept(script, every_order=True) == [False], "the press may come first and be dropped"
    assert played(script, every_order=True).ways > 1


def test_wait_until_already_true_does_not_wait() -> None:
    assert kept("at 0 s key becomes on\nat 0 s gate becomes open\nat 0 s expect bell is on") == [
        True
    ]


def test_wait_until_goes_on_at_the_moment_at_which_it_comes_true() -> None:
    script = (
        "at 0 s gate becomes open\nat 1 h expect bell is off\n"
        "at 1 h key becomes on\nat 1 h expect bell is on"
    )
    assert kept(script) == [True, True]


def test_a_rule_that_triggers_itself_starts_anew() -> None:
    script = (
        "at 0 s key becomes on\nat 0 s gate becomes open\n"
        "at 1500 ms expect bell is off\nat 2500 ms expect bell is on\nat 3500 ms expect bell is off"
    )
    assert kept(script) == [True, True, True]


@pytest.mark.parametrize(("start", "goes"), [("lowered", "up"), ("raised", "down")])
def test_a_run_may_begin_with_the_door_at_either_limit(start: str, goes: str) -> None:
    end = "at the top" if goes == "up" else "at the bottom"
    script = (
        f"starts shutter {start}\nat 0 s shutter starts to go {goes}\nat 12 s shutter arrives {end}"
    )
    assert [step.what for step in played(script).run.steps][-1] == f"shutter arrives {end}"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "script-empty"),
        ("# nothing\n", "script-empty"),
        ("push pressed", "script-line"),
        ("at noon push pressed", "script-line"),
        ("at 5 s push pressd", "script-happening"),
        ("at 5 s push pressed\nat 4 s push pressed", "script-time"),
        ("until dawn", "script-time"),
        ("starts gate ajar\nat 0 s push pressed", "script-start"),
        ("starts nothing open\nat 0 s push pressed", "script-start"),
        ("at 0 s expect lihgt is on", "unknown-name"),
    ],
)
def test_a_bad_script_is_told_by_place(text: str, code: str) -> None:
    script, found = read(text, the_job())
    assert script is None
    assert found[0].code == code
    assert found[0].labels[0].span.file == "a.run"
    assert found[0].hint


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (
            "starts shutter lowered\nat 0 s shutter starts to go up\nat 5 s shutter arrives at the top",
            "script-impossible",
        ),
        ("at 0 s gate becomes shut", "script-impossible"),
        (
            "starts shutter lowered\nat 0 s shutter starts to go up\nat 21 s push pressed",
            "script-due",
        ),
        ("starts gate open\nat 0 s push pressed", "script-start"),
        ("starts shutter moving\nat 0 s push pressed", "script-start"),
        ("starts gate shut, gate open\nat 0 s push pressed", "script-start"),
    ],
)
def test_what_cannot_be_played_is_told_by_place(text: str, code: str) -> None:
    job = the_job()
    script, found = read(text, job)
    assert script is not None, found
    with pytest.raises(CannotPlay) as cannot:
        play(job, script)  # type: ignore[arg-type]
    assert cannot.value.args[0].code == code
    assert cannot.value.args[0].hint
