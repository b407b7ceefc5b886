"""The pages of the structure findings: their examples are true."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import verifier.graph
from verifier.diagnostics import Diagnostic, Severity
from verifier.diagnostics.codes import Page, all_codes
from verifier.diagnostics.pages_graph import PAGES
from verifier.graph.findings import findings
from verifier.model import check
from verifier.source import SourceFile, Sources

FROM_PROOF = {"endless-chain", "chain-undecided", "states-left-out"}
"""Codes that only a proof tells."""

SHOWN = [page for page in PAGES if page.example]


def told(text: str) -> tuple[Diagnostic, ...]:
    job, mistakes = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None
    assert not [each for each in mistakes if each.severity is Severity.ERROR]
    return findings(job)


def codes_in_the_source() -> set[str]:
    """Every text in the package that is the code of a page."""
    found: set[str] = set()
    for path in Path(verifier.graph.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and node.value in all_codes():
                found.add(str(node.value))
    return found


@pytest.mark.parametrize("page", SHOWN, ids=lambda page: page.code)
def test_a_page_s_example_yields_its_code_with_its_severity(page: Page) -> None:
    assert {d.severity for d in told(page.example) if d.code == page.code} == {page.severity}


@pytest.mark.parametrize("page", SHOWN, ids=lambda page: page.code)
def test_what_is_written_instead_yields_no_warning_and_not_the_code(page: Page) -> None:
    found = told(page.instead)
    assert page.code not in [d.code for d in found]
    assert [d for d in found if d.severity is not Severity.NOTE] == []


def test_every_code_that_the_graph_tells_has_a_page_with_an_example() -> None:
    assert codes_in_the_source() == {page.code for page in SHOWN}


def test_only_what_a_proof_tells_has_no_example() -> None:
    assert {page.code for page in PAGES if not page.example} >= FROM_PROOF
