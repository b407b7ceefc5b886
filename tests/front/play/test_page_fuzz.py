"""Odd texts and random doings on the page, with fixed seeds: it never breaks, and still answers after."""

from __future__ import annotations

import json
import random
from typing import TYPE_CHECKING

import pytest

from tests.front.play.browser import CHROMIUM, FIRST_JOB, SPECS, judged, opened, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, WebSocketRoute

api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="apt-get install chromium"),
    pytest.mark.xdist_group("chromium"),
]

BITS = (
    "rule", "end rule\n", "upon ", "\n", '"', "#", "wait 1 min\n", "🛶", "\u202e", "\u0000", "<b>", "💡 é",
    "always: ", "a" * 300, "99999999999999 h", "(", ")", " % ", "\t", "require x\n never: day\nend require\n",
)  # fmt: skip

ENDLESS = """\
button push "Push-button"
lamp a "Lamp" 5 W
rule one
  upon push pressed
  upon a becomes off
  do
    a on
end rule
rule two
  upon a becomes on
  do
    a off
end rule
require off
  never: a is on
end require
"""


def put(page: Page, text: str) -> None:
    """Replaces the whole text, as a paste does."""
    page.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.press("Delete")
    page.evaluate(
        "(text) => { const clipboardData = new DataTransfer();"
        " clipboardData.setData('text/plain', text);"
        " document.querySelector('.cm-content').dispatchEvent("
        "new ClipboardEvent('paste', { clipboardData, bubbles: true, cancelable: true })); }",
        text,
    )


@pytest.mark.parametrize("seed", range(3))
def test_random_edits_never_break_the_page(browser: Browser, address: str, seed: int) -> None:
    chance = random.Random(seed)
    with opened(browser, address) as (page, seen):
        judged(page)
        page.locator(".cm-content").click()
        for _ in range(40):
            for _ in range(chance.randrange(6)):
                page.keyboard.press(
                    chance.choice(["ArrowUp", "ArrowDown", "ArrowLeft", "Shift+ArrowDown", "End"])
                )
            match chance.randrange(4):
                case 0:
                    page.keyboard.press("Backspace")
                case 1:
                    page.keyboard.press("Control+z")
                case _:
                    page.keyboard.insert_text(chance.choice(BITS))
            page.wait_for_timeout(chance.choice([0, 0, 150]))
        put(page, FIRST_JOB)
        page.wait_for_function(
            "() => document.getElementById('summary').innerText === '1 proved, 1 refuted.'"
        )
        # Where a text is put in over a selection Chromium itself wants to keep its look by an inline
        # style; the policy refuses that, and the editor draws the line anew.
        seen.problems[:] = [p for p in seen.problems if "Applying inline style" not in p]


def test_a_place_behind_wide_characters_is_marked_where_it_stands(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        put(
            page,
            FIRST_JOB.replace("porch_light on", "porsch_light on").replace('"Side', '"🛶🛶 Side'),
        )
        page.wait_for_selector(".cm-lintRange-error")
        assert page.locator(".cm-lintRange-error").first.inner_text() == "porsch_light"


def test_rules_that_never_settle_are_told_with_their_chain(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        put(page, ENDLESS)
        page.wait_for_selector("body[data-judging=mistakes]")
        page.wait_for_selector(".findings .bad")
        assert "one and two go round for ever" in page.locator("#findings").inner_text()
        assert "proved" not in page.locator(".card .badge").first.inner_text()


def test_what_was_proved_before_the_chain_was_found_is_not_proved(
    browser: Browser, address: str
) -> None:
    """The chain is the last thing that the proofs come upon: nothing stays green."""

    def last(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(lambda told: socket.send(rejected(str(told))))

    with opened(browser, address) as (page, _):
        judged(page)
        assert page.locator(".badge.good").count() == 1
        page.route_web_socket("**/socket", last)
        page.reload()
        page.wait_for_selector("body[data-judging=mistakes]")
        assert page.locator(".badge.good").count() == 0
        assert page.locator(".card .badge.bad").count() == 1  # its run is there to be seen


def rejected(told: str) -> str:
    """The same message; the end of proving says that an error of the whole job was found."""
    message = json.loads(told)
    return json.dumps({**message, "rejected": True}) if message["kind"] == "judged" else told


@pytest.mark.parametrize("seed", range(2))
def test_random_doings_in_the_room_never_break_it(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    chance = random.Random(seed)
    with (
        served(SPECS / "boathouse-first-draft", tmp_path_factory.mktemp("cache")) as address,
        opened(browser, address) as (page, _),
    ):
        judged(page)
        page.get_by_role("tab", name="Behaves").click()
        page.wait_for_selector("svg.room")
        page.locator("#against").select_option("moving_light")
        for _ in range(60):
            names = page.evaluate(
                "() => [...document.querySelectorAll('.behaves-do button, .behaves-orders button,"
                " .behaves-time button')].filter((b) => b.offsetParent).map((b) => b.dataset.key)"
            )
            page.evaluate(
                '(key) => document.querySelector(`[data-key="${key}"]`)?.click()',
                chance.choice(names),
            )
            page.wait_for_timeout(chance.choice([0, 30]))
        page.locator("[data-key='rate-0']").click()
        page.locator("[data-key=restart]").click()
        page.wait_for_function("() => document.querySelector('.clock strong').innerText === '0 s'")
