"""Whether the surroundings could have no way to go on: what most jobs' assumptions rule out at a glance.

What is left out where they could is found in :mod:`verifier.proof.blocked`, with zones.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.graph.access import CLOCK, SUN, condition_names
from verifier.model.job import AssumeAlways, AssumeStays, Job, Stayed, atoms_and_leaves
from verifier.proof.starting import can_begin
from verifier.proof.tied import world_of
from verifier.simulate.system import Excluded
from verifier.surroundings.calendar import calendar_of

EVERY_STATE: Excluded = ()
"""The cube that leaves out everything: no run is left, and slices have to know it."""


@dataclass(frozen=True, slots=True)
class Doomed:
    """Left-out states as cubes over named variables; ``undecided`` if the search grew too large.

    ``rounds``: what is left out can doom further states, which the next round finds.
    """

    rounds: tuple[tuple[Excluded, ...], ...]
    undecided: bool

    @property
    def everything(self) -> bool:
        """Whether no run is left."""
        return EVERY_STATE in self.cubes

    @property
    def cubes(self) -> tuple[Excluded, ...]:
        """All of them."""
        return tuple(cube for found in self.rounds for cube in found)


def may_block(job: Job) -> bool:
    """Whether assumptions could stop time: a bound from above that something else can hold up."""
    bounded = {
        a.atom.subject
        for a in job.assumptions
        if isinstance(a, AssumeStays) and a.bound == "at most"
    }
    bounded |= {d.name for d in job.doors}
    # Neither the clock nor the sun of a site waits for anybody.
    bounded |= {CLOCK, SUN} if calendar_of(world_of(job)) is not None else set()
    for room in job.rooms:
        if room.noticed_s is not None:
            bounded |= {room.name, *room.seen_by}
    for door in job.doors:
        if bounded & {door.raised_by, door.lowered_by, door.moving_by}:
            bounded.add(door.name)
    held: set[str] = set()
    assumed = {a.atom.subject for a in job.assumptions if isinstance(a, AssumeStays)}
    seen = {name for room in job.rooms for name in room.seen_by}
    for assumption in job.assumptions:
        match assumption:
            case AssumeAlways(condition):
                held |= condition_names(condition)
                timers = (s for s in atoms_and_leaves(condition) if isinstance(s, Stayed))
                bounded.update(timer.atom.subject for timer in timers)
            case AssumeStays(atom, "at least", _):
                held.add(atom.subject)
            case _:
                pass
    for point in job.points:
        if point.holds_s is not None or point.rearm_s is not None:
            by_people = point.name in seen and point.name not in assumed
            if point.name in bounded and not by_people:
                held.add(point.name)
    for room in job.rooms:
        if room.entered_by and room.name in assumed:
            held.add(room.name)
    for door in job.doors:
        if held & {door.raised_by, door.lowered_by, door.moving_by}:
            held.add(door.name)
    return bool(bounded & held)


def doomed(job: Job) -> Doomed:
    """The states of the job's surroundings that are left out of all runs."""
    if not can_begin(job):
        return Doomed(((EVERY_STATE,),), False)
    if not may_block(job):
        return Doomed((), False)
    from verifier.proof.blocked import doomed_in

    return doomed_in(world_of(job))
