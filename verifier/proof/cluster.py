"""Obligations on other machines: an existing Dask cluster does the work, the sender keeps the results.

What is sent is an obligation in canonical names and what comes back is its answer, so it matters
nothing to the answer where it was found. A worker that is lost loses its task to another one; a
task that outlives its limit is taken back and counts as stopped. Memory is the cluster's own
affair (Dask's nanny ends a worker that takes too much).

Source of the interface: the documentation of Dask distributed (``Client``, ``as_completed``).
"""

from __future__ import annotations

import importlib
import logging
import threading
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Any

from verifier.model.job import Job
from verifier.proof.cache import prover
from verifier.proof.proving import NoCluster
from verifier.proof.turns import Turns
from verifier.proof.workers import Died, Done, Ending, Failed, Finished, Task, stopped_at_limit
from verifier.surroundings.almanac import almanac_of

CONNECT_S = 10.0
"""How long a cluster may take to answer at first."""

AHEAD = 4
"""Tasks that are sent for each worker before one of them is answered."""

_one_at_a_time = threading.Lock()
"""The solvers keep one context for a process: a worker with many threads does one task at a time."""


_STRANGERS = frozenset({"OtherProver", "ImportError", "ModuleNotFoundError", "AttributeError"})


class OtherProver(Exception):
    """A worker has another version of the prover than the sender."""


class Cluster:
    """An existing Dask cluster; it runs tasks as a pool of processes does, and is left as it was."""

    def __init__(self, address: str) -> None:
        """Raises: NoCluster."""
        try:
            self._dask: Any = importlib.import_module("distributed")
        except ImportError as missing:
            raise NoCluster("Dask distributed is not installed here") from missing
        # It tells of lost workers in its own words; what matters is told in ours.
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            self._client: Any = self._dask.Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as failure:
            raise NoCluster(f"nothing answers at {address}") from failure
        if not self._client.ncores():
            self._client.close()
            raise NoCluster(f"the cluster at {address} has no workers")

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Leaves the cluster; what was sent and not answered is taken back."""
        self._client.close()

    def run(self, tasks: Sequence[Task], turns: Turns | None = None) -> Iterator[Done]:
        """Runs all tasks; yields each as it ends, in whatever order that is.

        ``turns`` has their order. None gives way to another: a call on a cluster cannot be stopped.
        """
        turns = turns or Turns(range(len(tasks)))
        sent: dict[Any, tuple[Task, int, float]] = {}
        try:
            while True:
                turns.workers = most = AHEAD * max(1, len(self._client.ncores()))
                while len(sent) < most:
                    place = turns.take()
                    if place is None:
                        break
                    task = tasks[place]
                    future = self._client.submit(
                        carried_out,
                        version_of(task.arguments),
                        task.function,
                        task.arguments,
                        pure=False,
                    )
                    sent[future] = (task, place, time.monotonic() + AHEAD * task.limit_s)
                if not sent:
                    return
                yield from self._ended(sent, turns)
        finally:
            for future in sent:
                future.cancel()

    def _ended(self, sent: dict[Any, tuple[Task, int, float]], turns: Turns) -> Iterator[Done]:
        """Those that have ended, once one has, and those that are over their limit."""
        with self._client.as_current(), suppress(TimeoutError):
            self._dask.wait(list(sent), timeout=0.5, return_when="FIRST_COMPLETED")
        now = time.monotonic()
        for future, (task, place, until) in list(sent.items()):
            ending = _ending(future, task)
            if ending is None and now >= until:
                future.cancel()
                ending = stopped_at_limit(task)
            if isinstance(ending, Failed) and ending.kind in _STRANGERS:
                raise NoCluster(
                    "its workers do not have the same prover, solvers and time zones "
                    "as this machine"
                )
            if ending is not None:
                del sent[future]
                turns.ended(place)
                yield Done(task.id, ending)


def _ending(future: Any, task: Task) -> Ending | None:
    """How a task has ended, if it has."""
    if future.status == "finished":
        return Finished(future.result())
    if future.status in {"error", "lost", "cancelled"}:
        failure = future.exception() if future.status == "error" else None
        kind = type(failure).__name__
        if failure is None or kind in {"KilledWorker", "CancelledError", "CommClosedError"}:
            return Died("its worker was lost, again and again")
        return Failed("".join(traceback.format_exception(failure)), kind)
    return None


def version_of(arguments: tuple[Any, ...]) -> str:
    """What an answer hangs on beside its question: prover, solvers, and rules of a site's zone."""
    sites = (almanac_of(part.site) for part in arguments if isinstance(part, Job))
    return " ".join((prover(), *sites))


def carried_out(version: str, function: str, arguments: tuple[Any, ...]) -> Any:
    """The value of a call, on a worker of the cluster. Raises: OtherProver, and what the call does."""
    if version != version_of(arguments):
        raise OtherProver(
            "a worker of the cluster has another version of the prover or its solvers"
        )
    module, name = function.split(":")
    with _one_at_a_time:
        return getattr(importlib.import_module(module), name)(*arguments)
