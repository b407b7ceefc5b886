"""The page in a real browser: the server started as a user starts it, Chromium driven by playwright.

Needs Debian's Chromium (``apt-get install chromium``) and ``pip install playwright``; for the rules of
accessibility axe-core, too (``npm install --prefix DIR axe-core``, with ``AXE_CORE=DIR``).
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page, Playwright

ROOT = Path(__file__).parents[3]
SPECS = ROOT / "specs"

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
AXE = Path(os.environ.get("AXE_CORE", ".")) / "node_modules/axe-core/axe.min.js"

OPTIONS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip


@contextmanager
def served(folder: Path, cache: Path) -> Iterator[str]:
    """The address at which `duskproof play` serves a folder, until it is left."""
    command = [sys.executable, "-m", "verifier.front.command", "play", str(folder), "--no-browser"]
    environment = {**os.environ, "DUSKPROOF_CACHE": str(cache), "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env=environment, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        try:
            said = process.stdout.readline()
            found = re.search(r"http://\S+", said)
            assert found is not None, said
            yield found[0]
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


def launched(playwright: Playwright) -> Browser:
    """The system's Chromium, without its own conversations with the outside."""
    return playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)


FIRST_JOB = """\
contact side_door   "Side door"
lamp    porch_light "Porch light" 9 W

rule come_in "Light for whoever comes in"
  retriggerable
  upon side_door becomes open
  do
    porch_light on
    wait 1 min
    porch_light off
end rule

require a_minute "A minute of light after each opening"
  when side_door becomes open: porch_light is on for at least 1 min
end require

require while_open "Light while the door is open"
  always: side_door is open implies porch_light is on
end require
"""
"""A job of one rule that keeps one promise and breaks the other."""


@dataclass
class Seen:
    """What a page did that it should not: requests off the loopback, errors, refused by its policy."""

    outside: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


@contextmanager
def opened(
    browser: Browser,
    address: str,
    *,
    width: int = 1280,
    scheme: str = "light",
    loaded: str = ".card",
) -> Iterator[tuple[Page, Seen]]:
    """A page of its own, and what it did that it should not; checked when it is left."""
    context = browser.new_context(
        viewport={"width": width, "height": 900 if width > 500 else 844},
        color_scheme="dark" if scheme == "dark" else "light",
        reduced_motion="reduce",
    )
    page, seen = context.new_page(), Seen()
    page.set_default_timeout(20_000)
    page.on("request", lambda r: _looked_at(r.url, seen))
    page.on("websocket", lambda s: _looked_at(s.url, seen))
    page.on("pageerror", lambda e: seen.problems.append(str(e)))
    page.on("console", lambda m: _heard(m.type, m.text, seen))
    try:
        page.goto(address)
        page.wait_for_selector(loaded, state="attached")
        yield page, seen
    finally:
        context.close()
    assert seen == Seen(), seen


def _looked_at(url: str, seen: Seen) -> None:
    parts = urlsplit(url)
    if parts.scheme not in ("data", "blob") and parts.hostname != "127.0.0.1":
        seen.outside.append(url)


def _heard(kind: str, text: str, seen: Seen) -> None:
    if kind in ("error", "warning"):
        seen.problems.append(text)


# ---------------------------------------------------------------- what a person does and sees

RUN = (
    "() => axe.run(document, {resultTypes: ['violations']}).then((f) => JSON.stringify("
    "f.violations.map((v) => [v.id, v.help, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 200))])))"
)
"""Has axe-core tell what breaks a rule of accessibility."""


def judged(page: Page) -> None:
    """Waits until all is judged."""
    page.wait_for_selector("body[data-judging=done]")


def press(page: Page, button: Locator) -> None:
    """A button is pressed by keyboard."""
    button.focus()
    page.keyboard.press("Enter")


def pasted(page: Page, text: str) -> None:
    page.evaluate(
        "(text) => { const clipboardData = new DataTransfer();"
        " clipboardData.setData('text/plain', text);"
        " document.querySelector('.cm-content').dispatchEvent("
        "new ClipboardEvent('paste', { clipboardData, bubbles: true, cancelable: true })); }",
        text,
    )


def written(page: Page, text: str) -> None:
    """A whole new text, pasted over what is there."""
    page.locator(".cm-content").focus()
    page.keyboard.press("Control+a")
    pasted(page, text)
