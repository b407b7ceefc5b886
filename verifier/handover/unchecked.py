"""What a proof does not cover, said plainly: no report is honest without it."""

from __future__ import annotations

from verifier.model.job import FaultKind, Job, PointKind, Requirement
from verifier.proof.verdict import Proved, Undecided, Verdict

_ALWAYS = (
    "That the points are wired and named as the schedule says, and that the controller does what "
    "the rules say: that is what the test on site is for.",
    "Light levels, glare, and whether the light falls where it is needed: only on, off and the "
    "dimmers' levels were judged.",
    "Electrical safety, the mains wiring, and the safety devices of powered doors.",
    "Faults of the controller itself, of the lamps, and of the supply, other than those named "
    "above.",
)
_FAULTS = {
    FaultKind.POWER_CUTS: "power that fails and returns",
    FaultKind.LOST_REPORTS: "reports that are lost on the way",
    FaultKind.BOUNCE: "contacts that bounce",
    FaultKind.STUCK: "points that stick",
    FaultKind.BROKEN_WIRE: "broken wires",
    FaultKind.BOTH_LIMITS: "both limit switches of a door reached at once",
}


def unchecked(
    job: Job, verdicts: tuple[tuple[Requirement, Verdict, float], ...]
) -> tuple[str, ...]:
    """What was not checked, one sentence each, the job's own before what never is."""
    found = []
    open_ = [r.name for r, v, _ in verdicts if isinstance(v, Undecided)]
    if open_:
        found.append(f"Undecided, so neither proved nor refuted: {', '.join(open_)}.")
    empty = [r.name for r, v, _ in verdicts if isinstance(v, Proved) and v.vacuous]
    if empty:
        found.append(f"Proved, but never called on in any run: {', '.join(empty)}.")
    judged = {r.name for r, _, _ in verdicts}
    left = [r.name for r in job.requirements if r.name not in judged]
    if left:
        found.append(f"Promised, but not judged here: {', '.join(left)}.")
    considered = {fault.kind for fault in job.faults}
    missing = [words for kind, words in _FAULTS.items() if kind not in considered]
    if missing:
        found.append(f"What happens with: {'; '.join(missing)}. None of these was considered.")
    if any(fault.subject is not None for fault in job.faults):
        found.append("A fault that is considered of one point was not considered of the others.")
    if job.site is None or job.site.latitude_deg is None:
        found.append(
            "The real sun of a place: nights and days of any length were allowed, which is more "
            "than any place has."
        )
    if any(p.kind is PointKind.DETECTOR for p in job.points):
        found.append("Whether the detectors see the whole of the place that they are meant for.")
    return (*found, *_ALWAYS)
