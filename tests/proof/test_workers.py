"""Workers that overrun, die, fail and are interrupted; the others go on unharmed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from tests.proof.test_solvers import pigeons
from tests.proof.worker_tasks import Unwilling
from verifier.proof import workers
from verifier.proof.solvers import Answer
from verifier.proof.workers import Died, Done, Ending, Failed, Finished, Killed, Pool, Task

LINUX = sys.platform.startswith("linux")
ROOT = Path(__file__).parents[2]
LONG = 60.0
"""A limit in seconds that no call here reaches, however busy the machine."""


def task(number: int, name: str, *arguments: Any, limit_s: float = LONG) -> Task:
    return Task(number, f"tests.proof.worker_tasks:{name}", arguments, limit_s)


def squares(numbers: Iterable[int]) -> list[Task]:
    return [task(number, "square", number) for number in numbers]


def are_squares(endings: dict[int, Ending]) -> bool:
    return all(ending == Finished(number * number) for number, ending in endings.items())


def collected(found: Iterable[Done]) -> dict[int, Ending]:
    endings: dict[int, Ending] = {}
    for done in found:
        assert done.id not in endings, "an ending came twice"
        endings[done.id] = done.outcome
    return endings


def process_ids(pool: Pool) -> list[int]:
    """The processes of a pool that has run: each of as many calls as workers tells its own."""
    found = collected(pool.run([task(n, "process_id") for n in range(20)]))
    return sorted({ending.value for ending in found.values() if isinstance(ending, Finished)})


def alive(process: int) -> bool:
    """Whether a process exists; a zombie that nobody reaped does."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def gone_or_zombie(process: int) -> bool:
    """Whether a process ended, be it that whoever inherited it does not reap."""
    try:
        state = Path(f"/proc/{process}/stat").read_text(encoding="utf-8")
    except (FileNotFoundError, ProcessLookupError):
        return True
    return state.rpartition(")")[2].split()[0] == "Z"


def soon(condition: Callable[[], bool], seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.01)
    return False


@pytest.mark.parametrize("count", [1, 2])
def test_many_small_tasks_come_back_once_each(count: int) -> None:
    with Pool(count) as pool:
        found = collected(pool.run(squares(range(500))))
    assert len(found) == 500
    assert are_squares(found)


def test_endings_come_as_they_come() -> None:
    with Pool(2) as pool:
        order = [done.id for done in pool.run([task(9, "wait_for", 1.0), *squares(range(5))])]
    assert order == [0, 1, 2, 3, 4, 9]


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("name", ["stay_busy", "ignore_ends_and_stay_busy"])
def test_an_overrun_is_killed_and_the_others_are_unharmed(count: int, name: str) -> None:
    with Pool(count) as pool:
        began = time.monotonic()
        found = collected(pool.run([task(99, name, limit_s=0.4), *squares(range(20))]))
        assert time.monotonic() - began < 20
    assert isinstance(found.pop(99), Killed)
    assert len(found) == 20
    assert are_squares(found)


def test_an_overrun_is_an_overrun_although_nobody_looked_at_the_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if not hasattr(signal, "setitimer"):
        pytest.skip("needs an alarm")
    monkeypatch.setattr(workers, "SPARE_S", 0.1)  # forked workers see it
    with Pool(2) as pool:
        endings = {}
        for done in pool.run([*squares([1]), task(99, "stay_busy", limit_s=0.2)]):
            endings[done.id] = done.outcome
            time.sleep(1.0)  # whoever reads is busy elsewhere
    assert isinstance(endings[99], Killed)


@pytest.mark.parametrize("check", ["check_with_z3", "check_with_cvc5"])
def test_a_solver_that_would_go_on_is_killed(check: str) -> None:
    hard = Task(1, f"verifier.proof.solvers:{check}", (pigeons(13), 1000.0), 0.5)
    easy = Task(2, f"verifier.proof.solvers:{check}", (pigeons(3), 30.0), LONG)
    with Pool(1) as pool:
        found = collected(pool.run([hard, easy]))
    assert isinstance(found[1], Killed)
    assert found[2] == Finished(Answer.UNSAT)


@pytest.mark.parametrize("check", ["check_with_z3", "check_with_cvc5"])
def test_a_solver_that_is_killed_from_outside_harms_no_other(check: str) -> None:
    hard = Task(1, f"verifier.proof.solvers:{check}", (pigeons(13), 1000.0), LONG)
    easy = [
        Task(n, f"verifier.proof.solvers:{check}", (pigeons(3), 30.0), LONG) for n in range(2, 6)
    ]
    with Pool(2) as pool:
        processes = process_ids(pool)
        endings: dict[int, Ending] = {}
        for done in pool.run([hard, *easy]):
            endings[done.id] = done.outcome
            if len(endings) == len(easy):  # what still runs is the hard one
                busy = [w.process.pid for w in pool._workers if w.task is not None]
                assert len(busy) == 1
                os.kill(busy[0], signal.SIGKILL)
        assert collected(pool.run(squares([3]))) == {3: Finished(9)}
    assert len(processes) <= 2
    died = endings.pop(1)
    assert isinstance(died, Died)
    assert "SIGKILL" in died.reason
    assert set(endings.values()) == {Finished(Answer.UNSAT)}


def test_a_worker_that_is_killed_from_outside_is_told_and_replaced(tmp_path: Path) -> None:
    mark = tmp_path / "process"
    with Pool(2) as pool:
        endings = {}
        victim = 0
        for done in pool.run([task(99, "tell_and_wait", str(mark), LONG), *squares(range(5))]):
            endings[done.id] = done.outcome
            if not victim:
                assert soon(lambda: mark.exists() and mark.read_text(encoding="ascii") != "")
                victim = int(mark.read_text(encoding="ascii"))
                os.kill(victim, signal.SIGKILL)
        assert not alive(victim)
    died = endings.pop(99)
    assert isinstance(died, Died)
    assert "SIGKILL" in died.reason
    assert len(endings) == 5
    assert are_squares(endings)


def test_a_worker_that_dies_while_idle_costs_no_task() -> None:
    with Pool(2) as pool:
        processes = process_ids(pool)
        for process in processes:
            os.kill(process, signal.SIGKILL)
        time.sleep(0.2)
        found = collected(pool.run(squares(range(10))))
        assert not any(alive(process) for process in processes)
    assert len(found) == 10
    assert are_squares(found)


@pytest.mark.parametrize(
    ("name", "arguments", "words"),
    [("leave", (3,), "exit code 3"), ("signal_myself", (), "SIGTERM")],
)
def test_a_call_that_ends_its_worker_is_told_how(
    name: str, arguments: tuple[Any, ...], words: str
) -> None:
    with Pool(1) as pool:
        found = collected(pool.run([task(99, name, *arguments), *squares([7])]))
    died = found[99]
    assert isinstance(died, Died)
    assert words in died.reason
    assert found[7] == Finished(49)


@pytest.mark.skipif(not LINUX, reason="the address space is limited on Linux")
def test_memory_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "MEMORY_LIMIT", 200 << 20)
    with Pool(1) as pool:
        several = [task(50, "take_memory", 50), task(400, "take_memory", 400), *squares([3])]
        found = collected(pool.run(several))
    assert found[50] == Finished(50 << 20)
    assert found[400] == Died("it needed more memory than a worker may have")
    assert found[3] == Finished(9)


def test_exceptions_come_back_with_their_traceback_and_the_worker_goes_on() -> None:
    with Pool(1) as pool:
        before = process_ids(pool)
        found = collected(
            pool.run(
                [
                    task(1, "fail", "the shutter is stuck"),
                    task(2, "leave_politely"),
                    task(3, "not_picklable"),
                    task(4, "not_there"),
                    *squares([7]),
                ]
            )
        )
        assert process_ids(pool) == before
    for number, words in enumerate(
        ("ValueError: the shutter is stuck", "SystemExit", "ickl", "not_there"), start=1
    ):
        failed = found[number]
        assert isinstance(failed, Failed), number
        assert words in failed.text
    first = found[1]
    assert isinstance(first, Failed)
    assert first.kind == "ValueError"
    assert "in fail" in first.text
    assert found[7] == Finished(49)


def test_what_cannot_be_sent_or_fails_on_arrival_has_failed_and_the_worker_goes_on() -> None:
    with Pool(1) as pool:
        before = process_ids(pool)
        several = [
            task(1, "square", lambda: None),
            task(2, "square", Unwilling()),
            task(3, "unwilling"),
            *squares([7]),
        ]
        found = collected(pool.run(several))
        assert process_ids(pool) == before
    assert found[7] == Finished(49)
    for number, words in ((1, "ickl"), (2, "not this way"), (3, "not this way")):
        failed = found[number]
        assert isinstance(failed, Failed), number
        assert words in failed.text


@pytest.mark.parametrize("solver", ["z3", "cvc5"])
def test_a_solver_without_memory_has_died_and_not_failed(solver: str) -> None:
    with Pool(1) as pool:
        found = collected(pool.run([task(1, "run_out", solver), *squares([3])]))
    assert found == {1: Died("it needed more memory than a worker may have"), 3: Finished(9)}


def test_an_answer_that_comes_while_the_caller_is_busy_is_no_overrun() -> None:
    with Pool(2) as pool:
        running = pool.run([*squares([3]), task(1, "wait_for", 0.1, limit_s=0.5)])
        assert next(running) == Done(3, Finished(9))
        time.sleep(0.8)
        assert list(running) == [Done(1, Finished("waited"))]


def test_large_arguments_and_results_pass() -> None:
    size = 5_000_000
    with Pool(2) as pool:
        found = collected(
            pool.run([task(1, "large", size), Task(2, "builtins:len", (bytes(size),), LONG)])
        )
    assert found == {1: Finished(bytes(size)), 2: Finished(size)}


def test_closing_and_leaving_off_end_what_still_runs() -> None:
    with Pool(2) as pool:
        for done in pool.run([task(99, "stay_busy"), *squares([1])]):
            assert done == Done(1, Finished(1))
            break
        processes = [worker.process.pid for worker in pool._workers]
        assert processes
        began = time.monotonic()
    assert time.monotonic() - began < 5
    assert not any(alive(process) for process in processes)


def test_a_new_run_ends_what_is_left_of_the_one_before() -> None:
    with Pool(2) as pool:
        before = pool.run([*squares([1]), task(99, "stay_busy"), task(98, "stay_busy")])
        assert next(before).id == 1
        # Their workers would else be taken for idle ones, and what they come to for these.
        assert are_squares(collected(pool.run(squares(range(10, 20)))))
        assert list(before) == []


def readiness(pool: Pool) -> set[tuple[int, tuple[str, ...]]]:
    """Each worker's process and how it was made ready; two calls keep two of them busy."""
    found = collected(pool.run([task(n, "how_ready", 0.3) for n in range(2)]))
    return {ending.value for ending in found.values() if isinstance(ending, Finished)}


READY = "tests.proof.worker_tasks:ready"


def test_workers_are_started_and_made_ready_ahead_of_their_work() -> None:
    with Pool(2) as pool:
        pool.prepare(1, f"{READY}_at_once", f"{READY}_later")
        begun = [worker.process.pid for worker in pool._workers]
        assert len(begun) == 1
        found = readiness(pool)
        assert {how for _, how in found} == {("at once",), ("later",)}
        assert (begun[0], ("at once",)) in found
        assert readiness(pool) == found  # once in a worker's life


def test_no_more_workers_are_started_ahead_than_there_may_be() -> None:
    with Pool(2) as pool:
        pool.prepare(5, f"{READY}_at_once")
        begun = [worker.process.pid for worker in pool._workers]
        assert len(begun) == 2
        assert {how for _, how in readiness(pool)} == {("at once",)}
    assert not any(alive(process) for process in begun if process is not None)


def test_a_worker_that_could_not_be_made_ready_works_all_the_same() -> None:
    with Pool(1) as pool:
        pool.prepare(1, f"{READY}_but_fails")
        assert {how for _, how in readiness(pool)} == {("failed",)}
        pool.prepare(1, "tests.proof.no_such_module:anything")
        assert are_squares(collected(pool.run(squares(range(3)))))


def test_a_worker_that_takes_another_s_place_is_made_ready_too() -> None:
    with Pool(1) as pool:
        pool.prepare(1, f"{READY}_at_once", f"{READY}_later")
        assert isinstance(collected(pool.run([task(1, "stay_busy", limit_s=0.3)]))[1], Killed)
        assert {how for _, how in readiness(pool)} == {("later",)}


PROGRAM = """
import multiprocessing, sys
from verifier.proof.workers import Pool, Task

def call(number, name, *arguments, limit_s=60.0):
    return Task(number, "tests.proof.worker_tasks:" + name, arguments, limit_s)

def main():
    with Pool(2) as pool:
        if sys.argv[1] != "usual":
            pool._context = multiprocessing.get_context(sys.argv[1])
        found = pool.run([call(n, "square", n) for n in range(4)])
        print(sorted(done.outcome.value for done in found), flush=True)
        if sys.argv[2:]:
            limit_s = float(sys.argv[2])
            calls = [call(n, "stay_busy", limit_s=limit_s) for n in (1, 2)]
            first = [call(n, "wait_for", 0.2) for n in (1, 2)]
            list(pool.run(first))
            print(*(worker.process.pid for worker in pool._workers), flush=True)
            list(pool.run(calls))

if __name__ == "__main__":
    main()
"""

CONSOLE_SCRIPT = """
import sys
from program_with_a_pool import main
if __name__ == "__main__":
    sys.exit(main())
"""


@pytest.fixture
def program(tmp_path: Path) -> Path:
    path = tmp_path / "program_with_a_pool.py"
    path.write_text(PROGRAM, encoding="utf-8")
    (tmp_path / "console_script").write_text(CONSOLE_SCRIPT, encoding="utf-8")
    return path


def environment(program: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(program.parent)))}


@pytest.mark.parametrize("method", ["usual", "spawn"])
@pytest.mark.parametrize("way", [["-m", "program_with_a_pool"], ["console_script"]])
def test_pools_work_however_the_program_was_started(
    program: Path, way: list[str], method: str
) -> None:
    ran = subprocess.run(
        [sys.executable, *way, method],
        cwd=program.parent,
        env=environment(program),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (ran.stdout, ran.stderr, ran.returncode) == ("[0, 1, 4, 9]\n", "", 0)


def started(program: Path, *arguments: str) -> tuple[subprocess.Popen[str], list[int]]:
    """The program in a group of its own, both workers busy; and the processes of these."""
    running = subprocess.Popen(
        [sys.executable, str(program), *arguments],
        env=environment(program),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        # A runner in the background may leave Ctrl-C ignored, and children would inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert running.stdout is not None
    assert running.stdout.readline() == "[0, 1, 4, 9]\n"
    processes = [int(word) for word in running.stdout.readline().split()]
    assert len(processes) == 2
    time.sleep(0.3)
    return running, processes


@pytest.mark.skipif(os.name != "posix", reason="needs process groups")
@pytest.mark.parametrize("method", ["usual", "spawn"])
@pytest.mark.parametrize("to", ["the whole group", "the parent"])
def test_an_interrupt_ends_all_workers_and_is_raised_again(
    program: Path, method: str, to: str
) -> None:
    """Ctrl-C at a terminal reaches the whole group; a supervisor's signal the parent only."""
    running, processes = started(program, method, "60")
    began = time.monotonic()
    (os.killpg if to == "the whole group" else os.kill)(running.pid, signal.SIGINT)
    _, errors = running.communicate(timeout=30)
    assert time.monotonic() - began < 5
    assert running.returncode == -signal.SIGINT
    assert errors.rstrip().endswith("KeyboardInterrupt")
    assert errors.count("Traceback") == 1
    assert not any(alive(process) for process in processes)


@pytest.mark.skipif(not LINUX, reason="reads /proc")
def test_busy_workers_end_although_their_parent_was_killed(program: Path) -> None:
    running, processes = started(program, "usual", "1")
    with running:
        assert not any(gone_or_zombie(process) for process in processes)
        running.kill()
        assert soon(lambda: all(gone_or_zombie(process) for process in processes), 15.0)


@pytest.mark.skipif(not LINUX, reason="reads /proc")
def test_idle_workers_end_with_a_parent_that_was_killed(program: Path) -> None:
    idle = program.parent / "idle.py"
    text = PROGRAM.replace("list(pool.run(calls))", "import time; time.sleep(60)")
    assert text != PROGRAM
    idle.write_text(text, encoding="utf-8")
    running, processes = started(idle, "usual", "60")
    with running:
        assert not any(gone_or_zombie(process) for process in processes)
        running.kill()
        assert soon(lambda: all(gone_or_zombie(process) for process in processes), 15.0)
