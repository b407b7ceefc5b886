"""Examples with published verdicts (``tests/known``), by the prover and by the exhaustive search.

What the language cannot say, as its bounds are closed, is asked of the zones under it: the
published automata with their strict bounds.
"""

from __future__ import annotations

import functools
import json
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.meaning.test_meaning import found_in_words, in_words
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job
from verifier.proof import zones
from verifier.proof.decide import decide
from verifier.proof.question import Budget
from verifier.proof.zones import Zone, at_most, less_than
from verifier.simulate.explicit import search
from verifier.source import SourceFile, Sources

KNOWN = Path(__file__).parents[1] / "known"

COARSE = (
    ("4 s 999 ms", "4 s"),
    ("5 s 1 ms", "6 s"),
    ("10 s 1 ms", "11 s"),
    ("499 ms", "250 ms"),
    ("999 ms", "500 ms"),
)
"""For the exhaustive search the other side of a boundary lies farther away: its ticks are fewer."""

CAP = 120_000


@functools.cache
def job_of(name: str, coarse: bool = False) -> Job:
    text = (KNOWN / name / "job.dusk").read_text(encoding="utf-8")
    for fine, wide in COARSE if coarse else ():
        text = text.replace(fine, wide)
    job, found = check(Sources((SourceFile("job.dusk", text),)), name)
    assert job is not None, found
    return job


def expected(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((KNOWN / name / "expect.json").read_text(encoding="utf-8"))
    return found


def names() -> list[str]:
    return sorted(path.name for path in KNOWN.iterdir() if path.is_dir())


CLAIMS = [(name, claim) for name in names() for claim in expected(name)]


@pytest.mark.parametrize(("name", "claim"), CLAIMS)
def test_the_prover_gives_the_published_verdict(name: str, claim: str) -> None:
    job = job_of(name)
    verdict = decide(job, job.requirement[claim], Budget(limit_s=60))
    assert in_words(verdict) == expected(name)[claim]


@pytest.mark.parametrize(("name", "claim"), CLAIMS)
def test_the_exhaustive_search_gives_the_published_verdict(name: str, claim: str) -> None:
    job = job_of(name, coarse=True)
    requirement = job.requirement[claim]
    part = slice_job(job, requirement)
    found = search(part, requirement, CAP)
    assert found_in_words(part, requirement, found) == expected(name)[claim]


def test_every_job_expects_something_of_each_of_its_requirements() -> None:
    for name in names():
        assert set(expected(name)) == set(job_of(name).requirement)


def test_the_first_lines_of_every_job_name_the_source() -> None:
    for name in names():
        text = (KNOWN / name / "job.dusk").read_text(encoding="utf-8")
        assert "ource" in text[:400] or "Lamport" in text[:400], name


# ---------------------------------------------------------------- with strict bounds

Place = tuple[str | int, ...]
Guard = tuple[int, int, int]
Move = tuple[tuple[Guard, ...], tuple[int, ...], Place]
"""Guards, clocks set to zero, the place after."""


def from_(clock: int, least: int, *, strictly: bool = False) -> Guard:
    """x >= least, or x > least."""
    return (0, clock, less_than(-least) if strictly else at_most(-least))


def to(clock: int, most: int, *, strictly: bool = False) -> Guard:
    """x <= most, or x < most."""
    return (clock, 0, less_than(most) if strictly else at_most(most))


def reached(
    start: Place,
    clocks: int,
    stays: Callable[[Place], tuple[Guard, ...]],
    moves: Callable[[Place], list[Move]],
    greatest: int,
) -> set[Place]:
    """Every place of a timed automaton that can be reached: zones forwards, breadth first."""
    size = clocks + 1
    most = [-1, *([greatest] * clocks)]

    def settled(place: Place, zone: Zone) -> Zone | None:
        inside = zones.constrained_all(zone, size, stays(place))
        if inside is None:
            return None
        later = zones.constrained_all(zones.delayed(inside, size), size, stays(place))
        return None if later is None else zones.extrapolated(later, size, most)

    first = settled(start, zones.origin(size))
    assert first is not None
    found: dict[Place, list[Zone]] = {start: [first]}
    todo = deque([(start, first)])
    while todo:
        place, zone = todo.popleft()
        for guards, resets, after in moves(place):
            moved = zones.constrained_all(zone, size, guards)
            if moved is None:
                continue
            for clock in resets:
                moved = zones.reset(moved, size, clock)
            new = settled(after, moved)
            known = found.setdefault(after, [])
            if new is not None and not any(zones.includes(old, new) for old in known):
                known.append(new)
                todo.append((after, new))
    return {place for place, here in found.items() if here}


def fischer(*, write_strictly: bool, wait_strictly: bool) -> set[Place]:
    """Two processes: write within 10 of the reading, go in from 10 after the writing."""

    def stays(place: Place) -> tuple[Guard, ...]:
        return tuple(to(k, 10, strictly=write_strictly) for k in (1, 2) if place[k - 1] == "asks")

    def moves(place: Place) -> list[Move]:
        found: list[Move] = []

        def with_(k: int, where: str, turn: str | int) -> Place:
            return (*(where if n == k - 1 else p for n, p in enumerate(place[:2])), turn)

        for k in (1, 2):
            here, turn = place[k - 1], place[2]
            if here == "rests" and turn == 0:
                found.append(((), (k,), with_(k, "asks", turn)))
            if here == "asks":
                found.append(((to(k, 10, strictly=write_strictly),), (k,), with_(k, "waits", k)))
            if here == "waits":
                late = (from_(k, 10, strictly=wait_strictly),)
                found.append((late, (), with_(k, "in" if turn == k else "rests", turn)))
            if here == "in":
                found.append(((), (), with_(k, "rests", 0)))
        return found

    return reached(("rests", "rests", 0), 2, stays, moves, 10)


@pytest.mark.parametrize(
    ("write_strictly", "wait_strictly", "two_inside"),
    [(False, True, False), (False, False, True), (True, False, False), (True, True, False)],
)
def test_mutual_exclusion_by_delay_needs_one_strict_bound(
    write_strictly: bool, wait_strictly: bool, two_inside: bool
) -> None:
    """Source: any text on timed automata (Fischer's protocol)."""
    places = fischer(write_strictly=write_strictly, wait_strictly=wait_strictly)
    assert any(place[:2] == ("in", "in") for place in places) == two_inside
    assert any("in" in place[:2] for place in places)


def crossing(*, strictly: bool) -> set[Place]:
    """Train, gate and controller; clocks 1, 2, 3 are x, y, z. Places: where each of them is."""

    def stays(place: Place) -> tuple[Guard, ...]:
        train, gate, controller = place
        found = [to(1, 5)] if train != "far" else []
        if gate in ("falls", "rises"):
            found.append(to(2, 1 if gate == "falls" else 2, strictly=strictly and gate == "falls"))
        if controller != "rests":
            found.append(to(3, 1))
        return tuple(found)

    def moves(place: Place) -> list[Move]:
        train, gate, controller = place
        found: list[Move] = []
        if train == "far" and controller == "rests":
            found.append(((), (1, 3), ("near", gate, "lowers")))
        if train == "near":
            found.append(((from_(1, 2, strictly=strictly),), (), ("in", gate, controller)))
        if train == "in":
            found.append(((), (), ("gone", gate, controller)))
        if train == "gone" and controller == "rests":
            found.append(((to(1, 5),), (3,), ("far", gate, "raises")))
        if controller == "lowers" and gate in ("up", "rises"):
            found.append(((from_(3, 1), to(3, 1)), (2,), (train, "falls", "rests")))
        if controller == "raises" and gate in ("down", "falls"):
            found.append(((to(3, 1),), (2,), (train, "rises", "rests")))
        if gate == "falls":
            found.append(((to(2, 1, strictly=strictly),), (), (train, "down", controller)))
        if gate == "rises":
            found.append(((from_(2, 1), to(2, 2)), (), (train, "up", controller)))
        return found

    return reached(("far", "up", "rests"), 3, stays, moves, 5)


@pytest.mark.parametrize("strictly", [True, False])
def test_the_train_meets_a_raised_gate_only_if_the_bounds_are_closed(strictly: bool) -> None:
    """Source: R. Alur, "Timed Automata" (2000), the example of train, gate and controller."""
    places = crossing(strictly=strictly)
    inside = {gate for train, gate, _ in places if train == "in"}
    assert "down" in inside
    assert (inside == {"down"}) == strictly


@pytest.mark.parametrize(("early_strictly", "at_five"), [(True, False), (False, True)])
def test_the_lamp_is_made_bright_at_five_sharp_only_by_a_closed_bound(
    early_strictly: bool, at_five: bool
) -> None:
    """Source: G. Behrmann, A. David, K. G. Larsen, "A Tutorial on Uppaal 4.0"."""

    def moves(place: Place) -> list[Move]:
        if place == ("off",):
            return [((), (1,), ("low",))]
        if place == ("low",):
            early = to(1, 5, strictly=early_strictly)
            return [
                ((early,), (), ("bright",)),
                ((early, from_(1, 5)), (), ("bright at five",)),
                ((early, from_(1, 5, strictly=True)), (), ("bright later",)),
                ((from_(1, 5),), (), ("off",)),
            ]
        return [((), (), ("off",))]

    places = reached(("off",), 1, lambda place: (), moves, 5)
    assert ("bright",) in places
    assert (("bright at five",) in places) == at_five
    assert ("bright later",) not in places
