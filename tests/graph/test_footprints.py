"""Footprints: what commutes, by hand, and that what is set off belongs to a footprint."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given

from tests.graph.jobs import job, jobs, point, put, rule, wait, wait_until
from verifier.graph.footprints import commute, footprints, running, sets_off
from verifier.model.job import (
    Becomes,
    Cancel,
    Changes,
    Fade,
    Is,
    Job,
    Not,
    PointKind,
    Pressed,
    Put,
    Rule,
    RuleEnds,
    Running,
    statements_of,
)
from verifier.source import NOWHERE

PUSHED = Pressed("push")
POINTS = (
    point(PointKind.BUTTON, "push"),
    point(PointKind.CONTACT, "gate"),
    point(PointKind.LAMP, "light"),
    point(PointKind.LAMP, "sign"),
    point(PointKind.DIMMER, "strip"),
    point(PointKind.FLAG, "armed"),
)


def commuting(first: Rule, second: Rule, *others: Rule) -> bool:
    found = footprints(job(POINTS, (first, second, *others)))
    return commute(found[first.name], found[second.name])


ONE = rule("one", [PUSHED], [put("light", "on")])


def test_rules_on_different_points_commute() -> None:
    assert commuting(ONE, rule("two", [PUSHED], [put("sign", "on")]))


def test_rules_that_both_read_a_point_commute() -> None:
    open_gate = Is("gate", "open")
    first = rule("one", [PUSHED], [put("light", "on")], provided=open_gate)
    assert commuting(first, rule("two", [PUSHED], [put("sign", "on")], provided=open_gate))


def test_rules_that_set_the_same_point_do_not_commute() -> None:
    assert not commuting(ONE, rule("two", [PUSHED], [put("light", "off")]))


def test_a_rule_and_one_whose_guard_reads_what_it_sets_do_not_commute() -> None:
    # Source: case 04-orders-of-triggers.
    reads = rule("two", [PUSHED], [put("sign", "on")], provided=Is("light", "on"))
    assert not commuting(ONE, reads)


def test_what_is_triggered_in_turn_counts() -> None:
    echo = rule("echo", [Becomes(Is("light", "on"))], [put("sign", "on")])
    assert not commuting(ONE, rule("two", [PUSHED], [put("sign", "off")]), echo)


def test_two_rules_that_trigger_the_same_one_do_not_commute() -> None:
    two = rule("two", [PUSHED], [put("sign", "on")])
    echo = rule("echo", [Changes("light"), Changes("sign")], [put("armed", "yes")])
    assert commuting(ONE, two)
    assert not commuting(ONE, two, echo)


def test_a_wait_until_that_reads_what_is_set_counts() -> None:
    # Source: case 12-wait-until-between-bodies.
    two = rule("two", [PUSHED], [put("sign", "on")])
    waiting = rule(
        "waiting", [Changes("gate")], [wait_until(Is("light", "on")), put("sign", "off")]
    )
    assert not commuting(ONE, two, waiting)


def test_cancelling_a_rule_and_handling_it_do_not_commute() -> None:
    # Source: case 19-cancel-unhandled-trigger.
    glow = rule("glow", [PUSHED], [put("light", "on"), wait(5)])
    assert not commuting(glow, rule("halt", [PUSHED], [Cancel("glow", NOWHERE)]))


def test_the_end_of_a_cancelled_rule_triggers_and_counts() -> None:
    halt = rule("halt", [PUSHED], [Cancel("glow", NOWHERE)])
    two = rule("two", [PUSHED], [put("sign", "on")])
    glow = rule("glow", [Changes("gate")], [wait(5)])
    after = rule("after", [RuleEnds("glow")], [put("sign", "off")])
    assert not commuting(halt, two, glow, after)
    assert commuting(halt, two, glow)


def test_reading_whether_a_rule_runs_meets_handling_it() -> None:
    glow = rule("glow", [PUSHED], [wait(5)])
    idle = rule("two", [PUSHED], [put("sign", "on")], provided=Not(Running("glow")))
    assert not commuting(glow, idle)
    assert running("glow") in footprints(job(POINTS, (glow, idle)))["two"].reads


def test_setting_a_dimmer_meets_the_rule_that_fades_it_and_what_follows_there() -> None:
    full = rule("full", [PUSHED], [put("strip", Fraction(100))])
    two = rule("two", [PUSHED], [put("sign", "on")])
    fade = Fade("strip", Fraction(0), Fraction(8), NOWHERE)
    dim = rule("dim", [Changes("gate")], [fade, put("sign", "off")])
    assert commuting(full, two)
    assert not commuting(full, two, dim)


@given(jobs())
def test_a_footprint_holds_its_own_rule_and_the_whole_footprint_of_what_it_sets_off(
    whole: Job,
) -> None:
    found = footprints(whole)
    assert list(found) == [each.name for each in whole.rules]
    for name, following in sets_off(whole).items():
        own = found[name]
        assert running(name) in own.writes & own.reads
        puts = {s.point for s in statements_of(whole.rule[name].body) if isinstance(s, Put)}
        assert puts <= own.writes
        for other in following:
            assert found[other].reads <= own.reads
            assert found[other].writes <= own.writes


@given(jobs())
def test_whether_two_rules_commute_does_not_depend_on_their_order(whole: Job) -> None:
    found = footprints(whole)
    for first in found.values():
        assert not commute(first, first)
        for second in found.values():
            assert commute(first, second) == commute(second, first)
