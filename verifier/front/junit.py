"""A result as JUnit XML, which build servers show: a suite for each job, a case for each requirement.

Source: there is no standard; these are the elements and attributes that its readers have in common
(`testsuites`, `testsuite`, `testcase` with `failure`, `error` or `skipped`, `system-out`).
"""

from __future__ import annotations

from xml.etree import ElementTree as Xml

from verifier.diagnostics import Severity
from verifier.front.diagnostic_text import diagnostic_text, in_order
from verifier.front.paint import PLAIN
from verifier.front.reason import reason
from verifier.front.result_text import requirement_text
from verifier.front.shown import shown
from verifier.model.job import Requirement
from verifier.pipeline import Result
from verifier.proof.verdict import Refuted, Undecided, Verdict

_WIDTH = 100


def junit_xml(results: tuple[Result, ...], strict: bool) -> str:
    """The whole text, with a line end after it."""
    suites = [_suite(result, strict) for result in results]
    whole = Xml.Element("testsuites", {"name": "duskproof"})
    for key in ("tests", "failures", "errors", "skipped"):
        whole.set(key, str(sum(int(suite.get(key, "0")) for suite in suites)))
    whole.set("time", f"{sum(float(suite.get('time', '0')) for suite in suites):.3f}")
    whole.extend(suites)
    Xml.indent(whole)
    text = Xml.tostring(whole, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _suite(result: Result, strict: bool) -> Xml.Element:
    cases = [
        _case(result, requirement, verdict, seconds)
        for requirement, verdict, seconds in result.verdicts
    ]
    judged = {requirement.name for requirement, _, _ in result.verdicts}
    cases.extend(
        _not_judged(result, requirement)
        for requirement in result.asked
        if requirement.name not in judged
    )
    findings = _findings_case(result, strict)
    cases.extend([] if findings is None else [findings])
    suite = Xml.Element("testsuite", {"name": shown(result.name), "tests": str(len(cases))})
    for key, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(key, str(sum(case.find(tag) is not None for case in cases)))
    suite.set("time", f"{sum(seconds for _, _, seconds in result.verdicts):.3f}")
    suite.extend(cases)
    if findings is None and result.findings:
        Xml.SubElement(suite, "system-out").text = _findings_text(result)
    return suite


def _case(
    result: Result, requirement: Requirement, verdict: Verdict, seconds: float
) -> Xml.Element:
    case = _named(result, requirement, seconds)
    why = shown(reason(requirement, verdict))
    text = requirement_text(result, requirement, verdict, PLAIN, _WIDTH)
    if isinstance(verdict, Refuted):
        Xml.SubElement(case, "failure", {"type": "refuted", "message": why}).text = text
    elif isinstance(verdict, Undecided):
        Xml.SubElement(case, "error", {"type": "undecided", "message": why}).text = text
    else:
        Xml.SubElement(case, "system-out").text = text
    return case


def _not_judged(result: Result, requirement: Requirement) -> Xml.Element:
    case = _named(result, requirement, 0)
    why = "interrupted before it was judged" if result.interrupted else "the job has errors"
    Xml.SubElement(case, "skipped", {"message": why})
    return case


def _named(result: Result, requirement: Requirement, seconds: float) -> Xml.Element:
    place = result.sources.by_name.get(requirement.span.file)
    named = {
        "classname": shown(result.name),
        "name": shown(requirement.name),
        "time": f"{seconds:.3f}",
    }
    if place is not None:
        named["file"] = shown(place.name)
        named["line"] = str(place.line_and_column(requirement.span.start)[0])
    return Xml.Element("testcase", named)


def _findings_case(result: Result, strict: bool) -> Xml.Element | None:
    """A case of its own where findings decide: errors, and warnings that count as failures."""
    worst = Severity.ERROR if result.rejected else Severity.WARNING
    deciding = [f for f in in_order(result.sources, result.findings) if f.severity is worst]
    if not deciding or not (result.rejected or strict):
        return None
    case = Xml.Element(
        "testcase", {"classname": shown(result.name), "name": "findings", "time": "0.000"}
    )
    tag = "error" if result.rejected else "failure"
    found = {"type": deciding[0].code, "message": shown(deciding[0].message)}
    Xml.SubElement(case, tag, found).text = _findings_text(result)
    return case


def _findings_text(result: Result) -> str:
    return "\n\n".join(
        diagnostic_text(finding, result.sources, PLAIN, _WIDTH)
        for finding in in_order(result.sources, result.findings)
    )
