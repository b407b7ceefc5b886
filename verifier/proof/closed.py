"""Whether all is in a slice that a requirement depends on, and what is raised when evidence fails.

It stands apart from the rest of the checker because every verdict that was kept needs it, and no solver.
"""

from __future__ import annotations

from dataclasses import replace

from verifier.graph.slice import check_slice
from verifier.model.job import Job, Requirement


class EvidenceFailed(Exception):
    """A certificate or run did not pass its check. If it is of our own making: the tool's fault."""


class NotChecked(Exception):
    """A certificate could not be checked within its limits: no verdict, and no fault either."""


class NotOnTheWhole(Exception):
    """A run of a slice did not replay on the whole job (an endless chain elsewhere, say)."""


def check_closed(job: Job, requirement: Requirement, part: Job) -> None:
    """Nothing that the requirement depends on was cut away. Raises: EvidenceFailed."""
    if job.requirement.get(requirement.name) != requirement:  # one asked on the spot
        job = replace(job, requirements=(*job.requirements, requirement))
    wrong = check_slice(job, part)
    if wrong:
        raise EvidenceFailed(f"the slice is not closed: {wrong[0]}")
