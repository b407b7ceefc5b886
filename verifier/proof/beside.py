"""What of a job has to do with a run of one of its slices, in whatever direction.

A slice holds what its requirement depends on; what depends on the slice, or on what the slice
depends on, is left out of it. A run is replayed beside all of that. Parts of the job that share no
name with any of it, whose surroundings bind nobody to anything, go on somehow whatever the slice
does: they need not be played. So a run costs what its neighbourhood costs, not what a whole
building does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from verifier.graph.access import SHARED, assumption_names, requirement_names, rule_access
from verifier.graph.recent import Recent
from verifier.model.job import Job, Requirement


def beside(job: Job, requirement: Requirement, part: Job) -> Job:
    """The job with ``requirement`` alone, without what has nothing to do with a slice of it.

    Where rules are handled together after a while, all of them have to do with each other.
    """
    asked = replace(job, requirements=(requirement,))
    if len(part.rules) == len(job.rules) or (job.site is not None and job.site.reaction_s):
        return asked
    regions = _regions.of(job)
    names = {*part.point, *part.door, *part.room, *part.rule}
    kept = regions.around(names | requirement_names(requirement))
    if len(kept) == regions.count:
        return asked
    return regions.part(asked, kept)


class _Regions:
    """The names of a job in regions: two names are in one if anything of the job ties them."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._above: dict[str, str] = {}
        bound: set[str] = set()
        """Names of regions in which something may be due outside."""
        for names in _ties(job):
            self._join(names)
        for tied in _binding(job):
            bound |= tied
        self.region = {name: self._top(name) for name in self._above}
        self.bound = frozenset(self.region[name] for name in bound)
        self.count = len(set(self.region.values()))
        self.places: dict[str, dict[str, list[int]]] = {}
        for group, owners in _owners(job):
            places = self.places.setdefault(group, {})
            for number, name in enumerate(owners):
                places.setdefault(self.region.get(name, ""), []).append(number)

    def around(self, names: Iterable[str]) -> frozenset[str]:
        """The regions that some names lie in, and those that are never left out."""
        return self.bound | {self.region[name] for name in names if name in self.region}

    def part(self, job: Job, kept: frozenset[str]) -> Job:
        """A job with the same declarations as this one, those of the regions ``kept`` alone."""

        def of(group: str) -> list[int]:
            places = self.places[group]
            found = (places.get(region, ()) for region in (*kept, ""))
            return sorted(number for numbers in found for number in numbers)

        return replace(
            job,
            points=tuple(job.points[k] for k in of("points")),
            doors=tuple(job.doors[k] for k in of("doors")),
            rooms=tuple(job.rooms[k] for k in of("rooms")),
            rules=tuple(job.rules[k] for k in of("rules")),
            faults=tuple(job.faults[k] for k in of("faults")),
        )

    def _join(self, names: Iterable[str]) -> None:
        first = ""
        for name in names:
            top = self._top(name)
            if not first:
                first = top
            elif top != first:
                self._above[top] = first

    def _top(self, name: str) -> str:
        above = self._above
        top = name
        while above.setdefault(top, top) != top:
            top = above[top]
        while above[name] != top:
            above[name], name = top, above[name]
        return top


def _ties(job: Job) -> Iterator[list[str]]:
    """The names that belong together, once for each thing that ties them; sun and clock tie nobody."""
    for point in job.points:
        yield [point.name]
    for rule in job.rules:
        access = rule_access(rule)
        touched = access.reads | access.writes | access.cancels
        yield [rule.name, *sorted(touched - SHARED)]
    for names in _binding(job):
        yield sorted(names)


def _binding(job: Job) -> Iterator[frozenset[str]]:
    """The names by which the surroundings can be bound to something: these are always played."""
    for door in job.doors:
        switches = (door.raised_by, door.lowered_by, door.moving_by)
        yield frozenset({door.name, *(name for name in switches if name is not None)})
    for room in job.rooms:
        yield frozenset({room.name, *room.entered_by, *room.seen_by})
    for assumption in job.assumptions:
        yield assumption_names(assumption) - SHARED
    for fault in job.faults:
        if fault.subject is not None:
            yield frozenset({fault.subject})


def _owners(job: Job) -> Iterator[tuple[str, list[str]]]:
    """Each group of declarations, with a name for each that tells where it belongs."""
    yield "points", [point.name for point in job.points]
    yield "doors", [door.name for door in job.doors]
    yield "rooms", [room.name for room in job.rooms]
    yield "rules", [rule.name for rule in job.rules]
    yield "faults", [fault.subject or "" for fault in job.faults]


_regions = Recent(_Regions)
