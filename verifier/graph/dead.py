"""What of a graph never happens, each part with its reason: ways, places and rules.

By structure it is what :func:`verifier.graph.branches.reachable_ways` leaves out; findings, of the
structure or of a proof, say why, and a proof knows of more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from verifier.diagnostics import Diagnostic
from verifier.graph.branches import reachable_ways
from verifier.graph.build import Node, build_graph, transitions_in
from verifier.graph.flow import ENDLESS, IDLE
from verifier.graph.transitions import OnCondition, Transition
from verifier.graph.values import structure_of
from verifier.model.job import Job
from verifier.source import Span

if TYPE_CHECKING:
    import networkx

Way = tuple[str, int]
"""The rule and the number of a transition among the rule's, from 0 (the key of its edge)."""

BY_TRIGGER = {
    "event-never-happens": "its event never happens",
    "power-cuts-not-considered": "power cuts are not considered",
    "guard-always-false": "its guard is never true then",
}
"""Findings about an ``upon`` line, and what they say of its ways."""

RULED_OUT = "its conditions cannot be met"
"""What is said where no finding gives a reason."""


@dataclass(frozen=True, slots=True)
class Dead:
    """What never happens: ways and places, with their reason in a few words, and rules."""

    ways: dict[Way, str] = field(default_factory=dict)
    places: dict[Node, str] = field(default_factory=dict)
    rules: tuple[str, ...] = ()


def numbered_ways(graph: networkx.MultiDiGraph[Node]) -> Iterator[tuple[Way, Transition]]:
    """The transitions of a graph in order of the text, each with its rule and number."""
    count: dict[str, int] = {}
    for transition in transitions_in(graph):
        number = count.get(transition.rule, 0)
        count[transition.rule] = number + 1
        yield (transition.rule, number), transition


def dead_parts(job: Job, findings: Iterable[Diagnostic] = ()) -> Dead:
    """What of the job's graph never happens, by structure and by what the findings say."""
    graph = build_graph(job)
    told = _told(findings)
    structure = structure_of(job)
    live = {
        key
        for rule in job.rules
        if rule.name in structure.alive
        for way in reachable_ways(job, rule, structure)
        for key in (_key(way), _short(way))
    }
    rules = {
        rule.name: None
        for rule in job.rules
        if rule.name not in structure.alive
        or "rule-never-fires" in (code for _, code in told.get(rule.span, ()))
    }
    ways: dict[Way, str] = {}
    for name, way in numbered_ways(graph):
        reason = _reason(way, told)
        if reason is None and way.rule in rules:
            reason = "the rule never fires"
        if reason is None and _key(way) not in live:
            reason = RULED_OUT
        if reason is not None:
            ways[name] = reason
    places = _never_reached(graph, ways)
    for name, way in numbered_ways(graph):
        if (way.rule, way.source) in places and ways.get(name, RULED_OUT) == RULED_OUT:
            ways[name] = "nothing leads to its place"
    return Dead(ways, places, tuple(rules))


_Told = dict[Span, list[tuple[int, str]]]
"""The codes of the findings about a place, each with the finding's number."""


def _told(findings: Iterable[Diagnostic]) -> _Told:
    told: _Told = {}
    for number, finding in enumerate(findings):
        if finding.labels:
            told.setdefault(finding.labels[0].span, []).append((number, finding.code))
    return told


_Key = tuple[object, ...]


def _short(way: Transition) -> _Key:
    """What a summary knows of the ways that it stands for."""
    return (way.rule, way.source, way.target, way.on)


def _key(way: Transition) -> _Key:
    """What makes two ways the same, whatever else is known of the values in their guards."""
    return _short(way) if way.summarised else (*_short(way), way.spans, way.reads)


def _reason(way: Transition, told: _Told) -> str | None:
    """Why a way never happens, as the first of the findings about it tells it."""
    passed = dict.fromkeys((way.spans[0], *(read.span for read in way.reads)))
    about = sorted((*each, span) for span in passed for each in told.get(span, ()))
    for _, code, span in about:
        if code in BY_TRIGGER and way.source == IDLE and way.spans[0] == span:
            return BY_TRIGGER[code]
        if code == "branch-never-reached" and _reads(way, span, True):
            return "its branch is never reached"
        if code == "guard-always-true" and _reads(way, span, False):
            return "its condition is always true here"
        if code == "wait-without-way-out":
            waits = isinstance(way.on, OnCondition) and way.spans[0] == span
            if waits or _reads(way, span, True):
                return "what is waited for never comes true"
    return None


def _reads(way: Transition, span: Span, truth: bool) -> bool:
    return any(read.span == span and read.truth is truth for read in way.reads)


def _never_reached(graph: networkx.MultiDiGraph[Node], ways: dict[Way, str]) -> dict[Node, str]:
    """The places that no living way from idle leads to."""
    reached: set[Node] = {node for node in graph.nodes if node[1] == IDLE}
    steps = [
        ((way.rule, way.source), (way.rule, way.target))
        for name, way in numbered_ways(graph)
        if name not in ways
    ]
    grew = True
    while grew:
        new = {target for source, target in steps if source in reached} - reached
        reached |= new
        grew = bool(new)
    return {
        node: "never happens" if node[1] == ENDLESS else "never reached"
        for node in graph.nodes
        if node not in reached
    }
