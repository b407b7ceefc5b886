"""The browser, and pages that several tests look at; each test module has its own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from tests.front.play.browser import FIRST_JOB, SPECS, launched, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.front.play.served import Page, Served


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The system's Chromium."""
    api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")
    with api.sync_playwright() as playwright:
        made = launched(playwright)
        yield made
        made.close()


@contextmanager
def first_job(tmp_path_factory: pytest.TempPathFactory, name: str) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("porch")
    (folder / name).write_text(FIRST_JOB, "utf-8")
    with served(folder, tmp_path_factory.mktemp("cache")) as found:
        yield found


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a page with the first job is served."""
    with first_job(tmp_path_factory, "job.dusk") as found:
        yield found


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The same in a file that is called otherwise than those of lessons."""
    with first_job(tmp_path_factory, "own.dusk") as found:
        yield found


@pytest.fixture(scope="module")
def draft(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a page with the demo's first draft is served."""
    with served(SPECS / "boathouse-first-draft", tmp_path_factory.mktemp("cache")) as found:
        yield found


@pytest.fixture(scope="module")
def server() -> Iterator[Served]:
    """The page's server, without a browser."""
    from tests.front.play.served import served as serving

    with serving() as running:
        yield running


@pytest.fixture
def page(server: Served) -> Iterator[Page]:
    """What a page would say and hear."""
    with server.page() as opened:
        yield opened
