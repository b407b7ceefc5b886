"""Explanations for programs: the same as the text says, as JSON values."""

from __future__ import annotations

import json
from typing import Any

from verifier.explain.diagram import Diagram
from verifier.explain.explained import Explained
from verifier.explain.story import Story
from verifier.front.result_places import line_of
from verifier.model.words import number
from verifier.source import Sources


def explanations_json(all_: tuple[Explained, ...], sources: Sources, job: str, code: int) -> str:
    """The whole output of `explain --format json`."""
    from verifier import __version__

    whole = {
        "tool": "duskproof",
        "version": __version__,
        "job": job,
        "exit": code,
        "failing": [explained_values(each, sources) for each in all_],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def explained_values(each: Explained, sources: Sources) -> dict[str, Any]:
    """One requirement that fails."""
    return {
        "name": each.requirement.name,
        "label": each.requirement.label,
        "where": line_of(each.requirement.span, sources),
        "story": None if each.story is None else story_values(each.story, sources),
        "goes_well": [
            {"rule": b.rule, "where": line_of(b.span, sources), "if": b.words} for b in each.blames
        ],
        "contrast": None
        if each.contrast is None
        else {
            "words": each.contrast.words,
            "happenings": [
                {"at_s": number(o.at_s), "what": o.what} for o in each.contrast.case.occurs
            ],
            "diagram": diagram_values(each.contrast.diagram),
        },
        "other": None if each.other is None else story_values(each.other, sources),
    }


def story_values(story: Story, sources: Sources) -> dict[str, Any]:
    """A story; moments in exact seconds from the start of the run."""
    return {
        "title": story.title,
        "start": list(story.start),
        "moments": [
            {
                "number": m.number,
                "at_s": number(m.at_s),
                "just_after": m.just_after,
                "clock": m.clock,
                "what": m.what,
                "outside": m.outside,
                "changes": list(m.changes),
                "reactions": [
                    {"rule": r.rule, "where": line_of(r.span, sources), "line": r.words}
                    for r in m.reactions
                ],
            }
            for m in story.moments
        ],
        "ends": story.ends,
        "causes": [
            {"letter": c.letter, "at": c.at, "words": c.words, "because": c.because}
            for c in story.causes
        ],
        "needs_every_happening": story.least,
        "could_be_anything": list(story.anything),
        "diagram": diagram_values(story.diagram),
    }


def diagram_values(diagram: Diagram) -> dict[str, Any]:
    """A timing diagram: lanes with a value from each instant on."""
    return {
        "instants": [
            {"at_s": number(i.at_s), "just_after": i.just_after, "clock": i.clock, "what": i.words}
            for i in diagram.instants
        ],
        "lanes": [
            {
                "subject": lane.subject,
                "label": lane.label,
                "kind": lane.kind,
                "values": list(lane.values),
            }
            for lane in diagram.lanes
        ],
        "running_down": [
            {"lane": b.lane, "from": b.begin, "to": b.end, "left": number(b.left), "what": b.words}
            for b in diagram.bars
        ],
        "marks": [
            {"lane": m.lane, "instant": m.instant, "letter": m.letter, "what": m.words}
            for m in diagram.marks
        ],
        "cycle_from": diagram.cycle_from,
    }
