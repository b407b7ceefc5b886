"""Slices: closed by an independent check, whatever the job; small ones by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given

from tests.graph.jobs import (
    if_then,
    job,
    jobs,
    point,
    put,
    requirement,
    rule,
    wait,
)
from verifier.graph.slice import check_slice, cone_of_influence, slice_job
from verifier.model.job import (
    Always,
    AssumeAlways,
    AssumeStays,
    Becomes,
    Cancel,
    Changes,
    Door,
    Fade,
    Fault,
    FaultKind,
    Implies,
    Is,
    Job,
    LeadsTo,
    Level,
    Night,
    NightBegins,
    Point,
    PointKind,
    Pressed,
    Room,
    Rule,
    RuleEnds,
    Running,
    Site,
    Statement,
)
from verifier.source import NOWHERE

LIGHT_ON = Is("light", "on")
PUSHED = Pressed("push")
POINTS = (
    point(PointKind.BUTTON, "push"),
    point(PointKind.CONTACT, "gate"),
    point(PointKind.CONTACT, "hatch"),
    point(PointKind.DETECTOR, "pir"),
    point(PointKind.LIMIT, "upper"),
    point(PointKind.LIMIT, "lower"),
    point(PointKind.LAMP, "light"),
    point(PointKind.LAMP, "sign"),
    point(PointKind.DIMMER, "strip"),
    point(PointKind.FLAG, "armed"),
)
DOOR = Door("shutter", "", "upper", "lower", None, Fraction(12), Fraction(20), None, NOWHERE)
ROOM = Room("changing", "", ("hatch",), ("pir",), Fraction(600), Fraction(2), None, NOWHERE)
ALWAYS_LIT = requirement(Always(LIGHT_ON))


def made(*rules: Rule) -> Job:
    return replace(job(POINTS, rules, (ALWAYS_LIT,)), doors=(DOOR,), rooms=(ROOM,))


def cone(whole: Job) -> set[str]:
    """The cone of the job's requirement, after its slice has passed the check."""
    assert check_slice(whole, slice_job(whole, whole.requirements[0])) == ()
    return set(cone_of_influence(whole, whole.requirements[0]))


# ---------------------------------------------------------------- any job


@given(jobs())
def test_a_slice_passes_the_check(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    assert check_slice(whole, sliced) == ()


@given(jobs())
def test_the_slice_declares_the_cone_and_nothing_else_in_declared_order(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    names = cone_of_influence(whole, whole.requirements[0])
    groups = ("points", "doors", "rooms", "rules")
    declared = [item.name for group in groups for item in getattr(whole, group)]
    kept = [item.name for group in groups for item in getattr(sliced, group)]
    assert kept == [name for name in declared if name in names]
    assert sliced.requirements == whole.requirements[:1]


@given(jobs())
def test_a_slice_of_a_slice_is_itself(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    assert slice_job(sliced, sliced.requirements[0]) == sliced


@given(jobs())
def test_no_kept_rule_can_be_missing_from_a_slice(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    for each in sliced.rules:
        without = replace(sliced, rules=tuple(r for r in sliced.rules if r != each))
        assert check_slice(whole, without) != (), each.name


@given(jobs())
def test_no_kept_point_door_or_room_can_be_missing_from_a_slice(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    items: tuple[Point | Door | Room, ...] = (*sliced.points, *sliced.doors, *sliced.rooms)
    for each in items:
        without = replace(
            sliced,
            points=tuple(p for p in sliced.points if p is not each),
            doors=tuple(d for d in sliced.doors if d is not each),
            rooms=tuple(r for r in sliced.rooms if r is not each),
        )
        assert check_slice(whole, without) != (), each.name


@given(jobs())
def test_no_kept_assumption_or_fault_can_be_missing_from_a_slice(whole: Job) -> None:
    sliced = slice_job(whole, whole.requirements[0])
    for assumption in sliced.assumptions:
        rest = tuple(a for a in sliced.assumptions if a != assumption)
        assert check_slice(whole, replace(sliced, assumptions=rest)) != ()
    for fault in sliced.faults:
        rest_of_faults = tuple(f for f in sliced.faults if f != fault)
        assert check_slice(whole, replace(sliced, faults=rest_of_faults)) != ()


@given(jobs())
def test_the_whole_job_with_one_requirement_passes_the_check(whole: Job) -> None:
    assert check_slice(whole, replace(whole, requirements=whole.requirements[:1])) == ()


# ---------------------------------------------------------------- the check alone


def test_the_check_sees_a_body_that_lost_or_gained_a_statement() -> None:
    body: list[Statement] = [put("light", "on"), wait(5), put("light", "off")]
    whole = made(rule("lit", [PUSHED], body))
    sliced = slice_job(whole, ALWAYS_LIT)
    (kept,) = sliced.rules
    for changed in (kept.body[:2], (*kept.body, put("light", "on")), kept.body[::-1]):
        wrong = check_slice(whole, replace(sliced, rules=(replace(kept, body=changed),)))
        assert wrong == ("the body of rule lit differs by more than what is left out",)


def test_the_check_sees_a_rule_with_another_guard_and_another_site() -> None:
    whole = made(rule("lit", [PUSHED], [put("light", "on")]))
    sliced = slice_job(whole, ALWAYS_LIT)
    (kept,) = sliced.rules
    guarded = replace(sliced, rules=(replace(kept, provided=Night()),))
    assert check_slice(whole, guarded) == ("rule lit has another head in the slice",)
    site = Site("Otter Reach", None, None, None, Fraction(0), Fraction(1), NOWHERE)
    assert check_slice(whole, replace(sliced, site=site)) == ("the slice has another site",)


def test_the_check_sees_a_point_that_the_job_does_not_have() -> None:
    whole = made(rule("lit", [PUSHED], [put("light", "on")]))
    sliced = slice_job(whole, ALWAYS_LIT)
    other: Point = replace(sliced.points[0], label="Another")
    wrong = check_slice(whole, replace(sliced, points=(other, *sliced.points[1:])))
    assert wrong == ("the points of the slice are not those of the job, in declared order",)


# ---------------------------------------------------------------- by hand


def test_a_rule_comes_with_all_that_it_reads_and_what_sets_that() -> None:
    whole = made(
        rule(
            "lit", [Becomes(Is("armed", "yes"))], [put("light", "on")], provided=Is("gate", "open")
        ),
        rule("arm", [PUSHED], [put("armed", "yes")]),
        rule("other", [PUSHED], [put("sign", "on")]),
    )
    assert cone(whole) == {"light", "lit", "armed", "gate", "arm", "push"}


def test_what_a_kept_rule_sets_and_nobody_reads_is_left_out_with_the_statement() -> None:
    whole = made(
        rule("lit", [PUSHED], [put("sign", "on"), put("light", "on"), Cancel("other", NOWHERE)]),
        rule("other", [Changes("hatch")], [put("sign", "off")]),
    )
    assert cone(whole) == {"light", "lit", "push"}
    (kept,) = slice_job(whole, ALWAYS_LIT).rules
    assert kept.body == (put("light", "on"),)


def test_a_condition_stays_though_its_branches_are_empty() -> None:
    inside = if_then(Is("gate", "open"), [put("sign", "on")], [])
    whole = made(rule("lit", [PUSHED], [put("light", "on"), inside]))
    assert cone(whole) == {"light", "lit", "push", "gate"}


def test_a_rule_comes_with_those_that_cancel_it() -> None:
    whole = made(
        rule("lit", [PUSHED], [put("light", "on"), wait(5), put("light", "off")]),
        rule("stop", [Becomes(Is("gate", "shut"))], [Cancel("lit", NOWHERE)]),
    )
    assert cone(whole) == {"light", "lit", "push", "stop", "gate"}


def test_a_rule_that_is_read_or_listened_to_comes() -> None:
    whole = made(
        rule("lit", [RuleEnds("first")], [put("light", "on")], provided=Running("second")),
        rule("first", [PUSHED], [wait(5)]),
        rule("second", [Changes("hatch")], [wait(5)]),
    )
    assert cone(whole) == {"light", "lit", "first", "second", "push", "hatch"}


def test_who_sets_a_dimmer_ends_a_fade_of_it_and_so_matters_to_what_follows() -> None:
    fade = Fade("strip", Fraction(0), Fraction(60), NOWHERE)
    whole = made(
        rule("dim", [PUSHED], [put("light", "on"), fade, put("light", "off")]),
        rule("full", [Becomes(Is("gate", "open"))], [put("strip", Fraction(100))]),
    )
    assert cone(whole) == {"light", "dim", "push", "strip", "full", "gate"}


def test_a_door_comes_whole() -> None:
    whole = made(rule("lit", [Becomes(Is("upper", "reached"))], [put("light", "on")]))
    assert cone(whole) == {"light", "lit", "upper", "lower", "shutter"}


def test_a_room_comes_with_a_detector_and_with_it_the_ways_in() -> None:
    whole = made(rule("lit", [Becomes(Is("pir", "occupied"))], [put("light", "on")]))
    assert cone(whole) == {"light", "lit", "pir", "changing", "hatch"}


def test_a_room_does_not_come_with_a_door_unless_an_assumption_reaches_through() -> None:
    whole = made(rule("lit", [Becomes(Is("hatch", "open"))], [put("light", "on")]))
    assert cone(whole) == {"light", "lit", "hatch"}
    seen = AssumeStays(Is("pir", "vacant"), "at most", Fraction(60), NOWHERE)
    assert cone(replace(whole, assumptions=(seen,))) == {"light", "lit", "hatch", "changing", "pir"}


def test_points_that_an_assumption_ties_together_come_together() -> None:
    tied = AssumeAlways(Implies(Is("gate", "open"), Is("hatch", "open")), NOWHERE)
    loose = AssumeStays(Is("pir", "occupied"), "at most", Fraction(60), NOWHERE)
    whole = made(rule("lit", [Becomes(Is("gate", "open"))], [put("light", "on")]))
    whole = replace(whole, rooms=(), assumptions=(tied, loose))
    assert cone(whole) == {"light", "lit", "gate", "hatch"}
    assert slice_job(whole, ALWAYS_LIT).assumptions == (tied,)


def test_an_assumption_on_the_night_comes_where_the_night_is_read() -> None:
    shut_by_night = AssumeAlways(Implies(Night(), Is("gate", "shut")), NOWHERE)
    by_night = made(rule("lit", [NightBegins()], [put("light", "on")]))
    by_hand = made(rule("lit", [PUSHED], [put("light", "on")]))
    assert cone(replace(by_night, assumptions=(shut_by_night,))) == {"light", "lit", "gate"}
    assert cone(replace(by_hand, assumptions=(shut_by_night,))) == {"light", "lit", "push"}


def test_with_leads_to_every_assumption_matters() -> None:
    # Source: language.md, Meaning 16; case 51: a stretch that an assumption bounds does not last.
    bound = AssumeStays(Is("gate", "open"), "at most", Fraction(1800), NOWHERE)
    whole = made(rule("lit", [PUSHED], [put("light", "on")]))
    leads = replace(
        whole, assumptions=(bound,), requirements=(requirement(LeadsTo("lit", LIGHT_ON)),)
    )
    assert cone(leads) == {"light", "lit", "push", "gate"}


def test_power_cuts_are_shared_and_other_faults_go_with_their_points() -> None:
    faults = (
        Fault(FaultKind.POWER_CUTS, None, None, NOWHERE),
        Fault(FaultKind.STUCK, "gate", None, NOWHERE),
        Fault(FaultKind.STUCK, "hatch", None, NOWHERE),
    )
    whole = made(rule("lit", [Becomes(Is("gate", "open"))], [put("light", "on")]))
    whole = replace(whole, faults=faults)
    assert slice_job(whole, ALWAYS_LIT).faults == faults[:2]
    assert cone(whole) == {"light", "lit", "gate"}


def test_a_dimmer_level_is_read_by_name() -> None:
    whole = made(rule("lit", [PUSHED], [put("strip", Fraction(60))]))
    bright = requirement(Always(Level("strip", "at least", Fraction(50))))
    assert cone(replace(whole, requirements=(bright,))) == {"strip", "lit", "push"}
