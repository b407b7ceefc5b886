"""Scripts played on the reference interpreter: boundaries, orders, and what a script cannot say."""

from __future__ import annotations

import pytest

from verifier.diagnostics import Diagnostic
from verifier.model import check
from verifier.model.job import Job
from verifier.simulate.script import Script, parse_script
from verifier.simulate.script_play import CannotPlay, Played, play
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


def read(text: str, job: Job) -> tuple[Script | None, tuple[Diagnostic, ...]]:
    return parse_script(SourceFile("a.run", text), job)


def played(text: str, *, every_order: bool = False) -> Played:
    job = the_job()
    script, found = read(text, job)
    assert script is not None, found
    return play(job, script, every_order=every_order)


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
    differs = played(script, every_order=True).differs
    assert differs is not None
    assert differs.at_s == 10
    assert ("sign", ("on", "off")) in differs.values


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
        ("at noon push pressed", "script-time"),
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
        play(job, script)
    assert cannot.value.diagnostic.code == code
    assert cannot.value.diagnostic.hint


# ---------------------------------------------------------------- a job with people, orders, assumptions

HOUSE = """
setting run_on 2 min
contact gate "Gate" starts shut
detector eye "Detector" holds 8 s rearm 3 s starts vacant
detector loft "Detector of the loft" starts vacant
switch key "Key switch" starts off
switch spare "Spare switch" starts off
photocell cell "Photocell" starts bright
button push "Push-button"
button loop "Push-button that ends in a loop"
lamp light "Light" 10 W with local switch
lamp sign "Sign" 10 W
dimmer strip "Strip" 10 W
flag tick "Memory"
flag tock "Memory"
limit top "Upper limit switch"
limit bottom "Lower limit switch"
door shutter "Shutter"
  raised by top
  lowered by bottom
  travel 12 s to 20 s
  starts anywhere
end door
room changing "Changing room"
  entered by gate
  seen by eye
  still at most 10 min
  noticed within 2 s
  starts empty
end room
rule first
  upon push pressed
  provided sign is off
  do
    light on
end rule
rule second
  upon push pressed
  do
    sign on
end rule
rule self_ending
  retriggerable
  upon key changes
  do
    strip 60 %
    wait 5 s
    cancel self_ending
    strip off
end rule
rule late
  upon gate has stayed open for 30 s
  do
    strip 40 %
end rule
rule tick_tock
  upon loop pressed
  upon tock changes
  do
    if tick is yes then
      tick no
    else
      tick yes
    end if
end rule
rule tock_tick
  upon tick changes
  do
    if tock is yes then
      tock no
    else
      tock yes
    end if
end rule
rule blink
  non-retriggerable
  upon spare becomes on
  do
    repeat
      wait 1 s
    until spare is off
    end repeat
end rule
assume never (cell is dark and key is on)
assume cell stays dark at most 1 h
consider power cuts
require any_light
  possible: light is on
end require
"""


def house() -> Job:
    job, found = check(Sources((SourceFile("job.dusk", HOUSE),)), "job")
    assert job is not None, found
    return job


def in_house(text: str, *, every_order: bool = False) -> Played:
    job = house()
    script, found = read(text, job)
    assert script is not None, found
    return play(job, script, every_order=every_order)


def house_kept(text: str, *, every_order: bool = False) -> list[bool]:
    return [each.kept for each in in_house(text, every_order=every_order).expected]


def refusal(text: str, *, every_order: bool = False) -> Diagnostic:
    with pytest.raises(CannotPlay) as cannot:
        in_house(text, every_order=every_order)
    return cannot.value.diagnostic


def mistake(text: str) -> Diagnostic:
    script, found = read(text, house())
    assert script is None
    return found[0]


def under_carets(text: str, diagnostic: Diagnostic) -> str:
    span = diagnostic.labels[0].span
    return text[span.start : span.end]


def test_two_rules_of_one_press_are_handled_in_declared_order_or_in_both() -> None:
    script = "at 1 s push pressed\nat 1 s expect light is on\nat 1 s expect sign is on"
    assert house_kept(script) == [True, True]
    every = in_house(script, every_order=True)
    assert [(each.kept, each.ever) for each in every.expected] == [(False, True), (True, True)]
    assert every.differs is not None
    assert every.differs.at_s == 1
    assert every.differs.values == (("light", ("on", "off")),)
    assert ("light", "on") not in every.run.steps[0].changes, "the run shown is the one that breaks"


def test_a_difference_that_is_gone_by_the_next_line_is_told() -> None:
    script = "at 1 s push pressed\nat 1 s light is switched off by hand\nat 2 s push pressed"
    every = in_house(script, every_order=True)
    assert [line.words for line, _ in every.impossible] == ["light is switched off by hand"]
    assert every.impossible[0][1] == "light is off already"


def test_without_a_choice_of_orders_nothing_differs() -> None:
    script = "at 1 s gate becomes open\nat 31 s expect strip at least 40 %"
    assert house_kept(script, every_order=True) == [True]
    assert in_house(script, every_order=True).differs is None


def test_an_expectation_is_read_when_all_that_is_due_has_happened() -> None:
    """An expiry alone has no second order: the expectation waits for it."""
    script = "at 1 s gate becomes open\nat 30999 ms expect strip is off\nat 31 s expect strip is on"
    assert house_kept(script) == [True, True]
    assert house_kept(script, every_order=True) == [True, True]


def test_a_change_at_the_moment_of_a_has_stayed_timer_comes_in_both_orders() -> None:
    script = "at 1 s gate becomes open\nat 31 s gate becomes shut\nat 31 s expect strip is on"
    assert house_kept(script) == [True]
    assert house_kept(script, every_order=True) == [False]


def test_an_expectation_between_two_lines_of_a_moment_does_not_spoil_the_orders_after_it() -> None:
    script = (
        "at 1 s gate becomes open\nat 31 s expect strip is on\nat 31 s gate becomes shut\n"
        "at 32 s expect strip is on"
    )
    assert house_kept(script, every_order=True) == [True, False]


def test_a_rule_that_cancels_itself_ends_there() -> None:
    script = "at 0 s key becomes on\nat 5 s expect strip is on and not self_ending is running"
    assert house_kept(script) == [True]


def test_an_expectation_may_read_timers_that_no_rule_has() -> None:
    script = (
        "at 1 s gate becomes open\nat 15999 ms expect not gate has stayed open for 15 s\n"
        "at 16 s expect gate has stayed open for 15 s"
    )
    assert house_kept(script) == [True, True]


def test_night_may_be_told_where_only_the_script_reads_it() -> None:
    script = "at 1 s night begins\nat 1 s expect night\nafter 1 h day begins\nat 61 min expect day"
    assert house_kept(script) == [True, True]
    assert house_kept("starts night\nat 0 s expect night") == [True]


def test_a_power_cut_ends_what_runs() -> None:
    script = (
        "at 0 s key becomes on\nat 2 s power fails and returns\nat 2 s expect strip is off\n"
        "at 5 s expect not self_ending is running"
    )
    assert house_kept(script) == [True, True]


def test_a_setting_is_a_time_and_a_figure_may_be_written_close() -> None:
    script = "at 1s gate becomes open\nafter run_on expect gate is open\nat 1 min61s expect day"
    run = in_house(script).run
    assert run.fails_s == 121


def test_a_door_may_take_its_longest_time_and_no_longer() -> None:
    up = "starts shutter lowered\nat 0 s shutter starts to go up\n"
    assert in_house(f"{up}at 20 s shutter arrives at the top").run.steps
    late = refusal(f"{up}at 20001 ms shutter arrives at the top")
    assert late.code == "script-due"
    assert "at 20 s" in late.message
    assert "shutter moves no longer than 20 s" in late.message
    assert "`shutter arrives at the top`" in late.hint


def test_what_is_not_named_begins_at_rest() -> None:
    start = dict(in_house("at 0 s gate becomes open").run.start)
    assert start["shutter"] == "lowered"
    assert start["gate"] == "shut"
    assert dict(in_house("starts shutter stopped\nat 0 s push pressed").run.start)["top"] == "clear"


@pytest.mark.parametrize(
    ("text", "said", "hint"),
    [
        ("at 0 s gate becomes shut", "gate is shut already", "lines above"),
        ("at 0 s eye becomes occupied", "nobody is in changing", "somebody comes into changing"),
        ("at 0 s somebody comes into changing", "no way in is open", "gate becomes open"),
        ("at 0 s the last one leaves changing", "nobody is in changing", "somebody comes"),
        ("at 0 s light is switched off by hand", "light is off already", "lines above"),
        ("starts night\nat 0 s night begins", "it is night already", "lines above"),
        (
            "at 0 s loft becomes occupied\nat 5 s loft becomes occupied",
            "loft is occupied already",
            "lines above",
        ),
        (
            "at 0 s gate becomes open\nat 1 s somebody comes into changing\n"
            "at 2 s eye becomes occupied\nat 9999 ms eye becomes vacant",
            "eye has been occupied for 7.999 s and stays so for at least 8 s",
            "at 10 s or later",
        ),
        (
            "starts shutter lowered\nat 1 s shutter starts to go up\n"
            "at 5 s shutter arrives at the top",
            "shutter has moved for 4 s, and a full run takes at least 12 s",
            "at 13 s or later",
        ),
        (
            "starts shutter raised\nat 1 s shutter starts to go up",
            "shutter is raised",
            "lines above",
        ),
        (
            "starts shutter raised\nat 1 s shutter stops part way",
            "shutter is raised",
            "lines above",
        ),
        (
            "at 0 s cell becomes dark\nat 1 s key becomes on",
            "it would break the assumption `not (cell is dark and key is on)`",
            "before",
        ),
    ],
)
def test_what_is_not_possible_is_told_with_its_reason(text: str, said: str, hint: str) -> None:
    found = refusal(text)
    assert found.code == "script-impossible"
    assert said in found.message
    assert hint in found.hint
    assert under_carets(text, found) == text.split("\n")[-1].split(" s ", 1)[-1].removeprefix(
        "at 9999 ms "
    )
    assert refusal(text, every_order=True) == found


@pytest.mark.parametrize(
    ("text", "said", "hint"),
    [
        (
            "at 0 s gate becomes open\nat 1 s somebody comes into changing\nat 5 s push pressed",
            "at 3 s, something has to happen: eye notices within 2 s who comes into changing",
            "`eye becomes occupied` or `the last one leaves changing`",
        ),
        (
            "at 0 s gate becomes open\nat 1 s somebody comes into changing\n"
            "at 2 s eye becomes occupied\nat 12 s eye becomes vacant\nat 1 h push pressed",
            "at 10 min 12 s, something has to happen: nobody in changing stays unseen by eye",
            "`eye becomes occupied`",
        ),
        (
            "at 0 s cell becomes dark\nuntil 2 h",
            "at 1 h, something has to happen: it is assumed that cell stays dark at most 1 h",
            "`cell becomes bright`",
        ),
    ],
)
def test_what_is_overdue_outside_is_told_with_what_ends_it(text: str, said: str, hint: str) -> None:
    found = refusal(text)
    assert found.code == "script-due"
    assert said in found.message
    assert hint in found.hint


def test_what_is_overdue_at_the_end_is_told_at_the_end() -> None:
    text = "at 0 s cell becomes dark\nat 5 s push pressed\nuntil 2 h"
    assert under_carets(text, refusal(text)) == "until 2 h"


def test_many_waits_that_run_out_at_once_do_not_multiply() -> None:
    """Nine waits of one moment: 9! orders, of which only what they lead to is followed."""
    text = "button push\n" + "".join(
        f"lamp lamp_{n}\nrule rule_{n}\n retriggerable\n upon push pressed\n do\n"
        f"  lamp_{n} on\n  wait 5 s\n  lamp_{n} off\nend rule\n"
        for n in range(9)
    )
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    script, _ = read("at 0 s push pressed\nat 5 s expect lamp_0 is off and lamp_8 is off", job)
    assert script is not None
    many = play(job, script, every_order=True)
    assert [each.kept for each in many.expected] == [True]
    assert many.differs is None


def test_a_chain_that_never_ends_is_told() -> None:
    assert refusal("at 1 s loop pressed").code == "script-endless"


def test_a_script_that_plays_too_much_is_told() -> None:
    found = refusal("at 0 s spare becomes on\nuntil 100 h")
    assert found.code == "script-long"


@pytest.mark.parametrize(
    ("text", "code", "place", "hint"),
    [
        ("at 5 push pressed", "script-time", "5", "`at 5 s`"),
        ("at 5 sec push pressed", "script-time", "5 sec", "`5 s`"),
        ("at 5 % push pressed", "script-time", "5 %", "`10 s`"),
        ("at 22:30 push pressed", "script-time", "22:30", "count from the start"),
        ("at -5 s push pressed", "script-time", "-5 s", "not below"),
        ("after run_one push pressed", "script-time", "run_one", "`run_on`"),
        ("at push pressed", "script-time", "at push pressed", "`at 10 s push pressed`"),
        ("push pressed", "script-line", "push pressed", "`at 5 s push pressed`"),
        ("expect day", "script-line", "expect day", "`at 5 s expect day`"),
        ("aftr 5 s push pressed", "script-line", "aftr 5 s push pressed", "`after`"),
        ("at", "script-line", "at", "`at TIME HAPPENING`"),
        ("at 5 s", "script-line", "at 5 s", "`at TIME HAPPENING`"),
        ("at 5 s expect", "script-line", "expect", "condition"),
        ("until 5 s\nat 6 s push pressed", "script-line", "at 6 s push pressed", "last"),
        ("at 6 s push pressed\nuntil 5 s", "script-time", "until 5 s", "in order"),
        ("until 5 s push pressed", "script-line", "push pressed", "`at`"),
        ("at 6 s push pressed\nstarts day", "script-line", "starts day", "above"),
        ("starts gate", "script-start", "gate", "shut, open"),
        ("starts gate open,, day", "script-start", "gate open,, day", "starts side_door"),
        ("starts gat open", "script-start", "gat open", "`gate`"),
        ("starts push pressed", "script-start", "push pressed", "`at 0 s push pressed`"),
        ("at 5 s light becomes on", "script-happening", "light becomes on", "`expect light is on`"),
        ("at 5 s tick becomes yes", "script-happening", "tick becomes yes", "`expect tick is yes`"),
        ("at 5 s top becomes reached", "script-happening", "top becomes reached", "at the top"),
        (
            "at 5 s changing becomes peopled",
            "script-happening",
            "changing becomes peopled",
            "`somebody comes into changing`",
        ),
        (
            "at 5 s sign is switched on by hand",
            "script-happening",
            "sign is switched on by hand",
            "with local switch",
        ),
        ("at 5 s gate becomes ajar", "script-happening", "gate becomes ajar", "gate becomes"),
        ("at 5 s gat becomes open", "script-happening", "gat becomes open", "`gate becomes open`"),
        ("at 5 s everything stops", "script-happening", "everything stops", "What can happen"),
        ("at 5 s expect day and lihgt is on", "unknown-name", "lihgt", "light"),
        ("at 5 s expect strip above 5 s", "wrong-unit", "5 s", "level"),
    ],
)
def test_a_mistake_is_told_at_its_narrow_place(text: str, code: str, place: str, hint: str) -> None:
    found = mistake(text)
    assert found.code == code, found
    assert under_carets(text, found) == place
    assert hint in found.hint


def test_power_cuts_that_are_not_considered_are_told() -> None:
    script, found = read("at 5 s power fails and returns", the_job())
    assert script is None
    assert "consider power cuts" in found[0].hint


def test_every_mistake_of_a_script_is_told() -> None:
    _, found = read("at 5 s push presed\nwhat\nat 9 s gate becomes opn", house())
    assert [each.code for each in found] == ["script-happening", "script-line", "script-happening"]
