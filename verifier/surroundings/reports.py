"""How what an input is comes to be known to the controller, where a fault of it is considered (9).

Rules see what was last reported. As long as nothing can part the report from the truth the two
are one variable; a point with a considered fault has a variable of its own for the report.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.model.job import FaultKind, Job, Point, PointKind

QUIET, MAY_BOUNCE, AWAY = 1, 2, 4
"""Bits of a bounce: none; after a change that was reported; a false report is out."""

BOUNCES = ("none", "after a change", "away")

_OF_POINTS = (FaultKind.LOST_REPORTS, FaultKind.BOUNCE, FaultKind.STUCK, FaultKind.BROKEN_WIRE)


@dataclass(frozen=True, slots=True)
class Reporting:
    """The variables and the clock of a point's report; None where that fault is not considered.

    ``copy`` is what was last reported (None of a push-button); ``stuck`` and ``broken`` say yes
    from the moment on at which the fault sets in; ``broken_bit`` is how a broken wire reads;
    ``bounce`` goes with ``clock`` (since the last change that was reported) and ``limit``.
    """

    point: str
    copy: int | None
    lost: bool
    stuck: int | None
    broken: int | None
    broken_bit: int
    bounce: int | None
    clock: int
    limit: int


def faulty_points(job: Job) -> dict[str, tuple[FaultKind, ...]]:
    """The points whose report can differ from the truth, with the faults considered of each."""
    found: dict[str, tuple[FaultKind, ...]] = {}
    for fault in job.faults:
        if fault.kind in _OF_POINTS and fault.subject is not None:
            found[fault.subject] = (*found.get(fault.subject, ()), fault.kind)
    return found


def broken_wire_reads(point: Point) -> str | None:
    """The value that a broken wire of a point reads as; None if nothing says it.

    A broken wire is an open circuit: as declared, else ``open``, ``clear`` or ``off`` if normally
    open, the other value if normally closed.
    """
    if point.broken_wire_reads is not None:
        return point.broken_wire_reads
    if point.wired is None:
        return None
    rest, other = point.kind.values
    # Of a contact it is `open` that a normally open wire reads with no current in it.
    opened = other if point.kind is PointKind.CONTACT else rest
    shut = rest if point.kind is PointKind.CONTACT else other
    return opened if point.wired == "normally open" else shut
