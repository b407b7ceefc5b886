"""A result as SARIF 2.1.0: what fails, with its run as a code flow, and what was found.

Source: OASIS, Static Analysis Results Interchange Format (SARIF) Version 2.1.0; its schema is
`shared/schema/sarif-2.1.0.schema.json`.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import PurePath, PurePosixPath, PureWindowsPath
from typing import Any
from urllib.parse import quote

from verifier import __version__
from verifier.diagnostics import Diagnostic, Severity
from verifier.diagnostics.codes import all_codes
from verifier.explain.clock_words import ClockTold
from verifier.front.diagnostic_text import in_order
from verifier.front.figures import moment
from verifier.front.outcome import exit_code
from verifier.front.reason import reason, verdict_word
from verifier.front.result_text import run_ends_words
from verifier.handover.traces import Trace, traces_of
from verifier.model.job import Requirement
from verifier.model.words import fault_words, number, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Refuted, Undecided, Verdict
from verifier.simulate.run import Run
from verifier.source import Sources, Span

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
BASE = "STARTED_IN"
"""What relative paths are counted from."""

Object = dict[str, Any]


def sarif_json(results: tuple[Result, ...], folders: tuple[str, ...], strict: bool) -> str:
    """The log as text, with a line end after it: one run for each job.

    ``folders`` are the paths of the jobs as they were given: places are told below them.
    """
    runs = [
        _run_of_the_tool(result, folder, strict)
        for result, folder in zip(results, folders, strict=False)
    ]
    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": runs}
    return json.dumps(log, indent=2, ensure_ascii=False) + "\n"


def _run_of_the_tool(result: Result, folder: str, strict: bool) -> Object:
    places = _Places(folder, result.sources)
    findings = in_order(result.sources, result.findings)
    failing = [judged for judged in result.verdicts if _counts(judged[1])]
    requirements = [requirement for requirement, _, _ in failing]
    codes = list(dict.fromkeys(finding.code for finding in findings))
    pages = all_codes()
    rules: list[Object] = [
        {
            "id": f"requirement/{requirement.name}",
            "name": requirement.name,
            "shortDescription": {"text": requirement.label or requirement.name},
            "fullDescription": {"text": requirement_words(requirement)},
        }
        for requirement in requirements
    ]
    for code in codes:
        page = pages.get(code)
        rules.append(
            {"id": code, "shortDescription": {"text": code}}
            if page is None
            else {
                "id": code,
                "shortDescription": {"text": page.title},
                "fullDescription": {"text": page.means},
                "help": {"text": f"{page.why}\nduskproof codes {code}"},
            }
        )
    traces = () if result.job is None else traces_of(result.job, result.verdicts)
    traced = {trace.requirement.name: trace for trace in traces}
    found = [
        _failing(judged, places, k, traced.get(judged[0].name)) for k, judged in enumerate(failing)
    ]
    ranks = {code: k for k, code in enumerate(codes, len(requirements))}
    found.extend(_finding(finding, places, ranks[finding.code]) for finding in findings)
    code_ = exit_code((result,), strict)
    return {
        "tool": {
            "driver": {
                "name": "Duskproof",
                "version": __version__,
                "semanticVersion": __version__,
                "rules": rules,
            }
        },
        "invocations": [
            {
                "executionSuccessful": not result.interrupted,
                "exitCode": int(code_),
                "exitCodeDescription": code_.name.lower().replace("_", " "),
            }
        ],
        "originalUriBaseIds": {
            BASE: {"description": {"text": "The folder in which duskproof was started."}}
        },
        "columnKind": "unicodeCodePoints",
        "results": found,
        "properties": {
            "job": result.name,
            "faults": [fault_words(f) for f in (() if result.job is None else result.job.faults)],
            "verdicts": {r.name: verdict_word(verdict) for r, verdict, _ in result.verdicts},
        },
    }


def _counts(verdict: Verdict) -> bool:
    return isinstance(verdict, Refuted | Undecided)


# ---------------------------------------------------------------- results


def _failing(
    judged: tuple[Requirement, Verdict, float], places: _Places, rank: int, trace: Trace | None
) -> Object:
    """A requirement that is refuted (kind ``fail``) or undecided (kind ``open``, no level)."""
    requirement, verdict, seconds = judged
    undecided = isinstance(verdict, Undecided)
    title = f"{requirement.label}: " if requirement.label else ""
    word = "undecided" if undecided else "refuted"
    found: Object = {
        "ruleId": f"requirement/{requirement.name}",
        "ruleIndex": rank,
        "kind": "open" if undecided else "fail",
        "level": "none" if undecided else "error",
        "message": {"text": f"{requirement.name} is {word}. {title}{reason(requirement, verdict)}"},
        "locations": [places.location(requirement.span)],
        "properties": {"verdict": word, "seconds": round(seconds, 3)},
    }
    if trace is not None:
        found["codeFlows"] = [_code_flow(places, trace, run_ends_words(requirement, verdict))]
    return found


def _finding(finding: Diagnostic, places: _Places, rank: int) -> Object:
    level = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}
    hint = f"\n{finding.hint}" if finding.hint else ""
    found: Object = {
        "ruleId": finding.code,
        "ruleIndex": rank,
        "kind": "fail",
        "level": level[finding.severity],
        "message": {"text": f"{finding.message}{hint}"},
        "locations": [places.location(label.span, label.text) for label in finding.labels[:1]],
    }
    if finding.labels[1:]:
        found["relatedLocations"] = [
            {"id": k, **places.location(label.span, label.text)}
            for k, label in enumerate(finding.labels[1:], 1)
        ]
    return found


# ---------------------------------------------------------------- the run


def _code_flow(places: _Places, trace: Trace, ends: str) -> Object:
    """The run as one thread: each line that acted is a place of it, in order."""
    run = trace.run
    told_by = None if run.clock is None else ClockTold(run.clock)
    spans = {subject.name: subject.span for subject in trace.subjects}
    steps: list[Object] = []
    for number_, step in enumerate(run.steps):
        changes = ", ".join(f"{subject} {value}" for subject, value in step.changes) or "nothing"
        again = " (from here on it goes round for ever)" if number_ == run.cycle_from else ""
        acted = step.because or _declared(spans, step.changes, trace.requirement.span)
        for k, span in enumerate(acted):
            when = moment(step.earliest_s, step.just_after)
            text = f"{when}: {step.what}{again}; changes: {changes}"
            if k:
                text = f"{when}: this line acted, too"
            location: Object = {
                "location": places.location(span, text),
                "kinds": ["acted"] if step.because else ["outside"],
                "importance": "important" if k else "essential",
                "properties": _moment_values(run, told_by, step.at_s)
                | {
                    "earliest_s": number(step.earliest_s),
                    "earliest_just_after": step.just_after,
                    "what": step.what,
                },
            }
            if step.changes and not k:
                location["state"] = {s: {"text": value} for s, value in step.changes}
            steps.append(location)
    end_s, just_after = run.end_s
    end_text = f"{moment(run.fails_s, run.fails_just_after)}: {ends}"
    steps.append(
        {
            "location": places.location(trace.requirement.span, end_text),
            "kinds": ["end"],
            "importance": "essential",
            "properties": _moment_values(run, told_by, end_s)
            | {
                "just_after": just_after,
                "earliest_s": number(run.fails_s),
                "earliest_just_after": run.fails_just_after,
            },
        }
    )
    for order, location in enumerate(steps, 1):
        location["executionOrder"] = order
    begins = "" if told_by is None else f" {told_by.begins()}"
    return {
        "message": {"text": f"The run that shows it.{begins}"},
        "threadFlows": [
            {
                "id": "run",
                "initialState": {subject: {"text": value} for subject, value in run.start},
                "locations": steps,
            }
        ],
    }


def _declared(
    spans: dict[str, Span | None], changes: tuple[tuple[str, str], ...], otherwise: Span
) -> tuple[Span, ...]:
    """Where no line acted: the place at which the first thing that changes is declared."""
    for subject, _ in changes:
        span = spans.get(subject)
        if span is not None:
            return (span,)
    return (otherwise,)


def _moment_values(run: Run, told_by: ClockTold | None, at_s: Fraction) -> Object:
    clock = {} if run.clock is None or told_by is None else {"at": told_by.iso(at_s)}
    return {"at_s": number(at_s), **clock}


# ---------------------------------------------------------------- places


class _Places:
    """Tells places of one job: files below its folder, else what a place is called."""

    def __init__(self, folder: str, sources: Sources) -> None:
        self.folder, self.sources = folder, sources

    def location(self, span: Span, text: str = "") -> Object:
        """A place, with a few words about it."""
        file = self.sources.by_name.get(span.file)
        found: Object = {}
        if file is None or span.file.startswith(("(", "--")):
            if span.file:
                found["logicalLocations"] = [{"fullyQualifiedName": span.file, "kind": "argument"}]
        else:
            found["physicalLocation"] = {"artifactLocation": self._artifact(span.file)}
            if file.text:
                start = min(span.start, len(file.text))
                end = max(min(span.end, len(file.text)), start)
                line, column = file.line_and_column(start)
                end_line, end_column = file.line_and_column(end)
                found["physicalLocation"]["region"] = {
                    "startLine": line,
                    "startColumn": column,
                    "endLine": end_line,
                    "endColumn": end_column,
                    "snippet": {"text": file.text[start:end]},
                }
        if text:
            found["message"] = {"text": text}
        return found

    def _artifact(self, name: str) -> Object:
        if name.startswith("standard/"):
            return {"uri": quote(f"duskproof/{name}")}
        path: PurePath = (
            PureWindowsPath(self.folder) if "\\" in self.folder else PurePosixPath(self.folder)
        )
        if path.is_absolute():
            return {"uri": (path / name).as_uri()}
        return {"uri": quote((path / name).as_posix()), "uriBaseId": BASE}
