"""Jobs by hand for the tests of the graph: short makers, and random jobs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AssumeAlways,
    AssumeStays,
    Assumption,
    AtClock,
    Becomes,
    Between,
    Branch,
    Cancel,
    Changes,
    Condition,
    DayBegins,
    Door,
    EndRun,
    Event,
    Fade,
    Fault,
    FaultKind,
    Form,
    HasStayed,
    If,
    Is,
    Job,
    LeadsTo,
    Level,
    Night,
    NightBegins,
    Not,
    Or,
    Point,
    PointKind,
    Policy,
    Possible,
    PowerReturns,
    Pressed,
    Put,
    Repeat,
    Requirement,
    Room,
    Rule,
    RuleEnds,
    RuleStarts,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Trigger,
    Value,
    Wait,
    WaitUntil,
    WhenWithin,
)
from verifier.source import NOWHERE

RETRIGGERABLE = Policy(1, 0, True)
NON_RETRIGGERABLE = Policy(1, 0, False)


def point(kind: PointKind, name: str) -> Point:
    return Point(
        name=name,
        label="",
        kind=kind,
        starts=None,
        power_w=None,
        holds_s=None,
        rearm_s=None,
        wired=None,
        broken_wire_reads=None,
        wireless=False,
        local_switch=False,
        power_return="off",
        retained=False,
        span=NOWHERE,
    )


def put(name: str, value: Value) -> Put:
    return Put(name, value, NOWHERE)


def wait(seconds: int) -> Wait:
    return Wait(Fraction(seconds), NOWHERE)


def wait_until(condition: Condition, at_most: int | None = None) -> WaitUntil:
    return WaitUntil(condition, None if at_most is None else Fraction(at_most), NOWHERE)


def if_then(condition: Condition, then: list[Statement], otherwise: list[Statement]) -> If:
    return If((Branch(condition, tuple(then), NOWHERE),), tuple(otherwise), NOWHERE)


def repeat(body: list[Statement], until: Condition) -> Repeat:
    return Repeat(tuple(body), until, NOWHERE)


def rule(
    name: str,
    upon: list[Event],
    body: list[Statement],
    provided: Condition | None = None,
    policy: Policy = NON_RETRIGGERABLE,
) -> Rule:
    triggers = tuple(Trigger(event, None, NOWHERE) for event in upon)
    return Rule(name, "", policy, triggers, provided, tuple(body), NOWHERE)


def requirement(form: Form, scope: Condition | None = None) -> Requirement:
    return Requirement("wanted", "", scope, form, Fraction(0), NOWHERE)


def job(
    points: tuple[Point, ...],
    rules: tuple[Rule, ...],
    requirements: tuple[Requirement, ...] = (),
) -> Job:
    return Job("boathouse", None, points, (), (), rules, (), (), requirements)


# ---------------------------------------------------------------- random jobs

_POINTS = (
    point(PointKind.CONTACT, "gate"),
    point(PointKind.CONTACT, "hatch"),
    point(PointKind.LIMIT, "upper"),
    point(PointKind.LIMIT, "lower"),
    point(PointKind.SWITCH, "motor"),
    point(PointKind.DETECTOR, "pir"),
    point(PointKind.DETECTOR, "yard_pir"),
    point(PointKind.BUTTON, "push"),
    point(PointKind.SWITCH, "key"),
    point(PointKind.LAMP, "bay"),
    point(PointKind.LAMP, "sign"),
    point(PointKind.DIMMER, "strip"),
    point(PointKind.LOAD, "fan"),
    point(PointKind.FLAG, "armed"),
    point(PointKind.FLAG, "left"),
)
_RULES = ("one", "two", "three", "four", "five")
_SET: dict[str, tuple[Value, ...]] = {
    "bay": ("on", "off"),
    "sign": ("on", "off"),
    "fan": ("on", "off"),
    "armed": ("yes", "no"),
    "left": ("yes", "no"),
    "strip": (Fraction(0), Fraction(60), Fraction(100)),
}
_DOOR = Door("shutter", "", "upper", "lower", "motor", Fraction(12), Fraction(20), None, NOWHERE)
_ROOM = Room(
    "changing", "", ("hatch", "shutter"), ("pir",), Fraction(600), Fraction(2), None, NOWHERE
)


def _atoms(names: tuple[str, ...] | None = None) -> st.SearchStrategy[Is | Level]:
    choices: list[Is | Level] = [
        Is(p.name, value)
        for p in _POINTS
        if p.kind is not PointKind.DIMMER
        for value in p.kind.values
        if names is None or p.name in names
    ]
    if names is None:
        choices += [Level("strip", "above", Fraction(0)), Level("strip", "below", Fraction(50))]
    return st.sampled_from(choices)


_INPUTS = ("gate", "hatch", "upper", "lower", "motor", "pir", "yard_pir", "key")
_NIGHT_SHIFT = Between(79200, 21600, frozenset({4, 5}))
_LEAVES: st.SearchStrategy[Condition] = st.one_of(
    _atoms(),
    st.builds(Stayed, _atoms(), st.just(Fraction(10))),
    st.just(Night()),
    st.just(_NIGHT_SHIFT),
    st.builds(Running, st.sampled_from(_RULES)),
)


def _joined(leaves: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
    return st.one_of(
        leaves,
        leaves,
        st.builds(Not, leaves),
        st.builds(lambda a, b: And((a, b)), leaves, leaves),
        st.builds(lambda a, b: Or((a, b)), leaves, leaves),
    )


conditions: st.SearchStrategy[Condition] = _joined(_LEAVES)
_TRUTHS: st.SearchStrategy[Condition] = st.one_of(
    _LEAVES,
    st.builds(Is, st.just("shutter"), st.sampled_from(("raised", "moving"))),
    st.builds(Is, st.just("changing"), st.sampled_from(("peopled", "empty"))),
)
_SURROUNDINGS: st.SearchStrategy[Condition] = st.one_of(
    _atoms(_INPUTS),
    st.just(Night()),
    st.just(_NIGHT_SHIFT),
    st.builds(Is, st.just("changing"), st.just("peopled")),
)
events: st.SearchStrategy[Event] = st.one_of(
    st.builds(Becomes, _atoms()),
    st.builds(
        Changes, st.sampled_from([p.name for p in _POINTS if p.kind is not PointKind.BUTTON])
    ),
    st.just(Pressed("push")),
    st.builds(HasStayed, st.builds(Stayed, _atoms(), st.just(Fraction(10)))),
    st.sampled_from((NightBegins(), DayBegins(), AtClock(79200, None), PowerReturns())),
    st.builds(RuleStarts, st.sampled_from(_RULES)),
    st.builds(RuleEnds, st.sampled_from(_RULES)),
)
_PUTS = st.sampled_from([put(name, value) for name, values in _SET.items() for value in values])
_SIMPLE: st.SearchStrategy[Statement] = st.one_of(
    _PUTS,
    _PUTS,
    _PUTS,
    st.builds(Cancel, st.sampled_from(_RULES), st.just(NOWHERE)),
    st.just(wait(5)),
    st.builds(wait_until, conditions, st.sampled_from((None, 7))),
    st.just(Fade("strip", Fraction(30), Fraction(8), NOWHERE)),
    st.just(EndRun(NOWHERE)),
)
statements: st.SearchStrategy[Statement] = st.recursive(
    _SIMPLE,
    lambda inner: st.one_of(
        st.builds(if_then, conditions, st.lists(inner, max_size=2), st.lists(inner, max_size=2)),
        st.builds(repeat, st.lists(inner, min_size=1, max_size=2), conditions),
    ),
    max_leaves=4,
)
bodies = st.lists(statements, max_size=4)
_FEW: st.SearchStrategy[Condition] = _joined(
    st.sampled_from(
        (
            Is("bay", "on"),
            Is("armed", "yes"),
            Is("gate", "open"),
            Stayed(Is("bay", "on"), Fraction(10)),
            Level("strip", "above", Fraction(0)),
            Running("one"),
            Running("two"),
            TimedOut(),
            TimedOut(),
        )
    )
)
_FEW_SIMPLE: st.SearchStrategy[Statement] = st.one_of(
    st.sampled_from(
        (
            put("bay", "on"),
            put("bay", "off"),
            put("armed", "yes"),
            put("strip", Fraction(0)),
            Cancel("two", NOWHERE),
            wait(5),
        )
    ),
    st.builds(wait_until, _FEW, st.sampled_from((None, 7, 7))),
)
dense_bodies = st.lists(
    st.one_of(
        _FEW_SIMPLE,
        st.builds(
            if_then,
            _FEW,
            st.lists(_FEW_SIMPLE, min_size=1, max_size=2),
            st.lists(_FEW_SIMPLE, max_size=2),
        ),
        st.builds(repeat, st.lists(_FEW_SIMPLE, min_size=1, max_size=3), _FEW),
    ),
    min_size=2,
    max_size=6,
)
"""Bodies in which much of what is read was set just before."""

policies = st.sampled_from(
    (RETRIGGERABLE, NON_RETRIGGERABLE, Policy(2, 1, False), Policy(2, 0, True))
)
_FORMS: st.SearchStrategy[Form] = st.one_of(
    st.builds(Always, _joined(_TRUTHS)),
    st.builds(Possible, _joined(_TRUTHS)),
    st.builds(lambda e, c: WhenWithin((e,), c, Fraction(5)), events, _joined(_TRUTHS)),
    st.builds(lambda e, c: AfterLast((e,), c, Fraction(5)), events, _joined(_TRUTHS)),
    st.builds(LeadsTo, st.sampled_from(_RULES), _joined(_TRUTHS)),
)
_ASSUMPTIONS: st.SearchStrategy[Assumption] = st.one_of(
    st.builds(lambda a, b: AssumeAlways(Or((a, b)), NOWHERE), _SURROUNDINGS, _SURROUNDINGS),
    st.builds(lambda a: AssumeStays(a, "at most", Fraction(60), NOWHERE), _atoms(_INPUTS)),
)
_FAULTS = (
    Fault(FaultKind.POWER_CUTS, None, None, NOWHERE),
    Fault(FaultKind.STUCK, "gate", None, NOWHERE),
    Fault(FaultKind.BOTH_LIMITS, "shutter", None, NOWHERE),
)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Random jobs with a door, a room, assumptions, faults, five rules and one requirement."""
    rules = []
    for name in _RULES:
        upon = draw(st.lists(events, min_size=1, max_size=2))
        provided = draw(st.one_of(st.none(), conditions))
        made = rule(name, upon, draw(bodies), provided, draw(policies))
        rules.append(made)
    assumptions = draw(st.lists(_ASSUMPTIONS, max_size=2))
    wanted = requirement(draw(_FORMS), draw(st.one_of(st.none(), st.none(), conditions)))
    base = job(_POINTS, tuple(rules), (wanted, replace(wanted, name="other")))
    return replace(
        base,
        doors=(_DOOR,),
        rooms=(_ROOM,),
        assumptions=tuple(assumptions),
        faults=tuple(f for f in _FAULTS if draw(st.booleans())),
    )
