"""Whether a run can begin at all: what is assumed, and what things start with, have to go together.

Assumptions that no state keeps leave no run, wherever in the job they stand; a requirement then holds
of nothing. That is known of the whole job only. It is asked of each group of things that assumptions
tie together by itself: two groups begin each in its own way, and ways would multiply.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import replace

from verifier.graph.access import CLOCK, SUN, assumption_names
from verifier.model.job import AssumeAlways, Job
from verifier.proof.tied import world_of
from verifier.simulate.system import System
from verifier.surroundings.state import each_way


def can_begin(job: Job) -> bool:
    """Whether there is a state in which a run of the job can begin."""
    if not any(isinstance(assumption, AssumeAlways) for assumption in job.assumptions):
        return True
    return all(_begins(group) for group in groups_of(world_of(job)))


@functools.cache
def _begins(world: Job) -> bool:
    """Asked for every requirement of a job."""
    system = System(world, None)
    return any(True for _ in each_way(system.fresh(), system.begin))


def groups_of(world: Job) -> Iterator[Job]:
    """The parts of the surroundings that something assumed to be always so ties together."""
    above: dict[str, str] = {}

    def top(name: str) -> str:
        while above.setdefault(name, name) != name:
            above[name] = name = above[above[name]]
        return name

    def join(names: list[str]) -> None:
        for name in names[1:]:
            above[top(name)] = top(names[0])

    join([SUN, CLOCK])
    for door in world.doors:
        parts = (door.name, door.raised_by, door.lowered_by, door.moving_by)
        join([name for name in parts if name is not None])
    for room in world.rooms:
        join([room.name, *room.entered_by, *room.seen_by])
    tied = [sorted(assumption_names(assumption)) for assumption in world.assumptions]
    for names in tied:
        join(names)
    parts_of: dict[str, tuple[list[int], ...]] = {}
    owners = (
        [point.name for point in world.points],
        [door.name for door in world.doors],
        [room.name for room in world.rooms],
        [names[0] for names in tied],
        [fault.subject or SUN for fault in world.faults],
    )
    for group, names in enumerate(owners):
        for number, name in enumerate(names):
            parts_of.setdefault(top(name), ([], [], [], [], []))[group].append(number)
    for points, doors, rooms, assumptions, faults in parts_of.values():
        found = replace(
            world,
            points=tuple(world.points[k] for k in points),
            doors=tuple(world.doors[k] for k in doors),
            rooms=tuple(world.rooms[k] for k in rooms),
            assumptions=tuple(world.assumptions[k] for k in assumptions),
            faults=tuple(world.faults[k] for k in faults),
        )
        if any(isinstance(assumption, AssumeAlways) for assumption in found.assumptions):
            yield found
