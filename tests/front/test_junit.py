"""JUnit XML, read again by junitparser and as plain XML."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import pytest

from tests.front.made import CASES, result_of
from tests.front.test_sarif import FINDING
from tests.front.written import ALL, result
from verifier.diagnostics import Severity
from verifier.front.junit import junit_xml
from verifier.front.reason import reason
from verifier.pipeline import Result
from verifier.proof.verdict import Refuted, Undecided


def read(*results: Result, strict: bool = False) -> Any:
    junitparser: Any = pytest.importorskip("junitparser", reason="pip install junitparser")
    return junitparser.JUnitXml.fromstring(junit_xml(results, strict).encode("utf-8"))


@pytest.mark.parametrize("name", ALL)
def test_each_requirement_is_a_case_and_those_that_fail_have_their_run(name: str) -> None:
    found = result(name)
    (suite,) = read(found)
    cases = {case.name: case for case in suite if case.name != "findings"}
    assert list(cases) == [r.name for r, _, _ in found.verdicts]
    for requirement, verdict, seconds in found.verdicts:
        case = cases[requirement.name]
        assert case.classname == found.name
        assert case.time == pytest.approx(seconds, abs=0.0006)
        assert case.is_passed is not isinstance(verdict, Refuted | Undecided)
        if isinstance(verdict, Refuted):
            (outcome,) = case.result
            assert outcome.type == "refuted"
            assert outcome.message == reason(requirement, verdict)
            assert verdict.run is None or all(
                s.what[:12] in outcome.text for s in verdict.run.steps
            )


def test_counts_are_those_of_the_reader() -> None:
    """The reader counts anew from the cases; what is written has to be the same."""
    every = result_of(*CASES)
    text = junit_xml((every, result("blink")), strict=False)
    root = ElementTree.fromstring(text)
    whole = read(every, result("blink"))
    said = {key: int(root.get(key, "-1")) for key in ("tests", "failures", "errors", "skipped")}
    for suite, element in zip(whole, root, strict=True):
        suite.update_statistics()
        assert suite.tests == int(element.get("tests", "-1"))
    whole.update_statistics()
    assert said == {
        "tests": whole.tests,
        "failures": whole.failures,
        "errors": whole.errors,
        "skipped": whole.skipped,
    }
    assert said == {"tests": len(CASES) + 1, "failures": 3, "errors": 1, "skipped": 0}


def test_an_undecided_requirement_is_an_error_with_its_reason() -> None:
    ((case,),) = read(result_of("undecided"))
    (outcome,) = case.result
    assert (type(outcome).__name__, outcome.type) == ("Error", "undecided")
    assert "No lemma was strong enough within 60 s" in outcome.message


def test_what_was_not_judged_is_skipped() -> None:
    cut = replace(result_of("proved", "refuted"), interrupted=True)
    cut = replace(cut, verdicts=cut.verdicts[:1])
    ((first, second),) = read(cut)
    assert first.is_passed
    assert second.is_skipped
    assert second.result[0].message == "interrupted before it was judged"


def test_errors_of_a_job_and_warnings_that_count_are_a_case_of_their_own() -> None:
    error = replace(FINDING, severity=Severity.ERROR)
    rejected = replace(result_of(), job=None, findings=(error,))
    ((case,),) = read(rejected)
    assert (case.name, type(case.result[0]).__name__) == ("findings", "Error")
    assert "Set it once." in case.result[0].text
    warned = replace(result_of("proved"), findings=(FINDING,))
    assert [case.name for case in next(iter(read(warned)))] == ["r_proved"]
    (suite,) = read(warned, strict=True)
    assert [(c.name, c.is_passed) for c in suite] == [("r_proved", True), ("findings", False)]


def test_odd_characters_do_not_break_the_document() -> None:
    """XML 1.0, 2.2: most control characters may not stand in a document, escaped or not."""
    (requirement, verdict), *_ = (CASES["refuted"],)
    odd = replace(requirement, label="<&\"'\x00\x1b[31m\ufffe ]]>")
    whole = replace(result_of(), name="a<b", verdicts=((odd, verdict, 0.0),), asked=(odd,))
    root = ElementTree.fromstring(junit_xml((whole,), strict=False))
    failure = root.find("./testsuite/testcase/failure")
    assert failure is not None
    assert "<&\"'<U+0000><U+001B>[31m<U+FFFE> ]]>" in (failure.text or "")
