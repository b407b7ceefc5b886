"""A room operated by hand: what is told at each moment, worked out from the contract's words."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from tests.explain.jobs import job_of, judged, run_of
from verifier.simulate.script import parse_script
from verifier.simulate.script_play import play
from verifier.source import SourceFile
from verifier.teach.playing import CannotBegin
from verifier.teach.room import NotPossible, RoomSession

STAIR = """
button push "Push-button at the stair"
contact gate "Gate"
lamp light "Stair light" 12 W
lamp sign "Sign"

rule walk "Light for a walk up the stair"
  retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule

rule advert
  non-retriggerable
  upon push pressed provided gate is open
  do
    sign on
    wait 10 s
    sign off
end rule

require long_enough "A minute of light after each press"
  when push pressed: light is on for at least 1 min
end require

require not_long "Never more than three minutes at a stretch"
  no longer than 3 min: light is on
end require

require soon "A sign within 5 s"
  when push pressed: sign is on within 5 s
end require
"""


def stair() -> RoomSession:
    return RoomSession(job_of(STAIR))


def standing(session: RoomSession) -> str:
    judged = session.judged
    assert judged is not None
    return judged.standing


def s(seconds: str | int) -> Fraction:
    return Fraction(seconds)


def test_a_press_lights_the_stair_and_the_wait_that_runs_out_darkens_it() -> None:
    session = stair()
    (pressed,) = session.do("push pressed")
    assert pressed.by == "person"
    assert pressed.what == "“Push-button at the stair” pressed"
    assert dict(pressed.changes) == {"light": "on", "walk": "running"}
    assert [(r.rule, r.outcome) for r in pressed.reactions] == [
        ("walk", "runs"),
        ("advert", "its condition was not true"),
    ]
    lines = [STAIR[span.start : span.end] for span in pressed.lines]
    assert lines == ["upon push pressed"]
    due = session.next_due()
    assert due is not None
    assert (due.in_s, due.words, due.outside) == (s(60), "walk has waited 1 min", False)
    (run,) = session.rules[0].runs
    assert (STAIR[run.line.start : run.line.end], run.left_s) == ("wait 1 min", s(60))
    assert session.pass_time(s(59)) == ()
    (ended,) = session.pass_time(s(2))
    assert (ended.at_s, ended.by) == (s(60), "rules")
    assert dict(ended.changes) == {"light": "off", "walk": "idle"}
    assert session.now_s == 61


def test_a_second_press_starts_the_run_again_and_drops_the_other_ones_trigger() -> None:
    session = stair()
    session.do("gate becomes open")
    session.do("push pressed")
    session.pass_time(s(5))
    (again,) = session.do("push pressed")
    assert [(r.rule, r.outcome) for r in again.reactions] == [
        ("walk", "run started again"),
        ("advert", "dropped: already running"),
    ]
    assert [m.at_s for m in session.pass_time(s(60))] == [s(10), s(65)]


def test_who_is_quicker_than_what_is_due_acts_before_it() -> None:
    session = stair()
    session.do("push pressed")
    session.pass_until_due(leave_due=True)
    assert session.now_s == 60
    assert session.next_due() is not None
    (again,) = session.do("push pressed")
    assert "light" not in dict(again.changes)
    assert session.pass_time(s(59)) == ()
    session.undo()
    session.undo()
    assert [m.at_s for m in session.pass_time(s(0))] == [s(60)]
    light = next(t for t in session.things if t.name == "light")
    assert (light.value, light.level) == ("off", s(0))


def test_undo_takes_back_what_was_done_and_time_that_passed() -> None:
    session = stair()
    begun = session.as_json()
    assert not session.undo()
    session.do("push pressed")
    session.pass_time(s(100))
    session.undo()
    session.undo()
    assert session.as_json() == begun


def test_quiet_stretches_are_taken_back_as_one() -> None:
    """A page that lets time run asks four times a second."""
    session = stair()
    session.do("push pressed")
    for _ in range(20):
        session.pass_time(s("0.25"))
    counts = []
    while session.undo():
        counts.append((session.now_s, len(session.moments)))
    assert counts == [(s(0), 1), (s(0), 0)]


def test_a_requirement_is_waiting_then_broken_just_after_its_time() -> None:
    session = stair()
    session.do("push pressed")
    waiting = session.against("soon")
    assert waiting is not None
    assert (waiting.standing, waiting.left_s) == ("waiting", s(5))
    session.pass_time(s(5))
    at_the_end = session.judged
    assert at_the_end is not None
    assert (at_the_end.standing, at_the_end.left_s) == ("waiting", s(0))
    session.pass_time(s("0.001"))
    broken = session.judged
    assert broken is not None
    assert (broken.standing, broken.at_s, broken.just_after) == ("broken", s(5), True)
    session.undo()
    assert session.judged == waiting


def test_a_requirement_that_claims_a_time_says_how_long_it_has_to_stay() -> None:
    session = stair()
    session.do("push pressed")
    session.pass_time(s(20))
    stays = session.against("long_enough")
    assert stays is not None
    assert (stays.standing, stays.left_s) == ("has to stay", s(40))
    session.pass_time(s(40))
    assert standing(session) == "kept so far"


def test_a_stretch_that_may_not_last_runs_down_over_presses() -> None:
    session = stair()
    session.against("not_long")
    for _ in range(4):
        session.do("push pressed")
        session.pass_time(s(50))
    broken = session.judged
    assert broken is not None
    assert (broken.standing, broken.at_s, broken.just_after) == ("broken", s(180), True)


TWO = """
button push "Push-button"
lamp light "Light" 10 W
rule goes_on
  upon push pressed
  do
    light on
end rule
rule goes_off
  upon push pressed
  do
    light off
end rule
require dark
  never: light is on
end require
"""


def test_both_orders_are_told_and_the_other_one_can_be_chosen() -> None:
    session = RoomSession(job_of(TWO))
    session.against("dark")
    (moment,) = session.do("push pressed")
    first, second = moment.orders
    assert first.words == "goes_on, then goes_off: “Light” off"
    assert second.words == "goes_off, then goes_on: “Light” on"
    assert (first.chosen, second.chosen) == (True, False)
    assert standing(session) == "kept so far"
    session.pass_time(s(10))
    (other,) = session.choose(second.key)
    assert dict(other.changes) == {"light": "on"}
    assert session.now_s == 0
    assert standing(session) == "broken"
    assert [order.chosen for order in other.orders] == [False, True]
    session.undo()
    assert session.now_s == 10
    with pytest.raises(NotPossible):
        session.choose("7.0")
    with pytest.raises(NotPossible):
        session.choose("0.9")
    with pytest.raises(NotPossible):
        session.choose("²")


GARAGE = """
contact side_door "Side door" starts shut
limit up "Upper limit"
limit down "Lower limit"
detector pir "PIR" holds 8 s starts vacant
lamp light "Garage light" 10 W
door shutter "Shutter"
  raised by up
  lowered by down
  travel 12 s to 20 s
  starts lowered
end door
room garage "Garage"
  entered by side_door
  seen by pir
  still at most 10 min
  noticed within 2 s
  starts empty
end room
rule seen
  upon pir becomes occupied
  do
    light on
end rule
require lit "Light where people are"
  always: garage is peopled implies light is on
  allowing 2 s
end require
"""


def test_a_door_is_drawn_by_the_time_that_it_moves_and_arrives_at_the_latest_by_itself() -> None:
    session = RoomSession(job_of(GARAGE))
    session.do("shutter starts to go up")
    session.pass_time(s(5))
    shutter = session.things[0]
    assert (shutter.kind, shutter.value, shutter.words) == ("door", "moving", "going up")
    assert shutter.level == Fraction(5, 20)
    early = next(r for r in session.refused() if r.key == "shutter arrives at the top")
    assert early.why == "shutter has moved for 5 s, and a full run takes at least 12 s"
    assert early.hint == "It can be done at 12 s."
    session.pass_time(s(8))
    assert "shutter arrives at the top" in {a.key for a in session.possible()}
    (arrived,) = session.pass_time(s(60))
    assert (arrived.at_s, arrived.by) == (s(20), "surroundings")
    assert dict(arrived.changes) == {"up": "reached", "shutter": "raised"}
    assert not arrived.orders
    assert session.things[0].level == 1


def test_people_come_in_by_an_open_door_and_are_noticed_in_time() -> None:
    session = RoomSession(job_of(GARAGE))
    session.against("lit")
    with pytest.raises(NotPossible) as no:
        session.do("somebody comes into garage")
    assert no.value.why == "garage is entered by side_door, and no way in is open"
    assert no.value.hint == "First: side_door becomes open."
    session.do("side_door becomes open")
    session.do("somebody comes into garage")
    due = session.next_due()
    assert due is not None
    assert (due.in_s, due.outside) == (s(2), True)
    (noticed,) = session.pass_time(s(2))
    assert (noticed.by, dict(noticed.changes)) == (
        "surroundings",
        {"pir": "occupied", "light": "on"},
    )
    assert standing(session) == "kept so far"
    pir = next(t for t in session.things if t.name == "pir")
    assert (pir.of, pir.words) == ("garage", "sees somebody")


FADE = """
button up "Up"
button down "Down"
dimmer strip "Strip" 20 W
rule go_up
  retriggerable
  upon up pressed
  do
    fade strip to 100 % over 10 s
end rule
rule go_down
  retriggerable
  upon down pressed
  do
    cancel go_up
    fade strip to 0 % over 10 s
end rule
require glare
  never: strip above 80 %
end require
"""


def test_a_fade_that_is_cut_short_goes_on_from_where_it_stood() -> None:
    """Worked out by hand: 30 % after 3 s of 10; down from there 27 % a second later."""
    session = RoomSession(job_of(FADE))
    session.against("glare")
    session.do("up pressed")
    session.pass_time(s(3))
    assert session.things[-1].level == Fraction(30, 100)
    session.do("down pressed")
    session.pass_time(s(1))
    assert session.things[-1].level == Fraction(27, 100)
    session.do("up pressed")
    session.pass_time(s(10))
    judged = session.judged
    assert judged is not None
    # From 27 % at 4 s it rises by 73 % in 10 s: 80 % is passed 530/73 s later.
    assert (judged.standing, judged.at_s) == ("broken", 4 + Fraction(530, 73))


SITE = """
site "Otter Reach"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp path "Path lamps" 10 W
rule evening
  upon night begins
  do
    path on
end rule
rule late
  upon at 23:15
  do
    path off
end rule
require r
  never: day and path is on
end require
"""


def test_with_a_site_clock_and_sun_come_on_their_date() -> None:
    """20 March 2026 at Cambridge: sunset about 18:12 UTC (computed with the NOAA formula; 2 min)."""
    session = RoomSession(job_of(SITE))
    assert session.clock == "12:00"
    assert "night begins" not in {a.key for a in session.possible()}
    dusk, night = session.pass_time(s(12 * 3600 - 1))
    assert (dusk.by, dict(dusk.changes)["path"]) == ("calendar", "on")
    assert abs(dusk.at_s - (6 * 3600 + 12 * 60)) < 120
    assert (night.clock, dict(night.changes)["path"]) == ("23:15", "off")


def test_a_room_begins_as_it_is_asked_to_or_says_why_not() -> None:
    session = RoomSession(job_of(STAIR), (("gate", "open"),))
    gate = next(t for t in session.things if t.name == "gate")
    assert gate.value == "open"
    for starts in (
        (("light", "on"),),
        (("gate", "blue"),),
        (("nothing", "on"),),
        (("sun", "night"),),
    ):
        with pytest.raises(CannotBegin):
            RoomSession(job_of(STAIR), starts)


def test_lanes_have_no_gaps_and_end_now() -> None:
    session = stair()
    session.do("push pressed")
    session.pass_time(s(100))
    lanes = {lane.name: lane for lane in session.lanes()}
    assert lanes["light"].values == (
        (s(0), s(0), "off"),
        (s(0), s(60), "on"),
        (s(60), s(100), "off"),
    )
    assert [lane.kind for lane in session.lanes()] == [
        "outside",
        "output",
        "output",
        "rule",
        "rule",
    ]
    for lane in lanes.values():
        assert lane.values[0][0] == 0
        assert lane.values[-1][1] == session.now_s
        assert all(a[1] == b[0] for a, b in zip(lane.values, lane.values[1:], strict=False))


BLINK = """
switch key "Key"
lamp beacon "Beacon"
rule blink
  non-retriggerable
  upon key becomes on
  do
    repeat
      beacon on
      wait 1 s
      beacon off
      wait 1 s
    until key is off
    end repeat
end rule
require stops "In the end the beacon is off"
  every trigger of blink leads to beacon is off
end require
require longest
  measure longest: beacon is on after last key becomes on
end require
"""


def test_time_that_brings_too_much_stops_and_says_so() -> None:
    session = RoomSession(job_of(BLINK))
    session.do("key becomes on")
    assert len(session.pass_time(s(3600))) == 500
    assert session.stopped == "stopped here: 500 things have happened in a row"
    assert session.now_s == 500


def test_a_room_that_has_seen_too_much_stands_still_and_says_so() -> None:
    session = RoomSession(job_of(BLINK))
    session.do("key becomes on")
    for _ in range(7):
        session.pass_time(s(3600))
    assert len(session.moments) == 3000
    assert session.stopped == "this room has seen 3000 things happen: begin a new one"
    at = session.now_s
    session.pass_time(s(10))
    assert session.now_s == at
    session.do("key becomes off")


def test_what_goes_round_for_ever_breaks_what_has_to_come_true_in_the_end() -> None:
    session = RoomSession(job_of(BLINK))
    session.do("key becomes on")
    waiting = session.against("stops")
    assert waiting is not None
    assert waiting.standing == "waiting"
    session.pass_time(s(4))
    assert standing(session) == "broken"
    measured = session.against("longest")
    assert measured is not None
    assert (measured.standing, measured.longest_s) == ("measured", s(3))


def test_endless_rules_are_said_to_be_endless() -> None:
    text = """
switch key "Key"
flag a "A"
rule one
  upon a becomes yes
  do
    a no
end rule
rule two
  upon a becomes no
  do
    a yes
end rule
rule begins
  upon key becomes on
  do
    a yes
end rule
require r
  never: a is yes and key is off
end require
"""
    session = RoomSession(job_of(text))
    with pytest.raises(NotPossible, match="never settles"):
        session.do("key becomes on")


def test_the_prover_s_run_is_shown_and_one_can_go_on_from_it() -> None:
    job, requirement, verdict = judged(STAIR, "not_long")
    session = RoomSession(job)
    count = session.play(run_of(verdict), requirement)
    for _ in range(count):
        session.step()
    assert standing(session) == "broken"
    for _ in range(count + 3):
        session.step(-1)
    at = session.showing
    assert at == (0, count)
    assert session.now_s == 0
    session.do("push pressed")
    assert not session.showing
    assert len(session.moments) == 1
    with pytest.raises(NotPossible):
        session.step()


def test_all_of_it_is_json() -> None:
    session = RoomSession(job_of(GARAGE))
    session.against("lit")
    session.do("side_door becomes open")
    session.do("somebody comes into garage")
    session.pass_time(s(30))
    whole = session.as_json()
    assert json.loads(json.dumps(whole)) == whole
    assert [m["number"] for m in whole["moments"]] == [1, 2, 3]
    assert [m["number"] for m in session.as_json(since=2)["moments"]] == [3]
    assert whole["now_s"] == 30


@pytest.mark.parametrize("seconds", [Fraction(-1), Fraction(10**9)])
def test_times_that_cannot_pass_are_refused(seconds: Fraction) -> None:
    with pytest.raises(NotPossible):
        stair().pass_time(seconds)


def test_what_is_no_key_and_no_requirement_is_refused() -> None:
    with pytest.raises(NotPossible, match="nothing that can be done here"):
        stair().do("push the lorry")
    with pytest.raises(NotPossible, match="no requirement"):
        stair().against("nothing")


def test_what_was_done_can_be_kept_as_a_script() -> None:
    job = job_of(GARAGE)
    session = RoomSession(job)
    session.do("side_door becomes open")
    session.pass_time(s("1.5"))
    session.do("somebody comes into garage")
    session.pass_time(s(30))
    text = session.script()
    assert text == (
        "starts side_door shut, pir vacant, shutter lowered, garage empty\n"
        "at 0 s side_door becomes open\n"
        "at 1.5 s somebody comes into garage\n"
        "at 3.5 s pir becomes occupied\n"
        "until 31.5 s\n"
    )
    script, problems = parse_script(SourceFile("kept.run", text), job)
    assert script is not None, problems
    assert [(s.at_s, s.changes) for s in play(job, script).run.steps] == [
        (m.at_s, m.changes) for m in session.moments
    ]
    assert RoomSession(job_of(SITE)).script() == ""


def test_rules_that_do_not_touch_each_other_have_no_orders_to_try() -> None:
    """Sixteen rules on one press have 16! orders; all are one."""
    rules = "".join(
        f"lamp l{k}\nrule r{k}\n retriggerable\n upon p pressed\n do\n"
        f"  l{k} on\n  wait 1 min\n  l{k} off\nend rule\n"
        for k in range(16)
    )
    job = job_of(f'button p "P"\n{rules}require r\n never: l0 is on\nend require\n')
    session = RoomSession(job)
    session.against("r")
    (pressed,) = session.do("p pressed")
    assert not pressed.orders
    assert len(pressed.reactions) == 16
    ended = session.pass_time(s(60))
    assert [m.at_s for m in ended] == [s(60)] * 16
    assert not any(m.orders for m in ended)
    assert standing(session) == "broken"
