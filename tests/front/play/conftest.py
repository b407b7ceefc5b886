"""The browser, and pages that several tests look at; each test module has its own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.front.play.browser import FIRST_JOB, SPECS, launched, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The system's Chromium."""
    api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")
    with api.sync_playwright() as playwright:
        made = launched(playwright)
        yield made
        made.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a page with the first job is served."""
    folder = tmp_path_factory.mktemp("porch")
    (folder / "job.dusk").write_text(FIRST_JOB, "utf-8")
    with served(folder, tmp_path_factory.mktemp("cache")) as found:
        yield found


@pytest.fixture(scope="module")
def draft(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a page with the demo's first draft is served."""
    with served(SPECS / "boathouse-first-draft", tmp_path_factory.mktemp("cache")) as found:
        yield found
