"""Bodies compiled path by path: against a concrete walk, and small ones by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.graph.concrete import Walker, placed, valuation
from tests.graph.jobs import (
    RETRIGGERABLE,
    bodies,
    dense_bodies,
    if_then,
    job,
    jobs,
    point,
    put,
    repeat,
    rule,
    wait,
    wait_until,
)
from verifier.graph.flow import ENDLESS, IDLE, flow_of
from verifier.graph.transitions import (
    PATH_LIMIT,
    OnCondition,
    OnEvent,
    OnExpiry,
    OnLimit,
    Transition,
    transitions_of,
)
from verifier.model.job import (
    AtClock,
    Becomes,
    Cancel,
    Condition,
    DayBegins,
    EndRun,
    Fade,
    Is,
    Job,
    Level,
    Night,
    NightBegins,
    Not,
    Or,
    PointKind,
    Pressed,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Wait,
    WaitUntil,
    atoms_and_leaves,
    read_by_rule,
    statements_of,
)
from verifier.source import NOWHERE

GATE_OPEN = Is("gate", "open")
LIGHT_ON = Is("light", "on")
PUSHED = Pressed("push")


def small(*body: Statement, provided: Condition | None = None) -> tuple[Transition, ...]:
    """The transitions of one rule, triggered by a push-button."""
    made = rule("one", [PUSHED], list(body), provided)
    return transitions_of(small_job(), made)


def small_job() -> Job:
    points = (
        point(PointKind.BUTTON, "push"),
        point(PointKind.CONTACT, "gate"),
        point(PointKind.LAMP, "light"),
        point(PointKind.DIMMER, "strip"),
        point(PointKind.FLAG, "armed"),
    )
    return job(points, ())


def shape(transition: Transition) -> tuple[int, int, tuple[Condition, ...]]:
    return transition.source, transition.target, transition.guard


# ---------------------------------------------------------------- against a concrete walk


@settings(max_examples=300)
@given(jobs(), st.one_of(bodies, dense_bodies, dense_bodies), st.randoms(use_true_random=False))
def test_exactly_one_way_fits_each_valuation_and_does_what_a_walk_does(
    whole: Job, body: list[Statement], rng: Random
) -> None:
    made = replace(rule("one", [PUSHED], []), body=placed(tuple(body)))
    ways = transitions_of(whole, made)
    rests = [s for s in statements_of(made.body) if isinstance(s, Wait | WaitUntil | Fade)]
    numbers = {s.span: number for number, s in enumerate(rests, 1)}
    leaves = {leaf for c in read_by_rule(made)[0] for leaf in atoms_and_leaves(c)}
    timers = {leaf for leaf in leaves if isinstance(leaf, Stayed)}
    state = valuation(whole, timers, rng)
    state.running.add("one")
    walker = Walker("one", state)
    source, cause = IDLE, "event"
    before = replace(state, values=dict(state.values), running=set(state.running))
    for stop in walker.run(made.body):
        fitting = [
            way
            for way in ways
            if way.source == source
            and _cause(way) == cause
            and all(before.holds(condition) for condition in way.guard)
        ]
        target = IDLE if stop.at is None else numbers[stop.at.span]
        if stop.how == "endless candidate":
            target = ENDLESS
        if any(way.summarised for way in fitting):
            assert target in [way.target for way in fitting]
        else:
            (way,) = fitting
            assert (way.target, way.outcome) == (target, stop.how)
            if target != ENDLESS:  # how often it goes round before it is cut does not matter
                assert way.effects == stop.effects
        if stop.at is None or rng.random() < 0.1:
            break
        source = target
        after = valuation(whole, timers, rng)
        after.timed_out = walker.state.timed_out
        after.running.add("one")
        walker.state = after
        cause = "expiry"
        if isinstance(stop.at, WaitUntil):
            if after.holds(stop.at.condition):
                cause = "condition"
            elif stop.at.at_most_s is not None:
                cause = "limit"
            else:
                break
        before = replace(after, values=dict(after.values), running=set(after.running))


def _cause(way: Transition) -> str:
    causes = {OnEvent: "event", OnExpiry: "expiry", OnCondition: "condition", OnLimit: "limit"}
    return causes[type(way.on)]


@given(jobs())
def test_a_transition_leads_between_places_of_its_rule(whole: Job) -> None:
    for each in whole.rules:
        flow = flow_of(each)
        for way in transitions_of(whole, each):
            assert 0 <= way.source < len(flow.places)
            assert way.target == ENDLESS or 0 <= way.target < len(flow.places)
            assert (way.target == ENDLESS) == (way.outcome == "endless candidate")
            assert (way.source == IDLE) == isinstance(way.on, OnEvent)


# ---------------------------------------------------------------- by hand


def test_a_straight_body_has_one_way_to_each_rest_and_one_back() -> None:
    ways = small(put("light", "on"), wait(5), put("light", "off"))
    assert [shape(way) for way in ways] == [(0, 1, ()), (1, 0, ())]
    assert [way.on for way in ways] == [OnEvent(PUSHED), OnExpiry(Fraction(5))]
    assert [way.effects for way in ways] == [(put("light", "on"),), (put("light", "off"),)]


def test_an_empty_body_goes_from_idle_to_idle() -> None:
    assert [shape(way) for way in small()] == [(0, 0, ())]


def test_branches_split_guards_in_order_and_each_excludes_those_before() -> None:
    ways = small(if_then(GATE_OPEN, [put("light", "on")], [if_then(Night(), [wait(1)], [])]))
    closed = Not(GATE_OPEN)
    assert [shape(way) for way in ways] == [
        (0, 0, (GATE_OPEN,)),
        (0, 1, (closed, Night())),
        (0, 0, (closed, Not(Night()))),
        (1, 0, ()),
    ]


def test_what_was_read_decides_what_is_read_again() -> None:
    ways = small(
        if_then(GATE_OPEN, [put("light", "on")], []),
        if_then(Is("gate", "shut"), [put("armed", "yes")], []),
    )
    assert [(way.guard, way.effects) for way in ways] == [
        ((GATE_OPEN,), (put("light", "on"),)),
        ((Not(GATE_OPEN),), (put("armed", "yes"),)),
    ]


def test_a_rest_forgets_what_was_read() -> None:
    ways = small(if_then(GATE_OPEN, [], [EndRun(NOWHERE)]), wait(5), if_then(GATE_OPEN, [], []))
    assert [way.guard for way in ways if way.source == 1] == [(GATE_OPEN,), (Not(GATE_OPEN),)]


def test_a_point_just_put_is_what_it_was_put_to() -> None:
    ways = small(put("light", "on"), if_then(LIGHT_ON, [put("armed", "yes")], [put("armed", "no")]))
    assert [(way.guard, way.effects) for way in ways] == [
        ((), (put("light", "on"), put("armed", "yes")))
    ]


def test_a_timer_restarts_if_its_value_is_left_on_the_way_and_only_then() -> None:
    stayed = Stayed(LIGHT_ON, Fraction(10))
    dipped = small(put("light", "off"), put("light", "on"), if_then(stayed, [], [wait(1)]))
    kept = small(put("light", "on"), if_then(stayed, [], [wait(1)]))
    assert [shape(way) for way in dipped] == [(0, 1, ()), (1, 0, ())]
    assert [shape(way) for way in kept] == [(0, 0, (stayed,)), (0, 1, (Not(stayed),)), (1, 0, ())]


def test_a_dimmer_has_stayed_on_from_60_to_40_per_cent() -> None:
    stayed = Stayed(Level("strip", "above", Fraction(0)), Fraction(10))
    ways = small(put("strip", Fraction(40)), if_then(stayed, [], [wait(1)]))
    assert [way.guard for way in ways if way.source == 0] == [(stayed,), (Not(stayed),)]


def test_levels_that_no_dimmer_has_at_once_are_pruned() -> None:
    high, low = Level("strip", "above", Fraction(50)), Level("strip", "below", Fraction(20))
    ways = small(if_then(high, [if_then(low, [wait(1)], [wait(2)])], []))
    assert [shape(way) for way in ways if way.source == 0] == [
        (0, 2, (high,)),
        (0, 0, (Not(high),)),
    ]


def test_a_wait_until_that_may_be_true_already_passes_through() -> None:
    ways = small(wait_until(GATE_OPEN, 7), if_then(TimedOut(), [put("light", "on")], []))
    assert [(*shape(way), way.effects) for way in ways] == [
        (0, 0, (GATE_OPEN,), ()),
        (0, 1, (Not(GATE_OPEN),), ()),
        (1, 0, (), ()),
        (1, 0, (), (put("light", "on"),)),
    ]
    assert [way.on for way in ways[2:]] == [OnCondition(GATE_OPEN), OnLimit(Fraction(7))]


def test_a_loop_with_a_rest_comes_back_to_it() -> None:
    ways = small(repeat([put("light", "on"), wait(1)], GATE_OPEN))
    assert [shape(way) for way in ways] == [
        (0, 1, ()),
        (1, 0, (GATE_OPEN,)),
        (1, 1, (Not(GATE_OPEN),)),
    ]


def test_a_loop_without_a_rest_is_cut_where_it_can_go_round_for_ever() -> None:
    ways = small(repeat([put("light", "on")], GATE_OPEN))
    assert [(*shape(way), way.outcome) for way in ways] == [
        (0, 0, (GATE_OPEN,), "ends"),
        (0, ENDLESS, (Not(GATE_OPEN),), "endless candidate"),
    ]


def test_a_loop_that_ends_by_what_it_sets_is_no_endless_one() -> None:
    ways = small(repeat([put("light", "on")], LIGHT_ON))
    assert [way.outcome for way in ways] == ["ends"]


def test_end_run_and_a_cancel_of_itself_end_the_run_there() -> None:
    ended = small(EndRun(NOWHERE), put("light", "on"))
    cancelled = small(Cancel("one", NOWHERE), put("light", "on"))
    assert [(way.target, way.outcome, way.effects) for way in ended] == [(0, "ended", ())]
    assert [(way.target, way.outcome) for way in cancelled] == [(0, "cancels itself")]
    assert cancelled[0].effects == (Cancel("one", NOWHERE),)


def test_a_cancelled_rule_runs_no_more_and_the_own_one_does() -> None:
    other = small(Cancel("two", NOWHERE), if_then(Running("two"), [wait(1)], []))
    own = small(if_then(Running("one"), [wait(1)], []))
    assert [way.target for way in other if way.source == 0] == [0]
    assert [shape(way) for way in own if way.source == 0] == [(0, 1, ())]


def test_a_fade_is_an_effect_and_a_rest() -> None:
    fade = Fade("strip", Fraction(30), Fraction(8), NOWHERE)
    ways = small(fade, put("light", "off"))
    assert [(way.target, way.effects) for way in ways] == [
        (1, (fade,)),
        (0, (put("light", "off"),)),
    ]
    assert ways[1].on == OnExpiry(Fraction(8))


def test_a_guard_that_contradicts_its_event_leaves_no_way() -> None:
    whole = small_job()
    upon = [Becomes(GATE_OPEN), Becomes(Is("gate", "shut"))]
    made = rule("one", list(upon), [], provided=Is("gate", "shut"))
    assert [way.on for way in transitions_of(whole, made)] == [OnEvent(upon[1])]
    by_sun = rule("one", [NightBegins(), DayBegins(), AtClock(0, None)], [], provided=Night())
    assert len(transitions_of(whole, by_sun)) == 2


def test_an_event_of_an_output_says_nothing_about_its_guard() -> None:
    made = rule("one", [Becomes(LIGHT_ON)], [], provided=Is("light", "off"))
    assert len(transitions_of(small_job(), made)) == 1


def test_a_waiting_trigger_starts_later_so_its_event_says_nothing() -> None:
    made = rule("one", [Becomes(GATE_OPEN)], [wait(1)], provided=Is("gate", "shut"))
    queued = replace(made, policy=replace(RETRIGGERABLE, waiting=1))
    assert [way.source for way in transitions_of(small_job(), made)] == [1]
    assert [way.source for way in transitions_of(small_job(), queued)] == [0, 1]


@pytest.mark.parametrize("count", [6, 7, 40])
def test_too_many_ways_are_summarised_and_none_is_lost(count: int) -> None:
    flags = [point(PointKind.FLAG, f"f{n}") for n in range(count)]
    whole = job((*flags, point(PointKind.LAMP, "light")), ())
    body: list[Statement] = [
        if_then(Is(flag.name, "yes"), [put("light", "on")], []) for flag in flags
    ]
    ways = transitions_of(whole, rule("one", [PUSHED], [*body, wait(1)]))
    from_idle = [way for way in ways if way.source == 0]
    if 2**count <= PATH_LIMIT:
        assert len(from_idle) == 2**count
        assert not any(way.summarised for way in from_idle)
    else:
        assert [(way.target, way.summarised, way.guard) for way in from_idle] == [(1, True, ())]
        assert set(from_idle[0].effects) == {put("light", "on")}


def test_rests_are_numbered_in_order_of_the_text() -> None:
    inner: list[Statement] = [wait(2), if_then(Night(), [wait(3)], [wait_until(GATE_OPEN)])]
    made = rule("one", [PUSHED], [wait(1), repeat(inner, GATE_OPEN), wait(5)])
    words = [place.words for place in flow_of(made).places]
    assert words == [
        "idle",
        "wait 1 s",
        "wait 2 s",
        "wait 3 s",
        "wait until gate is open",
        "wait 5 s",
    ]


def test_a_disjunction_is_one_guard() -> None:
    either = Or((GATE_OPEN, Night()))
    ways = small(provided=either)
    assert [way.guard for way in ways] == [(either,)]
