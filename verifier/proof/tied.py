"""What of a job's surroundings assumptions tie together."""

from __future__ import annotations

from dataclasses import replace

from verifier.graph.access import condition_names
from verifier.model.job import AssumeAlways, AssumeStays, FaultKind, Job


def world_of(job: Job) -> Job:
    """The part of the job's surroundings that assumptions tie together, and nothing else."""
    tied = _tied(job)
    return replace(
        job,
        points=tuple(p for p in job.points if p.name in tied),
        doors=tuple(d for d in job.doors if d.name in tied),
        rooms=tuple(r for r in job.rooms if r.name in tied),
        rules=(),
        requirements=(),
        faults=tuple(
            f for f in job.faults if f.kind is not FaultKind.POWER_CUTS and f.subject in tied
        ),
    )


def _tied(job: Job) -> frozenset[str]:
    """Everything that an assumption, a room or a door ties together and bounds."""
    names: set[str] = set()
    for assumption in job.assumptions:
        match assumption:
            case AssumeAlways(condition):
                names |= condition_names(condition)
            case AssumeStays(atom):
                names.add(atom.subject)
    while True:
        before = len(names)
        for door in job.doors:
            parts = {door.name, door.raised_by, door.lowered_by, door.moving_by} - {None}
            if names & parts:
                names |= {p for p in parts if p is not None}
        for room in job.rooms:
            parts = {room.name, *room.seen_by, *room.entered_by}
            if names & {room.name, *room.seen_by}:
                names |= {p for p in parts if p is not None}
        if len(names) == before:
            return frozenset(names)
