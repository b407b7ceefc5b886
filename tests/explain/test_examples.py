"""Runs made up from a requirement alone, judged once more: by temporal logic and by the interpreter.

The formulas are those of the published pattern catalogues (``tests/outside/mtl_forms.py``); the
interpreter plays each run on a job in which every lamp can be switched by hand.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from tests.explain.jobs import SPECS, job_of
from tests.outside.mtl import Settled as SettledTruth
from tests.outside.mtl import Timeline as TrueTimeline
from tests.outside.mtl import first_broken, first_true, unit_of
from tests.outside.mtl_forms import formula_of
from tests.random_jobs import random_job
from verifier.explain import drafts_of_events, drafts_of_states, drafts_of_stretches
from verifier.explain.example import Example, examples_of
from verifier.explain.example_drawn import example_diagram
from verifier.explain.playback import Case, Impossible, Occurs, play
from verifier.explain.timeline import subjects_of
from verifier.front.folder import read_folder
from verifier.model import check, check_form
from verifier.model.job import (
    Fault,
    FaultKind,
    Job,
    LeadsTo,
    MeasureLongest,
    PointKind,
    Possible,
    PowerReturns,
    Pressed,
    Requirement,
    RuleEnds,
    RuleStarts,
    Running,
    atoms_and_leaves,
    read_by_requirement,
)
from verifier.model.words import requirement_words
from verifier.simulate.system import System
from verifier.source import NOWHERE
from verifier.surroundings.happenings import (
    ButtonPressed,
    InputTurns,
    LocalSwitch,
    PeopleCome,
    PeopleLeave,
    PowerCut,
    SunTurns,
)

TWO_RUNS = ("keeps", "breaks")


def jobs() -> list[Job]:
    found = []
    for folder in sorted(SPECS.iterdir()):
        if any(folder.glob("*.dusk")) and folder.name != "standard":
            reading = read_folder(str(folder))
            job, _ = check(reading.sources, reading.name)
            if job is not None:
                found.append(job)
    return found


def truth(requirement: Requirement, example: Example) -> TrueTimeline:
    scope = requirement.scope is not None
    return TrueTimeline(
        tuple(
            SettledTruth(
                i.at_s,
                frozenset((["C"] if i.holds else []) + (["S"] if i.inside and scope else [])),
                (("E", i.count),),
            )
            for i in example.found.instants
        ),
        example.found.line.end_s,
    )


def is_coarse(requirement: Requirement, example: Example) -> bool:
    """Whether the logic has few enough moments to look at (hours in steps of a second are not)."""
    line = truth(requirement, example)
    return line.end_s / unit_of(line, formula_of(requirement)) < 100


def judged_alike(requirement: Requirement, example: Example) -> bool:
    line = truth(requirement, example)
    if isinstance(requirement.form, Possible):
        moment = first_true(formula_of(requirement), line)
    else:
        moment = first_broken(formula_of(requirement), line)
    told = None if moment is None else (moment.at_s, moment.just_after)
    return told == example.found.broken


@pytest.mark.parametrize("job", jobs(), ids=lambda job: job.name)
def test_each_requirement_of_the_specs_has_a_run_that_keeps_it_and_one_that_breaks_it(
    job: Job,
) -> None:
    for requirement in job.requirements:
        found = examples_of(job, requirement)
        kinds = tuple(each.kind for each in found.shown)
        match requirement.form:
            case Possible():
                assert kinds == ("reaches",)
            case MeasureLongest():
                assert kinds == ("asks",)
            case _:
                assert kinds == TWO_RUNS, (requirement.name, found.missing)
                assert not found.missing
        for each in found.shown:
            if not isinstance(requirement.form, LeadsTo | MeasureLongest) and is_coarse(
                requirement, each
            ):
                assert judged_alike(requirement, each), requirement.name


def test_runs_of_random_requirements_are_judged_as_temporal_logic_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With a short lead: the logic looks at every moment of the grid with every other."""
    for module in (drafts_of_states, drafts_of_events, drafts_of_stretches):
        monkeypatch.setattr(module, "LEAD_S", Fraction(1))
    judged: Counter[str] = Counter()
    for seed in range(220):
        job, requirement = random_job(Random(seed))
        for each in examples_of(job, requirement).shown:
            assert (each.found.broken is None) is (each.kind in ("keeps", "asks"))
            if isinstance(requirement.form, LeadsTo | MeasureLongest):
                continue
            if not is_coarse(requirement, each):
                continue
            assert judged_alike(requirement, each), (seed, requirement_words(requirement))
            judged[f"{type(requirement.form).__name__} {each.kind}"] += 1
    assert len(judged) == 2 * 9 + 1, judged
    assert min(judged.values()) >= 5, judged


JOB = job_of("""
contact side_door "Side door"
button push "Push-button"
lamp light "Light"
photocell cell "Photocell"
""")

BOUNDARIES = {
    "when push pressed: light is on within 2 min": (119, 121),
    "after last push pressed: light is off within 2 min": (119, 121),
    "when push pressed: light is on for at least 2 min": (121, 119),
    "before push pressed: light is on for at least 2 min": (121, 119),
    "no longer than 2 min: light is on": (119, 121),
    "no shorter than 2 min: light is on": (121, 119),
    "at most 3 times in 2 min: push pressed": (121, 119),
    "always: side_door is open implies light is on allowing 2 min": (119, 121),
    "never: light is on allowing 2 min": (119, 121),
}


@pytest.mark.parametrize("text", list(BOUNDARIES))
def test_the_two_runs_lie_on_either_side_of_the_figure(text: str) -> None:
    """A second before and after it, from what begins the time to what ends it."""
    requirement, found, _ = check_form(text, JOB, "asked")
    assert requirement is not None, found
    times = []
    for each in examples_of(JOB, requirement).shown:
        begins = each.due_s if each.span is None else each.span.from_s
        after = [step.at_s - begins for step in each.found.line.steps]
        times.append(next(int(t) for t in after if t in (119, 121)))
    assert tuple(times) == BOUNDARIES[text]


def test_a_timer_and_a_time_of_the_clock_are_met_to_the_second() -> None:
    text = "always: cell has stayed dark for 20 min implies light is on"
    requirement, _, _ = check_form(text, JOB, "asked")
    assert requirement is not None
    keeps, breaks = examples_of(JOB, requirement).shown
    (dark, _), (lit, _) = keeps.found.line.of("cell")[1], keeps.found.line.of("light")[1]
    assert lit - dark == 20 * 60
    assert breaks.found.broken == (Fraction(dark + 20 * 60), False)
    text = "when at 22:30: light is off within 1 min"
    requirement, _, _ = check_form(text, JOB, "asked")
    assert requirement is not None
    for each in examples_of(JOB, requirement).shown:
        begins = each.found.line.begins_s
        assert begins is not None
        assert (begins + each.due_s) % 86_400 == 22 * 3600 + 30 * 60


def test_what_no_run_can_break_is_said_and_not_shown() -> None:
    requirement, _, _ = check_form("always: light is on or light is off", JOB, "asked")
    assert requirement is not None
    found = examples_of(JOB, requirement)
    assert [each.kind for each in found.shown] == ["keeps"]
    assert "No short run that breaks it" in found.missing


def test_assumptions_hold_in_the_runs() -> None:
    job = job_of("""
switch key "Key"
contact side_door "Side door"
lamp light "Light"
assume always (key is on implies side_door is shut)
require lit "Lit"
  always: side_door is shut implies light is on or key is on
end require
""")
    for each in examples_of(job, job.requirement["lit"]).shown:
        for instant in each.found.instants:
            assert instant.values["key"] == "off" or instant.values["side_door"] == "shut"


def test_a_door_moves_between_its_ends_and_never_jumps() -> None:
    for seed in range(300):
        job, requirement = random_job(Random(seed))
        for each in examples_of(job, requirement).shown:
            for door in job.door:
                values = [value for _, value in each.found.line.of(door)]
                for one, other in pairwise(values):
                    assert "moving" in (one, other)


# ---------------------------------------------------------------- on the interpreter


def free_job(job: Job, requirement: Requirement) -> Job | None:
    """The job with no rule, lamps that a hand can switch, and nothing that binds its inputs."""
    conditions, events = read_by_requirement(requirement)
    leaves = [leaf for condition in conditions for leaf in atoms_and_leaves(condition)]
    if any(isinstance(leaf, Running) for leaf in leaves) or isinstance(requirement.form, LeadsTo):
        return None
    if any(isinstance(event, RuleStarts | RuleEnds) for event in events):
        return None
    bound = {p.name for p in job.points if p.kind in (PointKind.FLAG, PointKind.DIMMER)}
    if {*subjects_of(job, requirement)} & {*bound, *job.door, *job.door_of_point}:
        return None
    points = []
    for point in job.points:
        if point.kind in (PointKind.FLAG, PointKind.DIMMER):
            continue
        free = replace(point, starts=None, holds_s=None, rearm_s=None, power_return="last")
        points.append(replace(free, local_switch=point.kind.is_output))
    rooms = tuple(
        replace(room, entered_by=(), seen_by=(), still_s=None, noticed_s=None, starts=None)
        for room in job.rooms
    )
    cuts = (Fault(FaultKind.POWER_CUTS, None, None, NOWHERE),)
    faults = cuts if PowerReturns() in events else ()
    return Job(
        job.name, None, tuple(points), (), rooms, (), (), faults, (requirement,), job.settings
    )


def case_of(job: Job, requirement: Requirement, example: Example) -> Case | None:
    """What happens in the run, by the words of the interpreter; None if it cannot be said there.

    Two changes in one instant need a rule, a change at the moment of an expiry is another order.
    """
    line = example.found.line
    names = {*(p.name for p in job.points), *(r.name for r in job.rooms), "sun"}
    if line.begins_s is not None or any(name not in names for name, _ in line.start):
        return None
    if any(i.ran_out and i.step is not None for i in example.found.instants):
        return None
    words = words_of(System(job, requirement))
    occurs = []
    for step in line.steps:
        done = [*step.changes, *step.happens]
        if len(done) != 1:
            return None
        found = words.get(done[0])
        if found is None:
            return None
        occurs.append(Occurs(step.at_s, found))
    start = tuple((name, str(value)) for name, value in line.start)
    return Case(start, tuple(occurs), line.end_s)


def begun_as(job: Job, case: Case) -> Job:
    """The job whose outputs are at the start as the run has them."""
    start = dict(case.start)
    points = tuple(
        replace(p, starts=start[p.name]) if p.kind.is_output and p.name in start else p
        for p in job.points
    )
    return replace(job, points=points)


def words_of(system: System) -> dict[object, str]:
    found: dict[object, str] = {}
    for happening in system.happenings:
        match happening:
            case InputTurns(point, _, bit, what, False) | LocalSwitch(point, _, bit, what):
                value = system.job.point[point].kind.values[bit.bit_length() - 1]
                found[point, value] = what
            case ButtonPressed(button, what, False):
                found[Pressed(button)] = what
            case SunTurns(_, bit, what):
                found["sun", "night" if bit == 2 else "day"] = what
            case PeopleCome(room, what):
                found[room, "peopled"] = what
            case PeopleLeave(room, what):
                found[room, "empty"] = what
            case PowerCut(what):
                found[PowerReturns()] = what
            case _:
                pass
    return found


def test_the_interpreter_sees_the_same_runs_kept_and_broken_at_the_same_moments() -> None:
    judged: Counter[str] = Counter()
    asked = [random_job(Random(seed)) for seed in range(500)]
    asked += [(job, requirement) for job in jobs() for requirement in job.requirements]
    for job, requirement in asked:
        free = free_job(job, requirement)
        if free is None or isinstance(requirement.form, MeasureLongest):
            continue
        for each in examples_of(free, requirement).shown:
            case = case_of(free, requirement, each)
            if case is None:
                continue
            begun = begun_as(free, case)
            played = play(System(begun, requirement), requirement, case)
            assert not isinstance(played, Impossible), (requirement_words(requirement), played)
            assert played.fails == each.found.broken, requirement_words(requirement)
            judged[each.kind] += 1
    assert judged["keeps"] >= 60, judged
    assert judged["breaks"] >= 100


# ---------------------------------------------------------------- as pictures


@pytest.mark.parametrize("job", jobs(), ids=lambda job: job.name)
def test_the_picture_shows_the_values_of_the_run_and_ends_as_it_is_judged(job: Job) -> None:
    for requirement in job.requirements:
        for each in examples_of(job, requirement).shown:
            diagram = example_diagram(job, requirement, each)
            assert len({lane.subject for lane in diagram.lanes}) == len(diagram.lanes)
            at = [instant.at_s for instant in diagram.instants]
            assert at == sorted(at)
            for lane in diagram.lanes:
                assert len(lane.values) == len(at)
                if lane.subject:
                    runs = each.found.line.of(lane.subject)
                    changes = sum(a != b for a, b in pairwise(lane.values))
                    assert changes == len(runs) - 1
            assert diagram.lanes[-1].values[-1] == {
                "keeps": "kept", "breaks": "broken", "reaches": "so", "asks": ""
            }[each.kind]  # fmt: skip
            if each.kind == "breaks":
                assert each.found.broken is not None
                first = diagram.lanes[-1].values.index("broken")
                zero = each.due_s if each.span is None else each.span.from_s
                assert diagram.instants[first].at_s + zero == each.found.broken[0]


MANY = [
    "always: hall is peopled implies ({all_on})",
    "when c becomes open: ({levels}) within 2 s",
    "before c becomes open: ({all_off}) for at least 2 min",
    "after last c changes: ({all_off}) within 2 min",
]


@pytest.mark.parametrize("form", MANY)
def test_a_requirement_of_many_lamps_has_its_runs_too(form: str) -> None:
    """Every lamp of a hall of 30 has to change at once: more than can be tried one by one."""
    lamps = "".join(f'lamp l{k} "L {k}"\n' for k in range(30))
    dimmers = "".join(f'dimmer d{k} "D {k}"\n' for k in range(12))
    job = job_of(f'room hall "Hall"\nend room\ncontact c "C"\n{lamps}{dimmers}')
    text = form.format(
        all_on=" and ".join(f"l{k} is on" for k in range(30)),
        all_off=" and ".join(f"l{k} is off" for k in range(30)),
        levels=" and ".join(f"d{k} at least {10 + 5 * k} %" for k in range(12)),
    )
    requirement, found, _ = check_form(text, job, "asked")
    assert requirement is not None, found
    examples = examples_of(job, requirement)
    assert tuple(each.kind for each in examples.shown) == TWO_RUNS
