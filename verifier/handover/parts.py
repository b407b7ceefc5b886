"""The parts of a job that do not touch each other: each can be tested, and told, by itself."""

from __future__ import annotations

from dataclasses import replace

from verifier.graph.access import CLOCK, POWER, SUN, assumption_names
from verifier.graph.build import drives
from verifier.model.job import Assumption, Job


def parts_of(job: Job) -> tuple[Job, ...]:
    """The parts of a job that have rules, in declared order of their first rule.

    Sun, clock and power are shared by all. What an assumption speaks of is in one part. A part
    has no requirements; its faults are those of its points.
    """
    import networkx

    graph = networkx.Graph(drives(job))
    for assumption in job.assumptions:
        names = sorted(_names(assumption))
        graph.add_edges_from((names[0], name) for name in names[1:])
    graph.remove_nodes_from([n for n in (SUN, CLOCK, POWER) if n in graph])
    found: list[frozenset[str]] = []
    for rule in job.rules:
        if not any(rule.name in part for part in found):
            found.append(frozenset(networkx.node_connected_component(graph, rule.name)))
    return tuple(_part(job, names) for names in found)


def _names(assumption: Assumption) -> frozenset[str]:
    return assumption_names(assumption) - {SUN, CLOCK, POWER}


def _part(job: Job, names: frozenset[str]) -> Job:
    return replace(
        job,
        points=tuple(p for p in job.points if p.name in names),
        doors=tuple(d for d in job.doors if d.name in names),
        rooms=tuple(r for r in job.rooms if r.name in names),
        rules=tuple(r for r in job.rules if r.name in names),
        assumptions=tuple(a for a in job.assumptions if _names(a) <= names and _names(a)),
        faults=tuple(f for f in job.faults if f.subject is None or f.subject in names),
        requirements=(),
    )
