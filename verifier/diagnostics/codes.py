"""The registry of codes: every diagnostic's code has a page that explains it.

The pages lie in modules of this package called ``pages_…``, one for each package that finds
things; each holds a tuple ``PAGES``. A new module is found by its name: there is no list to keep.
"""

from __future__ import annotations

import functools
import importlib
import pkgutil
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from verifier.diagnostics.record import Severity


@dataclass(frozen=True, slots=True)
class Page:
    """What a code means.

    ``example`` is a text that yields the code and ``instead`` one that does not; both are empty
    where no text of a job can show it. ``known`` says how a finding is known: each way that it
    names tells some of them, and none tells all.
    """

    code: str
    title: str
    means: str
    why: str
    example: str = ""
    instead: str = ""
    severity: Severity = Severity.ERROR
    known: tuple[Literal["structure", "proof"], ...] = ()


@functools.cache
def all_codes() -> dict[str, Page]:
    """All pages by code, in alphabetical order.

    Raises: AssertionError if two pages explain the same code.
    """
    found: dict[str, Page] = {}
    for module in pkgutil.iter_modules([str(Path(__file__).parent)]):
        if not module.name.startswith("pages_"):
            continue
        pages: tuple[Page, ...] = importlib.import_module(
            f"verifier.diagnostics.{module.name}"
        ).PAGES
        for page in pages:
            if page.code in found:
                raise AssertionError(f"codes: two pages for {page.code}")
            found[page.code] = page
    return dict(sorted(found.items()))


_KNOWN = {
    "structure": "by the structure of the rules, without any proof",
    "proof": "by proof, for all runs (nothing is told where that takes too long)",
}


def page_text(page: Page) -> str:
    """A page as text to read."""
    parts = [
        f"{page.code} ({page.severity.value}): {page.title}",
        "",
        page.means,
        "",
        f"Why it matters: {page.why}",
    ]
    if page.known:
        parts.extend(["", f"How it is known: {'; or '.join(_KNOWN[way] for way in page.known)}."])
    if page.example:
        parts.extend(["", "For example:", "", _indented(page.example)])
    if page.instead:
        parts.extend(["", "Instead:", "", _indented(page.instead)])
    return "\n".join(parts) + "\n"


def _indented(text: str) -> str:
    return "\n".join(f"    {line}" if line else line for line in text.strip("\n").split("\n"))
