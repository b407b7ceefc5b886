"""Structure findings: each expected one stands on the guilty line of a small job.

The files in ``findings/`` hold many small jobs; ``=== title`` begins one. ``# ! code [covered] words``
expects a finding on its line: ``covered`` is what its first place covers there (the first line of it),
the words stand in its message or hint. A missing one and an unexpected one both fail.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given

from tests.graph.jobs import jobs
from verifier.diagnostics import Diagnostic, Severity
from verifier.diagnostics.codes import all_codes, page_text
from verifier.diagnostics.pages_graph import PAGES
from verifier.graph.branches import branch_conditions
from verifier.graph.findings import findings
from verifier.graph.values import structure_of
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

FOLDER = Path(__file__).parent / "findings"
_MARK = re.compile(r"# ! (?P<code>[a-z-]+) \[(?P<covered>.*?)\] (?P<words>.+?)(?=\s*# ! |$)")


def cases() -> list[tuple[str, str]]:
    """Title and text of each small job."""
    found = []
    for path in sorted(FOLDER.glob("*.dusk")):
        for chunk in re.split(r"^=== ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
            title, _, text = chunk.partition("\n")
            found.append((f"{path.stem}: {title}", text))
    return found


CASES = cases()
TEXTS = pytest.mark.parametrize(
    "text", [text for _, text in CASES], ids=[title for title, _ in CASES]
)


def checked(text: str) -> Job:
    job, mistakes = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, mistakes
    return job


def told(text: str) -> tuple[Diagnostic, ...]:
    return findings(checked(text))


def place_of(text: str, found: Diagnostic) -> tuple[int, str, str]:
    """Line, code and the text that the first place covers on that line."""
    span = found.labels[0].span
    line, _ = SourceFile("job.dusk", text).line_and_column(span.start)
    covered = text[span.start : span.end].split("\n")[0]
    return line, found.code, re.sub(r"\s*# !.*", "", covered)


@TEXTS
def test_a_job_is_told_what_is_marked_in_it_and_nothing_else(text: str) -> None:
    expected = [
        (number, mark["code"], mark["covered"], mark["words"])
        for number, line in enumerate(text.split("\n"), 1)
        for mark in _MARK.finditer(line)
    ]
    found = [(*place_of(text, each), each) for each in told(text)]
    assert Counter(each[:3] for each in found) == Counter(each[:3] for each in expected)
    for *place, words in expected:
        texts = [f"{d.message} {d.hint}" for *at, d in found if at == place]
        assert any(words in each for each in texts), (words, texts)


@TEXTS
def test_findings_are_in_order_of_the_text_with_the_severity_of_their_pages(text: str) -> None:
    found = told(text)
    starts = [each.labels[0].span.start for each in found]
    assert starts == sorted(starts)
    for each in found:
        assert each.severity is all_codes()[each.code].severity
        assert each.severity is not Severity.ERROR
        assert "\n" not in each.message
        assert each.hint[0].isupper()
        assert each.hint.endswith(".")


def test_every_code_of_the_graph_is_told_in_some_job() -> None:
    seen = {each.code for _, text in CASES for each in told(text)}
    assert seen == {page.code for page in PAGES if page.example}


def test_what_the_structure_tells_has_a_page_that_says_so() -> None:
    by_structure = {page.code for page in PAGES if "structure" in page.known}
    assert by_structure == {each.code for _, text in CASES for each in told(text)}
    assert "How it is known: by the structure of the rules" in page_text(
        all_codes()["timed-from-occupied"]
    )


def test_each_rule_that_a_typical_makes_has_findings_of_its_own() -> None:
    text = (
        "typical landing\n  detector pir\n  lamp light\n  rule walk\n    retriggerable\n"
        "    upon pir becomes occupied\n    do\n      light on\n      wait 3 min\n      light off\n"
        "  end rule\nend typical\napply landing to floor_1, floor_2\n"
    )
    assert [(d.code, d.message.split(" ")[0]) for d in told(text)] == [
        ("timed-from-occupied", "floor_1.light"),
        ("timed-from-occupied", "floor_2.light"),
    ]


# ---------------------------------------------------------------- any job


@given(jobs())
def test_any_job_has_findings_or_none_and_the_same_ones_twice(whole: Job) -> None:
    assert findings(whole) == findings(whole)


@given(jobs())
def test_the_ways_of_a_condition_are_of_its_rule_and_read_it_so(whole: Job) -> None:
    for branch in branch_conditions(whole):
        for truth, ways in ((True, branch.if_true), (False, branch.if_false)):
            for way in ways:
                assert way.rule == branch.rule
                assert any((r.condition, r.truth) == (branch.condition, truth) for r in way.reads)
        if branch.kind in ("provided", "upon"):
            assert branch.event is not None
        elif branch.exact:
            assert branch.can_be_true == bool(branch.if_true)
            assert branch.can_be_false == bool(branch.if_false)


@given(jobs())
def test_what_can_fire_grows_with_what_can_be_considered(whole: Job) -> None:
    fewer = replace(whole, faults=())
    assert set(structure_of(fewer).alive) <= set(structure_of(whole).alive)
