"""Each requirement form as a formula of metric temporal logic, with the pattern that it is.

Patterns: Dwyer, Avrunin, Corbett, "Patterns in property specifications for finite-state
verification", ICSE 1999 (D); Konrad, Cheng, "Real-time specification patterns", ICSE 2005 (K).
The published formulas are in :func:`published` as they stand, but for one thing: where a stretch
or an invariance ends, the interval is read right-open (a lamp that goes off when D is over was on
for D), which signals of real time leave open and the contract does not.

``C`` is the condition of the form, ``E`` its event, ``S`` the condition of ``while``.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from tests.outside.mtl import (
    All,
    Counted,
    Formula,
    JustBefore,
    No,
    Occurs,
    Since,
    Some,
    Start,
    State,
    Until,
    Yes,
    always,
    below,
    beyond,
    eventually,
    implies,
    once,
    up_to,
    weak_until,
)
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Form,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)

C, S, E = State("C"), State("S"), Occurs("E")


@dataclass(frozen=True, slots=True)
class Pattern:
    """The published pattern of a form: its name, where it is from (D, K or none), its formula."""

    words: str
    name: str
    source: str
    formula: str


PATTERNS: dict[type[Form], Pattern] = {
    Always: Pattern("always: C", "universality", "D", "G C"),
    Never: Pattern("never: C", "absence", "D", "G ¬C"),
    WhenWithin: Pattern("when E: C within D", "bounded response", "K", "G (E → F[0,D] C)"),
    WhenFor: Pattern("when E: C for at least D", "bounded invariance", "K", "G (E → G[0,D) C)"),
    AfterLast: Pattern("after last E: C within D", "none", "none", "G ((O E ∧ H[0,D] ¬E) → C)"),
    Before: Pattern(
        "before E: C for at least D",
        "precedence (timed)",
        "D",
        "G (E → (Y C ∧ H[0,D) C before it ∧ D has passed))",
    ),
    NoLonger: Pattern(
        "no longer than D: C",
        "maximum duration",
        "K",
        "(C → F[0,D] ¬C) ∧ G (C ∨ (¬C W (C ∧ F[0,D] ¬C)))",
    ),
    NoShorter: Pattern("no shorter than D: C", "minimum duration", "K", "G (C ∨ (¬C W G[0,D) C))"),
    AtMostTimes: Pattern(
        "at most N times in D: E",
        "bounded existence (timed)",
        "D",
        "G ¬(E more than N times in [0,D])",
    ),
    LeadsTo: Pattern(
        "every trigger of R leads to C",
        "response, to what lasts",
        "D",
        "G ((handled ∧ F G quiet) → F G C)",
    ),
    Possible: Pattern("possible: C", "existence, in some run", "D", "F C in some run"),
    MeasureLongest: Pattern(
        "measure longest: C after last E", "none", "none", "least D of G ((O E ∧ H[0,D] ¬E) → ¬C)"
    ),
}
"""The pattern of each form."""


def published(form: Form) -> Formula:
    """The pattern's formula as it was published, for a form without ``while`` and ``allowing``."""
    match form:
        case Always():
            return always(C)
        case Never():
            return always(No(C))
        case WhenWithin(_, _, d):
            return always(implies(E, eventually(C, up_to(d))))
        case WhenFor(_, _, d):
            return always(implies(E, always(C, below(d))))
        case NoLonger(d):
            # Their formula does not judge a stretch that is there at the start; the contract does (7).
            ends = eventually(No(C), up_to(d))
            longest = always(Some((C, weak_until(No(C), All((C, ends))))))
            return All((implies(C, ends), longest))
        case NoShorter(d):
            return always(Some((C, weak_until(No(C), always(C, below(d))))))
        case AfterLast() | Before() | AtMostTimes() | LeadsTo() | Possible() | MeasureLongest():
            raise LookupError("no published formula has this form word for word")


# ---------------------------------------------------------------- gaps


def filled_anywhere(condition: Formula, allowing_s: Fraction) -> Formula:
    """The condition, or an interruption of it that is no longer in all, also one at the start."""
    if not allowing_s:
        return condition
    gone = No(condition)
    begins = All((gone, No(JustBefore(gone)), eventually(condition, up_to(allowing_s))))
    return Some((condition, Since(gone, begins)))


def filled_between(condition: Formula, allowing_s: Fraction) -> Formula:
    """The condition, or an interruption of it that is no longer in all; not one at the start."""
    if not allowing_s:
        return condition
    gone = No(condition)
    begins = All((gone, JustBefore(condition), eventually(condition, up_to(allowing_s))))
    return Some((condition, Since(gone, begins)))


# ---------------------------------------------------------------- forms


def formula_of(requirement: Requirement) -> Formula:
    """The formula of a requirement over C, E and S; of ``possible`` what has to be reached.

    Raises: LookupError for forms that speak of all runs at once or of what never ends.
    """
    scope: Formula = Yes() if requirement.scope is None else S
    gap = requirement.allowing_s
    match requirement.form:
        case Always():
            return always(implies(scope, filled_anywhere(C, gap)))
        case Never():
            return always(implies(scope, filled_anywhere(No(C), gap)))
        case WhenWithin(_, _, d):
            answered = eventually(Some((C, No(scope))), up_to(d))
            return always(implies(All((E, scope)), answered))
        case WhenFor(_, _, d):
            lost = Until(scope, All((scope, No(filled_anywhere(C, gap)))), below(d))
            return always(implies(All((E, scope)), No(lost)))
        case AfterLast(_, _, d):
            counted = All((E, scope))
            return always(implies(Since(All((scope, No(E))), counted, beyond(d)), C))
        case Before(_, _, d):
            return _before(scope, requirement.scope is not None, d)
        case NoLonger(d):
            stretch = All((scope, filled_between(C, gap)))
            return always(implies(_begins(stretch), eventually(No(stretch), up_to(d))))
        case NoShorter(d):
            filled = filled_between(C, gap)
            stretch = All((scope, filled))
            begins = All((stretch, No(JustBefore(filled)), No(Start())))
            return always(implies(begins, No(Until(stretch, All((scope, No(stretch))), below(d)))))
        case AtMostTimes(times, d):
            # The end of the scope drops what was counted; an E counts at the settled end.
            return always(No(All((E, Counted(scope, "E", times + 1, up_to(d))))))
        case Possible():
            return All((C, scope))
        case LeadsTo() | MeasureLongest():
            raise LookupError("judged on the run as a whole")


def _begins(stretch: Formula) -> Formula:
    return All((stretch, No(JustBefore(stretch))))


def _before(scope: Formula, scoped: bool, d: Fraction) -> Formula:
    """Just before E, C for d without a break; in a scope that has lasted as long."""

    def lasted(item: Formula) -> Formula:
        broken = once(Some((JustBefore(No(item)), Start())), below(d))
        return All((JustBefore(item), No(broken)))

    judged = All((E, scope, lasted(scope))) if scoped else E
    return always(implies(judged, lasted(C)))
