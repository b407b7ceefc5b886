"""Obligations in worker processes, with hard limits of time and memory.

A worker that overruns is killed and replaced; one that dies by itself is reported; the others
go on. Workers leave Ctrl-C to the parent, which ends them all; they do not outlive a parent that
was killed: an idle one sees its pipe close, a busy one has an alarm of its own.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import multiprocessing
import os
import pickle
import signal
import sys
import time
import traceback
import warnings
import weakref
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import connection
from types import TracebackType
from typing import Any

from verifier.proof.turns import Turns

MEMORY_LIMIT = 4 << 30
"""Bytes of address space that a worker may add to what it was given at its start."""

SPARE_S = 2.0
"""How long after its limit a worker ends itself, if the parent is no longer there to do it."""

_OUT_OF_MEMORY = 112
"""The exit code by which a worker says that it ran out of memory."""

_ALARM = int(getattr(signal, "SIGALRM", 0))

_our_ends: weakref.WeakSet[Any] = weakref.WeakSet()
"""The parent's ends of all pipes to workers. A forked worker closes its copies of them: each
worker's pipe must close with the parent, whatever the other workers do."""


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
        self.count = max(1, workers)
        self._workers: list[_Worker] = []
        self._first = ""
        self._ended: Generator[Done | None] | None = None

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
            worker.process.kill()  # all at once: each takes a while to be gone
        for worker in self._workers:
            worker.end()
        self._workers.clear()

    def prepare(self, count: int, now: str, later: str = "") -> None:
        """Starts so many workers before there is work; the caller goes on meanwhile.

        Each calls ``now`` (``module:function``, without arguments) before its first task, and what
        is started beyond these calls ``later``: what those load, the caller need not.
        """
        while len(self._workers) < min(count, self.count):
            self._workers.append(_Worker(self._context, now))
        self._first = later or now

    def run(self, tasks: Sequence[Task], turns: Turns | None = None) -> Iterator[Done]:
        """Runs all tasks; yields each as it ends, in whatever order that is.

        ``turns`` has their order, by their places in ``tasks``; it can have a task stopped and made
        again from its place. The first are begun at once, not when the first end is asked for. What
        is left of an earlier call ends: each worker does one thing at a time.
        """
        if self._ended is not None:
            self._ended.close()
        self._ended = ended = self._run(tasks, turns or Turns(range(len(tasks))))
        next(ended)
        return (done for done in ended if done is not None)

    def _run(self, tasks: Sequence[Task], turns: Turns) -> Generator[Done | None]:
        busy: list[_Worker] = []
        ended: deque[Done] = deque()
        begun = False
        try:
            while True:
                while len(busy) < self.count:
                    place = turns.take()
                    if place is None:
                        break
                    task = tasks[place]
                    try:
                        order = pickle.dumps((task.function, task.arguments, task.limit_s))
                    except Exception as failure:  # whatever an argument's own code raises
                        turns.ended(place)
                        ended.append(Done(task.id, _failed(failure)))
                        continue
                    worker = self._idle(busy)
                    worker.begin(task, order, place)
                    busy.append(worker)
                if not begun:
                    begun = True
                    yield None
                # Whoever takes an answer may be long about it: the workers have their next task first.
                while ended:
                    yield ended.popleft()
                if not busy:
                    return
                soonest = min(
                    min(worker.until, worker.began + turns.round_s(worker.place)) for worker in busy
                )
                left = max(0.0, soonest - time.monotonic())
                ready = connection.wait([w.pipe for w in busy], left)
                for worker in list(busy):
                    done = worker.look(worker.pipe in ready)
                    if done is not None:
                        turns.ended(worker.place)
                        ended.append(done)
                    elif _round_is_over(worker, turns) and turns.gives_way(worker.place):
                        worker.end()
                    else:
                        continue
                    busy.remove(worker)
                    if not worker.alive:
                        self._workers.remove(worker)
        finally:
            for worker in busy:
                worker.end()
                with contextlib.suppress(ValueError):
                    self._workers.remove(worker)

    def _idle(self, busy: list[_Worker]) -> _Worker:
        for worker in self._workers:
            if worker in busy or not worker.alive:
                continue
            if worker.process.is_alive():
                return worker
            worker.end()  # it died while idle, which costs no task
        self._workers = [worker for worker in self._workers if worker.alive]
        worker = _Worker(self._context, self._first)
        self._workers.append(worker)
        return worker


class _Worker:
    """One process and the pipe to it."""

    def __init__(self, context: Any, first: str = "") -> None:
        self.pipe, theirs = context.Pipe()
        forked = context.get_start_method() == "fork"
        not_theirs = [*_our_ends, self.pipe] if forked else []
        self.process = context.Process(
            target=_serve, args=(theirs, not_theirs, MEMORY_LIMIT, first), daemon=True
        )
        with _interrupts_held(), warnings.catch_warnings():
            # Python warns of forking beside other threads. A solver's clock is one; solvers do
            # without it in the fork.
            warnings.simplefilter("ignore", DeprecationWarning)
            self.process.start()
        theirs.close()
        _our_ends.add(self.pipe)
        self.task: Task | None = None
        self.place = 0
        self.began = 0.0
        self.until = float("inf")
        self.alive = True

    def begin(self, task: Task, order: bytes, place: int) -> None:
        """Sends a task, which is pickled in ``order``; ``place`` is where it stands among its like."""
        self.task = task
        self.place = place
        self.began = time.monotonic()
        self.until = self.began + task.limit_s
        with contextlib.suppress(
            BrokenPipeError, ConnectionResetError
        ):  # a dead worker is seen by `look`
            self.pipe.send_bytes(order)

    def look(self, ready: bool) -> Done | None:
        """How the task ended, if it has."""
        task = self.task
        assert task is not None
        # It may have answered since `ready` was told, while the caller did something else.
        if ready or self.pipe.poll():
            try:
                ending = _unpickled(self.pipe.recv_bytes())
            except (EOFError, OSError):
                self.process.join(1.0)  # its pipe closes a moment before it is gone
                code = self.process.exitcode
                self.end()
                # Its own alarm: the parent was busy elsewhere when the limit came.
                ending = stopped_at_limit(task) if code == -_ALARM else Died(_why(code))
        elif time.monotonic() >= self.until:
            self.end()
            ending = stopped_at_limit(task)
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


def _round_is_over(worker: _Worker, turns: Turns) -> bool:
    return time.monotonic() >= worker.began + turns.round_s(worker.place)


def _unpickled(message: bytes) -> Ending:
    try:
        ending: Ending = pickle.loads(message)
    except Exception as failure:  # whatever a value's own code raises
        return _failed(failure)
    return ending


def _failed(failure: BaseException) -> Failed:
    return Failed("".join(traceback.format_exception(failure)), type(failure).__name__)


def stopped_at_limit(task: Task) -> Killed:
    """How a task ended that outlived its limit."""
    return Killed(f"it was stopped at its limit of {task.limit_s:g} s")


def _why(code: int | None) -> str:
    """How a process ended that has this exit code.

    >>> _why(3), _why(-9)
    ('its process died (exit code 3)', 'its process died (signal SIGKILL)')
    """
    if code == _OUT_OF_MEMORY:
        return "it needed more memory than a worker may have"
    if code is None or code >= 0:
        return f"its process died (exit code {code})"
    try:
        name = signal.Signals(-code).name
    except ValueError:  # a real-time signal has no name
        name = str(-code)
    return f"its process died (signal {name})"


@contextlib.contextmanager
def _interrupts_held() -> Iterator[None]:
    """A stretch in which Ctrl-C waits; a process that starts in it begins with Ctrl-C held."""
    if not hasattr(signal, "pthread_sigmask"):  # not on Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Any, not_ours: Sequence[Any], memory: int, first: str) -> None:
    """A worker's life: make ready, take a call, answer, until the parent closes the pipe."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    for end in not_ours:
        end.close()
    _limit_memory(memory)
    gc.freeze()  # what it was given stays: to look it through for rubbish would only copy it
    if first:
        # What goes wrong here goes wrong again in the call that needs it, and is told then.
        with contextlib.suppress(Exception):
            _function(first)()
    with contextlib.suppress(EOFError, OSError):
        while True:
            try:
                order = pipe.recv_bytes()
            except MemoryError:
                os._exit(_OUT_OF_MEMORY)
            pipe.send_bytes(_carried_out(order))


def _carried_out(order: bytes) -> bytes:
    """How a call ended, pickled: what cannot be carried either way is a failure of the call."""
    try:
        function, arguments, limit_s = pickle.loads(order)
        _end_myself_after(limit_s + SPARE_S)
        value = _function(function)(*arguments)
        return pickle.dumps(Finished(value))
    except (Exception, SystemExit) as failure:
        if _for_memory(failure):
            os._exit(_OUT_OF_MEMORY)  # what is left of this process is not to be relied on
        return pickle.dumps(_failed(failure))
    finally:
        _end_myself_after(0.0)


def _function(named: str) -> Callable[..., Any]:
    """The function called ``module:name``."""
    module, name = named.split(":")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def _for_memory(failure: BaseException) -> bool:
    """Whether it failed for lack of memory: Python, z3 and cvc5 each say so in their own way."""
    said = str(failure)
    return isinstance(failure, MemoryError) or "out of memory" in said or "bad_alloc" in said


def _end_myself_after(seconds: float) -> None:
    """Asks the system to end this process then, even within a solver's call; 0 takes it back."""
    if hasattr(signal, "setitimer"):  # not on Windows
        signal.setitimer(signal.ITIMER_REAL, seconds)


def _limit_memory(memory: int) -> None:
    try:
        import resource
    except ImportError:  # not on Windows
        return
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = memory + _size()
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def _size() -> int:
    """The address space that the process has already."""
    try:
        with open("/proc/self/statm", encoding="ascii") as file:
            return int(file.read().split()[0]) * 4096
    except OSError:
        return 1 << 30
