"""The flow charts in Mermaid itself, drawn by it in a browser: all edges, labels letter by letter.

Mermaid (MIT) needs a browser: ``apt-get install chromium`` and
``npm install --prefix DIR mermaid``, with ``MERMAID=DIR``.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.front.test_graph import DEAD, ODD, job_of, odd_job, spec
from verifier.graph.build import build_graph
from verifier.graph.dead import dead_parts
from verifier.graph.findings import findings
from verifier.graph.render import render_mermaid
from verifier.graph.render_drives import drives_mermaid
from verifier.graph.rows import drives_of, rows_of
from verifier.model.job import Job

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
SCRIPT = Path(os.environ.get("MERMAID", ".")) / "node_modules/mermaid/dist/mermaid.min.js"

pytestmark = pytest.mark.skipif(
    BROWSER is None or not SCRIPT.is_file(),
    reason="apt-get install chromium; npm install --prefix DIR mermaid; MERMAID=DIR",
)

DRAW = """
mermaid.initialize({startOnLoad: false});
async function draw(text) {
  var place = document.createElement("div");
  document.body.appendChild(place);
  try {
    place.innerHTML = (await mermaid.render("drawn", text)).svg;
  } catch (error) {
    return {wrong: String(error)};
  }
  function words(kind) {
    return Array.from(place.querySelectorAll(kind)).map(function (n) { return n.innerText; });
  }
  return {wrong: "", nodes: words(".node .nodeLabel"), edges: words(".edgeLabel .edgeLabel"),
          dotted: place.querySelectorAll(".edge-pattern-dotted").length};
}
draw(TEXT).then(function (told) {
  var out = document.createElement("textarea");
  out.id = "told";
  out.textContent = JSON.stringify(told);
  document.body.appendChild(out);
});
"""


@dataclass(frozen=True)
class Drawn:
    """What Mermaid makes of a text: the words of nodes and edges, how many edges are dotted."""

    nodes: list[str]
    edges: list[str]
    dotted: int


def drawn(text: str, folder: Path) -> Drawn:
    assert BROWSER is not None
    script = SCRIPT.read_text("utf-8").replace("</script", "<\\/script")
    run = DRAW.replace("TEXT", json.dumps(text).replace("</", "<\\/"))
    page = folder / "page.html"
    page.write_text(
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>x</title></head><body>'
        f"<script>{script}</script><script>{run}</script></body></html>",
        "utf-8",
    )
    command = [
        BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync",
        f"--user-data-dir={folder / 'browser'}", "--virtual-time-budget=60000", "--dump-dom",
        page.as_uri(),
    ]  # fmt: skip
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    told = re.search(r'<textarea id="told">(.*?)</textarea>', dom, re.S)
    assert told is not None, "Mermaid did not come to an end"
    found = json.loads(html.unescape(told[1]))
    assert not found["wrong"], found["wrong"]
    return Drawn(found["nodes"], found["edges"], found["dotted"])


JOBS: dict[str, Job] = {
    "boathouse": spec("boathouse"),
    "odd": odd_job(),
    "dead": job_of(DEAD),
}


def letters(text: str) -> str:
    """The text without what a browser does to blanks and line breaks."""
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("name", list(JOBS))
def test_mermaid_draws_every_way_of_the_rules(name: str, tmp_path: Path) -> None:
    job = JOBS[name]
    graph, dead = build_graph(job), dead_parts(job, findings(job))
    found = drawn(render_mermaid(graph, dead), tmp_path)
    rows = [row for rule in job.rules for row in rows_of(graph, rule.name, dead)]
    assert len(found.nodes) == len(graph.nodes)
    expected = [
        letters(
            row.when
            + (f"[{row.guard}]" if row.guard else "")
            + "".join(f"/{words}" for words in row.does)
            + (f"({', '.join(row.told)})" if row.told else "")
        )
        for row in rows
    ]
    assert sorted(map(letters, found.edges)) == sorted(expected)
    assert found.dotted == sum(bool(row.never) for row in rows)


@pytest.mark.parametrize("name", list(JOBS))
def test_mermaid_draws_who_drives_what(name: str, tmp_path: Path) -> None:
    job = JOBS[name]
    drives = drives_of(job, dead_parts(job, findings(job)))
    found = drawn(drives_mermaid(drives), tmp_path)
    assert len(found.nodes) == len(drives.things)
    assert sorted(map(letters, found.edges)) == sorted(
        letters(row.how + ("(never)" if row.never else "")) for row in drives.rows
    )
    if name == "odd":
        clean = letters("".join("\u25a1" if sign < " " else sign for sign in ODD))
        assert sum(clean in letters(label) for label in found.nodes) >= len(job.points)


def test_a_text_that_mermaid_does_not_read_is_found_out(tmp_path: Path) -> None:
    """The check itself."""
    with pytest.raises(AssertionError, match="Parse error"):
        drawn("flowchart LR\n  a[never closed\n", tmp_path)
