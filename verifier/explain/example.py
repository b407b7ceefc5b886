"""Two runs of a requirement, made up from it alone: one that keeps it and one that breaks it.

Both are short and lie at its boundary: off after 1 min 59 s keeps what off after 2 min 1 s
breaks. They need no rules: lamps move as the timeline says. Each is judged by the requirement's
own monitor; what was not judged so is not shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, assert_never

from verifier.explain.figures import counted
from verifier.explain.plain_words import plain_condition, plain_denial
from verifier.explain.timeline import DAY_S
from verifier.explain.timeline_search import Found, Plan, Search, Want
from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AtClock,
    AtMostTimes,
    Before,
    Condition,
    HasStayed,
    Implies,
    Is,
    Job,
    LeadsTo,
    Level,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Not,
    Possible,
    Requirement,
    Stayed,
    WhenFor,
    WhenWithin,
    atoms_and_leaves,
    conditions_and_events_of,
)
from verifier.model.words import duration

LEAD_S = Fraction(10)
"""From the start of a timeline to the first thing that happens."""

MOST_EVENTS = 12
"""Occurrences that a timeline of ``at most … times`` may show."""

Kind = Literal["keeps", "breaks", "reaches", "asks"]


@dataclass(frozen=True, slots=True)
class Span:
    """A time that counts on a timeline: from a moment, so long, and what it is called."""

    from_s: Fraction
    for_s: Fraction
    words: str


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


@dataclass(frozen=True, slots=True)
class _Draft:
    kind: Kind
    caption: str
    plan: Plan
    due_s: Fraction
    span: Span | None = None


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


def _tried(drafts: list[_Draft], kind: Kind, *, scoped: bool) -> Iterator[_Draft]:
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


def margin(seconds: Fraction) -> Fraction:
    """How far beside a boundary a run lies: what a person can still tell from it.

    >>> [str(margin(Fraction(s))) for s in ("0", "0.2", "1", "3", "120", "36000")]
    ['1', '1/100', '1/10', '1/10', '1', '60']
    """
    if not seconds:
        return Fraction(1)
    for step in (60, 1, Fraction(1, 10), Fraction(1, 100), Fraction(1, 1000)):
        if seconds >= step * (600 if step == 60 else 5):
            return Fraction(step)
    return seconds / 10


# ---------------------------------------------------------------- form by form


def _drafts(requirement: Requirement, job: Job) -> Iterator[_Draft]:
    """What is tried for a requirement, of each kind the best first."""
    form, gap = requirement.form, requirement.allowing_s
    match form:
        case Always(condition):
            yield from _always(requirement, condition, job, form)
        case Never(condition):
            yield from _always(requirement, Not(condition), job, form)
        case WhenWithin():
            yield from _within(form, job)
        case WhenFor():
            yield from _for(form, gap, job)
        case AfterLast():
            yield from _after_last(form, job)
        case Before():
            yield from _before(form, job)
        case NoLonger():
            yield from _no_longer(form, gap, job)
        case NoShorter():
            yield from _no_shorter(form, gap, job)
        case AtMostTimes():
            yield from _at_most(form)
        case LeadsTo():
            yield from _leads_to(form, job)
        case Possible(condition):
            yield from _possible(condition, job)
        case MeasureLongest():
            yield from _measure(form, job)
        case _:
            assert_never(form)


def _charging(condition: Condition, at: Fraction) -> tuple[Fraction, tuple[Want, ...]]:
    """When something that has to have stayed so can be so, and the moment at which that begins."""
    longest = max(
        (leaf.for_s for leaf in atoms_and_leaves(condition) if isinstance(leaf, Stayed)),
        default=Fraction(0),
    )
    if not longest:
        return at, ()
    return at + longest, (Want(at, inside=None),)


def _implied(condition: Condition, job: Job) -> tuple[Condition, Condition] | None:
    """(A, B) of "A implies B"; also of "not (A and B)", B then about what the rules set."""
    match condition:
        case Implies(left, right):
            return left, right
        case Not(And(items)):
            outputs = [item for item in items if _is_output(item, job)]
            last = (outputs or list(items))[-1]
            rest = tuple(item for item in items if item is not last)
            return (rest[0] if len(rest) == 1 else And(rest)), Not(last)
        case _:
            return None


def _is_output(condition: Condition, job: Job) -> bool:
    subjects = [leaf.subject for leaf in atoms_and_leaves(condition) if isinstance(leaf, Is | Level)]
    return any(name in job.point and job.point[name].kind.is_output for name in subjects)


def _always(
    requirement: Requirement, condition: Condition, job: Job, form: Always | Never
) -> Iterator[_Draft]:
    gap, scope = requirement.allowing_s, requirement.scope
    parts = _implied(condition, job)
    if parts is None and scope is not None:
        parts = scope, condition
    at, charge = _charging(condition if parts is None else parts[0], LEAD_S)
    if parts is None:
        yield from _plain_always(condition, gap, job, at, charge)
        return
    left, right = parts
    drafts = _Implied(left, right, gap, job, at, free=None if left is scope else True)
    yield from drafts.keeping(charge)
    yield from drafts.breaking(charge)


class _Implied:
    """Runs of "whenever A, B": A comes to be so at ``at``."""

    def __init__(
        self,
        left: Condition,
        right: Condition,
        gap: Fraction,
        job: Job,
        at: Fraction,
        *,
        free: bool | None,
    ) -> None:
        self.left, self.right, self.gap, self.at, self.free = left, right, gap, at, free
        self.small = margin(gap)
        self.so, self.not_so = plain_condition(right, job), plain_denial(right, job)
        self.fine = ((left, True), (right, True))
        self.wrong = ((left, True), (right, False))
        self.span = Span(at, gap, f"{duration(gap)} allowed") if gap else None

    def _starts(
        self, charge: tuple[Want, ...], rights: tuple[bool | None, ...]
    ) -> Iterator[tuple[Want, ...]]:
        """The beginnings: A is not so, and what has to have stayed so begins later."""
        stays = tuple(
            (leaf.atom, False) for leaf in atoms_and_leaves(self.left) if isinstance(leaf, Stayed)
        )
        for begins in (stays, ()) if stays else ((),):
            for right in rights:
                before = () if right is None else ((self.right, right),)
                first = Want(Fraction(0), also=((self.left, False), *before, *begins), inside=self.free)
                yield (first, *(Want(w.at_s, inside=None, also=before) for w in charge))

    def keeping(self, charge: tuple[Want, ...]) -> Iterator[_Draft]:
        """Those that keep it, the one at the boundary first."""
        at, gap = self.at, self.gap
        over_s = at + max(LEAD_S, 2 * gap)
        over = Want(over_s, also=((self.left, False),), inside=self.free)
        for start in self._starts(charge, (False, None)):
            if gap > self.small:
                late = gap - self.small
                steps = (Want(at, also=self.wrong), Want(at + late, also=self.fine))
                told = f"After {duration(late)} {self.so}: an exception so short does not count."
                for last in ((over,), ()):
                    plan = Plan((*start, *steps, *last), over_s + LEAD_S, None)
                    yield _Draft("keeps", told, plan, at, self.span)
            for last in ((over,), ()):
                plan = Plan((*start, Want(at, also=self.fine), *last), over_s + LEAD_S, None)
                yield _Draft("keeps", f"From that very moment on {self.so}.", plan, at)

    def breaking(self, charge: tuple[Want, ...]) -> Iterator[_Draft]:
        """Those that break it, likewise."""
        at, gap = self.at, self.gap
        end = at + gap + self.small + LEAD_S
        begun = Want(at, also=self.wrong)
        for start in self._starts(charge, (False, True, None)):
            if not gap:
                told = f"In that moment {self.not_so}: that is enough to break it."
                yield _Draft("breaks", told, Plan((*start, begun), end, at), at)
                continue
            late = gap + self.small
            told = f"Only after {duration(late)} {self.so}: that is too late."
            plan = Plan((*start, begun, Want(at + late, also=self.fine)), end, at)
            yield _Draft("breaks", told, plan, at, self.span)
            told = f"For more than {duration(gap)} {self.not_so}."
            yield _Draft("breaks", told, Plan((*start, begun), end, at), at, self.span)


def _plain_always(
    condition: Condition, gap: Fraction, job: Job, at: Fraction, charge: tuple[Want, ...]
) -> Iterator[_Draft]:
    """``always`` of a condition without an outermost ``implies``."""
    so, not_so = plain_condition(condition, job), plain_denial(condition, job)
    small = margin(gap)
    fine, wrong = ((condition, True),), ((condition, False),)
    begin = Want(Fraction(0), also=fine)
    if gap and gap > small:
        steps = (Want(at, also=wrong), Want(at + gap - small, also=fine))
        yield _Draft(
            "keeps",
            f"After {duration(gap - small)} it is so again that {so}: that does not count.",
            Plan((begin, *charge, *steps), at + gap + LEAD_S, None),
            at,
            Span(at, gap, f"{duration(gap)} allowed"),
        )
    for some in dict.fromkeys(atoms_and_leaves(condition)):
        first = Want(Fraction(0), also=(*fine, (some, False)))
        then = Want(at, also=(*fine, (some, True)))
        plan = Plan((first, *charge, then), at + LEAD_S, None)
        yield _Draft("keeps", f"All the time {so}.", plan, Fraction(0))
    yield _Draft("keeps", f"All the time {so}.", Plan((begin,), 2 * LEAD_S, None), Fraction(0))
    steps = (Want(at, also=wrong),)
    caption, span = f"In that moment {not_so}: that is enough to break it.", None
    if gap:
        steps = (*steps, Want(at + gap + small, also=fine))
        caption = f"Only after {duration(gap + small)} it is so again that {so}: that is too late."
        span = Span(at, gap, f"{duration(gap)} allowed")
    end = at + gap + small + LEAD_S
    yield _Draft("breaks", caption, Plan((begin, *charge, *steps), end, at), at, span)


def _within(form: WhenWithin, job: Job) -> Iterator[_Draft]:
    so, d = plain_condition(form.condition, job), form.within_s
    small = margin(d)
    for event_at, charge in _event_moments(form):
        span = Span(event_at, d, duration(d)) if d else None
        for first in (False, None):
            begin = Want(Fraction(0), first)
            if d:
                steps = (Want(event_at, False, True), Want(event_at + d - small, True, None))
                yield _Draft(
                    "keeps",
                    f"After {duration(d - small)} {so}: in time.",
                    Plan((begin, *charge, *steps), event_at + d + LEAD_S, None),
                    event_at,
                    span,
                )
            steps = (Want(event_at, True, True),)
            yield _Draft(
                "keeps",
                f"In the same moment {so}: in time.",
                Plan((begin, *charge, *steps), event_at + d + LEAD_S, None),
                event_at,
                span,
            )
        for first in (False, None):
            begin = Want(Fraction(0), first)
            for last in (Want(event_at + d + small, True, None), Want(event_at + d + small, False, None)):
                late = duration(d + small)
                told = f"Only after {late} {so}: too late." if last.holds else f"After {late} still not."
                steps = (Want(event_at, False, True), last)
                end = event_at + d + small + LEAD_S
                yield _Draft(
                    "breaks", told, Plan((begin, *charge, *steps), end, event_at), event_at, span
                )


def _event_moments(
    form: WhenWithin | WhenFor | AfterLast | MeasureLongest,
) -> Iterator[tuple[Fraction, tuple[Want, ...]]]:
    """When the event may occur, and what has to begin before it."""
    yield LEAD_S, ()
    stays = [e.timer.for_s for e in form.events if isinstance(e, HasStayed)]
    for seconds in dict.fromkeys(stays):
        yield LEAD_S + seconds, (Want(LEAD_S, None, None),)
    (condition,), _ = conditions_and_events_of(form)
    at, charge = _charging(condition, LEAD_S)
    if charge and at - LEAD_S not in stays:
        yield at, charge


def _for(form: WhenFor, gap: Fraction, job: Job) -> Iterator[_Draft]:
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    d, small = form.for_s, margin(form.for_s)
    little = margin(gap)
    for at, charge in _event_moments(form):
        span = Span(at, d, f"at least {duration(d)}")
        for first in (False, None):
            begin = Want(Fraction(0), first)
            over = Want(at + d + small, False, False)
            if gap and gap > little and gap - little < d:
                steps = (Want(at, False, True), Want(at + gap - little, True, False), over)
                yield _Draft(
                    "keeps",
                    f"After {duration(gap - little)} {so} (so short a delay is allowed), and until "
                    f"{duration(d + small)} have passed.",
                    Plan((begin, *charge, *steps), at + d + small + LEAD_S, None),
                    at,
                    span,
                )
            steps = (Want(at, True, True), over)
            yield _Draft(
                "keeps",
                f"In the same moment {so}; only after {duration(d + small)} {not_so}.",
                Plan((begin, *charge, *steps), at + d + small + LEAD_S, None),
                at,
                span,
            )
            yield _Draft(
                "keeps",
                f"In the same moment {so}, and it stays so.",
                Plan((begin, *charge, Want(at, True, True)), at + d + LEAD_S, None),
                at,
                span,
            )
        for first in (False, None):
            begin = Want(Fraction(0), first)
            gone = Want(at + d - small, False, False)
            end = at + d - small + gap + little + LEAD_S
            yield _Draft(
                "breaks",
                f"After {duration(d - small)} already {not_so}: too early.",
                Plan((begin, *charge, Want(at, True, True), gone), end, at),
                at,
                span,
            )
            yield _Draft(
                "breaks",
                f"In that moment {not_so}.",
                Plan((begin, *charge, Want(at, False, True)), end, at),
                at,
                span,
            )


def _after_last(form: AfterLast, job: Job) -> Iterator[_Draft]:
    so, d = plain_condition(form.condition, job), form.within_s
    small = margin(d)
    half = Fraction(int(d / 2)) or d / 2
    for at, charge in _event_moments(form):
        for again in (True, False):
            last = at + half if again and d else at
            steps = (Want(at, False, True),)
            if last > at:
                steps = (*steps, Want(last, False, True))
            span = Span(last, d, duration(d))
            of_last = " after the last time" if last > at else ""
            for first in (False, None):
                begin = Want(Fraction(0), first)
                if d:
                    end = (Want(last + d - small, True, False),)
                    yield _Draft(
                        "keeps",
                        f"{duration(d - small)}{of_last or ' after it'} {so}: in time.",
                        Plan((begin, *charge, *steps, *end), last + d + LEAD_S, None),
                        at,
                        span,
                    )
                yield _Draft(
                    "keeps",
                    f"At once {so}: in time.",
                    Plan((begin, *charge, Want(at, True, True)), at + d + LEAD_S, None),
                    at,
                    Span(at, d, duration(d)),
                )
            for first in (False, None):
                begin = Want(Fraction(0), first)
                for close in (True, False):
                    moment = Want(last + d + small, close, False)
                    told = f"Only {duration(d + small)}{of_last or ' after it'} {so}: too late."
                    if not close:
                        told = f"{duration(d + small)}{of_last or ' after it'} it is still not so."
                    yield _Draft(
                        "breaks",
                        told,
                        Plan(
                            (begin, *charge, *steps, moment), last + d + small + LEAD_S, last + d
                        ),
                        at,
                        span,
                    )


def _before(form: Before, job: Job) -> Iterator[_Draft]:
    so, d = plain_condition(form.condition, job), form.for_s
    small = margin(d)
    stays = [e.timer.for_s for e in form.events if isinstance(e, HasStayed)]
    for first in (False, None):
        for kind, after in (("keeps", d + small), ("breaks", d - small)):
            event = LEAD_S + after
            # Where the event is that something has stayed so, that has to begin so long before.
            for stay in (Fraction(0), *dict.fromkeys(stays)):
                shift = max(Fraction(0), stay - event + LEAD_S)
                begins = LEAD_S + shift
                at = event + shift
                wants = [Want(Fraction(0), first), Want(begins, True, None)]
                if stay:
                    wants.append(Want(at - stay, None, None))
                wants.append(Want(at, None, True))
                wants.sort(key=lambda want: want.at_s)
                told = (
                    f"For {duration(after)} it had been so that {so}: long enough."
                    if kind == "keeps"
                    else f"Only for {duration(after)} it had been so that {so}: too short."
                )
                yield _Draft(
                    "keeps" if kind == "keeps" else "breaks",
                    told,
                    Plan(tuple(wants), at + LEAD_S, None if kind == "keeps" else at),
                    begins,
                    Span(begins, d, f"at least {duration(d)}"),
                )


def _no_longer(form: NoLonger, gap: Fraction, job: Job) -> Iterator[_Draft]:
    d, small, little = form.most_s, margin(form.most_s), margin(gap)
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    at, charge = _charging(form.condition, LEAD_S)
    span = Span(at, d, f"at most {duration(d)}")
    begin = Want(Fraction(0), False)
    keeps = (Want(at, True), Want(at + d - small, False))
    yield _Draft(
        "keeps",
        f"After {duration(d - small)} {not_so}: short enough.",
        Plan((begin, *charge, *keeps), at + d + gap + LEAD_S, None),
        at,
        span,
    )
    breaks = (Want(at, True), Want(at + d + small, False))
    told = f"Only after {duration(d + small)} {not_so}: too long."
    if gap and gap > little and d > 3 * gap:
        half = at + Fraction(int(d / 2))
        pause = (Want(half, False), Want(half + gap - little, True))
        breaks = (Want(at, True), *pause, Want(at + d + small, False))
        told = (
            f"Only after {duration(d + small)} {not_so}: too long, as a pause of "
            f"{duration(gap - little)} does not count."
        )
        yield _Draft(
            "breaks", told, Plan((begin, *charge, *breaks), at + d + 2 * LEAD_S, at), at, span
        )
        breaks, told = (breaks[0], breaks[-1]), f"For {duration(d + small)} {so}: too long."
    end = at + d + small + LEAD_S
    yield _Draft("breaks", told, Plan((begin, *charge, *breaks), end, at), at, span)


def _no_shorter(form: NoShorter, gap: Fraction, job: Job) -> Iterator[_Draft]:
    d, small, little = form.least_s, margin(form.least_s), margin(gap)
    not_so = plain_denial(form.condition, job)
    at, charge = _charging(form.condition, LEAD_S)
    span = Span(at, d, f"at least {duration(d)}")
    begin = Want(Fraction(0), False)
    keeps = (Want(at, True), Want(at + d + small, False))
    yield _Draft(
        "keeps",
        f"After {duration(d + small)} {not_so}: long enough.",
        Plan((begin, *charge, *keeps), at + d + small + LEAD_S, None),
        at,
        span,
    )
    breaks = (Want(at, True), Want(at + d - small, False))
    end = at + d + gap + little + LEAD_S
    yield _Draft(
        "breaks",
        f"After {duration(d - small)} already {not_so}: too short.",
        Plan((begin, *charge, *breaks), end, at),
        at,
        span,
    )


def _at_most(form: AtMostTimes) -> Iterator[_Draft]:
    number, d = form.times + 1, form.in_s
    if number > MOST_EVENTS:
        return
    small = margin(d)
    keeps, breaks = [d + small], [d - small]
    if any(isinstance(event, AtClock) for event in form.events):
        # The clock comes to a time once a day: the boundary may lie out of reach.
        days = Fraction(number - 1) * DAY_S
        keeps.append(days)
        breaks.append(days)
    for kind, totals in (("keeps", keeps), ("breaks", breaks)):
        for total in totals:
            times = _times(number, total, soon=kind == "keeps")
            for between in (False, True):
                wants = [Want(Fraction(0), None)]
                for k, at in enumerate(times):
                    wants.append(Want(at, None, True))
                    if between and k + 1 < number:
                        half = _round((times[k + 1] - at) / 2)
                        wants.append(Want(at + half, None, False))
                whole, long = counted(number, "time"), duration(total)
                told = (
                    f"From the first to the last of {whole}: {long}, which is long enough."
                    if kind == "keeps"
                    else f"{whole} within {long}: once too often."
                )
                plan = Plan(
                    tuple(wants), times[-1] + LEAD_S, None if kind == "keeps" else times[-1]
                )
                span = Span(LEAD_S, d, duration(d))
                yield _Draft("keeps" if kind == "keeps" else "breaks", told, plan, LEAD_S, span)


def _times(number: int, total: Fraction, *, soon: bool) -> list[Fraction]:
    """When the events occur: spread evenly, or all but the last soon after each other."""
    apart = total / (number - 1)
    if soon and number > 2:
        apart = min(total / number, LEAD_S) if total > LEAD_S else total / (2 * number)
    times = [LEAD_S + _round(apart * k) for k in range(number - 1)]
    return [*times, LEAD_S + total]


def _round(seconds: Fraction) -> Fraction:
    """To a whole number of seconds or tenths, where there are several."""
    for step in (1, 10, 100):
        if seconds * step >= 3:
            return Fraction(int(seconds * step), step)
    return seconds


def _leads_to(form: LeadsTo, job: Job) -> Iterator[_Draft]:
    so, not_so = plain_condition(form.condition, job), plain_denial(form.condition, job)
    at = LEAD_S
    for first in (True, None):
        begin = Want(Fraction(0), first)
        going = Want(at, False, None, handled=True)
        end = Want(at + 60, True)
        yield _Draft(
            "keeps",
            f"In the end {so}, and it stays so. (How long it takes is not promised.)",
            Plan((begin, going, end), at + 120, None),
            at,
        )
        yield _Draft(
            "breaks",
            f"Nothing more happens, and {not_so} for good.",
            Plan((begin, going), at + 120, at),
            at,
        )


def _possible(condition: Condition, job: Job) -> Iterator[_Draft]:
    at, charge = _charging(condition, LEAD_S)
    for first in (False, None):
        wants = (Want(Fraction(0), first, inside=None), *charge, Want(at, True))
        caption = f"Here it comes to be so that {plain_condition(condition, job)}."
        yield _Draft("reaches", caption, Plan(wants, at + LEAD_S, Fraction(0)), at)


def _measure(form: MeasureLongest, job: Job) -> Iterator[_Draft]:
    so = plain_condition(form.condition, job)
    for at, charge in _event_moments(form):
        for first in (False, None):
            for holds in (True, None):
                end = at + 60
                wants = (Want(Fraction(0), first), *charge, Want(at, holds, True))
                after = () if holds else (Want(at + 1, True, False),)
                last = Want(end, False, False)
                yield _Draft(
                    "asks",
                    f"The time that is asked for: from the event to the last moment at which {so}.",
                    Plan((*wants, *after, last), end + LEAD_S, None),
                    at,
                    Span(at, Fraction(60), "how long at most?"),
                )
