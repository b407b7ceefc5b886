"""The contract's own cases: each is checked, and what is printed of it reads back as the same.

Source: ``shared/cases/README.md``; what a case demands stands in its ``expect.json``.
"""

from __future__ import annotations

import functools
import json
from pathlib import Path

import pytest

from verifier.diagnostics import Diagnostic, Severity
from verifier.model import check, check_form
from verifier.model.job import Job
from verifier.model.words import (
    body_lines,
    condition_words,
    policy_words,
    requirement_words,
    trigger_words,
)
from verifier.source import SourceFile, Sources

CASES = Path(__file__).parents[2] / "shared" / "cases" / "meaning"
NAMES = sorted(path.name for path in CASES.iterdir())
REJECTED = "62-assume-output"
"""The only case with a mistake in its text; the other two of exit 2 take a proof."""

WARNED = {
    "27-power-return-values": ["no-rules"],
    "39-and-or-implies": ["mixed-and-or"],
    "61-assumptions-block-time": ["no-rules"],
    "69-door-truth": ["no-rules"],
    "70-detector-holds-rearm": ["no-rules"],
    "76-site-60-north": ["no-rules"],
    "77-site-52-north": ["no-rules"],
    "78-site-clock-change": ["no-rules"],
}
"""What is told of a good case. The README announces 39's."""


def text_of(case: str) -> str:
    return (CASES / case / "job.dusk").read_text(encoding="utf-8")


def checked(text: str) -> tuple[Job | None, tuple[Diagnostic, ...]]:
    sources = Sources((SourceFile("job.dusk", text),))
    return check(sources, "job")


@functools.cache
def job_of(case: str) -> Job:
    found, told = checked(text_of(case))
    assert found is not None, told
    return found


GOOD = [name for name in NAMES if name != REJECTED]


@pytest.mark.parametrize("case", GOOD)
def test_a_case_is_a_job_with_the_requirements_that_it_demands_verdicts_on(case: str) -> None:
    expected = json.loads((CASES / case / "expect.json").read_text(encoding="utf-8"))
    if "exit" not in expected:
        assert sorted(job_of(case).requirement) == sorted(expected)


@pytest.mark.parametrize("case", NAMES)
def test_nothing_is_told_of_a_case_but_what_is_said_here(case: str) -> None:
    codes = [each.code for each in checked(text_of(case))[1]]
    assert codes == WARNED.get(case, ["assumes-own"] if case == REJECTED else [])


@pytest.mark.parametrize("case", GOOD)
def test_a_good_case_has_no_error(case: str) -> None:
    _, told = checked(text_of(case))
    assert [each.code for each in told if each.severity is Severity.ERROR] == []


@pytest.mark.parametrize("case", GOOD)
def test_a_requirement_in_words_reads_back_as_the_same(case: str) -> None:
    job = job_of(case)
    for requirement in job.requirements:
        words = requirement_words(requirement)
        again, told, _ = check_form(words, job, requirement.name)
        assert again is not None, (words, told)
        assert (again.scope, again.form, again.allowing_s) == (
            requirement.scope,
            requirement.form,
            requirement.allowing_s,
        )


@pytest.mark.parametrize("case", GOOD)
def test_a_rule_in_words_reads_back_as_the_same(case: str) -> None:
    job = job_of(case)
    for rule in job.rules:
        if "." in rule.name:
            continue  # its text stands in a typical
        provided = "" if rule.provided is None else f"provided {condition_words(rule.provided)}"
        lines = (
            "rule read_back",
            policy_words(rule.policy),
            *(trigger_words(trigger) for trigger in rule.triggers),
            provided,
            "do",
            *body_lines(rule.body),
            "end rule",
        )
        found, told = checked(text_of(case) + "\n".join(lines) + "\n")
        assert found is not None, told
        again = found.rule["read_back"]
        assert (again.policy, again.triggers, again.provided, again.body) == (
            rule.policy,
            rule.triggers,
            rule.provided,
            rule.body,
        )
