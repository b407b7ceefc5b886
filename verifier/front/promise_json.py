"""The promises of a job for programs."""

from __future__ import annotations

import json

from verifier import __version__
from verifier.explain.timeline import Timeline
from verifier.handover.promise import Promise, Promised
from verifier.model.words import number, requirement_words, value


def promise_json(promise: Promise, cautions: tuple[str, ...]) -> str:
    """One object; times are decimals (or fractions) of seconds, as text."""
    whole = {
        "tool": "duskproof",
        "version": __version__,
        "job": promise.job.name,
        "promises": [_promised(each) for each in promise.promised],
        "words": [{"term": term, "means": means} for term, means in promise.words],
        "assumed": list(promise.assumed),
        "faults": list(promise.faults),
        "cautions": list(cautions),
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _promised(each: Promised) -> dict[str, object]:
    return {
        "name": each.requirement.name,
        "title": each.requirement.label,
        "form": requirement_words(each.requirement),
        "sentence": each.said.sentence,
        "exactly": list(each.said.exactly),
        "runs": [
            {
                "kind": run.example.kind,
                "caption": run.diagram.title,
                "begins_s": run.example.found.line.begins_s,
                "due_s": number(run.example.due_s),
                "ends_s": number(run.example.found.line.end_s),
                "values": _values(run.example.found.line),
                "instants": [
                    {
                        "at_s": number(instant.at_s),
                        "just_after": instant.just_after,
                        "clock": instant.clock,
                        "what": instant.words,
                    }
                    for instant in run.diagram.instants
                ],
                "broken": None
                if run.example.kind != "breaks" or run.example.found.broken is None
                else {
                    "at_s": number(run.example.found.broken[0]),
                    "just_after": run.example.found.broken[1],
                },
            }
            for run in each.runs
        ],
        "missing": each.missing,
    }


def _values(line: Timeline) -> dict[str, list[list[str]]]:
    return {
        name: [[number(from_s), value(of)] for from_s, of in line.of(name)]
        for name, _ in line.start
    }
