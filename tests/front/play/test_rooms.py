"""The room of a page over a real socket: what is shown, done, watched, taken back."""

from __future__ import annotations

from typing import Any

import pytest

from tests.front.play.served import PORCH, Page

LONG = PORCH + "require short\n  no longer than 1 min: porch is on\nend require\n"

TWO_RULES = """\
button push
lamp bay
rule lit
  upon push pressed
  do
    bay on
end rule
rule dark
  upon push pressed
  do
    bay off
end rule
require never_mind
  possible: bay is on
end require
"""


def do(page: Page, what: str, **fields: Any) -> dict[str, Any]:
    page.say("room", do=what, **fields)
    return page.until("room")


def thing(room: dict[str, Any], name: str) -> str:
    (found,) = [each["value"] for each in room["things"] if each["name"] == name]
    return str(found)


def begun(page: Page, text: str = LONG) -> dict[str, Any]:
    page.text(1, text)
    page.verdicts(1)
    return do(page, "start")


def test_a_person_opens_the_door_and_time_passes(page: Page) -> None:
    room = begun(page)
    assert (thing(room, "side_door"), thing(room, "porch"), room["now_s"]) == ("shut", "off", 0)
    (key,) = [a["key"] for a in room["possible"] if a["thing"] == "side_door"]
    room = do(page, "act", key=key)
    assert thing(room, "porch") == "on"
    lit = [LONG[line["from"] : line["to"]] for line in room["moments"][-1]["lines"]]
    assert lit[:1] == ["upon side_door becomes open"]
    room = do(page, "pass", seconds="119.5")
    assert (thing(room, "porch"), room["now_s"]) == ("on", 119.5)
    room = do(page, "due")
    assert (thing(room, "porch"), room["now_s"]) == ("off", 120)
    room = do(page, "undo")
    assert thing(room, "porch") == "on"


def test_what_the_page_knows_is_not_told_again(page: Page) -> None:
    """Moments kept and told are together those of the session, whatever is done or taken back."""
    room = begun(page)
    known: list[int] = []

    def then(what: str, **fields: object) -> dict[str, Any]:
        nonlocal known
        told = do(page, what, **fields)
        known = [*known[: told["kept"]], *(moment["number"] for moment in told["moments"])]
        assert known == list(range(1, len(known) + 1))
        assert all(len(lane["values"]) <= 1 for lane in told["lanes"])
        return told

    assert room["kept"] == len(room["moments"]) == 0
    then("act", key="side_door becomes open")
    opened = len(known)
    assert opened > 0
    room = then("pass", seconds=1)
    assert (room["kept"], room["moments"], len(known)) == (opened, [], opened)
    then("due")
    assert len(known) > opened
    room = then("undo")
    assert (room["kept"], len(known)) == (opened, opened)
    room = then("start")
    assert (room["kept"], known) == (0, [])


def test_a_requirement_is_watched_and_broken(page: Page) -> None:
    room = begun(page)
    room = do(page, "against", requirement="short")
    assert room["judged"]["requirement"] == "short"
    before = room["judged"]["standing"]
    room = do(page, "act", key="side_door becomes open")
    room = do(page, "pass", seconds=61)
    assert room["judged"]["standing"] == "broken"
    assert before != "broken"


def test_whoever_gives_up_sees_the_shortest_run(page: Page) -> None:
    begun(page)
    room = do(page, "show_run", requirement="short")
    assert room["showing"]["step"] == 0
    for step in range(1, room["showing"]["of"] + 1):
        room = do(page, "due")
        assert room["showing"]["step"] == step
    assert room["judged"]["standing"] == "broken"
    room = do(page, "undo")
    assert room["showing"]["step"] == room["showing"]["of"] - 1


def test_both_orders_of_one_instant_are_there_to_choose(page: Page) -> None:
    begun(page, TWO_RULES)
    room = do(page, "act", key="push pressed")
    orders = room["moments"][0]["orders"]
    assert len(orders) >= 2
    seen = {thing(do(page, "choose", key=order["key"]), "bay") for order in orders}
    assert seen == {"on", "off"}


@pytest.mark.parametrize(
    ("what", "fields", "said"),
    [
        ("act", {"key": "side_door becomes ajar"}, "nothing that can be done"),
        ("pass", {}, "how much time"),
        ("pass", {"seconds": 300_000_000}, "so much time"),
        ("choose", {"key": "0.0"}, "no order"),
        ("undo", {}, "nothing to take back"),
        ("against", {"requirement": "none"}, "no requirement"),
        ("show_run", {"requirement": "lit"}, "no run to show"),
        ("show_run", {"requirement": "none"}, "no requirement"),
    ],
)
def test_what_cannot_be_done_is_told_and_the_room_stays(
    page: Page, what: str, fields: dict[str, Any], said: str
) -> None:
    begun(page)
    room = do(page, what, **fields)
    assert said in room["why"]
    assert thing(room, "porch") == "off"


def test_there_is_no_room_of_a_text_with_a_mistake(page: Page) -> None:
    page.text(1, "lamp 12\n")
    page.until("checked")
    assert "mistake" in do(page, "start")["words"]
    assert "no room" in do(page, "undo")["words"]


def test_a_room_goes_on_while_its_text_changes(page: Page) -> None:
    begun(page)
    do(page, "act", key="side_door becomes open")
    page.text(2, "# Something above.\n" + LONG)
    page.until("checked", version=2)
    room = do(page, "due")
    assert (room["version"], thing(room, "porch")) == (1, "off")
    page.say("room", do="end")
    assert "no room" in do(page, "undo")["words"]


def test_a_run_is_not_shown_in_a_room_of_another_text(page: Page) -> None:
    """The run is found of the newest text; in the room the porch would do what no line says any more."""
    begun(page)
    assert do(page, "show_run", requirement="short")["showing"] is not None
    page.text(2, LONG.replace("wait 2 min", "wait 3 min"))
    page.verdicts(2)
    room = do(page, "show_run", requirement="short")
    assert "text has changed" in room["why"]
    assert room["version"] == 1
    do(page, "start")
    room = do(page, "show_run", requirement="short")
    assert (room["version"], "why" in room) == (2, False)
