"""Drafts of runs for `always` and `never`."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.explain.draft import LEAD_S, Draft, Span, charging, margin
from verifier.explain.plain_words import plain_condition, plain_denial
from verifier.explain.timeline_search import Plan, Want
from verifier.model.job import (
    Always,
    And,
    Condition,
    Implies,
    Is,
    Job,
    Level,
    Never,
    Not,
    Requirement,
    Stayed,
    atoms_and_leaves,
)
from verifier.model.words import duration


def implied_parts(condition: Condition, job: Job) -> tuple[Condition, Condition] | None:
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
    subjects = [
        leaf.subject for leaf in atoms_and_leaves(condition) if isinstance(leaf, Is | Level)
    ]
    return any(name in job.point and job.point[name].kind.is_output for name in subjects)


def always_drafts(
    requirement: Requirement, condition: Condition, job: Job, form: Always | Never
) -> Iterator[Draft]:
    """Runs of ``always`` (and of ``never``, of its denial)."""
    gap, scope = requirement.allowing_s, requirement.scope
    parts = implied_parts(condition, job)
    if parts is None and scope is not None:
        parts = scope, condition
    at, charge = charging(condition if parts is None else parts[0], LEAD_S)
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
                first = Want(
                    Fraction(0), also=((self.left, False), *before, *begins), inside=self.free
                )
                yield (first, *(Want(w.at_s, inside=None, also=before) for w in charge))

    def keeping(self, charge: tuple[Want, ...]) -> Iterator[Draft]:
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
                    yield Draft("keeps", told, plan, at, self.span)
            for last in ((over,), ()):
                plan = Plan((*start, Want(at, also=self.fine), *last), over_s + LEAD_S, None)
                yield Draft("keeps", f"From that very moment on {self.so}.", plan, at)

    def breaking(self, charge: tuple[Want, ...]) -> Iterator[Draft]:
        """Those that break it, likewise."""
        at, gap = self.at, self.gap
        end = at + gap + self.small + LEAD_S
        begun = Want(at, also=self.wrong)
        for start in self._starts(charge, (False, True, None)):
            if not gap:
                told = f"In that moment {self.not_so}: that is enough to break it."
                yield Draft("breaks", told, Plan((*start, begun), end, at), at)
                continue
            late = gap + self.small
            told = f"Only after {duration(late)} {self.so}: that is too late."
            plan = Plan((*start, begun, Want(at + late, also=self.fine)), end, at)
            yield Draft("breaks", told, plan, at, self.span)
            told = f"For more than {duration(gap)} {self.not_so}."
            yield Draft("breaks", told, Plan((*start, begun), end, at), at, self.span)


def _plain_always(
    condition: Condition, gap: Fraction, job: Job, at: Fraction, charge: tuple[Want, ...]
) -> Iterator[Draft]:
    """``always`` of a condition without an outermost ``implies``."""
    so, not_so = plain_condition(condition, job), plain_denial(condition, job)
    small = margin(gap)
    fine, wrong = ((condition, True),), ((condition, False),)
    begin = Want(Fraction(0), also=fine)
    if gap and gap > small:
        short = (Want(at, also=wrong), Want(at + gap - small, also=fine))
        yield Draft(
            "keeps",
            f"After {duration(gap - small)} it is so again that {so}: that does not count.",
            Plan((begin, *charge, *short), at + gap + LEAD_S, None),
            at,
            Span(at, gap, f"{duration(gap)} allowed"),
        )
    for some in dict.fromkeys(atoms_and_leaves(condition)):
        first = Want(Fraction(0), also=(*fine, (some, False)))
        then = Want(at, also=(*fine, (some, True)))
        plan = Plan((first, *charge, then), at + LEAD_S, None)
        yield Draft("keeps", f"All the time {so}.", plan, Fraction(0))
    yield Draft("keeps", f"All the time {so}.", Plan((begin,), 2 * LEAD_S, None), Fraction(0))
    steps: tuple[Want, ...] = (Want(at, also=wrong),)
    caption, span = f"In that moment {not_so}: that is enough to break it.", None
    if gap:
        steps = (*steps, Want(at + gap + small, also=fine))
        caption = f"Only after {duration(gap + small)} it is so again that {so}: that is too late."
        span = Span(at, gap, f"{duration(gap)} allowed")
    end = at + gap + small + LEAD_S
    yield Draft("breaks", caption, Plan((begin, *charge, *steps), end, at), at, span)
