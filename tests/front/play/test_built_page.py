"""The built page that is committed and shipped: it is what its sources give, and asks for nothing else."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

PLAY = Path(__file__).parents[3] / "verifier/front/play"
PAGE, STATIC = PLAY / "page", PLAY / "static"

AGAIN = "npm ci && npm run build, in verifier/front/play/page"


def test_the_built_files_were_made_from_the_sources_as_they_are() -> None:
    built_from = json.loads((STATIC / "built-from.json").read_text("utf-8"))["sources"]
    sources = [PAGE / "index.html", PAGE / "page.css", PAGE / "package-lock.json"]
    sources += (PAGE / "src").iterdir()
    now = {
        path.relative_to(PAGE).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sources
    }
    assert built_from == now, AGAIN
    for name in ("index.html", "page.css"):
        assert (STATIC / name).read_bytes() == (PAGE / name).read_bytes(), AGAIN


def test_the_page_asks_for_its_own_three_files_alone() -> None:
    page = (STATIC / "index.html").read_text("utf-8")
    assert re.findall(r'(?:href|src)="([^"]*)"', page) == [
        "data:,",
        "page.css",
        "page.js",
        "#leaves",
    ]
    assert not re.search(r"<style|style=|<script>|\son\w+=", page)
    style = (STATIC / "page.css").read_text("utf-8")
    assert "@import" not in style
    assert "url(" not in style


def test_the_script_reads_no_text_as_code_or_as_html_of_ours() -> None:
    for source in (PAGE / "src").iterdir():
        text = source.read_text("utf-8")
        assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|\beval\(|new Function", text)
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text), source.name


def test_licences_are_beside_what_is_bundled() -> None:
    licences = (STATIC / "licences.txt").read_text("utf-8")
    locked = json.loads((PAGE / "package-lock.json").read_text("utf-8"))["packages"]
    bundled = json.loads((STATIC / "built-from.json").read_text("utf-8"))["bundled"]
    for name in bundled:
        about = locked[f"node_modules/{name}"]
        assert about["license"] == "MIT"
        assert f"{name} {about['version']} (MIT)" in licences
    assert licences.count("Permission is hereby granted") == len(bundled) > 5


def test_the_lock_names_no_address() -> None:
    assert "http" not in re.sub(
        r'"url": "[^"]*"', "", (PAGE / "package-lock.json").read_text("utf-8")
    )
