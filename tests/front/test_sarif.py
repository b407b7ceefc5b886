"""SARIF against the schema of OASIS, and its places against the text that stands there."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any
from urllib.parse import unquote, urlparse

import pytest

from tests.check import ROOT
from tests.front.made import CASES, result_of
from tests.front.written import ALL, result, traces
from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.sarif import sarif_json
from verifier.pipeline import Result
from verifier.proof.verdict import Refuted, Undecided
from verifier.source import Span

SCHEMA = json.loads((ROOT / "shared/schema/sarif-2.1.0.schema.json").read_text(encoding="utf-8"))
FINDING = Diagnostic(
    "two-drivers",
    Severity.WARNING,
    "set twice",
    (Label(Span("rules.dusk", 0, 7)), Label(Span("rules.dusk", 8, 17), "and here")),
    "Set it once.",
)


def log(*results: Result, folders: tuple[str, ...] = (), strict: bool = False) -> Any:
    below = folders or tuple(f"jobs/{one.name}" for one in results)
    return json.loads(sarif_json(results, below, strict))


def mistakes(whole: Any) -> list[str]:
    jsonschema: Any = pytest.importorskip("jsonschema", reason="pip install jsonschema")
    check = jsonschema.Draft7Validator(SCHEMA, format_checker=jsonschema.FormatChecker())
    return [f"{error.json_path}: {error.message}" for error in check.iter_errors(whole)]


@pytest.mark.parametrize("name", ALL)
def test_every_log_is_as_the_schema_of_oasis_says(name: str) -> None:
    assert mistakes(log(result(name))) == []


def test_logs_of_every_verdict_of_findings_of_several_jobs_and_of_none_are_too() -> None:
    every = replace(result_of(*CASES), findings=(FINDING,))
    aside = replace(FINDING, labels=(Label(Span("--certificates", 0, 0)),), severity=Severity.ERROR)
    assert mistakes(log(every, result("thirds"))) == []
    assert mistakes(log(replace(every, findings=(aside,)))) == []
    assert mistakes(log(replace(every, job=None, verdicts=(), findings=(FINDING,)))) == []
    assert mistakes(log(replace(every, interrupted=True, verdicts=()))) == []


def test_the_schema_notices_what_is_wrong() -> None:
    whole = log(result("blink"))
    whole["runs"][0]["results"][0]["level"] = "dreadful"
    assert mistakes(whole)
    del whole["runs"][0]["results"][0]["message"]
    assert any("message" in one for one in mistakes(whole))


@pytest.mark.parametrize("name", ALL)
def test_each_refuted_or_undecided_requirement_is_a_result_and_each_finding(name: str) -> None:
    found = result(name)
    (run,) = log(found)["runs"]
    failing = [r.name for r, v, _ in found.verdicts if isinstance(v, Refuted | Undecided)]
    asked = [r for r in run["results"] if r["ruleId"].startswith("requirement/")]
    assert [r["ruleId"] for r in asked] == [f"requirement/{one}" for one in failing]
    others = [r["ruleId"] for r in run["results"] if r not in asked]
    assert sorted(others) == sorted(f.code for f in found.findings)
    for one in run["results"]:
        # 3.27.6: the index is that of the rule with the identifier.
        assert run["tool"]["driver"]["rules"][one["ruleIndex"]]["id"] == one["ruleId"]


def _places(whole: Any) -> list[Any]:
    match whole:
        case dict():
            own = [whole["physicalLocation"]] if "physicalLocation" in whole else []
            return own + [p for value in whole.values() for p in _places(value)]
        case list():
            return [p for value in whole for p in _places(value)]
        case _:
            return []


@pytest.mark.parametrize("name", ALL)
def test_each_place_names_a_file_of_the_job_and_its_snippet_is_what_stands_there(name: str) -> None:
    found = result(name)
    places = _places(log(found))
    assert places
    for place in places:
        uri = place["artifactLocation"]["uri"]
        assert uri.startswith(f"jobs/{found.name}/")
        file = found.sources.by_name[unquote(uri.removeprefix(f"jobs/{found.name}/"))]
        region, lines = place["region"], file.text.split("\n")
        # 3.30.5 to 3.30.8: lines and columns from 1, the end column after the last character.
        taken = lines[region["startLine"] - 1 : region["endLine"]]
        taken[-1] = taken[-1][: region["endColumn"] - 1]
        taken[0] = taken[0][region["startColumn"] - 1 :]
        assert "\n".join(taken) == region["snippet"]["text"]


@pytest.mark.parametrize("name", ALL)
def test_the_code_flow_is_the_run_line_by_line(name: str) -> None:
    found = result(name)
    flows = {
        r["ruleId"].removeprefix("requirement/"): r["codeFlows"]
        for r in log(found)["runs"][0]["results"]
        if "codeFlows" in r
    }
    failing = {t.requirement.name: t for t in traces(name) if t.role == "counterexample"}
    assert flows.keys() == failing.keys()
    for requirement, trace in failing.items():
        ((flow,),) = ([c["threadFlows"] for c in flows[requirement]],)
        (thread,) = flow
        initial = {key: text["text"] for key, text in thread["initialState"].items()}
        assert initial == dict(trace.run.start)
        *steps, end = thread["locations"]
        acted = [s for s in steps if s["kinds"] == ["acted"]]
        lines = [
            found.sources.by_name[span.file].line_and_column(span.start)[0]
            for step in trace.run.steps
            for span in step.because
        ]
        regions = [s["location"]["physicalLocation"]["region"]["startLine"] for s in acted]
        assert regions == lines
        state: dict[str, str] = dict(initial)
        for step in steps:
            state |= {key: text["text"] for key, text in step.get("state", {}).items()}
        assert state == trace.states[-1]
        assert [s["executionOrder"] for s in thread["locations"]] == list(range(1, len(steps) + 2))
        assert (
            end["location"]["physicalLocation"]["region"]["startLine"]
            == (
                found.sources.by_name[trace.requirement.span.file].line_and_column(
                    trace.requirement.span.start
                )[0]
            )
        )


def test_an_undecided_requirement_is_open_and_has_no_level() -> None:
    """3.27.9 and 3.27.10: what could not be decided is `open`, and then `level` is `none`."""
    (one,) = log(result_of("undecided"))["runs"][0]["results"]
    assert (one["kind"], one["level"]) == ("open", "none")
    (one,) = log(result_of("refuted"))["runs"][0]["results"]
    assert (one["kind"], one["level"]) == ("fail", "error")


def test_what_stands_in_no_file_is_a_logical_location() -> None:
    aside = replace(FINDING, labels=(Label(Span("--certificates", 0, 0)),))
    whole = log(replace(result_of("proved"), findings=(aside,)))
    (one,) = whole["runs"][0]["results"]
    assert one["locations"] == [
        {"logicalLocations": [{"fullyQualifiedName": "--certificates", "kind": "argument"}]}
    ]


@pytest.mark.parametrize(
    ("folder", "uri", "base"),
    [
        ("jobs/boat", "jobs/boat/rules.dusk", "STARTED_IN"),
        ("jobs/boat/", "jobs/boat/rules.dusk", "STARTED_IN"),
        (".", "rules.dusk", "STARTED_IN"),
        ("my jobs/boat #2", "my%20jobs/boat%20%232/rules.dusk", "STARTED_IN"),
        ("jobs\\boat", "jobs/boat/rules.dusk", "STARTED_IN"),
        ("/srv/my jobs/boat", "file:///srv/my%20jobs/boat/rules.dusk", None),
        ("C:\\jobs\\boat", "file:///C:/jobs/boat/rules.dusk", None),
    ],
)
def test_paths_are_addresses(folder: str, uri: str, base: str | None) -> None:
    """RFC 3986: blanks and signs escaped, `/` between the parts; an absolute path is a file's."""
    found = log(result_of("refuted"), folders=(folder,))
    place = found["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert (place["uri"], place.get("uriBaseId")) == (uri, base)
    assert urlparse(uri).fragment == ""


def test_each_job_is_a_run_with_its_own_exit_code() -> None:
    whole = log(result_of("proved"), result_of("refuted"), result_of("undecided"))
    codes = [run["invocations"][0]["exitCode"] for run in whole["runs"]]
    assert codes == [0, 1, 3]
