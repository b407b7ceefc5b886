"""Runs and monitors against metric temporal logic, as it was published (``mtl.py``, ``mtl_forms.py``)."""

from __future__ import annotations

import os
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.outside.mtl import (
    All,
    Formula,
    Interval,
    JustBefore,
    Moment,
    No,
    Settled,
    Since,
    Some,
    Timeline,
    Until,
    always,
    first_broken,
    first_true,
)
from tests.outside.mtl_forms import C, S, formula_of, published
from tests.outside.mtl_monitors import (
    JUDGED,
    WITH_ALLOWING,
    Bench,
    form_of,
    random_timeline,
    requirement_of,
)
from tests.outside.mtl_timelines import Played, Recorder, played
from tests.outside.test_known import job_of
from tests.random_jobs import random_job
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Form,
    Job,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Not,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Refuted, Verdict
from verifier.simulate.replay import passed
from verifier.simulate.run import Run
from verifier.source import SourceFile, Sources

LONG = os.environ.get("DUSKPROOF_PROFILE") == "long"
QUARTER = Fraction(1, 4)


def line(*instants: str, end: str) -> Timeline:
    """A timeline from ``"2.5 CS EE"``: moment, what is true (``-``: nothing), events."""
    found = []
    for instant in instants:
        at, true, events = [*instant.split(), ""][:3]
        count = (("E", len(events)),) if events else ()
        found.append(Settled(Fraction(at), frozenset(true) - {"-"}, count))
    return Timeline(tuple(found), Fraction(end))


# ---------------------------------------------------------------- by hand

TWO = Fraction(2)


@pytest.mark.parametrize(
    ("form", "timeline", "broken"),
    [
        # (moment, whether just after it); None: kept. Worked out by hand from the contract's table.
        (WhenWithin, line("0 -", "1 - E", "3 C", end="9"), None),
        (WhenWithin, line("0 -", "1 - E", "3.25 C", end="9"), ("3", True)),
        (WhenWithin, line("0 C", "1 C E", "1 -", end="9"), None),
        (WhenWithin, line("0 C", "1 - E", end="3"), None),
        (WhenFor, line("0 -", "1 C E", "3 -", end="9"), None),
        (WhenFor, line("0 -", "1 C E", "2.75 -", end="9"), ("2.75", False)),
        (WhenFor, line("0 -", "1 C E", "2 -", "2 C", end="9"), ("2", False)),
        (WhenFor, line("0 C", "1 - E", "1 C", end="9"), ("1", False)),
        (AfterLast, line("0 -", "1 - E", "2 - E", "4 C", end="9"), None),
        (AfterLast, line("0 -", "1 - E", "2 - E", "4.25 C", end="9"), ("4", True)),
        (AfterLast, line("0 C", "1 C E", "4 -", end="9"), ("4", False)),
        (AfterLast, line("0 -", "5 C", end="9"), None),
        (Before, line("0 C", "2 - E", end="9"), None),
        (Before, line("0 C", "1.75 C E", end="9"), ("1.75", False)),
        (Before, line("0 -", "1 C", "3 - E", end="9"), None),
        (Before, line("0 C", "2 -", "2 C", "3 C E", end="9"), ("3", False)),
        (NoLonger, line("0 C", "2 -", end="9"), None),
        (NoLonger, line("0 -", "1 C", "4 -", end="9"), ("3", True)),
        (NoLonger, line("0 C", "1 -", "1 C", "3 -", end="9"), None),
        (NoShorter, line("0 C", "1 -", end="9"), None),
        (NoShorter, line("0 -", "1 C", "3 -", end="9"), None),
        (NoShorter, line("0 -", "1 C", "2.75 -", end="9"), ("2.75", False)),
        (AtMostTimes, line("0 -", "1 - E", "3.25 - E", end="9"), None),
        (AtMostTimes, line("0 -", "1 - E", "3 - E", end="9"), ("3", False)),
        (AtMostTimes, line("0 -", "1 - EE", end="9"), ("1", False)),
        (Always, line("0 C", "1 -", "1 C", end="9"), ("1", False)),
        (Never, line("0 -", "1 C", end="9"), ("1", False)),
    ],
)
def test_the_formulas_say_at_their_boundaries_what_the_contract_says(
    form: type[Form], timeline: Timeline, broken: tuple[str, bool] | None
) -> None:
    requirement = requirement_of(form_of(form, TWO, 1), scoped=False, allowing_s=Fraction(0))
    wanted = None if broken is None else Moment(Fraction(broken[0]), broken[1])
    assert first_broken(formula_of(requirement), timeline) == wanted


# ---------------------------------------------------------------- monitors

VARIANTS = [
    (kind, scoped, gaps)
    for kind in JUDGED
    for scoped in (False, True)
    for gaps in ((False, True) if kind in WITH_ALLOWING else (False,))
]
"""Forms, without and with ``while`` and ``allowing``."""

TIMELINES = 3_000 if LONG else 60


def cases(
    kind: type[Form], scoped: bool, gaps: bool, count: int = TIMELINES
) -> Iterator[tuple[Requirement, Timeline]]:
    """Random requirements of a form, each with a random timeline."""
    rng = Random(f"{kind.__name__}, {scoped}, {gaps}")
    for _ in range(count):
        d = Fraction(rng.choice((0, 1, 2, 3) if kind is Before else (1, 2, 3)))
        allowing = Fraction(rng.choice((1, 2, 3))) if gaps else Fraction(0)
        form = form_of(kind, d, rng.choice((1, 2, 3)))
        durations = (d, allowing) if gaps else (d,)
        yield (
            requirement_of(form, scoped=scoped, allowing_s=allowing),
            random_timeline(rng, durations, 7),
        )


def safety_of(requirement: Requirement) -> Formula:
    """The formula that a run breaks; of ``possible`` one that the witness breaks."""
    formula = formula_of(requirement)
    return always(No(formula)) if isinstance(requirement.form, Possible) else formula


@pytest.mark.parametrize(("kind", "scoped", "gaps"), VARIANTS)
def test_each_monitor_fails_at_the_moment_at_which_the_formula_is_broken(
    kind: type[Form], scoped: bool, gaps: bool
) -> None:
    broken = 0
    for requirement, timeline in cases(kind, scoped, gaps):
        formula = safety_of(requirement)
        wanted = first_broken(formula, timeline)
        assert Bench.of(requirement).first_bad(timeline, formula) == wanted, (requirement, timeline)
        broken += wanted is not None
    assert broken > TIMELINES / 60, "few of the timelines break it: they say little"


@pytest.mark.parametrize("kind", [Always, Never, WhenWithin, WhenFor, NoLonger, NoShorter])
def test_without_scope_and_gaps_a_form_is_its_published_formula(kind: type[Form]) -> None:
    for requirement, timeline in cases(kind, False, False):
        own = first_broken(formula_of(requirement), timeline)
        assert first_broken(published(requirement.form), timeline) == own, (requirement, timeline)


def with_intervals(formula: Formula, change: Any) -> Formula:
    """The formula with each interval changed."""
    match formula:
        case No(item):
            return No(with_intervals(item, change))
        case JustBefore(item):
            return JustBefore(with_intervals(item, change))
        case All(items):
            return All(tuple(with_intervals(i, change) for i in items))
        case Some(items):
            return Some(tuple(with_intervals(i, change) for i in items))
        case Until(left, right, interval):
            return Until(
                with_intervals(left, change), with_intervals(right, change), change(interval)
            )
        case Since(left, right, interval):
            return Since(
                with_intervals(left, change), with_intervals(right, change), change(interval)
            )
        case _ if hasattr(formula, "interval"):
            return replace(formula, interval=change(formula.interval))
        case _:
            return formula


def other_end(interval: Interval) -> Interval:
    """The interval with its ends open instead of closed, and the other way round."""
    if interval.high is not None:
        return replace(interval, high_open=not interval.high_open)
    return replace(interval, low_open=not interval.low_open) if interval.low else interval


def a_little_longer(interval: Interval) -> Interval:
    """The interval a quarter longer."""
    if interval.high is not None:
        return replace(interval, high=interval.high + QUARTER)
    return replace(interval, low=interval.low + QUARTER) if interval.low else interval


@pytest.mark.parametrize("change", [other_end, a_little_longer])
@pytest.mark.parametrize(
    "kind", [WhenWithin, WhenFor, AfterLast, Before, NoLonger, NoShorter, AtMostTimes]
)
def test_the_random_timelines_tell_open_ends_from_closed_ones(
    kind: type[Form], change: Any
) -> None:
    """A formula with one mistake at its boundary is found out by them."""
    assert any(
        first_broken(with_intervals(formula_of(requirement), change), timeline)
        != first_broken(formula_of(requirement), timeline)
        for requirement, timeline in cases(kind, False, False, 120)
    )


def test_the_whole_length_of_a_gap_counts_when_the_scope_ends_in_it() -> None:
    """ "Its whole length counts, also beyond the end of what is judged", in each form; "the end of C
    drops what is pending" (14) is of events and times that run, and not of gaps.
    """
    timeline = line("0 -", "1 CS", "3 S", "4 -", "5 C", end="9")
    for kind, allowing, wanted in (
        (NoLonger, 2, Moment(Fraction(5), False)),
        (NoShorter, 1, Moment(Fraction(4), True)),
        (Always, 1, Moment(Fraction(4), True)),
    ):
        d = Fraction(2 if kind is NoLonger else 3)
        requirement = requirement_of(
            form_of(kind, d, 1), scoped=True, allowing_s=Fraction(allowing)
        )
        later = replace(
            timeline, instants=(*timeline.instants[:-1], *line("5.5 C", end="9").instants)
        )
        chosen = timeline if kind is NoLonger else later
        formula = formula_of(requirement)
        assert first_broken(formula, chosen) == wanted
        assert Bench.of(requirement).first_bad(chosen, formula) == wanted


# ---------------------------------------------------------------- runs of the prover

CHUNK = 25
CHUNKS = range(80) if LONG else range(4)


def decided(seed: int) -> tuple[Job, Requirement, Verdict] | None:
    """A random job, its requirement and the verdict; None if a chain never ends."""
    job, requirement = random_job(Random(seed))
    try:
        return job, requirement, decide(job, requirement, Budget(limit_s=30))
    except EndlessChainFound:
        return None


def shown(requirement: Requirement, verdict: Verdict) -> Run | None:
    """The run that a verdict shows: one that breaks the requirement, or the witness."""
    match verdict:
        case Refuted(run) if not isinstance(requirement.form, Possible):
            return run
        case Proved(_, witness):
            return witness
        case Answered(_, run):
            return run
        case _:
            return None


def ways_of(job: Job, requirement: Requirement, run: Run) -> tuple[Recorder, list[Played]]:
    """The run played on the part of the job that it is of."""
    recorder = Recorder(slice_job(job, requirement), requirement)
    ways = played(recorder, requirement, run)
    assert ways, "the run does not play"
    return recorder, ways


def judge(job: Job, requirement: Requirement, run: Run) -> None:
    """Broken at the moment that the run says, and not before its last happening."""
    recorder, ways = ways_of(job, requirement, run)
    formula = safety_of(requirement)
    small = max((step.at_s - step.earliest_s for step in run.steps), default=Fraction(0))
    end = run.end_s[0] + small + recorder.unit.size_s / 2
    moments = [first_broken(formula, Timeline(way.instants, max(end, way.at_s))) for way in ways]
    assert any(agrees(moment, run, end) for moment in moments), moments
    assert all(m is None or m.at_s >= run.end_s[0] for m in moments), "it fails earlier"
    for way in ways if run.steps else ():
        assert first_broken(formula, Timeline(way.instants[:-1], way.at_s)) is None


def agrees(moment: Moment | None, run: Run, end: Fraction) -> bool:
    """Whether a moment is the one of the run: "just after" is a little later in exact figures."""
    if moment is None:
        return False
    if (moment.at_s, moment.just_after) == (run.end_s[0], run.end_s[1]):
        return True
    return run.end_s[1] and run.end_s[0] < moment.at_s <= end


@pytest.mark.parametrize("chunk", CHUNKS)
def test_the_runs_that_the_prover_shows_are_judged_alike(chunk: int) -> None:
    judged: Counter[str] = Counter()
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        found = decided(seed)
        if found is None or isinstance(found[1].form, LeadsTo | MeasureLongest):
            continue
        run = shown(found[1], found[2])
        if run is not None:
            judge(found[0], found[1], run)
            judged[type(found[1].form).__name__] += 1
    assert sum(judged.values()) >= CHUNK // 4, judged


OF_FOREVER = range(2_000) if LONG else range(250)
"""Seeds among which jobs with ``leads to`` and ``measure`` are looked for."""


def test_what_leads_to_shows_never_comes_to_stay() -> None:
    """``F G C`` fails on a run that goes round (or rests) for ever if C is false somewhere in what recurs."""
    judged = 0
    for seed in OF_FOREVER:
        job, requirement = random_job(Random(seed))
        if not isinstance(requirement.form, LeadsTo):
            continue
        found = decided(seed)
        if found is None or not isinstance(found[2], Refuted):
            continue
        run = found[2].run
        assert run is not None
        recorder, ways = ways_of(job, requirement, run)
        assert any(never_stays(recorder, requirement, run, way) for way in ways), seed
        judged += 1
    assert judged >= len(OF_FOREVER) // 100


INSIDE = ("a wait of ", "has stayed ")


def never_stays(recorder: Recorder, requirement: Requirement, run: Run, way: Played) -> bool:
    """Whether R was handled, nothing outside changes in what recurs, and C is false in it."""
    assert isinstance(requirement.form, LeadsTo)
    rule = f"{requirement.form.rule} handled"
    if not any(instant.times(rule) for instant in way.instants):
        return False
    if run.rests:
        return "C" not in way.instants[-1].true and (
            passed(recorder, way.state, Fraction(10**6)) is not None
        )
    assert run.cycle_from is not None
    recurs = run.steps[run.cycle_from :]
    if not all(any(words in step.what for words in INSIDE) for step in recurs):
        return False
    return any("C" not in instant.true for instant in way.instants[1 + run.cycle_from :])


def measuring() -> list[Job]:
    """Jobs that measure something that has a bound (random ones hardly ever do)."""
    text = (Path(__file__).parents[1] / "specs/published/switch/job.dusk").read_text("utf-8")
    switch, _ = check(Sources((SourceFile("job.dusk", text),)), "switch")
    assert switch is not None
    # One requirement alone: the others' milliseconds would make the grid of moments fine.
    return [
        replace(job, requirements=(requirement,))
        for job in (switch, job_of("crossing_timed", coarse=True))
        for requirement in job.requirements
        if isinstance(requirement.form, MeasureLongest)
    ]


@pytest.mark.parametrize("job", measuring(), ids=lambda job: job.name)
def test_the_longest_time_that_is_answered_is_the_longest_on_its_run(job: Job) -> None:
    """``after last E: not C within D`` is kept by the run for D = the answer, and broken for less."""
    (requirement,) = job.requirements
    form = requirement.form
    assert isinstance(form, MeasureLongest)
    verdict = decide(job, requirement, Budget(limit_s=30))
    assert isinstance(verdict, Answered)
    bound, run = verdict.bound_s, verdict.run
    assert isinstance(bound, Fraction)
    assert run is not None
    recorder, ways = ways_of(job, requirement, run)
    little = recorder.unit.size_s / 4

    def broken(d: Fraction, way: Played) -> Moment | None:
        asked = replace(requirement, form=AfterLast(form.events, Not(form.condition), d))
        end = max(way.at_s, run.end_s[0])
        return first_broken(with_c_turned(formula_of(asked)), Timeline(way.instants, end))

    assert all(broken(bound, way) is None for way in ways)
    assert any(broken(bound - little, way) is not None for way in ways)


def test_what_is_answered_unbounded_goes_on_for_ever_on_its_run() -> None:
    judged = 0
    for seed in OF_FOREVER:
        job, requirement = random_job(Random(seed))
        if not isinstance(requirement.form, MeasureLongest):
            continue
        found = decided(seed)
        if found is None or not isinstance(found[2], Answered) or found[2].run is None:
            continue
        run = found[2].run
        if found[2].bound_s != "unbounded" or not (run.rests or run.cycle_from is not None):
            continue
        recorder, ways = ways_of(job, requirement, run)
        assert any(lasts(recorder, requirement, run, way) for way in ways), seed
        judged += 1
    assert judged >= len(OF_FOREVER) // 50


def lasts(recorder: Recorder, requirement: Requirement, run: Run, way: Played) -> bool:
    """Whether E came, and C holds in the scope again and again, or for ever, with no E since."""
    wanted = {"C"} if requirement.scope is None else {"C", "S"}
    came = [k for k, i in enumerate(way.instants) if i.times("E") and wanted - {"C"} <= i.true]
    if not came:
        return False
    if run.rests:
        return wanted <= way.instants[-1].true and (
            passed(recorder, way.state, Fraction(10**6)) is not None
        )
    assert run.cycle_from is not None
    recurs = way.instants[1 + run.cycle_from :]
    return any(wanted <= i.true for i in recurs) and not any(i.times("E") for i in recurs)


def with_c_turned(formula: Formula) -> Formula:
    """The formula with ``not C`` for C (the timeline speaks of the C that is measured)."""
    match formula:
        case No(item):
            return No(with_c_turned(item))
        case JustBefore(item):
            return JustBefore(with_c_turned(item))
        case All(items):
            return All(tuple(with_c_turned(i) for i in items))
        case Some(items):
            return Some(tuple(with_c_turned(i) for i in items))
        case Until(left, right, interval):
            return Until(with_c_turned(left), with_c_turned(right), interval)
        case Since(left, right, interval):
            return Since(with_c_turned(left), with_c_turned(right), interval)
        case _:
            return No(C) if formula == C else formula


# ---------------------------------------------------------------- a monitor by others

PULSE = Fraction(1, 64)
"""How long an event lasts as a signal: less than any distance on the timelines."""

STL: dict[type[Form], str] = {
    Always: "always(c >= 0.5)",
    Never: "always(not(c >= 0.5))",
    WhenWithin: "always((e >= 0.5) implies (eventually[0,{d}](c >= 0.5)))",
    WhenFor: "always((e >= 0.5) implies (always[0,{d}](c >= 0.5)))",
    AfterLast: "always(((once(e >= 0.5)) and (not(once[0,{d}](e >= 0.5)))) implies (c >= 0.5))",
    Before: (
        "always((e >= 0.5) implies"
        " ((historically[0.05,{d}](c >= 0.5)) and (once[{d},1000](one >= 0.5))))"
    ),
    NoLonger: "always((c >= 0.5) implies (eventually[0,{d}](not(c >= 0.5))))",
    # The until of STL is closed where that of the pattern is not, so the beginnings are marked.
    NoShorter: "always((up >= 0.5) implies (always[0,{d}](c >= 0.5)))",
}
"""The forms that signal temporal logic can say; its intervals are closed, and it cannot count."""


def apart(rng: Random) -> tuple[Timeline, Fraction]:
    """A timeline without two instants at one moment, and a duration that no distance on it equals."""
    at, true = Fraction(0), {"C"} if rng.random() < 0.5 else set()
    found = [Settled(at, frozenset(true))]
    for _ in range(1 + rng.randrange(7)):
        at += Fraction(rng.randrange(1, 8), 2)
        if rng.random() < 0.7:
            true ^= {"C"}
        found.append(Settled(at, frozenset(true), (("E", rng.choice((0, 1, 1))),)))
    return Timeline(tuple(found), at + 20), Fraction(rng.choice((3, 5, 7, 9, 11)), 4)


def signals(timeline: Timeline) -> dict[str, list[list[float]]]:
    """C, E (as short pulses) and a constant as piecewise constant signals."""
    end = float(timeline.end_s)
    c = [[float(i.at_s), float("C" in i.true)] for i in timeline.instants]
    e, up = [[0.0, 0.0]], [[0.0, 0.0]]
    for before, instant in pairwise(timeline.instants):
        pulse = [[float(instant.at_s), 1.0], [float(instant.at_s + PULSE), 0.0]]
        if instant.times("E"):
            e += pulse
        if "C" in instant.true - before.true:
            up += pulse
    return {
        "c": [*c, [end, c[-1][1]]],
        "e": [*e, [end, 0.0]],
        "up": [*up, [end, 0.0]],
        "one": [[0.0, 1.0], [end, 1.0]],
    }


@pytest.mark.parametrize("kind", list(STL))
def test_a_monitor_of_signal_temporal_logic_judges_alike(kind: type[Form]) -> None:
    """Source: D. Nickovic, T. Yamaguchi, "RTAMT", ATVA 2020; dense time, offline."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        rtamt = pytest.importorskip(
            "rtamt", reason="needs Python below 3.13 and: pip install -e '.[checkers]'"
        )
    rng = Random(kind.__name__)
    broken = 0
    for _ in range(1_000 if LONG else 30):
        timeline, d = apart(rng)
        specification = rtamt.StlDenseTimeOfflineSpecification()
        given = signals(timeline)
        for name in given:
            specification.declare_var(name, "float")
        specification.spec = STL[kind].format(d=float(d))
        specification.parse()
        robustness = specification.evaluate(*([name, signal] for name, signal in given.items()))
        requirement = requirement_of(form_of(kind, d, 1), scoped=False, allowing_s=Fraction(0))
        wanted = first_broken(formula_of(requirement), timeline)
        assert (robustness[0][1] > 0) == (wanted is None), (timeline, d, robustness)
        broken += wanted is not None
    assert broken > 0


def test_the_first_moment_of_what_is_possible_is_when_it_is_first_true() -> None:
    assert first_true(All((C, S)), line("0 C", "2 S", "3 CS", end="9")) == Moment(
        Fraction(3), False
    )
    assert first_true(All((C, S)), line("0 C", "2 S", end="9")) is None
