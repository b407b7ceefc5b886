"""Lessons on the page in Chromium: read, answered, a lane drawn by keyboard, a challenge handed in."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.front.play.browser import AXE, CHROMIUM, RUN, judged, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="apt-get install chromium"),
    pytest.mark.xdist_group("chromium"),
]

FIRST = "Open A first rule and a first proof"


def first_lesson(page: Page) -> None:
    judged(page)
    page.get_by_role("tab", name="Lessons").click()
    page.get_by_role("button", name=FIRST).click()
    page.wait_for_selector(".question")


def answered(page: Page, number: int) -> str:
    """Answers a question and says what came of it."""
    button = page.get_by_role("button", name=f"Answer question {number}", exact=True)
    button.focus()
    page.keyboard.press("Enter")
    came = page.locator(".question", has=button).locator("[aria-live] .badge")
    came.wait_for()
    return came.inner_text()


def put(page: Page, number: int, change: int, seconds: str, value: str) -> None:
    """A change of a drawn lane, by keyboard alone."""
    question = page.locator(".question").nth(number - 1)
    question.get_by_role("button", name="Add a change").focus()
    page.keyboard.press("Enter")
    field = question.get_by_label(f"Change {change}: seconds")
    minutes, rest = divmod(int(seconds), 60)
    question.get_by_label(f"Change {change}: minutes").fill(str(minutes))
    page.keyboard.press("Tab")
    field.fill(str(rest))
    page.keyboard.press("Tab")
    question.get_by_label(f"Change {change}: it is").select_option(value)


def test_a_lane_is_drawn_and_what_is_right_is_laid_over_it(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        put(page, 1, 1, "12", "on")
        assert "not right" in answered(page, 1)
        question = page.locator(".question").first
        assert "from 10 s on" in question.inner_text()
        drawing = question.locator("svg").get_attribute("aria-label") or ""
        assert "yours: off; 12 s on" in drawing
        assert "what the interpreter says: off; 10 s on; 1 min 10 s off" in drawing
        assert page.locator(".lit-line").inner_text().strip() == "upon side_door becomes open"


def test_a_right_lane_is_right_and_stays_in_the_progress(
    browser: Browser, own: str, tmp_path: Path
) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        put(page, 1, 1, "10", "on")
        put(page, 1, 2, "70", "off")
        assert "right" in answered(page, 1)
        page.get_by_role("button", name="All lessons").click()
        page.wait_for_selector("text=begun")
        kept = page.evaluate("() => localStorage.getItem('duskproof-progress')")
        assert json.loads(kept)["lessons"]["01-first-rule"]["answers"] == {"1": "right"}
        with page.expect_download() as download:
            page.get_by_role("button", name="Export progress").click()
        from verifier.teach.progress import read_progress

        exported = Path(download.value.path()).read_text("utf-8")
        assert dict(read_progress(exported).of("01-first-rule").answers) == {1: "right"}
        page.evaluate("() => localStorage.clear()")
        page.reload()
        page.wait_for_selector(".card", state="attached")
        page.get_by_role("tab", name="Lessons").click()
        page.get_by_role("button", name=FIRST).wait_for()
        assert page.get_by_text("begun").count() == 0
        (tmp_path / "progress.json").write_text(exported, "utf-8")
        (tmp_path / "other.json").write_text("{}", "utf-8")
        page.get_by_label("Take progress in").set_input_files(tmp_path / "progress.json")
        page.wait_for_selector("text=The progress was taken in.")
        assert page.get_by_text("begun").count() == 1
        page.get_by_label("Take progress in").set_input_files(tmp_path / "other.json")
        page.wait_for_selector("text=It was not taken in")


def test_two_pages_of_one_browser_lose_nothing_of_each_other_s_progress(
    browser: Browser, own: str
) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        other = page.context.new_page()
        other.goto(own)
        other.wait_for_selector(".card", state="attached")
        first_lesson(other)
        page.get_by_label("The rule was right in those twenty cases").check()
        assert "right" in answered(page, 3)
        put(other, 1, 1, "12", "on")
        assert "not right" in answered(other, 1)
        kept = page.evaluate("() => localStorage.getItem('duskproof-progress')")
        assert json.loads(kept)["lessons"]["01-first-rule"]["answers"] == {
            "1": "wrong",
            "3": "right",
        }


def test_a_change_at_the_very_start_is_the_start(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        put(page, 1, 1, "0", "on")
        assert "not right" in answered(page, 1)
        assert "At the start you have “on”" in page.locator(".question").first.inner_text()


def test_words_figures_and_choices_are_answered(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        page.get_by_label("The rule was right in those twenty cases").check()
        assert "right" in answered(page, 3)
        page.get_by_label("A figure with its unit").fill("1 min")
        assert "right" in answered(page, 4)
        page.get_by_label("A figure with its unit").fill("soon")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=not understood")


def test_a_challenge_is_handed_in_and_hinted_at(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        page.get_by_role("button", name="Hand in").click()
        page.wait_for_selector("text=not yet")
        page.get_by_role("button", name="Hint 1: where to look").click()
        page.wait_for_selector("h4:has-text('Hint 1')")
        page.get_by_role("button", name="Hint 3: the run").click()
        page.wait_for_selector("h4:has-text('Hint 3')")
        page.locator(".question").last.locator("svg.lanes").wait_for()


def test_a_challenge_with_a_job_of_its_own_is_put_into_the_text(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        judged(page)
        page.get_by_role("tab", name="Lessons").click()
        page.get_by_role("button", name="Open Writing one requirement").click()
        page.get_by_role("button", name="Put the challenge's job into the text").click()
        page.wait_for_function(
            "() => /by somebody else/.test(document.querySelector('.cm-content').innerText)"
        )
        page.get_by_role("button", name="Hand in").click()
        page.wait_for_selector("text=there is no requirement: write one")
        page.get_by_role("button", name="All lessons").click()
        page.get_by_role("button", name=FIRST).click()
        page.wait_for_selector(".question")
        assert page.get_by_role("button", name="Put the challenge's job").count() == 0


def test_the_own_text_comes_back_when_one_leaves_the_lesson(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        first_lesson(page)
        page.wait_for_function(
            "() => /rowing club/.test(document.querySelector('.cm-content').innerText)"
        )
        page.get_by_role("button", name="All lessons").click()
        page.wait_for_function(
            "() => !/rowing club/.test(document.querySelector('.cm-content').innerText)"
        )
        page.get_by_role("tab", name="Agreed").click()
        judged(page)
        assert page.locator("#summary").inner_text() == "1 proved, 1 refuted."


def test_every_lesson_opens(browser: Browser, own: str) -> None:
    with opened(browser, own) as (page, _):
        judged(page)
        page.get_by_role("tab", name="Lessons").click()
        page.get_by_role("button", name=FIRST).wait_for()
        names = page.locator("#leaf-lessons .card button").count()
        titles = page.locator("#leaf-lessons .card h3").all_inner_texts()
        assert names == len(titles) >= 8
        for k in range(names):
            page.locator("#leaf-lessons .card button").nth(k).click()
            page.wait_for_selector("h3.title")
            title = page.locator("h3.title").inner_text()
            assert title in titles[k]
            assert page.locator(".question").count() >= 1
            words = page.locator("#leaf-lessons").inner_text()
            assert not re.search(r"undefined|\[object|NaN", words), title
            page.get_by_role("button", name="All lessons").click()
            page.wait_for_selector("#leaf-lessons .card")


@pytest.mark.skipif(not AXE.is_file(), reason="npm install --prefix DIR axe-core; AXE_CORE=DIR")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_no_lesson_of_the_first_three_breaks_a_rule_of_accessibility(
    browser: Browser, own: str, width: int, scheme: str
) -> None:
    with opened(browser, own, width=width, scheme=scheme) as (page, seen):
        page.context.new_cdp_session(page).send("Page.setBypassCSP", {"enabled": True})
        page.get_by_role("tab", name="Lessons").click()
        page.get_by_role("button", name=FIRST).wait_for()
        page.evaluate(Path(AXE).read_text("utf-8"))
        for k in range(3):
            page.locator("#leaf-lessons .card button").nth(k).click()
            page.wait_for_selector(".question")
            assert json.loads(page.evaluate(RUN)) == []
            assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
            page.get_by_role("button", name="All lessons").click()
            page.wait_for_selector("#leaf-lessons .card")
        seen.problems.clear()
