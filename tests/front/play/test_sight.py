"""What is seen on the page, in Chromium: nothing cut off, nothing over something else, words where one
looks for them, on a desk and on a telephone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.front.play.browser import CHROMIUM, judged, opened, press, written

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="apt-get install chromium"),
    pytest.mark.xdist_group("chromium"),
]

READ = 13
"""Pixels: what is to be read in the room's picture is at least so tall (common practice, no source)."""

PLATES = """() => {
  const svg = document.querySelector('svg.room');
  const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
  const all = (name) => [...svg.querySelectorAll(name)];
  const box = (e) => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
  return {
    size: Math.min(...all('text').map((t) => parseFloat(getComputedStyle(t).fontSize) * scale)),
    plates: all('.plate').map(box),
    words: all('text').map(box),
    frame: box(svg),
  };
}"""


def leaf(page: Page, name: str) -> None:
    page.get_by_role("tab", name=name, exact=True).click()


def over(one: list[float], other: list[float]) -> bool:
    """Whether two boxes (left, top, right, bottom) lie over each other."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def within(inner: list[float], outer: list[float]) -> bool:
    return (
        inner[0] >= outer[0] - 1
        and inner[1] >= outer[1] - 1
        and inner[2] <= outer[2] + 1
        and inner[3] <= outer[3] + 1
    )


@pytest.mark.parametrize("width", [1280, 390])
def test_the_rooms_words_can_be_read_each_on_one_plate(
    browser: Browser, draft: str, width: int
) -> None:
    with opened(browser, draft, width=width) as (page, _):
        judged(page)
        leaf(page, "Behaves")
        page.wait_for_selector("svg.room")
        seen: dict[str, Any] = page.evaluate(PLATES)
        assert seen["size"] >= READ
        plates = seen["plates"]
        assert len(plates) == 19  # the things of the boathouse, sun and mains among them
        assert [p for p in plates if not within(p, seen["frame"])] == []
        assert [(a, b) for k, a in enumerate(plates) for b in plates[k + 1 :] if over(a, b)] == []
        for words in seen["words"]:
            assert sum(within(words, plate) for plate in plates) == 1, words


def test_a_thing_in_the_picture_is_pressed_on_and_night_is_dark(
    browser: Browser, draft: str
) -> None:
    with opened(browser, draft, width=390) as (page, _):
        judged(page)
        leaf(page, "Behaves")
        page.locator("svg.room .press[data-thing=sun]").click()
        page.wait_for_selector("svg.room.night")
        page.locator("svg.room .press[data-thing=side_door]").click()
        page.wait_for_function(
            "() => /Side door open/.test(document.querySelector('svg.room').getAttribute('aria-label'))"
        )
        assert page.locator("svg.room .bulb.lit").count() > 0
        page.locator("svg.room .press[data-thing=shutter]").click()
        page.wait_for_selector("svg.room .way")


@pytest.mark.parametrize("width", [1280, 390])
def test_the_first_that_fails_is_shown_by_itself(browser: Browser, draft: str, width: int) -> None:
    with opened(browser, draft, width=width) as (page, _):
        leaf(page, "Fails")
        page.wait_for_selector("#leaf-fails svg.lanes")
        assert page.locator("#story-of").input_value() == "moving_light"
        assert "moving" in page.locator("#leaf-fails h3").first.inner_text()
        if width == 390:
            return
        page.get_by_role("button", name="rules.dusk", exact=True).click()
        written(page, "the light should come on when I come home\n")
        page.wait_for_selector(".findings .bad")
        page.wait_for_selector("#leaf-fails >> text=The text has mistakes")


LANES = """() => {
  const scroll = document.querySelector('#leaf-fails .scroll');
  const all = (name) => [...scroll.querySelectorAll(name)].map((e) => e.getBoundingClientRect());
  return {
    left: Math.min(...all('.names text').map((b) => b.left)),
    right: Math.max(...all('.names text.label').map((b) => b.right)),
    names: all('.names text.label').map((b) => b.bottom),
    values: all('text.value').map((b) => b.top),
    scrolled: scroll.scrollWidth - scroll.clientWidth,
  };
}"""


def test_on_a_telephone_each_name_stands_above_its_line(browser: Browser, draft: str) -> None:
    with opened(browser, draft, width=390) as (page, _):
        judged(page)
        leaf(page, "Fails")
        page.wait_for_selector("#leaf-fails svg.lanes")
        seen: dict[str, Any] = page.evaluate(LANES)
        assert seen["left"] >= 0
        assert seen["right"] <= 390
        assert seen["scrolled"] <= 0  # three instants have room
        for name in seen["names"]:
            assert min(abs(value - name) for value in seen["values"]) < 12


def test_a_lane_to_draw_is_not_cut_on_a_telephone(browser: Browser, draft: str) -> None:
    with opened(browser, draft, width=390) as (page, _):
        judged(page)
        leaf(page, "Lessons")
        press(page, page.get_by_role("button", name="Open A first rule and a first proof"))
        page.wait_for_selector(".question")
        cut = page.evaluate(
            "() => [...document.querySelectorAll('.question .scroll')]"
            ".map((box) => box.scrollWidth - box.clientWidth)"
        )
        assert len(cut) == 2
        assert max(cut) <= 0


def test_on_a_telephone_one_goes_to_the_text_and_comes_back_to_where_one_was(
    browser: Browser, draft: str
) -> None:
    with opened(browser, draft, width=390) as (page, _):
        judged(page)
        leaf(page, "Lessons")
        press(page, page.get_by_role("button", name="Open A first rule and a first proof"))
        page.wait_for_selector(".question")
        button = page.get_by_role("button", name="Go to the text")
        button.scroll_into_view_if_needed()
        down = page.evaluate("() => scrollY")
        assert down > 1000
        press(page, button)
        assert page.locator(".cm-content").is_visible()
        assert page.evaluate("() => scrollY") < 100
        leaf(page, "Lessons")
        assert page.evaluate("() => scrollY") == pytest.approx(down, abs=60)
        assert page.get_by_role("button", name="Hand in").is_visible()


def test_while_the_page_is_on_its_way_it_says_so(browser: Browser, draft: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.set_default_timeout(20_000)
    held = []
    page.route("**/page.js", lambda route: held.append(route))
    page.goto(draft, wait_until="commit")
    page.wait_for_selector("text=The page is being loaded")
    while not held:
        page.wait_for_timeout(50)
    held[0].continue_()
    judged(page)
    assert page.locator("#connection").inner_text() == ""
    context.close()


def test_what_is_handed_in_without_a_connection_is_said_not_to_have_come(
    browser: Browser, draft: str
) -> None:
    context = browser.new_context()
    context.add_init_script(
        "window.sockets = []; window.WebSocket = class extends WebSocket {"
        " constructor(...all) { super(...all); window.sockets.push(this); } };"
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.goto(draft)
    judged(page)
    leaf(page, "Lessons")
    press(page, page.get_by_role("button", name="Open A first rule and a first proof"))
    page.wait_for_selector(".question")
    page.get_by_label("A figure with its unit").fill("60 s")
    page.evaluate(
        "() => { const tell = (name) => document.querySelector(name).click();"
        " tell('[data-key=hand-in]'); window.sockets[0].close();"
        " tell('[data-key=\"answer-01-first-rule-4\"]'); tell('[data-key=hint-1]'); }"
    )
    place = page.locator(".question").last
    place.get_by_text("The connection is gone, and what was handed in with it").wait_for()
    assert page.get_by_text("nothing was sent").count() == 2
    page.wait_for_function("() => document.getElementById('connection').innerText === ''")
    press(page, page.get_by_role("button", name="Answer question 4"))
    page.wait_for_selector(".question .badge.good")
    context.close()


def test_words_are_coloured_as_the_grammar_has_them(browser: Browser, draft: str) -> None:
    """`end rule` is one keyword, as in the grammar, and a label is a label."""
    with opened(browser, draft) as (page, _):
        wired = page.locator(".cm-line", has_text="side_door").first
        page.wait_for_selector(".cm-line span:text-is('contact')")
        assert {"wired", "normally", "closed"} <= set(wired.locator("span").all_inner_texts())
        page.get_by_role("button", name="rules.dusk", exact=True).click()
        page.wait_for_selector(".cm-line span:text-is('end rule')")
        head = page.locator(".cm-line", has_text="rule shutter_light").first
        assert head.locator("span").all_inner_texts()[0] == "rule"
        assert head.locator("span").all_inner_texts()[-1].startswith('"')
