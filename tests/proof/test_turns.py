"""Whose turn it is: small tasks never wait behind hard ones, and what comes out stays the same."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmarks.families import FAMILY
from tests.benchmarks.reading import job_of, job_of_folder
from tests.proof.test_workers import task
from verifier.model.job import Job, Requirement
from verifier.proof import ProofOptions, prove_job, turns
from verifier.proof.turns import NEVER, Turns
from verifier.proof.verdict import Verdict
from verifier.proof.weight import Weights
from verifier.proof.workers import Done, Finished, Pool

BOATHOUSE = Path(__file__).parents[2] / "specs" / "boathouse"


def taken(of: Turns, count: int) -> list[int | None]:
    return [of.take() for _ in range(count)]


def test_one_worker_goes_from_the_front_to_the_end() -> None:
    assert taken(Turns([3, 1, 2], [0]), 5) == [3, 1, 2, 0, None]


def test_half_of_several_workers_begin_at_the_other_end() -> None:
    assert taken(Turns(range(8), workers=4), 4) == [7, 6, 0, 1]


def test_what_comes_last_is_no_end_to_begin_at() -> None:
    assert taken(Turns([0, 1], [2, 3], workers=2), 4) == [1, 0, 2, 3]


def test_a_hard_one_gives_way_to_what_waits_and_comes_again_after_it() -> None:
    of = Turns([0, 1, 2], limit_s=60.0)
    assert of.take() == 0
    assert of.gives_way(0)
    assert of.take() == 1
    of.ended(1)
    assert taken(of, 2) == [2, 0]


def test_nothing_is_stopped_where_nobody_waits() -> None:
    of = Turns([0], [1], limit_s=60.0)
    assert of.take() == 0
    first = of.round_s(0)
    assert not of.gives_way(0), "what comes last is nobody"
    assert of.round_s(0) > first
    assert of.take() == 1
    assert of.round_s(1) == NEVER


def test_one_of_two_workers_goes_on_with_what_is_hard_whoever_waits() -> None:
    of = Turns(range(5), workers=2, limit_s=1000.0)
    assert taken(of, 2) == [4, 0]
    assert not of.gives_way(4)
    assert of.gives_way(0)
    assert of.take() == 1
    of.ended(4)
    assert of.take() == 0, "what is known to be hard has its share at once"
    assert of.gives_way(1)


def test_a_round_later_it_gives_way_to_those_that_had_no_more() -> None:
    of = Turns([0, 1], limit_s=1000.0)
    assert of.take() == 0
    assert of.gives_way(0)
    assert of.take() == 1
    assert not of.gives_way(1), "0 had as much"
    assert of.gives_way(1), "0 had less"
    assert of.take() == 0
    assert not of.gives_way(0), "1 had more"


def test_what_is_near_its_limit_is_not_stopped() -> None:
    of = Turns([0, 1], limit_s=2 * turns.FIRST_S - 0.1)
    assert of.take() == 0
    assert of.round_s(0) == NEVER


def test_where_all_are_alike_the_first_round_grows_until_they_fit() -> None:
    of = Turns(range(100), limit_s=60.0)
    lost = 0.0
    while (number := of.take()) is not None:
        round_s = of.round_s(number)
        if round_s >= 5.0 or not of.gives_way(number):
            of.ended(number)
        else:
            lost += round_s
    assert lost < 15.0


def test_only_what_stands_before_a_number_is_left() -> None:
    of = Turns([5, 1, 3], [0, 7], limit_s=60.0)
    assert of.take() == 5
    assert of.gives_way(5)
    of.only_before(4)
    assert taken(of, 4) == [1, 3, 0, None]


@pytest.mark.parametrize("seed", range(40))
def test_each_task_ends_once_and_no_small_one_waits_behind_hard_ones(seed: int) -> None:
    """A day of a pool, told in seconds: each is answered, none twice, whatever they take."""
    chance = random.Random(seed)
    workers, count = chance.randint(1, 5), chance.randint(1, 30)
    needs = [chance.choice((0.1, 0.5, 3.0, 20.0, 70.0)) for _ in range(count)]
    of = Turns(range(count), workers=workers, limit_s=100.0)
    now, running, answered = 0.0, dict[int, float](), dict[int, float]()
    while True:
        while len(running) < workers:
            number = of.take()
            if number is None:
                break
            assert number not in running
            assert number not in answered
            running[number] = now
        if not running:
            break
        until = {n: since + min(needs[n], of.round_s(n)) for n, since in running.items()}
        number = min(until, key=until.__getitem__)
        now = max(now, until[number])
        if needs[number] <= of.round_s(number):
            of.ended(number)
            answered[number] = now
            del running[number]
        elif of.gives_way(number):
            del running[number]
    assert len(answered) == count
    small = [answered[n] for n in range(count) if needs[n] <= turns.FIRST_S]
    hard = [need for need in needs if need > turns.FIRST_S]
    # Each hard one holds the small ones up for one first round, which grows with each of them.
    held_up = sum(turns.FIRST_S * turns.LONGER**k for k in range(len(hard)))
    assert max(small, default=0.0) <= held_up + len(small) * turns.FIRST_S


def test_a_pool_stops_the_hard_one_for_those_that_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "FIRST_S", 0.05)
    tasks = [task(9, "wait_for", 0.6), *(task(n, "square", n) for n in range(3))]
    with Pool(1) as pool:
        found = list(pool.run(tasks, Turns(range(4), limit_s=60.0)))
    assert found == [*(Done(n, Finished(n * n)) for n in range(3)), Done(9, Finished("waited"))]


# ---------------------------------------------------------------- verdicts


def verdicts(job: Job, workers: int) -> list[tuple[str, Verdict]]:
    found = prove_job(job, job.requirements, ProofOptions(workers=workers), lambda *_: None)
    return [(requirement.name, verdict) for requirement, verdict, _ in found.verdicts]


def test_verdicts_are_the_same_and_in_declared_order_however_often_tasks_are_stopped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = job_of_folder(BOATHOUSE)
    usual = verdicts(job, 1)
    assert [name for name, _ in usual] == [requirement.name for requirement in job.requirements]
    monkeypatch.setattr(turns, "FIRST_S", 0.02)
    stopped: list[int] = []
    gives_way = Turns.gives_way

    def counted(self: Turns, number: int) -> bool:
        found = gives_way(self, number)
        if found:
            stopped.append(number)
        return found

    monkeypatch.setattr(Turns, "gives_way", counted)
    for workers in (1, 2):
        stopped.clear()
        assert verdicts(job, workers) == usual
        assert stopped


# ---------------------------------------------------------------- weights


def weight(family: str, size: int) -> int:
    return weight_of(job_of(FAMILY[family].job(size)))


def weight_of(job: Job, requirement: Requirement | None = None) -> int:
    names = [*(point.name for point in job.points), *job.rule]
    return Weights(job).of((requirement or job.requirements[0]).form, names)


@pytest.mark.parametrize("family", sorted(FAMILY))
def test_a_larger_job_of_a_family_weighs_more(family: str) -> None:
    sizes = FAMILY[family].sizes
    weights = [weight(family, size) for size in sizes]
    assert weights == sorted(set(weights))


def test_what_is_known_to_be_hard_weighs_more_than_a_small_room() -> None:
    assert weight("starts", 16) > weight("corridor", 32) > weight("corridor", 2)


def test_names_of_other_parts_weigh_nothing() -> None:
    job = job_of(FAMILY["corridor"].job(4))
    alone = replace(job, requirements=())
    assert Weights(job).of(job.requirements[0].form, []) == 0
    assert weight_of(alone, job.requirements[0]) == weight_of(job)
