"""The pages of codes: each code that the language or the model tells has one, and its examples are true."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

import pytest

import verifier
from verifier.diagnostics import Diagnostic
from verifier.diagnostics.codes import Page, all_codes, page_text
from verifier.model import check
from verifier.source import SourceFile, Sources

PACKAGES = ("language", "model")
NOT_SHOWN = ("empty-file", "file-too-large", "job-too-large", "too-deep")


@functools.cache
def codes_told_by(package: str) -> set[str]:
    """The codes in the source of a package: first arguments of what makes diagnostics."""
    found: set[str] = set()
    for path in sorted(Path(verifier.__file__).parent.joinpath(package).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            position = {
                "error": 0,
                "warning": 0,
                "note": 0,
                "Diagnostic": 0,
                "add": 1,
                "_m": 1,
            }.get(name)
            if position is None or len(node.args) <= position:
                continue
            argument = node.args[position]
            if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                found.add(argument.value)
    return found


def told_of(text: str) -> tuple[Diagnostic, ...]:
    return check(Sources((SourceFile("job.dusk", text),)), "job")[1]


def codes_of(text: str) -> list[str]:
    return [each.code for each in told_of(text)]


def test_every_code_that_is_told_has_a_page_and_every_page_a_code() -> None:
    from verifier.diagnostics import pages_language, pages_model, pages_standard

    told = set().union(*(codes_told_by(package) for package in PACKAGES))
    pages = {
        page.code for page in (*pages_language.PAGES, *pages_model.PAGES, *pages_standard.PAGES)
    }
    assert told - pages == set()
    assert pages - told == set()


def test_every_code_of_the_house_has_a_page_with_its_severity() -> None:
    told: dict[str, set[str]] = {}
    for path in sorted(Path(verifier.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or len(node.args) < 3:
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", "")).strip("_")
            code = node.args[0]
            if not isinstance(code, ast.Constant) or not isinstance(code.value, str):
                continue
            if name in ("error", "warning", "note"):
                told.setdefault(code.value, set()).add(name)
            elif name == "Diagnostic" and isinstance(node.args[1], ast.Attribute):
                told.setdefault(code.value, set()).add(node.args[1].attr.lower())
    assert len(told) > 80
    pages = {code: {page.severity.value} for code, page in all_codes().items()}
    assert {code: pages.get(code) for code in told} == told


def test_pages_are_in_alphabetical_order() -> None:
    assert list(all_codes()) == sorted(all_codes())


def example_pages() -> list[Page]:
    return [page for page in all_codes().values() if page.example]


@pytest.mark.parametrize("page", example_pages(), ids=lambda page: page.code)
def test_a_page_s_example_yields_its_code_and_what_is_instead_does_not(page: Page) -> None:
    if page.code not in codes_told_by("language") | codes_told_by("model"):
        pytest.skip("told by another package, whose tests read it")
    severities = {each.severity for each in told_of(page.example) if each.code == page.code}
    assert severities == {page.severity}
    assert page.code not in codes_of(page.instead)


def test_only_what_no_short_text_can_show_has_no_example() -> None:
    from verifier.diagnostics import pages_language, pages_model, pages_standard

    pages = (*pages_language.PAGES, *pages_model.PAGES, *pages_standard.PAGES)
    assert sorted(page.code for page in pages if not page.example) == sorted(NOT_SHOWN)


def test_a_page_reads_as_text_with_its_examples_indented() -> None:
    text = page_text(all_codes()["missing-policy"])
    assert text.startswith("missing-policy (error): What a trigger does is not said\n")
    assert "\n    rule entry\n" in text
