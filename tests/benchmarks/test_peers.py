"""The models that other checkers are given: each says what the prover says.

Outside sources: ABC (Berkeley), TChecker (F. Herbreteau, G. Point, LaBRI) and Rumur, where they are
there; the AIGER format's own description, by a reader written from it. No peer is run for its speed.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from tests.benchmarks import peers
from tests.benchmarks.families import FAMILY, Family
from tests.benchmarks.peers import BRIEF, OVER, Answer, Contradiction, Peer, Question
from tests.benchmarks.peers_report import Page, page_of
from tests.benchmarks.reading import job_of
from tests.benchmarks.tick_model import NotInTicks, TickModel, aiger, tick_model
from tests.benchmarks.zone_model import NotInZones, tchecker
from tests.outside import murphi
from tests.random_jobs import random_job
from verifier.model.job import (
    AfterLast,
    Condition,
    Event,
    Job,
    LeadsTo,
    MeasureLongest,
    Possible,
    Requirement,
    conditions_and_events_of,
)
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.relation import Cube
from verifier.proof.relation import Path as Way
from verifier.proof.verdict import Proved, Refuted
from verifier.surroundings.state import FOREVER

needs_abc = pytest.mark.skipif(
    peers.abc_command() is None, reason="needs ABC: apt-get install berkeley-abc"
)
needs_rumur = pytest.mark.skipif(not murphi.is_there(), reason=f"needs Rumur: {murphi.INSTALL}")
needs_tchecker = pytest.mark.skipif(
    peers.tchecker_version() is None,
    reason="needs TChecker: pip install tcheckerpy, glibc 2.38 or later",
)

SMALL: tuple[tuple[Family, int], ...] = (
    (BRIEF, 1),
    (BRIEF, 2),
    (FAMILY["chain"], 2),
    (FAMILY["polite"], 2),
    (FAMILY["shutter"], 1),
    (FAMILY["waiting"], 2),
    (FAMILY["at_once"], 2),
    (FAMILY["starts"], 2),
)
in_small = pytest.mark.parametrize(
    ("family", "size"), SMALL, ids=[f"{family.name}-{size}" for family, size in SMALL]
)
LIMIT_S = 20.0


def claim(text: str) -> tuple[Job, Requirement]:
    job = job_of(text)
    return job, job.requirement["promise"]


def random_claim(seed: int) -> tuple[Job, Requirement] | None:
    """A random job with a claim about single states, none where the form is another."""
    job, requirement = random_job(Random(seed))
    if isinstance(requirement.form, LeadsTo | MeasureLongest | Possible):
        return None
    return job, requirement


def by_prover(job: Job, requirement: Requirement) -> str:
    try:
        verdict = decide(job, requirement, Budget(limit_s=30))
    except EndlessChainFound:
        return "endless"
    match verdict:
        case Proved():
            return "proved"
        case Refuted():
            return "refuted"
        case _:
            return "undecided"


# ---------------------------------------------------------------- searched here

State = tuple[tuple[int, ...], tuple[int, ...]]
"""The number of each variable's value, and each clock's count."""


def fits(cube: Cube, state: State) -> bool:
    values, clocks = state
    return all(mask >> values[variable] & 1 for variable, mask in cube.values) and all(
        low <= clocks[clock] and (high >= FOREVER or clocks[clock] <= high)
        for clock, low, high in cube.clocks
    )


def after(model: TickModel, state: State, way: Way) -> State:
    values, clocks = list(state[0]), list(state[1])
    for variable, source, bit in way.values:
        values[variable] = bit.bit_length() - 1 if source < 0 else state[0][source]
    for clock, source in way.clocks:
        clocks[clock] = 0 if source < 0 else min(state[1][source], model.tops[clock])
    return tuple(values), tuple(clocks)


def ticked(model: TickModel, state: State) -> State | None:
    """The state a tick later, none where time does not pass."""

    def hold(facts: tuple[tuple[int, int], ...]) -> bool:
        return all(mask >> state[0][variable] & 1 for variable, mask in facts)

    for bound in model.bounds:
        if hold(bound.when) and state[1][bound.clock] >= 2 * bound.limit:
            return None
    clocks = tuple(
        min(count + 1, model.tops[clock]) if any(hold(use) for use in model.uses[clock]) else 0
        for clock, count in enumerate(state[1])
    )
    return state[0], clocks


def beginnings(model: TickModel) -> set[State]:
    """The states in which a run begins."""
    found = set()
    zero = (0,) * len(model.tops)
    for way in model.starts:
        masks = dict(way.before.values)
        before: list[tuple[int, ...]] = [()]
        for variable, count in enumerate(model.domains):
            mask = masks.get(variable, (1 << count) - 1)
            free = any(source == variable for _, source, _ in way.values) or all(
                put != variable for put, _, _ in way.values
            )
            options = [value for value in range(count) if mask >> value & 1]
            before = [
                (*left, value) for left in before for value in (options if free else options[:1])
            ]
        found |= {after(model, (values, zero), way) for values in before}
    return found


def searched(model: TickModel, most: int = 60_000) -> str:
    """Whether a state is reached in which the claim fails; "too large" beyond a number of states."""
    todo = list(beginnings(model))
    seen = set(todo)
    while todo:
        state = todo.pop()
        if any(fits(cube, state) for cube in model.bad):
            return "refuted"
        then = [after(model, state, way) for way in model.paths if fits(way.before, state)]
        later = ticked(model, state)
        for one in [*then, *([] if later is None else [later])]:
            if one not in seen:
                seen.add(one)
                todo.append(one)
        if len(seen) > most:
            return "too large"
    return "proved"


@in_small
@pytest.mark.parametrize("which", ["job", "twin"])
def test_a_model_in_ticks_keeps_its_promise_and_its_twin_does_not(
    family: Family, size: int, which: str
) -> None:
    model = tick_model(*claim(family.job(size) if which == "job" else family.twin(size)))
    assert searched(model) == ("proved" if which == "job" else "refuted")


@pytest.mark.parametrize("seed", range(7000, 7040))
def test_a_random_job_in_ticks_has_the_provers_verdict(seed: int) -> None:
    given = random_claim(seed)
    if given is None:
        pytest.skip("not a claim about single states")
    found = searched(tick_model(*given))
    wanted = by_prover(*given)
    if found == "too large" or wanted in ("endless", "undecided"):
        pytest.skip(f"{found}, prover: {wanted}")
    assert found == wanted


def test_what_is_not_a_claim_about_single_states_is_not_written() -> None:
    job, requirement = claim(BRIEF.job(1))
    measure = MeasureLongest(*_condition_and_event(requirement))
    with pytest.raises(NotInTicks, match="MeasureLongest"):
        tick_model(job, replace(requirement, form=measure))


def test_a_tick_is_half_a_unit_so_that_just_after_is_a_moment_of_its_own() -> None:
    # A lamp that is on for 2 s is still on just after 1.5 s, and never after 2 s.
    job, requirement = claim(BRIEF.job(2))
    condition, event = _condition_and_event(requirement)
    found = [
        searched(tick_model(job, replace(requirement, form=AfterLast(event, condition, figure))))
        for figure in (Fraction(3, 2), Fraction(2), Fraction(5, 2))
    ]
    assert found == ["refuted", "proved", "proved"]


def _condition_and_event(requirement: Requirement) -> tuple[Condition, tuple[Event, ...]]:
    conditions, events = conditions_and_events_of(requirement.form)
    return conditions[0], events


# ---------------------------------------------------------------- gates


class Circuit:
    """A reader of AIGER's binary form, from its description, that plays what it reads."""

    def __init__(self, text: bytes) -> None:
        head, rest = text.split(b"\n", 1)
        word, *numbers = head.split()
        assert word == b"aig"
        self.most, self.inputs, self.latches, outputs, gates = map(int, numbers)
        assert (self.most, outputs) == (self.inputs + self.latches + gates, 1)
        *lines, rest = rest.split(b"\n", self.latches + 1)
        *self.next, self.output = map(int, lines)
        self.gates: list[tuple[int, int]] = []
        for n in range(gates):
            left = 2 * (self.inputs + self.latches + n + 1)
            pair = []
            for _ in range(2):
                delta = shift = 0
                while True:
                    byte, rest = rest[0], rest[1:]
                    delta |= (byte & 127) << shift
                    shift += 7
                    if byte < 128:
                        break
                left -= delta
                pair.append(left)
            # An AIGER file is well ordered: each gate comes after what it reads.
            assert pair[1] <= pair[0] < 2 * (self.inputs + self.latches + n + 1)
            self.gates.append((pair[0], pair[1]))
        assert rest == b""

    def step(self, held: list[bool], given: list[bool]) -> tuple[bool, list[bool]]:
        """The output, and what the latches become."""
        values = [False, *given, *held]

        def of(literal: int) -> bool:
            return values[literal >> 1] != bool(literal & 1)

        for a, b in self.gates:
            values.append(of(a) and of(b))
        return of(self.output), [of(literal) for literal in self.next]


def bits(value: int, count: int) -> list[bool]:
    return [bool(value >> i & 1) for i in range(count)]


@in_small
def test_the_gates_step_as_the_model_does(family: Family, size: int) -> None:
    model = tick_model(*claim(family.twin(size)))
    circuit = Circuit(aiger(model))
    widths = [(count - 1).bit_length() for count in model.domains]
    choices = circuit.inputs - sum(widths)
    rng = Random(1)

    def inputs(choice: int, values: tuple[int, ...]) -> list[bool]:
        return [
            *bits(choice, choices),
            *(b for v, w in zip(values, widths, strict=True) for b in bits(v, w)),
        ]

    def latches(state: State | None) -> list[bool]:
        if state is None:
            return [False] * circuit.latches
        counts = [bits(c, t.bit_length()) for c, t in zip(state[1], model.tops, strict=True)]
        values = [bits(v, w) for v, w in zip(state[0], widths, strict=True)]
        return [True, *(b for word in (*values, *counts) for b in word)]

    failures = taken = 0
    for _ in range(6):
        state: State | None = None
        for _ in range(120):
            choice = rng.randrange(1 << choices)
            # Most choices come to nothing: a tick, or a path that fits, is preferred.
            if state is not None and rng.random() < 0.8:
                fitting = [k for k, way in enumerate(model.paths) if fits(way.before, state)]
                choice = rng.choice([*fitting, *[len(model.paths)] * 4])
            first = tuple(rng.randrange(1 << w) for w in widths)
            wanted = state
            if state is None:
                valid = all(v < c for v, c in zip(first, model.domains, strict=True))
                zero = (0,) * len(model.tops)
                if valid and choice < len(model.starts):
                    way = model.starts[choice]
                    if fits(way.before, (first, zero)):
                        wanted = after(model, (first, zero), way)
            elif choice < len(model.paths):
                if fits(model.paths[choice].before, state):
                    wanted = after(model, state, model.paths[choice])
            elif choice == len(model.paths):
                wanted = ticked(model, state) or state
            fails, then = circuit.step(latches(state), inputs(choice, first))
            assert fails == (state is not None and any(fits(c, state) for c in model.bad))
            assert then == latches(wanted)
            failures += fails
            taken += wanted != state
            state = wanted
    assert taken > 100
    # The random walk comes to a failure where that takes few ticks.
    assert failures or family is not BRIEF


# ---------------------------------------------------------------- the peers themselves


def by_abc(job: Job, requirement: Requirement, folder: Path) -> str:
    return peers.by_abc(aiger(tick_model(job, requirement)), folder, LIMIT_S).verdict


def by_tchecker(job: Job, requirement: Requirement, folder: Path) -> str:
    return peers.by_tchecker(tchecker(tick_model(job, requirement)), folder, LIMIT_S).verdict


@pytest.fixture(autouse=True)
def _run_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(peers, "TIMES", 1)


@needs_abc
@pytest.mark.parametrize("seed", range(7000, 7012))
def test_abc_has_the_provers_verdict_on_a_random_job(seed: int, tmp_path: Path) -> None:
    _agrees(seed, tmp_path, by_abc)


@needs_tchecker
@pytest.mark.parametrize("seed", range(7000, 7040))
def test_tchecker_has_the_provers_verdict_on_a_random_job(seed: int, tmp_path: Path) -> None:
    _agrees(seed, tmp_path, by_tchecker)


def _agrees(seed: int, folder: Path, ask: Callable[[Job, Requirement, Path], str]) -> None:
    given = random_claim(seed)
    if given is None:
        pytest.skip("not a claim about single states")
    try:
        found = ask(*given, folder)
    except NotInZones as reason:
        pytest.skip(str(reason))
    wanted = by_prover(*given)
    if found == OVER or wanted in ("endless", "undecided"):
        pytest.skip(f"{found}, prover: {wanted}")
    assert found == wanted


def question(folder: Path, text: str) -> Question:
    (folder / "job.dusk").write_text(text, encoding="utf-8")
    return Question("brief", "1", folder, "promise")


@pytest.mark.parametrize(
    "name",
    [
        "Duskproof",
        "Spacer",
        pytest.param("Rumur", marks=needs_rumur),
        pytest.param("ABC", marks=needs_abc),
        pytest.param("TChecker", marks=needs_tchecker),
    ],
)
@pytest.mark.parametrize("which", ["job", "twin"])
def test_a_peer_is_asked_and_answers(name: str, which: str, tmp_path: Path) -> None:
    peer = next(one for one in peers.PEERS if one.name == name)
    assert peer.version()
    text = BRIEF.job(1) if which == "job" else BRIEF.twin(1)
    folder = tmp_path / "room"
    folder.mkdir()
    answer = peer.ask(question(tmp_path, text), folder, LIMIT_S)
    assert answer.verdict == ("proved" if which == "job" else "refuted")
    assert answer.seconds > 0
    assert (answer.build_s > 0) == (name == "Rumur")


def test_a_command_that_takes_too_long_is_ended_with_what_it_started(tmp_path: Path) -> None:
    mark = tmp_path / "still there"
    with pytest.raises(peers.Over):
        peers.output_of(["bash", "-c", f"(sleep 2; touch '{mark}') & wait"], tmp_path, 0.3)
    peers.output_of(["sleep", "2.2"], tmp_path, 10)
    assert not mark.exists()


def test_a_command_that_fails_is_no_answer(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="no such thing"):
        peers.output_of(["bash", "-c", "echo no such thing; exit 3"], tmp_path, 10)


def test_a_run_that_breaks_down_is_begun_again_but_not_for_ever(tmp_path: Path) -> None:
    # Seen once: a process of z3 that a signal ended, of five on one question.
    tries = []

    def breaks_down(times: int) -> tuple[str, float]:
        tries.append(times)
        if len(tries) <= times:
            peers.output_of(["bash", "-c", "kill -SEGV $$"], tmp_path, 10)
        return "proved", 1.0

    assert peers.several(lambda: breaks_down(1)).verdict == "proved"
    tries.clear()
    assert peers.several(lambda: breaks_down(9)).verdict == "ended by SIGSEGV"
    assert len(tries) == peers.TRIES


# ---------------------------------------------------------------- the page


def peer_that(name: str, *answers: Answer, version: str | None = "1.0") -> Peer:
    left = list(answers)
    return Peer(name, f"install {name}", lambda: version, lambda *_: left.pop(0))


HERE = Path()
TWO = [Question("brief", size, HERE, "promise") for size in ("1", "2")]


def test_verdicts_that_contradict_each_other_end_the_run() -> None:
    both = (
        peer_that("Duskproof", Answer("proved", 1.0), Answer("proved", 1.0)),
        peer_that("ABC", Answer("proved", 1.0), Answer("refuted", 1.0)),
    )
    with pytest.raises(Contradiction, match=r"brief 2: Duskproof: proved, ABC: refuted"):
        peers.ask_all(TWO, both, 60.0)


def test_a_peer_whose_time_was_over_is_not_asked_about_larger_sizes() -> None:
    both = (
        peer_that("Duskproof", Answer("proved", 1.0), Answer("proved", 1.0)),
        peer_that("ABC", Answer(OVER)),
    )
    found = peers.ask_all(TWO, both, 60.0)
    assert [answers[1].verdict for answers in found] == [OVER, "not tried"]


def test_the_page_tells_who_is_missing_who_is_quicker_and_who_was_over() -> None:
    ours = peer_that("Duskproof")
    abc = peer_that("ABC")
    gone = peer_that("TChecker", version=None)
    page = page_of(
        Page(
            (ours, abc, gone),
            {"Duskproof": "1.0", "ABC": "1.0", "TChecker": None},
            (ours, abc),
            tuple(TWO),
            (
                (Answer("proved", 0.1), Answer("proved", 0.025)),
                (Answer("proved", 0.2), Answer(OVER)),
            ),
            60.0,
            ("A remark.",),
        )
    )
    assert "**missing**: `install TChecker`" in page
    assert "| 1 | proved | 0.10 s | **25 ms (0.25)** |" in page
    assert "| 2 | proved | 0.20 s | over 60 s |" in page
    assert "**ABC**: answers 1 of 2, quicker at 1 (brief 1)." in page
    assert "A remark." in page


def test_the_questions_are_jobs_without_errors(tmp_path: Path) -> None:
    for one in peers.questions(tmp_path):
        job, requirement = one.read()
        assert requirement.name == one.requirement
        assert json.dumps(one.size)
        assert job.rules
