"""What can come out: each verdict holds its own evidence."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from verifier.simulate.run import Run

if TYPE_CHECKING:
    from verifier.simulate.structure import Excluded


Alive = Literal["one step", "two steps", "own bounds"]
"""How the condition *alive* is asked (see :func:`verifier.proof.certificate.texts_of`)."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """States that are left out of all runs, and why (15; :mod:`verifier.proof.left_out`).

    ``cubes`` are their values by the variables' names; ``reached`` and ``after`` are invariants as
    SMT-LIB text, ``most`` the longest time that can pass after one of them, in units of time.
    """

    cubes: tuple[Excluded, ...]
    reached: str
    after: str
    most: int


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate that both solvers accepted.

    ``texts`` are (name of the condition, SMT-LIB text), each answered ``unsat``;
    ``lemmas`` the invariant, one line of SMT-LIB each; ``checked_by`` the solvers' names.
    ``claim`` is the bound that `measure` or `leads to` claims, in units of time; -1 none at all.
    With lemmas, ``claim``, ``alive`` and ``left_out`` the texts can be made anew from the rules.
    """

    lemmas: tuple[str, ...]
    texts: tuple[tuple[str, str], ...]
    checked_by: tuple[str, ...]
    claim: int | None = None
    alive: Alive = "one step"
    left_out: tuple[LeftOut, ...] = ()
    calendar: tuple[int, int, int] | None = None
    """Of a job whose site rules clock or sun: first and last year, and parts of a year told apart."""


@dataclass(frozen=True, slots=True)
class Proved:
    """Holds in all runs, of any length.

    ``certificate`` is None only of a proved ``possible`` (then ``witness`` is its run).
    ``vacuous`` says that it never came into play; ``vacuous_because`` why, in words.
    ``bound_s`` is the longest time of a proved ``leads to``.
    """

    certificate: Certificate | None
    witness: Run | None
    vacuous: bool
    vacuous_because: str
    bound_s: Fraction | None
    method: str


@dataclass(frozen=True, slots=True)
class Refuted:
    """Fails: in ``run``, which the reference interpreter replayed.

    Of a refuted ``possible`` there is no run but a certificate that the condition is never reached.
    """

    run: Run | None
    certificate: Certificate | None
    method: str


@dataclass(frozen=True, slots=True)
class LimitMet:
    """The engines gave up at a limit; which one, only who set the limits can tell."""


@dataclass(frozen=True, slots=True)
class OutOfTime:
    """The time that it was given ran out."""

    limit_s: float


@dataclass(frozen=True, slots=True)
class OutOfRoom:
    """There are more states than the search may hold."""


@dataclass(frozen=True, slots=True)
class ProofNotChecked:
    """A proof was found, and a solver gave no answer on it: which, and on what, in words."""

    failure: str


@dataclass(frozen=True, slots=True)
class RunNotOnTheWhole:
    """A run of the slice was found that did not replay on the whole job: where it failed, in words."""

    failure: str


@dataclass(frozen=True, slots=True)
class RunCannotBe:
    """A run was found that is on no real date: why, in words."""

    failure: str


@dataclass(frozen=True, slots=True)
class RunComesToAStop:
    """A run was found that ends where the assumptions leave the surroundings no way to go on."""


@dataclass(frozen=True, slots=True)
class WorkerEnded:
    """Its worker process was stopped, or died: how, in words."""

    how: str


Reason = (
    LimitMet
    | OutOfTime
    | OutOfRoom
    | ProofNotChecked
    | RunNotOnTheWhole
    | RunCannotBe
    | RunComesToAStop
    | WorkerEnded
)
"""Why there is no verdict; the sentence is made in the front."""


@dataclass(frozen=True, slots=True)
class Undecided:
    """Neither: why, and how many happenings deep the search went.

    ``held_up`` names the rule, if it is one, that could not be shown to keep the requirement
    when nothing is known of the others but what they do to it.
    """

    reason: Reason
    depth: int
    held_up: str = ""


@dataclass(frozen=True, slots=True)
class Answered:
    """The answer to a ``measure``.

    ``bound_s`` is exact, ``"unbounded"``, or None if there is nothing to measure (vacuous).
    ``run`` reaches the bound or shows that there is none.
    """

    bound_s: Fraction | Literal["unbounded"] | None
    run: Run | None
    certificate: Certificate | None
    vacuous: bool
    vacuous_because: str
    method: str


Verdict = Proved | Refuted | Undecided | Answered


def certificate_of(verdict: object) -> Certificate | None:
    """The certificate of a verdict; None of one that has none, and of what is no verdict."""
    match verdict:
        case Proved(certificate) | Refuted(_, certificate) | Answered(_, _, certificate):
            return certificate
        case _:
            return None
