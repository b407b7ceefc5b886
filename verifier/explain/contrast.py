"""The nearest case that goes well, beside the one that fails, with the one difference in words.

Nearest is: the same happenings in another order of handling; one of them earlier or later, by as
little as can be; another value at the start; another happening instead of one; one more; one less.
Each is played on the interpreter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from verifier.explain.diagram import Diagram
from verifier.explain.drawn import drawn
from verifier.explain.figures import moment
from verifier.explain.observed import Observed, observed
from verifier.explain.playback import (
    Case,
    Impossible,
    Occurs,
    Played,
    outside_of,
    play,
)
from verifier.explain.why import Why
from verifier.model.job import (
    Always,
    AtMostTimes,
    Implies,
    Job,
    LeadsTo,
    NoLonger,
    NoShorter,
    PointKind,
    Requirement,
    conditions_and_events_of,
)
from verifier.model.words import duration
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.system import System
from verifier.surroundings.happenings import (
    ControllerWakes,
    LimitsTurn,
    PointSticks,
    PowerCut,
    ReportBounces,
    WireBreaks,
)

_FAULTS = (ControllerWakes, PowerCut, ReportBounces, PointSticks, WireBreaks, LimitsTurn)

MOST_NEAR = 120
"""Cases that are looked at for one in which something is asked of the requirement."""

_GRAIN_S = Fraction(1)
"""How finely the moment is looked for up to which a case fails."""


@dataclass(frozen=True, slots=True)
class Contrast:
    """A case that goes well: the one difference in words, and its picture."""

    words: str
    case: Case
    played: Played
    diagram: Diagram


def contrast_of(job: Job, requirement: Requirement, case: Case, failed: Played) -> Contrast | None:
    """The nearest case that keeps the requirement; None if none of those that are tried does."""
    system = failed.system
    longer = replace(case, until_s=case.until_s + max([Fraction(1), *_figures(requirement)]))
    # A monitor that guesses has ways of its own that say nothing of the order.
    guesses = isinstance(requirement.form, AtMostTimes) and requirement.form.times > 1
    other = Impossible("") if guesses else play(system, requirement, longer, "keeps")
    if isinstance(other, Played) and other.keeps:
        return _told(job, requirement, case, other, _order_words(failed, other))
    figures = _figures(requirement)
    for number, at_s, near in sorted(_moved(case, failed, figures), key=lambda m: _by(case, m)):
        kept = _keeps(system, requirement, near)
        if kept is not None:
            moved = _nearest(system, requirement, case, (number, at_s, near), kept)
            return _told(
                job, requirement, moved[1], moved[2], _moved_words(case, number, *moved[:2])
            )
    idle: Contrast | None = None
    for number, (words, near) in enumerate(_near(system, case, failed)):
        if idle is not None and number >= MOST_NEAR:
            break
        kept = _keeps(system, requirement, near)
        if kept is None:
            continue
        if called_on(requirement, observed(kept)):
            return _told(job, requirement, near, kept, words)
        idle = idle or _told(job, requirement, near, kept, words)
    return idle


def _told(job: Job, requirement: Requirement, case: Case, kept: Played, words: str) -> Contrast:
    seen = observed(kept)
    nothing = Why((), seen.last + 1)
    diagram = drawn(job, requirement, seen, nothing, (), None, None)
    return Contrast(words, case, kept, replace(diagram, title=words))


def _keeps(system: System, requirement: Requirement, case: Case) -> Played | None:
    """The playback of a case that keeps the requirement in every order; else None.

    It is looked at for as long as the requirement looks ahead.
    """
    case = replace(case, until_s=case.until_s + max([Fraction(1), *_figures(requirement)]))
    worst = play(system, requirement, case, "fails")
    return worst if isinstance(worst, Played) and worst.keeps else None


def _figures(requirement: Requirement) -> list[Fraction]:
    """The durations of a requirement's form."""
    form = requirement.form
    names = ("within_s", "for_s", "most_s", "least_s", "in_s")
    return [getattr(form, name) for name in names if hasattr(form, name)]


def called_on(requirement: Requirement, seen: Observed) -> bool:
    """Whether in a played run something was asked of a requirement at all."""
    form = requirement.form
    instants = range(seen.last + 1)
    match form:
        case Always(Implies(asked, _)) | NoLonger(_, asked) | NoShorter(_, asked):
            return any(seen.true(asked, k) for k in instants)
        case LeadsTo(rule):
            lines = {t.span for r in seen.played.system.rules if r.name == rule for t in r.triggers}
            return any(lines & set(because) for because in seen.because)
        case _:
            events = conditions_and_events_of(form)[1]
            return not events or any(seen.occurs(event, k) for event in events for k in instants)


# ---------------------------------------------------------------- what is near


def _near(system: System, case: Case, failed: Played) -> Iterator[tuple[str, Case]]:
    """Cases near one, each with its words, the nearest first."""
    yield from _instead(system, case)
    yield from _one_more(system, case, failed)
    yield from _other_starts(system, case)
    if len(case.occurs) > 1:
        yield from _one_less(case)
    yield from _one_more(system, case, failed, late=True)
    yield from _one_less(case)


_Moved = tuple[int, Fraction, Case]
"""Which happening is moved, to which second, and the case that comes of it."""


def _by(case: Case, moved: _Moved) -> Fraction:
    return abs(moved[1] - case.occurs[moved[0]].at_s)


def _moved(case: Case, failed: Played, figures: list[Fraction]) -> Iterator[_Moved]:
    """One happening at another moment: beside each other step, or a figure after it."""
    moments = {step.at_s for step in failed.steps} | {Fraction(int(case.until_s))}
    moments |= {moment + figure for moment in moments for figure in figures}
    for k, one in enumerate(case.occurs):
        tried = {m + d for m in moments for d in (Fraction(-1), Fraction(1), Fraction(5))}
        for at in sorted(tried - {one.at_s}):
            if at >= 0:
                yield k, at, _put(case, k, at)


def _put(case: Case, k: int, at: Fraction) -> Case:
    """The case with its happening ``k`` at another second."""
    rest = [*case.occurs[:k], *case.occurs[k + 1 :]]
    return _with(case, [*rest, Occurs(at, case.occurs[k].what)])


def _with(case: Case, occurs: list[Occurs]) -> Case:
    """The case with other happenings, and as long after the last as it was."""
    found = tuple(sorted(occurs, key=lambda o: o.at_s))
    last = case.occurs[-1].at_s if case.occurs else Fraction(0)
    left = case.until_s - last
    until = max(case.until_s, (found[-1].at_s if found else Fraction(0)) + left)
    return replace(case, occurs=found, until_s=until, sequence=(), order=())


def _nearest(
    system: System, requirement: Requirement, case: Case, moved: _Moved, kept: Played
) -> tuple[Fraction, Case, Played]:
    """The case moved back towards the one that fails, as near as it still goes well."""
    k, good, near = moved
    bad = case.occurs[k].at_s
    while abs(good - bad) > _GRAIN_S:
        middle = Fraction(round((good + bad) / 2))
        if middle in (good, bad):
            break
        one = _put(case, k, middle)
        again = _keeps(system, requirement, one)
        if again is None:
            bad = middle
        else:
            good, near, kept = middle, one, again
    return good, near, kept


def _moved_words(case: Case, k: int, at_s: Fraction, near: Case) -> str:
    one = case.occurs[k]
    by = at_s - one.at_s
    when = f"{duration(abs(by))} {'later' if by > 0 else 'earlier'}, at {moment(at_s, False)}"
    passed = [
        other.what
        for n, other in enumerate(case.occurs)
        if n != k and (n > k if by > 0 else n < k) and _between(one.at_s, other.at_s, at_s)
    ]
    if passed:
        when += f" and {'after' if by > 0 else 'before'} “{passed[-1 if by > 0 else 0]}”"
    return f"Had “{one.what}” come {when}, it would have gone well."


def _between(one: Fraction, other: Fraction, at: Fraction) -> bool:
    return min(one, at) <= other <= max(one, at)


def _other_starts(system: System, case: Case) -> Iterator[tuple[str, Case]]:
    for subject, value in case.start:
        other = _other(system, subject, value)
        if other is None:
            continue
        words = f"it been {other}" if subject == "sun" else f"{subject} been {other}"
        start = tuple((s, other if s == subject else v) for s, v in case.start)
        opposite = {"night": "day begins", "day": "night begins"}.get(value)
        occurs = [o for o in case.occurs if subject != "sun" or o.what not in (opposite,)]
        near = replace(_with(case, occurs), start=start)
        yield f"Had {words} from the start, it would have gone well.", near


def _other(system: System, subject: str, value: str) -> str | None:
    if subject == "sun":
        if system.world.in_calendar is not None and system.world.in_calendar.calendar.linked:
            return None  # on a date it is night when it is
        return "day" if value == "night" else "night"
    point = system.job.point.get(subject)
    if point is None or not point.kind.is_input or subject in system.job.door_of_point:
        return None
    if point.kind is PointKind.BUTTON or point.starts is not None:
        return None
    return next(v for v in point.kind.values if v != value)


def _instead(system: System, case: Case) -> Iterator[tuple[str, Case]]:
    """Another happening of the same subject instead of one."""
    known = _ordinary(system)
    for k in reversed(range(len(case.occurs))):
        one = case.occurs[k]
        subject = one.what.split()[0]
        for what in known:
            if what == one.what or what.split()[0] != subject:
                continue
            for late in (0, 10, 60):
                new = Occurs(one.at_s + late, what)
                rest = [*case.occurs[:k], *case.occurs[k + 1 :]]
                words = f"Had “{what}” come instead of “{one.what}”, it would have gone well."
                yield words, _with(case, [*rest, new])


def _ordinary(system: System) -> list[str]:
    """What can happen outside without a fault, by its words."""
    return [
        what
        for what, happenings in outside_of(system).items()
        if not any(isinstance(h, _FAULTS) or getattr(h, "lost", False) for h in happenings)
    ]


def _one_more(
    system: System, case: Case, failed: Played, *, late: bool = False
) -> Iterator[tuple[str, Case]]:
    """One more happening: between two, or (``late``) just before it fails."""
    moments = sorted({Fraction(0), *(step.at_s for step in failed.steps), case.until_s})
    places = [Fraction(int(case.until_s) - 1)] if late else []
    if isinstance(system.monitor, LeadsToMonitor | MeasureMonitor) and not late:
        places.append(Fraction(int(case.until_s) + 5))  # it fails in the end: later is soon enough
    for before, after in pairwise(moments):
        if after - before >= 2 and not late:
            places.append(Fraction(round((before + after) / 2)))
    # What concerns something that happens already comes first.
    subjects = {one.what.split()[0] for one in case.occurs}
    ordinary = sorted(_ordinary(system), key=lambda what: what.split()[0] not in subjects)
    for at in reversed(places):
        for what in ordinary if at > 0 else ():
            words = f"Had “{what}” come as well, at {moment(at, False)}, it would have gone well."
            yield words, _with(case, [*case.occurs, Occurs(at, what)])


def _one_less(case: Case) -> Iterator[tuple[str, Case]]:
    for k in reversed(range(len(case.occurs))):
        one = case.occurs[k]
        words = f"Without “{one.what}” at {moment(one.at_s, False)} it would have gone well."
        if len(case.occurs) == 1:
            words = f"Of the cases near it only that in which “{one.what}” does not come goes well."
        yield words, _with(case, [*case.occurs[:k], *case.occurs[k + 1 :]])


def _order_words(failed: Played, kept: Played) -> str:
    """Which rules were handled in another order."""
    for one, other in zip(failed.steps, kept.steps, strict=False):
        if one.because != other.because and set(one.because) == set(other.because):
            rules = _rules_of(failed.system, one.because), _rules_of(kept.system, other.because)
            return (
                f"Had {', then '.join(rules[1])} been handled in this order, and not "
                f"{', then '.join(rules[0])}, it would have gone well."
            )
        if one.happening.what != other.happening.what:
            return (
                f"Had “{other.happening.what}” come before “{one.happening.what}”, at the same "
                "moment, it would have gone well."
            )
    return "In another order of what happens at one moment it would have gone well."


def _rules_of(system: System, because: tuple[object, ...]) -> list[str]:
    found: list[str] = []
    for span in because:
        for rule in system.rules:
            if any(t.span == span for t in rule.triggers) and rule.name not in found:
                found.append(rule.name)
    return found
