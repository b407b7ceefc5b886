"""Obligations in worker processes, with hard limits of time and memory.

A worker that overruns is killed and replaced; one that dies by itself is reported; the others
go on. Workers leave Ctrl-C to the parent, which ends them all.
"""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import signal
import sys
import time
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import connection
from types import TracebackType
from typing import Any

MEMORY_LIMIT = 4 << 30
"""Bytes of address space that a worker may add to what it was given at its start."""


@dataclass(frozen=True, slots=True)
class Task:
    """A call of ``module:function`` with arguments that can be pickled, and its limit in seconds."""

    id: int
    function: str
    arguments: tuple[Any, ...]
    limit_s: float


@dataclass(frozen=True, slots=True)
class Finished:
    """The call came back with a value."""

    value: Any


@dataclass(frozen=True, slots=True)
class Killed:
    """The call overran its limit, so its worker was killed."""

    reason: str


@dataclass(frozen=True, slots=True)
class Died:
    """The worker died during the call."""

    reason: str


@dataclass(frozen=True, slots=True)
class Failed:
    """The call raised an exception: its traceback as text, and the name of its type."""

    text: str
    kind: str


Ending = Finished | Killed | Died | Failed


@dataclass(frozen=True, slots=True)
class Done:
    """How a task ended."""

    id: int
    outcome: Ending


class Pool:
    """Worker processes; a context manager that leaves none behind."""

    def __init__(self, workers: int) -> None:
        method = "fork" if sys.platform.startswith("linux") else "spawn"
        self._context: Any = multiprocessing.get_context(method)
        self._count = max(1, workers)
        self._workers: list[_Worker] = []

    def __enter__(self) -> Pool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Ends all workers."""
        for worker in self._workers:
            worker.end()
        self._workers.clear()

    def run(self, tasks: Sequence[Task]) -> Iterator[Done]:
        """Runs all tasks; yields each as it ends, in whatever order that is."""
        waiting = list(reversed(tasks))
        busy: list[_Worker] = []
        try:
            while waiting or busy:
                while waiting and len(busy) < self._count:
                    worker = self._idle(busy)
                    worker.begin(waiting.pop())
                    busy.append(worker)
                soonest = min(worker.until for worker in busy)
                left = max(0.0, soonest - time.monotonic())
                ready = connection.wait([w.pipe for w in busy], left)
                for worker in list(busy):
                    done = worker.look(worker.pipe in ready)
                    if done is not None:
                        busy.remove(worker)
                        if not worker.alive:
                            self._workers.remove(worker)
                        yield done
        finally:
            for worker in busy:
                worker.end()
                with contextlib.suppress(ValueError):
                    self._workers.remove(worker)

    def _idle(self, busy: list[_Worker]) -> _Worker:
        for worker in self._workers:
            if worker not in busy and worker.alive:
                return worker
        worker = _Worker(self._context)
        self._workers.append(worker)
        return worker


class _Worker:
    """One process and the pipe to it."""

    def __init__(self, context: Any) -> None:
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=_serve, args=(theirs, MEMORY_LIMIT), daemon=True)
        self.process.start()
        theirs.close()
        self.task: Task | None = None
        self.until = float("inf")
        self.alive = True

    def begin(self, task: Task) -> None:
        """Sends a task."""
        self.task = task
        self.until = time.monotonic() + task.limit_s
        with contextlib.suppress(BrokenPipeError):  # a dead worker is seen by `look`
            self.pipe.send((task.function, task.arguments))

    def look(self, ready: bool) -> Done | None:
        """How the task ended, if it has."""
        task = self.task
        assert task is not None
        if ready:
            try:
                ending: Ending = self.pipe.recv()
            except (EOFError, OSError):
                self.end()
                ending = Died(f"its process died ({_why(self.process.exitcode)})")
        elif time.monotonic() >= self.until:
            self.end()
            ending = Killed(f"it was stopped at its limit of {task.limit_s:.0f} s")
        else:
            return None
        self.task = None
        self.until = float("inf")
        return Done(task.id, ending)

    def end(self) -> None:
        """Kills the process and waits for it."""
        self.alive = False
        if self.process.is_alive():
            self.process.kill()
        self.process.join()
        self.pipe.close()


def _why(code: int | None) -> str:
    if code is not None and code < 0:
        return f"signal {signal.Signals(-code).name}"
    return f"exit code {code}"


def _serve(pipe: Any, memory: int) -> None:
    """A worker's life: take a call, answer, until the parent closes the pipe."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _limit_memory(memory)
    while True:
        try:
            function, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        module, name = function.split(":")
        try:
            ending: Ending = Finished(getattr(importlib.import_module(module), name)(*arguments))
        except MemoryError:
            ending = Died("it needed more memory than a worker may have")
        except Exception as failure:
            ending = Failed(traceback.format_exc(), type(failure).__name__)
        try:
            pipe.send(ending)
        except (BrokenPipeError, OSError):
            return


def _limit_memory(memory: int) -> None:
    try:
        import resource
    except ImportError:  # not on Windows
        return
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (memory + _size(), hard))


def _size() -> int:
    """The address space that the process has already."""
    try:
        with open("/proc/self/statm", encoding="ascii") as file:
            return int(file.read().split()[0]) * 4096
    except OSError:
        return 1 << 30
