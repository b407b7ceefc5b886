"""Two runs of a requirement, made up from it alone: one that keeps it and one that breaks it.

Both are short and lie at its boundary: off after 1 min 59 s keeps what off after 2 min 1 s
breaks. They need no rules: lamps move as the timeline says. Each is judged by the requirement's
own monitor; what was not judged so is not shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import assert_never

from verifier.explain.draft import Draft, Kind, Span
from verifier.explain.drafts_of_events import (
    after_last_drafts,
    before_drafts,
    for_drafts,
    within_drafts,
)
from verifier.explain.drafts_of_states import always_drafts
from verifier.explain.drafts_of_stretches import (
    at_most_drafts,
    leads_to_drafts,
    measure_drafts,
    no_longer_drafts,
    no_shorter_drafts,
    possible_drafts,
)
from verifier.explain.timeline_search import Found, Search
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Job,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Not,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)


@dataclass(frozen=True, slots=True)
class Example:
    """A timeline of a requirement: what kind it is, its caption, and the time that counts on it.

    ``due_s`` is when the requirement comes into play.
    """

    kind: Kind
    caption: str
    found: Found
    due_s: Fraction
    span: Span | None


@dataclass(frozen=True, slots=True)
class Examples:
    """The runs of a requirement, and why one is missing (empty: none is)."""

    shown: tuple[Example, ...]
    missing: str


def examples_of(job: Job, requirement: Requirement) -> Examples:
    """The run that keeps a requirement and the one that breaks it (or what its form has instead)."""
    search = Search(job, requirement)
    found: list[Example] = []
    missing: list[str] = []
    drafts = list(_drafts(requirement, job))
    for kind in dict.fromkeys(draft.kind for draft in drafts):
        for draft in _tried(drafts, kind, scoped=requirement.scope is not None):
            timeline = search.find(draft.plan)
            if timeline is not None:
                found.append(Example(kind, draft.caption, timeline, draft.due_s, draft.span))
                break
        else:
            missing.append(_MISSING[kind])
    if isinstance(requirement.form, Possible):
        missing.append(
            "No single run breaks it: it is broken if there is no run at all in which it is so."
        )
    if isinstance(requirement.form, MeasureLongest):
        missing.append("It is a question: no run keeps it or breaks it.")
    return Examples(tuple(found), " ".join(missing))


def _tried(drafts: list[Draft], kind: Kind, *, scoped: bool) -> Iterator[Draft]:
    """The drafts of a kind; with a scope, after them the same with a start outside of it."""
    of_kind = [draft for draft in drafts if draft.kind == kind]
    yield from of_kind
    for draft in of_kind if scoped else ():
        first, *rest = draft.plan.wants
        plan = replace(draft.plan, wants=(replace(first, inside=None), *rest))
        yield replace(draft, plan=plan)


_MISSING: dict[Kind, str] = {
    "keeps": "No short run that keeps it could be made up from the requirement alone.",
    "breaks": "No short run that breaks it could be made up from the requirement alone.",
    "reaches": "No short run in which it is so could be made up from the requirement alone.",
    "asks": "No short run of it could be made up from the requirement alone.",
}


# ---------------------------------------------------------------- form by form


def _drafts(requirement: Requirement, job: Job) -> Iterator[Draft]:
    """What is tried for a requirement, of each kind the best first."""
    form, gap = requirement.form, requirement.allowing_s
    match form:
        case Always(condition):
            yield from always_drafts(requirement, condition, job, form)
        case Never(condition):
            yield from always_drafts(requirement, Not(condition), job, form)
        case WhenWithin():
            yield from within_drafts(form, job)
        case WhenFor():
            yield from for_drafts(form, gap, job)
        case AfterLast():
            yield from after_last_drafts(form, job)
        case Before():
            yield from before_drafts(form, job)
        case NoLonger():
            yield from no_longer_drafts(form, gap, job)
        case NoShorter():
            yield from no_shorter_drafts(form, gap, job)
        case AtMostTimes():
            yield from at_most_drafts(form)
        case LeadsTo():
            yield from leads_to_drafts(form, job)
        case Possible(condition):
            yield from possible_drafts(condition, job)
        case MeasureLongest():
            yield from measure_drafts(form, job)
        case _:
            assert_never(form)
