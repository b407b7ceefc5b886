"""What a page is told, as JSON values. Offsets are in UTF-16 code units, as a page counts them."""

from __future__ import annotations

from bisect import bisect_left
from typing import Any

from verifier.diagnostics import Diagnostic
from verifier.explain.explained import Explained
from verifier.explain.plain import read_back
from verifier.explain.story import Story
from verifier.front.diagnostic_text import in_order
from verifier.front.explain_json import explained_values
from verifier.front.reason import bound_words, reason, verdict_word
from verifier.front.timing_svg import timing_svg
from verifier.model.job import Job, Requirement
from verifier.model.words import number, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Proved, Verdict
from verifier.source import Sources, Span

Object = dict[str, Any]


class Places:
    """Places of a job's text as a page counts them.

    >>> from verifier.source import SourceFile
    >>> Places(Sources((SourceFile("a.dusk", "# 🛶\\nlamp a"),))).of(Span("a.dusk", 9, 10))
    {'file': 'a.dusk', 'from': 10, 'to': 11}
    """

    def __init__(self, sources: Sources) -> None:
        self.sources = sources
        self._wide: dict[str, list[int]] = {}
        """Of each file, the offsets of the characters that take two units."""

    def of(self, span: Span) -> Object:
        """A span; of a file that is not the page's, its name and 0."""
        if span.file not in self.sources.by_name:
            return {"file": span.file, "from": 0, "to": 0}
        return {
            "file": span.file,
            "from": self._units(span.file, span.start),
            "to": self._units(span.file, span.end),
        }

    def _units(self, name: str, offset: int) -> int:
        if name not in self._wide:
            text = self.sources.by_name[name].text
            ascii_only = text.isascii()
            self._wide[name] = (
                [] if ascii_only else [k for k, c in enumerate(text) if ord(c) > 0xFFFF]
            )
        return offset + bisect_left(self._wide[name], offset)


def checked_values(result: Result, version: int) -> Object:
    """A text that was read and checked: what was found, and what it asks for."""
    places = Places(result.sources)
    requirements = () if result.job is None else result.job.requirements
    return {
        "kind": "checked",
        "version": version,
        "diagnostics": findings_values(result.findings, places),
        "requirements": [
            requirement_values(each, result.job, places)
            for each in requirements
            if result.job is not None
        ],
    }


def requirement_values(requirement: Requirement, job: Job, places: Places) -> Object:
    """A requirement before it is judged, with its plain words."""
    said = read_back(requirement, job)
    return {
        "name": requirement.name,
        "title": requirement.label,
        **places.of(requirement.span),
        "form": requirement_words(requirement),
        "plain": said.sentence,
        "exactly": list(said.exactly),
    }


def findings_values(findings: tuple[Diagnostic, ...], places: Places) -> list[Object]:
    """Findings by file and place."""
    return [finding_values(each, places) for each in in_order(places.sources, findings)]


def finding_values(finding: Diagnostic, places: Places) -> Object:
    """One finding; ``related`` are the further places that it speaks of."""
    span = finding.labels[0].span if finding.labels else Span("", 0, 0)
    file = places.sources.by_name.get(span.file)
    line, column = (0, 0) if file is None else file.line_and_column(span.start)
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "message": finding.message,
        "hint": finding.hint,
        **places.of(span),
        "line": line,
        "column": column,
        "related": [
            {**places.of(label.span), "message": label.text} for label in finding.labels[1:]
        ],
    }


def verdict_values(
    version: int, requirement: Requirement, verdict: Verdict, seconds: float
) -> Object:
    """One verdict, as it comes."""
    vacuous = isinstance(verdict, Proved | Answered) and verdict.vacuous
    bound = verdict.bound_s if isinstance(verdict, Proved | Answered) else None
    return {
        "kind": "verdict",
        "version": version,
        "name": requirement.name,
        "verdict": verdict_word(verdict),
        "vacuous": vacuous,
        "reason": reason(requirement, verdict),
        "bound_s": bound_words(bound),
        "seconds": round(seconds, 3),
    }


def judged_values(version: int, result: Result, seconds: float) -> Object:
    """The end of proving: all that was found on the way."""
    return {
        "kind": "judged",
        "version": version,
        "seconds": round(seconds, 3),
        "interrupted": result.interrupted,
        "rejected": result.rejected,
        "findings": findings_values(result.findings, Places(result.sources)),
    }


def explained_for_page(version: int, each: Explained, sources: Sources) -> Object:
    """Why a requirement fails: as `explain --format json` has it, with the lines that acted."""
    places = Places(sources)
    found: Object = {"kind": "story", "version": version, **explained_values(each, sources)}
    for key, story in (("story", each.story), ("other", each.other)):
        if story is not None:
            _with_lines(found[key], story, places)
    if each.contrast is not None:
        found["contrast"]["svg"] = timing_svg(each.contrast.diagram)
    for told, blame in zip(found["goes_well"], each.blames, strict=True):
        told["line"] = places.of(blame.span)
    return found


def _with_lines(values: Object, story: Story, places: Places) -> None:
    """Adds to a story's values what a page lights up and draws."""
    for told, moment in zip(values["moments"], story.moments, strict=True):
        told["lines"] = [places.of(each.span) for each in moment.reactions]
    lanes = zip(values["diagram"]["lanes"], story.diagram.lanes, strict=True)
    for told, lane in lanes:
        told["heights"] = [None if h is None else number(h) for h in lane.heights]
    values["svg"] = timing_svg(story.diagram)
