"""A run in the informal trace format that model checkers share, for their tools and viewers.

Source: Apalache ADR-015, "Informal Trace Format in JSON".
"""

from __future__ import annotations

import json
from typing import Any

from verifier import __version__
from verifier.handover.traces import Trace
from verifier.model.words import number, requirement_words
from verifier.pipeline import Result

DESCRIPTION = "https://apalache-mc.org/docs/adr/015adr-trace.html"


def itf_json(result: Result, trace: Trace) -> str:
    """One run as text, with a line end after it.

    Variables are the subjects of the run, their values its words. Moments stand in the states'
    ``#meta``, as texts: a cycle that comes back to the same values does not come back in time.
    """
    run = trace.run
    end_s, just_after = run.end_s
    states: list[dict[str, Any]] = []
    for index, (state, at_s) in enumerate(zip(trace.states, trace.moments_s, strict=True)):
        what = run.steps[index - 1].what if index else "the start"
        meta = {"index": index, "at_s": number(at_s), "what": what}
        states.append({"#meta": meta, **state})
    whole = {
        "#meta": {
            "format": "ITF",
            "format-description": DESCRIPTION,
            "source": result.name,
            "description": f"Created by duskproof {__version__}: "
            f"{trace.role} of {trace.requirement.name}, {requirement_words(trace.requirement)}",
            "status": "violation" if trace.role == "counterexample" else "ok",
            "ends_at_s": number(end_s),
            "ends_just_after": just_after,
        },
        "params": [],
        "vars": [subject.name for subject in trace.subjects],
        **({} if trace.loop is None else {"loop": trace.loop}),
        "states": states,
    }
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"
