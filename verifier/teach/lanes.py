"""The lanes of a question: what a person does and what follows of it, through time."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.diagram import Diagram, Instant, Kind
from verifier.explain.diagram import Lane as DrawnLane
from verifier.model.job import Job
from verifier.simulate.script_play import play
from verifier.teach.answers import joined
from verifier.teach.lesson import Lane, Predict
from verifier.teach.questions import values_of


@dataclass(frozen=True, slots=True)
class Given:
    """What is shown beside the lane that is to be drawn: a name, a label, its lane."""

    name: str
    label: str
    lane: Lane


def given_lanes(job: Job, question: Predict) -> tuple[Given, ...]:
    """The lanes of all that the surroundings do in a question, in declared order.

    Raises: CannotPlay.
    """
    run = play(job, question.script).run
    outside = {p.name: p.label for p in job.points if p.kind.is_input}
    outside |= {door.name: door.label for door in job.doors}
    outside |= {room.name: room.label for room in job.rooms}
    found: list[Given] = []
    for subject, first in run.start:
        if subject not in outside or subject == question.thing:
            continue
        lane = [(Fraction(0), first)]
        for step in run.steps:
            lane.extend((step.at_s, value) for s, value in step.changes if s == subject)
        told = any(subject in line.split() for line in question.told)
        if len(joined(tuple(lane))) > 1 or told:
            found.append(Given(subject, outside[subject] or subject, joined(tuple(lane))))
    return tuple(found)


def label_of(job: Job, thing: str) -> str:
    """The label of a thing, or its name."""
    named = (
        job.point.get(thing) or job.rule.get(thing) or job.door.get(thing) or job.room.get(thing)
    )
    return (named.label if named is not None else "") or thing


def beside(job: Job, question: Predict, drawn: Lane, right: Lane) -> Diagram:
    """A diagram of what was drawn over what is so, with what the surroundings do above both."""
    lanes = [(g.label, "outside", g.lane) for g in given_lanes(job, question)]
    lanes.append(("as you drew it", "claim", drawn))
    lanes.append((f"{label_of(job, question.thing)}: as it is", "output", right))
    until = question.script.until_s
    moments = sorted({at for _, _, lane in lanes for at, _ in lane if at <= until} | {until})
    values = values_of(job, question.thing)

    def at(lane: Lane, moment: Fraction) -> str:
        return [value for since, value in lane if since <= moment][-1]

    shown = []
    for label, kind, lane in lanes:
        row = tuple(at(lane, moment) for moment in moments)
        low = (
            {values[0], "off", "shut", "vacant", "no", "idle", "clear"}
            if values
            else {"off", "idle"}
        )
        heights = tuple(Fraction(0 if value in low else 1) for value in row)
        named: Kind = "outside" if kind == "outside" else "output"
        shown.append(DrawnLane(label, label, named, row, heights))
    instants = tuple(Instant(m, False, "", "" if m == until else "a change") for m in moments)
    return Diagram("", instants, tuple(shown))
