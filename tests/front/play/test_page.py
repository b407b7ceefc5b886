"""What a person does on the page, in Chromium, by pointer and by keyboard alone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.front.play.browser import AXE, CHROMIUM, RUN, judged, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="apt-get install chromium"),
    pytest.mark.xdist_group("chromium"),
]


def card(page: Page, words: str) -> Any:
    return page.locator(".card", has_text=words)


def typed_over(page: Page, old: str, new: str) -> None:
    """Selects words in the editor and types others, as a person does."""
    page.locator(".cm-content").click()
    page.keyboard.press("Control+Home")
    lines = page.evaluate(
        "() => [...document.querySelectorAll('.cm-line')].map((line) => line.textContent)"
    )
    text = "\n".join(lines)
    before = text[: text.index(old)]
    for _ in range(before.count("\n")):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("End")
    page.keyboard.press("Home")  # at the line's first word
    for _ in before.rpartition("\n")[2].lstrip():
        page.keyboard.press("ArrowRight")
    for _ in old:
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.type(new)


def test_verdicts_come_with_sign_and_word(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        assert "✓proved" in card(page, "A minute of light").locator(".badge").inner_text()
        assert "✗refuted" in card(page, "Light while the door").locator(".badge").inner_text()
        assert "Every time" in card(page, "A minute of light").inner_text()
        assert page.locator("#summary").inner_text() == "1 proved, 1 refuted."


def test_an_edit_is_never_green_by_accident_and_is_judged_anew(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        page.evaluate(
            "() => { window.stood = [];"
            " new MutationObserver("
            "() => window.stood.push(document.querySelector('.card .badge')?.innerText)"
            ").observe(document.getElementById('leaf-agreed'),"
            " { subtree: true, childList: true, characterData: true }); }"
        )
        typed_over(page, "wait 1 min", "wait 59 s")
        page.wait_for_function(
            "() => /refuted/.test(document.querySelector('.card .badge')?.innerText)"
        )
        stood = page.evaluate("() => window.stood")
        assert any("changed" in words for words in stood)
        assert not any("✓" in words for words in stood)


def test_a_mistake_is_told_with_its_line_and_nothing_is_proved(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        typed_over(page, "porch_light on", "porsch_light on")
        page.wait_for_selector(".findings .bad")
        told = page.locator(".findings").inner_text()
        assert "job.dusk, line 8" in told
        assert "porch_light" in told
        assert "mistakes" in page.locator("#summary").inner_text()
        page.get_by_role("button", name="job.dusk, line 8").click()
        typed = page.evaluate("() => document.activeElement.className")
        assert "cm-content" in typed


def test_a_failing_case_is_stepped_through_by_keyboard_and_its_lines_are_lit(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        typed_over(page, "wait 1 min", "wait 50 s")
        page.wait_for_function(
            "() => /0 proved|^2 refuted/.test(document.getElementById('summary').innerText)"
        )
        button = page.get_by_role("button", name="Why it fails: a_minute")
        button.focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("#leaf-fails svg.lanes")
        assert "At the start" in page.locator(".now-told").first.inner_text()
        page.keyboard.press("ArrowRight")
        assert "becomes open" in page.locator(".now-told").first.inner_text()
        lit = page.locator(".lit-line")
        assert lit.inner_text().strip() == "upon side_door becomes open"
        assert page.locator(".source mark").inner_text() == "upon side_door becomes open"
        page.keyboard.press("ArrowRight")
        assert "50 s" in page.locator(".now-told").first.inner_text()
        assert page.locator(".lit-line").inner_text().strip() == "wait 50 s"
        page.keyboard.press("Home")
        assert "At the start" in page.locator(".now-told").first.inner_text()
        page.keyboard.press("End")
        assert "broken" in page.locator(".now-told").first.inner_text()
        assert page.get_by_text("What would have gone well").is_visible()


def test_the_leaves_are_reached_by_arrow_keys(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        page.get_by_role("tab", name="Agreed").focus()
        for name in ("Behaves", "Fails", "Papers", "Lessons", "Agreed"):
            page.keyboard.press("ArrowRight")
            assert page.get_by_role("tab", name=name).get_attribute("aria-selected") == "true"
            assert page.locator(f"#leaf-{name.lower()}").is_visible()


def test_everything_that_can_be_pointed_at_is_reached_by_tab_and_shows_the_focus(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        page.locator("body").click(position={"x": 2, "y": 2})
        reached = set()
        for _ in range(40):
            page.keyboard.press("Tab")
            now = page.evaluate(
                "() => { const e = document.activeElement; const s = getComputedStyle(e);"
                " return [e.dataset.key ?? e.id ?? e.className, s.outlineStyle, e.matches('button')]; }"
            )
            if now[2]:
                assert now[1] == "solid", now
            reached.add(now[0])
        assert {"break-a_minute", "go-a_minute", "story-while_open", "format", "keep"} <= reached


def test_two_pages_at_once_know_nothing_of_each_other(browser: Browser, address: str) -> None:
    with opened(browser, address) as (one, _), opened(browser, address) as (other, _):
        judged(one)
        judged(other)
        typed_over(one, "wait 1 min", "wait 10 s")
        one.wait_for_function(
            "() => /2 refuted/.test(document.getElementById('summary').innerText)"
        )
        assert "wait 1 min" in other.locator(".cm-content").inner_text()
        assert other.locator("#summary").inner_text() == "1 proved, 1 refuted."


def test_a_text_that_is_too_long_gets_a_message_and_the_page_lives_on(
    browser: Browser, address: str
) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        page.locator(".cm-content").click()
        page.keyboard.press("Control+End")
        page.evaluate(
            "() => { const clipboardData = new DataTransfer();"
            " clipboardData.setData('text/plain', `# ${'x'.repeat(97)}\\n`.repeat(52000));"
            " document.querySelector('.cm-content').dispatchEvent("
            "new ClipboardEvent('paste', { clipboardData, bubbles: true, cancelable: true })); }"
        )
        page.wait_for_selector(".limit")
        assert "MB" in page.locator(".limit").inner_text()
        page.keyboard.press("Control+z")
        judged(page)
        page.wait_for_function(
            "() => document.getElementById('summary').innerText === '1 proved, 1 refuted.'"
        )
        assert page.locator(".limit").count() == 0


def test_a_broken_connection_is_told_and_comes_back_with_the_text_and_the_room(
    browser: Browser, address: str
) -> None:
    context = browser.new_context()
    context.add_init_script(
        "window.sockets = []; window.WebSocket = class extends WebSocket {"
        " constructor(...all) { super(...all); window.sockets.push(this); } };"
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.goto(address)
    judged(page)
    page.get_by_role("tab", name="Behaves").click()
    page.get_by_role("button", name="Side door: becomes open").click()
    page.wait_for_selector(".last")
    typed_over(page, "wait 1 min", "wait 20 s")
    page.evaluate("() => window.sockets[0].close()")
    page.wait_for_function("() => /is gone/.test(document.getElementById('connection').innerText)")
    page.wait_for_function(
        "() => window.sockets.length === 2 && window.sockets[1].readyState === 1"
    )
    page.wait_for_function("() => document.getElementById('connection').innerText === ''")
    assert "wait 20 s" in page.locator(".cm-content").inner_text()
    judged(page)
    assert page.locator("#summary").text_content() == "2 refuted."
    page.get_by_role("button", name="Side door: becomes open").click()
    page.wait_for_selector(".last")
    context.close()


def test_a_slow_network_holds_up_no_typing(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        judged(page)
        tools = page.context.new_cdp_session(page)
        tools.send(
            "Network.emulateNetworkConditions",
            {
                "offline": False,
                "latency": 2000,
                "downloadThroughput": 2000,
                "uploadThroughput": 2000,
            },
        )
        page.locator(".cm-content").click()
        page.keyboard.press("Control+End")
        page.keyboard.type("# one two three")
        assert "# one two three" in page.locator(".cm-content").inner_text()


def test_the_papers_name_the_commands_for_this_job(browser: Browser, address: str) -> None:
    with opened(browser, address) as (page, _):
        page.get_by_role("tab", name="Papers").click()
        told = page.locator("#leaf-papers").inner_text()
        for command in ("promise", "report", "testsheet", "house-page", "points"):
            assert f"duskproof {command} porch" in told


# ---------------------------------------------------------------- rules of accessibility

LEAVES = ("Text", "Agreed", "Behaves", "Fails", "Papers", "Lessons")


@pytest.mark.skipif(not AXE.is_file(), reason="npm install --prefix DIR axe-core; AXE_CORE=DIR")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_no_leaf_breaks_a_rule_of_accessibility(
    browser: Browser, draft: str, width: int, scheme: str
) -> None:
    """By axe-core, which is injected from outside the page's own policy."""
    with opened(browser, draft, width=width, scheme=scheme) as (page, seen):
        page.wait_for_selector(".card .bad", state="attached")
        judged(page)
        page.context.new_cdp_session(page).send("Page.setBypassCSP", {"enabled": True})
        page.evaluate(Path(AXE).read_text("utf-8"))
        for leaf in LEAVES:
            tab = page.get_by_role("tab", name=leaf, exact=True)
            if not tab.is_visible():
                continue
            tab.click()
            if leaf == "Fails":
                page.locator("#story-of").select_option("moving_light")
                page.wait_for_selector("#leaf-fails svg.lanes")
            if leaf == "Behaves":
                page.wait_for_selector("svg.room")
            if leaf == "Lessons":
                page.wait_for_selector("#leaf-lessons .card")
            page.wait_for_timeout(200)
            assert json.loads(page.evaluate(RUN)) == [], leaf
            wide = page.evaluate("() => document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, f"{leaf} is wider than the page"
        seen.problems.clear()
