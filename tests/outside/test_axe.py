"""The papers in a real browser, judged by axe-core: no violation of what it checks by itself.

axe-core (MPL 2.0) is a general accessibility checker. It needs Chromium and Node's package:
``apt-get install chromium`` and ``npm install --prefix DIR axe-core``, with ``AXE_CORE=DIR``.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from verifier.front.command import run

SPECS = Path(__file__).parents[2] / "specs"
DRAFT, DOCK = str(SPECS / "boathouse-first-draft"), str(SPECS / "dock-first-draft")

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
SCRIPT = Path(os.environ.get("AXE_CORE", ".")) / "node_modules/axe-core/axe.min.js"

pytestmark = pytest.mark.skipif(
    BROWSER is None or not SCRIPT.is_file(),
    reason="apt-get install chromium; npm install --prefix DIR axe-core; AXE_CORE=DIR",
)

PAGES = {
    "report": ["report", DRAFT, "-o"],
    "report-energy": ["report", str(SPECS / "boathouse"), "-o"],
    "report-dates": ["report", str(SPECS / "path-first-draft"), "-o"],
    "house": ["house-page", str(SPECS / "boathouse"), "-o"],
    "sheet": ["testsheet", DOCK, "-o"],
    "promises": ["promise", DRAFT, "-o"],
    "effects": ["effects", DRAFT, "-o"],
    "worksheet": ["learn", "3", "--worksheet"],
    "worksheet-key": ["learn", "5", "--key", "--worksheet"],
    "graph": ["graph", DRAFT, "--format", "html", "-o"],
    "drives": ["graph", DRAFT, "--what", "drives", "--format", "html", "-o"],
}

RUN = """
axe.run(document, {resultTypes: ["violations"]}).then(function (found) {
  var told = found.violations.map(function (v) {
    return {id: v.id, help: v.help, nodes: v.nodes.slice(0, 3).map(function (n) { return n.html; })};
  });
  var out = document.createElement("textarea");
  out.id = "axe-told";
  out.textContent = JSON.stringify(told);
  document.body.appendChild(out);
});
"""


def violations(page: Path, folder: Path, width: int) -> list[dict[str, object]]:
    """What axe-core finds in a page that is shown so many pixels wide."""
    assert BROWSER is not None
    text = page.read_text("utf-8")
    script = SCRIPT.read_text("utf-8").replace("</script", "<\\/script")
    judged = folder / "judged.html"
    judged.write_text(
        text.replace("</body>", f"<script>{script}</script><script>{RUN}</script></body>"), "utf-8"
    )
    command = [
        BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync",
        f"--user-data-dir={folder / f'browser-{width}'}", f"--window-size={width},1200",
        "--virtual-time-budget=20000", "--dump-dom", judged.as_uri(),
    ]  # fmt: skip
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    told = re.search(r'<textarea id="axe-told">(.*?)</textarea>', dom, re.S)
    assert told is not None, "axe-core did not come to an end"
    found: list[dict[str, object]] = json.loads(html.unescape(told[1]))
    return found


@pytest.mark.parametrize("width", [1200, 500])
@pytest.mark.parametrize("name", list(PAGES))
def test_no_paper_has_a_violation(
    name: str, width: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    page = tmp_path / f"{name}.html"
    run([*PAGES[name], str(page)])
    assert violations(page, tmp_path, width) == []


def test_a_page_with_faults_is_found_out(tmp_path: Path) -> None:
    """The check itself: a picture without words, faint text, a heading out of order."""
    page = tmp_path / "bad.html"
    page.write_text(
        '<!DOCTYPE html><html><head><title>x</title></head><body><main><h1>x</h1><img src="data:,">'
        '<p style="color:#ccc;background:#fff">faint</p></main></body></html>',
        "utf-8",
    )
    assert {v["id"] for v in violations(page, tmp_path, 800)} >= {
        "image-alt",
        "color-contrast",
        "html-has-lang",
    }
