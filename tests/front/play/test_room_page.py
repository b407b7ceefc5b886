"""The room on the page, operated in Chromium by keyboard; a requirement broken; the tool's own run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.front.play.browser import CHROMIUM, SPECS, judged, opened, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="apt-get install chromium"),
    pytest.mark.xdist_group("chromium"),
]


def pressed(page: Page, name: str) -> None:
    """A button is reached and pressed by keyboard."""
    button = page.get_by_role("button", name=name, exact=True)
    button.focus()
    page.keyboard.press("Enter")


def picture(page: Page) -> str:
    """The room's picture in words."""
    return page.locator("svg.room").get_attribute("aria-label") or ""


def shown(page: Page, words: str) -> None:
    """Waits until the picture says something."""
    page.wait_for_function(
        "(words) => document.querySelector('svg.room')?.getAttribute('aria-label').includes(words)",
        arg=words,
    )


def test_a_door_is_opened_and_the_light_comes_on_and_goes_off_when_it_is_due(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        page.get_by_role("tab", name="Behaves").click()
        shown(page, "Side door shut")
        assert "Porch light off" in picture(page)
        pressed(page, "Side door: becomes open")
        shown(page, "Porch light on")
        assert page.locator(".lit-line").inner_text().strip() == "upon side_door becomes open"
        focused = page.evaluate("() => document.activeElement.getAttribute('aria-label')")
        assert focused == "Side door: becomes shut"
        assert "come_in runs" in page.locator(".log").inner_text()
        assert "Due in 1 min" in page.locator(".behaves-time").inner_text()
        pressed(page, "Let 10 s pass")
        page.wait_for_function(
            "() => /50 s left/.test(document.querySelector('.behaves-rules').innerText)"
        )
        pressed(page, "Go on to what is due")
        shown(page, "Porch light off")
        assert page.locator(".clock strong").inner_text() == "1 min"
        assert page.locator(".lit-line").inner_text().strip() == "wait 1 min"
        pressed(page, "Take back")
        shown(page, "Porch light on")


def test_time_runs_and_is_stopped(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        page.get_by_role("tab", name="Behaves").click()
        shown(page, "Side door shut")
        pressed(page, "Side door: becomes open")
        shown(page, "Porch light on")
        pressed(page, "100 ×")
        shown(page, "Porch light off")
        pressed(page, "Stop")
        page.wait_for_timeout(600)
        stood = page.locator(".clock strong").inner_text()
        page.wait_for_timeout(600)
        assert page.locator(".clock strong").inner_text() == stood


def test_a_requirement_is_broken_by_hand_and_what_is_proved_is_not(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        pressed(page, "Try to break it: while_open")
        shown(page, "Side door shut")
        page.wait_for_function(
            "() => /kept so far/.test(document.getElementById('standing')?.innerText)"
        )
        pressed(page, "Side door: becomes open")
        shown(page, "Porch light on")
        pressed(page, "Go on to what is due")
        page.wait_for_function(
            "() => /broken/.test(document.getElementById('standing')?.innerText)"
        )
        assert "✗" in page.locator("#standing").inner_text()
        page.locator("#against").select_option("a_minute")
        page.wait_for_function(
            "() => !/broken/.test(document.getElementById('standing')?.innerText)"
        )
        assert "It is proved" in page.locator(".behaves-against").inner_text()


def test_who_gives_up_is_shown_the_shortest_run_step_by_step(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        pressed(page, "Try to break it: while_open")
        shown(page, "Side door shut")
        pressed(page, "Give up: show the shortest run")
        page.wait_for_selector("text=The shortest run: step 0")
        assert "Side door open" in picture(page)  # it stands open as the run begins
        assert "broken" in page.locator("#standing").inner_text()


def test_both_orders_of_one_moment_are_told_and_one_is_chosen(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("orders")
    (folder / "job.dusk").write_text(
        'button push "Push-button"\nlamp a "Lamp" 5 W\n'
        "rule one\n  upon push pressed\n  do\n    a on\nend rule\n"
        "rule two\n  upon push pressed\n  do\n    a off\nend rule\n"
        "require off\n  never: a is on\nend require\n",
        "utf-8",
    )
    with (
        served(folder, tmp_path_factory.mktemp("cache")) as address,
        opened(browser, address) as (page, _),
    ):
        judged(page)
        page.get_by_role("tab", name="Behaves").click()
        shown(page, "Lamp off")
        pressed(page, "Push-button: pressed")
        page.wait_for_selector(".behaves-orders button")
        orders = page.locator(".behaves-orders button")
        assert orders.count() == 2
        before = picture(page)
        page.locator(".behaves-orders button[aria-pressed=false]").click()
        page.wait_for_function(
            "(b) => document.querySelector('svg.room').getAttribute('aria-label') !== b", arg=before
        )


@pytest.mark.parametrize("width", [1280, 390])
def test_the_boathouse_is_drawn_within_the_page(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory, width: int
) -> None:
    with (
        served(SPECS / "boathouse", tmp_path_factory.mktemp("cache")) as address,
        opened(browser, address, width=width) as (page, _),
    ):
        judged(page)
        page.get_by_role("tab", name="Behaves").click()
        shown(page, "Roller shutter")
        box = page.locator("svg.room").bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width
        pressed(page, "PIR over the bench: becomes occupied")
        shown(page, "Bench strip 100 %")
