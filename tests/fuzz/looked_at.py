"""What must be so of every text, however odd: an answer or diagnostics, and nothing else."""

from __future__ import annotations

import unicodedata
from collections import Counter

from verifier.diagnostics import Severity
from verifier.front.diagnostic_text import diagnostic_text
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.graph.build import build_graph
from verifier.graph.findings import findings
from verifier.graph.render import render_dot, render_mermaid, render_text
from verifier.language import format_text, format_tree, parse
from verifier.model import check
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.source import SourceFile, Sources

LONGEST = 40_000
"""Characters that one diagnostic may fill a terminal with."""


def look_at(text: str) -> str:
    """Reads, checks and shows a text as the commands do: "job" or "rejected".

    Raises: AssertionError if something is not as it must be; whatever the tool raises.
    """
    sources = Sources((SourceFile("a.dusk", text),))
    job, told = check(sources, "a")
    wrong = [d for d in told if d.severity is Severity.ERROR]
    if job is None:
        assert wrong, "a text was turned away without a word"
    for diagnostic in told:
        assert diagnostic.message
        assert diagnostic.hint, diagnostic.code
        for label in diagnostic.labels:
            assert 0 <= label.span.start <= label.span.end <= len(text), diagnostic.code
        _looks_harmless(diagnostic_text(diagnostic, sources, Paint(False), 100))
    if job is None or wrong:
        return "rejected"
    _reads_back(text)
    for finding in findings(job):
        _looks_harmless(diagnostic_text(finding, sources, Paint(False), 100))
    graph = build_graph(job)
    for drawn in (render_text(graph), render_dot(graph), render_mermaid(graph)):
        _looks_harmless(drawn)
    return "job"


def judge(text: str) -> Counter[str]:
    """The verdicts on a good text's requirements; evidence that fails raises: EvidenceFailed."""
    job, _ = check(Sources((SourceFile("a.dusk", text),)), "a")
    found: Counter[str] = Counter()
    if job is None:
        return found
    for requirement in job.requirements:
        try:
            found[type(decide(job, requirement, Budget(limit_s=3))).__name__.lower()] += 1
        except EndlessChainFound:
            found["endless"] += 1
    return found


def _looks_harmless(text: str) -> None:
    """No character in it moves the cursor, turns the direction or hides."""
    assert len(text) < LONGEST
    for line in text.split("\n"):
        assert line == shown(line), [
            unicodedata.name(c, hex(ord(c))) for c in line if c != shown(c)
        ]


def _reads_back(text: str) -> None:
    """What is laid out anew means the same, and is laid out the same again."""
    tree, told = parse(SourceFile("a.dusk", text))
    assert tree is not None, told
    laid_out = format_tree(tree)
    again, told = parse(SourceFile("a.dusk", laid_out))
    assert again is not None, told
    assert format_tree(again) == laid_out
    with_comments, told = format_text(SourceFile("a.dusk", text))
    assert told == ()
    assert format_text(SourceFile("a.dusk", with_comments)) == (with_comments, ())
