"""Jobs with what is wrong with them: each expected finding stands on the guilty line.

The files in ``findings/`` hold many small jobs. ``=== title`` begins one, ``--- name`` a file of it.
``# ! code [covered] words`` expects a finding on its line: ``covered`` is the text under the carets,
the words stand in its message or hint. ``# & words`` expects a second place of a finding. A missing
one and an unexpected one both fail.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.diagnostics.codes import all_codes
from verifier.model import check
from verifier.source import SourceFile, Sources

FOLDER = Path(__file__).parent / "findings"
_MARK = re.compile(r"# (?P<sign>[!&]) (?P<text>.*?)(?=\s*# [!&] |$)")
_FINDING = re.compile(r"(?P<code>[a-z-]+) \[(?P<covered>.*)\] (?P<words>.+)")


@dataclass(frozen=True)
class Case:
    """One small job."""

    title: str
    sources: Sources


def cases() -> list[Case]:
    found: list[Case] = []
    for path in sorted(FOLDER.glob("*.dusk")):
        for chunk in re.split(r"^=== ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
            title, _, text = chunk.partition("\n")
            parts = re.split(r"^--- (.*)\n", text, flags=re.MULTILINE)
            files = [SourceFile("job.dusk", parts[0])] if parts[0].strip() else []
            files += [SourceFile(*pair) for pair in zip(parts[1::2], parts[2::2], strict=True)]
            found.append(Case(f"{path.stem}: {title}", Sources(tuple(files))))
    return found


def told(case: Case) -> tuple[Diagnostic, ...]:
    return check(case.sources, "job")[1]


def text_under(case: Case, label: Label) -> str:
    text = case.sources.by_name[label.span.file].text
    return text[label.span.start : label.span.end]


def line_of(case: Case, label: Label) -> tuple[str, int]:
    file = case.sources.by_name[label.span.file]
    if label.span.start == label.span.end:
        return file.name, first_marked_line(file)
    return file.name, file.line_and_column(label.span.start)[0]


def first_marked_line(file: SourceFile) -> int:
    """Where the mark of a finding of the file as a whole stands."""
    return next(n for n, line in enumerate(file.text.split("\n"), 1) if "# !" in line)


def marks(case: Case, sign: str) -> list[tuple[str, int, str]]:
    return [
        (file.name, number, mark["text"])
        for file in case.sources.files
        for number, line in enumerate(file.text.split("\n"), 1)
        for mark in _MARK.finditer(line)
        if mark["sign"] == sign
    ]


CASES = cases()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_a_job_is_told_what_is_marked_in_it_and_nothing_else(case: Case) -> None:
    expected = []
    for name, line, text in marks(case, "!"):
        mark = _FINDING.fullmatch(text)
        assert mark is not None, f"no such mark: {text}"
        expected.append((name, line, mark["code"], mark["covered"], mark["words"]))
    found = [
        (*line_of(case, each.labels[0]), each.code, text_under(case, each.labels[0]), each)
        for each in told(case)
    ]
    assert Counter(each[:4] for each in found) == Counter(each[:4] for each in expected)
    for *place, words in expected:
        texts = [f"{d.message} {d.hint}" for *at, d in found if at == place]
        assert any(words in text for text in texts), (words, texts)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_the_other_places_of_a_finding_are_those_marked(case: Case) -> None:
    found = [(*line_of(case, label), label.text) for d in told(case) for label in d.labels[1:]]
    assert Counter(found) == Counter(marks(case, "&"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_a_job_is_made_if_and_only_if_nothing_told_is_an_error(case: Case) -> None:
    job, findings = check(case.sources, "job")
    assert (job is None) == any(each.severity is Severity.ERROR for each in findings)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_findings_read_well(case: Case) -> None:
    for each in told(case):
        assert "\n" not in each.message
        assert not each.message.endswith(".")
        assert each.hint.endswith((".", "?"))
        assert each.severity is all_codes()[each.code].severity


def test_every_code_of_the_model_is_told_in_some_job() -> None:
    from verifier.diagnostics import pages_model

    seen = {each.code for case in CASES for each in told(case)}
    # what takes twenty thousand declarations has a test of its own
    assert {page.code for page in pages_model.PAGES} - seen == {"job-too-large"}
