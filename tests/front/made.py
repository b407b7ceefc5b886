"""A small job with every kind of verdict, made by hand: what the front is shown in its tests."""

from __future__ import annotations

from fractions import Fraction

from verifier.model.job import (
    Always,
    Becomes,
    Fault,
    FaultKind,
    Implies,
    Is,
    Job,
    LeadsTo,
    MeasureLongest,
    Never,
    Night,
    Not,
    Point,
    PointKind,
    Policy,
    Possible,
    Put,
    Requirement,
    Rule,
    Trigger,
    Wait,
)
from verifier.pipeline import Result
from verifier.proof.verdict import (
    Answered,
    Certificate,
    Proved,
    Refuted,
    Undecided,
    Verdict,
    WorkerEnded,
)
from verifier.simulate.run import Run, Step
from verifier.source import SourceFile, Sources, Span

TEXT = """\
contact side_door "Side door" wireless
lamp bay_lights "Bay lights" 80 W
rule light "Light for a minute"
  retriggerable
  upon side_door becomes open
  do
    bay_lights on
    wait 1 min
    bay_lights off
end rule
consider power cuts
consider lost reports of side_door
require lit "Lit while the door is open"
  always: side_door is open implies bay_lights is on
end require
"""

SOURCES = Sources((SourceFile("rules.dusk", TEXT),))


def span_of(words: str) -> Span:
    """The place of some words of the text."""
    start = TEXT.index(words)
    return Span("rules.dusk", start, start + len(words))


def _point(name: str, label: str, kind: PointKind) -> Point:
    return Point(
        name,
        label,
        kind,
        None,
        Fraction(80) if kind is PointKind.LAMP else None,
        None,
        None,
        None,
        None,
        kind is PointKind.CONTACT,
        False,
        "off",
        False,
        span_of(name),
    )


DOOR_OPEN = Is("side_door", "open")
LIT = Is("bay_lights", "on")

JOB = Job(
    name="boat",
    site=None,
    points=(
        _point("side_door", "Side door", PointKind.CONTACT),
        _point("bay_lights", "Bay lights", PointKind.LAMP),
    ),
    doors=(),
    rooms=(),
    rules=(
        Rule(
            "light",
            "Light for a minute",
            Policy(1, 0, True),
            (Trigger(Becomes(DOOR_OPEN), None, span_of("upon side_door becomes open")),),
            None,
            (
                Put("bay_lights", "on", span_of("bay_lights on")),
                Wait(Fraction(60), span_of("wait 1 min")),
                Put("bay_lights", "off", span_of("bay_lights off")),
            ),
            span_of("light"),
        ),
    ),
    assumptions=(),
    faults=(
        Fault(FaultKind.POWER_CUTS, None, None, span_of("consider power cuts")),
        Fault(FaultKind.LOST_REPORTS, "side_door", None, span_of("consider lost reports")),
    ),
    requirements=(),
)

RUN = Run(
    start=(("side_door", "shut"), ("bay_lights", "off"), ("sun", "night")),
    steps=(
        Step(
            Fraction(0),
            Fraction(0),
            False,
            "side_door becomes open",
            (("bay_lights", "on"), ("light", "running")),
            (span_of("upon side_door becomes open"),),
        ),
        Step(
            Fraction(60),
            Fraction(60),
            False,
            "the wait of light runs out",
            (("bay_lights", "off"), ("light", "idle")),
            (span_of("wait 1 min"),),
        ),
        Step(Fraction(121, 2), Fraction(60), True, "side_door becomes shut", (), ()),
    ),
    fails_s=Fraction(60),
    fails_just_after=True,
    cycle_from=None,
    rests=False,
)

CERTIFICATE = Certificate(
    ("(<= x 60.0)",),
    (("initial", "(check-sat)\n"), ("no endless chain", "(check-sat)\n")),
    ("z3", "cvc5"),
)

PROVED = Proved(CERTIFICATE, None, False, "", None, "mined lemmas")
VACUOUS = Proved(CERTIFICATE, None, True, "side_door never becomes open", None, "mined lemmas")
BOUNDED = Proved(CERTIFICATE, None, False, "", Fraction(60), "zones")
WITNESSED = Proved(None, RUN, False, "", None, "search")
REFUTED = Refuted(RUN, None, "search")
IMPOSSIBLE = Refuted(None, CERTIFICATE, "zones")
UNDECIDED = Undecided(WorkerEnded("no lemma was strong enough within 60 s"), 14)
MEASURED = Answered(Fraction(121, 2), RUN, CERTIFICATE, False, "", "zones")
UNBOUNDED = Answered("unbounded", RUN, None, False, "", "zones")
NOTHING = Answered(None, None, CERTIFICATE, True, "side_door never becomes open", "zones")


def requirement(name: str, form: object) -> Requirement:
    """A requirement with a place in the text."""
    return Requirement(name, f"About {name}", None, form, Fraction(0), span_of("require lit"))  # type: ignore[arg-type]


CASES: dict[str, tuple[Requirement, Verdict]] = {
    "proved": (requirement("r_proved", Never(Not(LIT))), PROVED),
    "vacuous": (requirement("r_vacuous", Always(Implies(DOOR_OPEN, LIT))), VACUOUS),
    "bounded": (requirement("r_bounded", LeadsTo("light", Not(LIT))), BOUNDED),
    "witnessed": (requirement("r_witnessed", Possible(LIT)), WITNESSED),
    "refuted": (requirement("r_refuted", Always(Implies(DOOR_OPEN, LIT))), REFUTED),
    "impossible": (requirement("r_impossible", Possible(Night())), IMPOSSIBLE),
    "undecided": (requirement("r_undecided", Never(LIT)), UNDECIDED),
    "measured": (requirement("r_measured", MeasureLongest(LIT, (Becomes(DOOR_OPEN),))), MEASURED),
    "unbounded": (
        requirement("r_unbounded", MeasureLongest(LIT, (Becomes(DOOR_OPEN),))),
        UNBOUNDED,
    ),
    "nothing": (requirement("r_nothing", MeasureLongest(LIT, (Becomes(DOOR_OPEN),))), NOTHING),
}


def result_of(*names: str) -> Result:
    """A result with the verdicts of these cases."""
    judged = tuple((*CASES[name], 0.1234567) for name in names)
    return Result("boat", SOURCES, JOB, tuple(r for r, _, _ in judged), judged, ())
