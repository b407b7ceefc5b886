"""Each requirement form states which published pattern it is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

from tests.outside.mtl_forms import PATTERNS
from verifier.model.job import AfterLast, Form, MeasureLongest

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "tests" / "known" / "README.md"

_ROW = re.compile(r"^\| `([a-z][^`]*)` \| ([^|]+) \| (D|K|none) \| `([^`]+)` \|$", re.MULTILINE)


def test_every_form_of_the_language_has_its_pattern() -> None:
    assert list(PATTERNS) == list(get_args(Form))


def test_the_page_names_the_pattern_and_the_formula_of_each_form() -> None:
    rows = _ROW.findall(PAGE.read_text(encoding="utf-8"))
    assert rows == [(p.words, p.name, p.source, p.formula) for p in PATTERNS.values()]


def test_the_forms_are_worded_on_the_page_as_in_the_language_reference() -> None:
    """Each form's first words, up to its figure or condition, stand in ``grammar/README.md``."""
    reference = (ROOT / "grammar" / "README.md").read_text(encoding="utf-8")
    for pattern in PATTERNS.values():
        assert f"`{pattern.words.split(': ')[0]}" in reference, pattern.words


def test_after_the_last_is_none_of_the_published_patterns() -> None:
    unpublished = [form for form, pattern in PATTERNS.items() if pattern.source == "none"]
    assert unpublished == [AfterLast, MeasureLongest]
