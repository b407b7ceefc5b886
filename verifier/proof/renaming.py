"""A verdict on a canonical slice, carried to a slice of the job: the renaming checked, runs replayed.

The check walks both slices side by side and shares no code with what made the one of the other.
"""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from typing import Any

from verifier.graph.slice import slice_job
from verifier.model.job import Job, LeadsTo, MeasureLongest, Requirement
from verifier.proof.canonical import Renaming
from verifier.proof.closed import EvidenceFailed, NotOnTheWhole
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.proof.whole import replay_on_whole
from verifier.simulate.replay import Concrete, DoesNotReplay, fails, replay
from verifier.simulate.run import Run, Step
from verifier.simulate.seen import changes_between, seen_values
from verifier.simulate.system import Excluded, System
from verifier.source import Span
from verifier.surroundings.happenings import QuietBegins

# ---------------------------------------------------------------- the renaming


def check_renaming(canonical: Job, own: Job, names: tuple[str, ...]) -> None:
    """``own`` is ``canonical`` with ``names[k]`` for ``$k$``, and no two names are one.

    Raises: EvidenceFailed.
    """
    if len(set(names)) != len(names):
        raise EvidenceFailed("two names of a slice became one")
    given = {f"${k}$": name for k, name in enumerate(names)}
    for field in fields(Job):
        if field.name in {"name", "settings", "usage"}:
            continue
        one, other = getattr(canonical, field.name), getattr(own, field.name)
        if not _same(one, other, given):
            raise EvidenceFailed(f"the {field.name} of a slice are not what was proved")


_not_compared = frozenset({"label", "standard", "span"})


def _same(canonical: Any, own: Any, given: dict[str, str]) -> bool:
    """Whether two parts are the same up to names, labels and places."""
    kind = type(canonical)
    if kind is not type(own):
        return False
    if kind is str:
        # A value such as `on`, or a name, which no value is: `$` stands in none.
        return bool(given.get(canonical, canonical) == own)
    if kind is tuple:
        return len(canonical) == len(own) and all(
            _same(a, b, given) for a, b in zip(canonical, own, strict=True)
        )
    if not is_dataclass(canonical):
        return bool(canonical == own)
    site = kind.__name__ == "Site"
    for name in kind.__dataclass_fields__:
        if name in _not_compared or (site and name == "name"):
            continue
        if not _same(getattr(canonical, name), getattr(own, name), given):
            return False
    return True


_GIVEN = re.compile(r"\$(\d+)\$")


def under_own_names(value: Any, names: tuple[str, ...], spans: tuple[Span, ...]) -> Any:
    """What was found of a canonical slice, in the names and places of one that is the same."""

    def text(words: str) -> str:
        return _GIVEN.sub(lambda found: names[int(found[1])], words) if "$" in words else words

    def span(place: Span) -> Span:
        return spans[place.start] if place.file == "" and spans else place

    return Renaming(text, span, labels=True, text=text)(value)


# ---------------------------------------------------------------- the verdict


def carried(
    job: Job,
    requirement: Requirement,
    verdict: Verdict,
    without: tuple[Excluded, ...],
) -> Verdict:
    """A verdict in the job's own names, with its run replayed under them on the slice and the whole.

    Raises: EvidenceFailed, NotOnTheWhole.
    """
    match verdict:
        case Undecided():
            return verdict
        case Proved(_, Run() as run):
            return replace(verdict, witness=_replayed(job, requirement, run, without, True))
        case Refuted(Run() as run) | Answered(_, Run() as run):
            form = requirement.form
            seen = not isinstance(form, LeadsTo | MeasureLongest)
            return replace(verdict, run=_replayed(job, requirement, run, without, seen))
        case _:
            return verdict


def _replayed(
    job: Job, requirement: Requirement, run: Run, without: tuple[Excluded, ...], seen: bool
) -> Run:
    """The run as the interpreter plays it on the job's own slice.

    ``seen``: it ends where the monitor sees what it looks for. Raises: EvidenceFailed, NotOnTheWhole.
    """
    played = run.played
    if played is None:
        raise EvidenceFailed("a run came without what is needed to play it again")
    dated = job if job.seasons == played.seasons else replace(job, seasons=played.seasons)
    part = slice_job(dated, requirement, tied=bool(without))
    system = System(part, requirement, without=without)
    start = Concrete(played.start, (played.end * 0,) * len(system.layout.clocks))
    try:
        steps = [(at, system.happenings[number], wanted) for at, number, wanted in played.steps]
        good = None if not seen else lambda state: fails(system, state, system.bad)
        results = replay(system, start, steps, played.end, good)
    except (DoesNotReplay, IndexError) as failure:
        raise EvidenceFailed(f"a run does not replay under its own names: {failure}") from failure
    try:
        replay_on_whole(
            dated, requirement, system, start.values, steps, played.end, without, played.begins_s
        )
    except DoesNotReplay as failure:
        raise NotOnTheWhole(str(failure)) from failure
    shown = iter(run.steps)
    told: list[Step] = []
    before = start
    for (_, happening, _), result in zip(steps, results, strict=True):
        changes = changes_between(system, before, result.state)
        before = result.state
        if not isinstance(happening, QuietBegins):
            step = next(shown, None)
            if step is None:
                raise EvidenceFailed("a run has more steps than it tells")
            told.append(replace(step, what=happening.what, changes=changes, because=result.because))
    if next(shown, None) is not None:
        raise EvidenceFailed("a run tells more steps than it has")
    return replace(run, start=tuple(seen_values(system, start).items()), steps=tuple(told))
