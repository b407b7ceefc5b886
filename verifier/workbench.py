"""A job that is being edited: judged again after each change, for the price of what changed.

For programs that stay (an editor's server, a playground). A file that did not change is not read
again, a requirement whose slice did not change is not proved again; what is shown is the same as
from a first run, and every run is still played on the job as it is now.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from verifier.model.job import Requirement
from verifier.pipeline import Keeping, OnVerdict, Question, Result, cache_of, prove
from verifier.proof.cache import Memory
from verifier.proof.verdict import Verdict
from verifier.source import SourceFile, Sources

if TYPE_CHECKING:
    from verifier.proof.workers import Pool

EDITS_OF_A_WORKER = 100
"""Edits after which workers are started anew."""

READY = "verifier.proof.proving:ready_to_prove"
"""What a worker does before its first task."""


class Workbench:
    """The files of one job and what was found of them so far.

    ``keeping`` says where answers outlive the process, if anywhere. A context manager.
    """

    def __init__(
        self, name: str, question: Question | None = None, keeping: Keeping | None = None
    ) -> None:
        self.name = name
        self.question = question or Question()
        self._files: dict[str, SourceFile] = {}
        self._cache = cache_of(keeping)
        self._memory = Memory(self._cache)
        self._pool: Pool | None = None
        self._judged = 0

    def __enter__(self) -> Workbench:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Ends the workers and lets go of the cache on disk; what was kept there stays."""
        self._end_workers()
        if self._cache is not None:
            self._cache.close()

    @property
    def problem(self) -> str:
        """What is wrong with the cache on disk, in words; empty if nothing is."""
        return "" if self._cache is None else self._cache.said()

    def put(self, files: Iterable[SourceFile]) -> None:
        """Takes files that are new or have changed, by their names."""
        self._files.update({file.name: file for file in files})

    def remove(self, name: str) -> None:
        """Takes a file out of the job. Raises: KeyError."""
        del self._files[name]

    @property
    def sources(self) -> Sources:
        """All files, ordered by name."""
        return Sources(tuple(self._files[name] for name in sorted(self._files)))

    def judge(
        self, question: Question | None = None, on_verdict: OnVerdict | None = None
    ) -> Result:
        """The result for the files as they are now.

        ``question`` is asked instead of the usual one; ``on_verdict`` hears each verdict as it comes.
        Raises: ToolFault.
        """
        asked = replace(question or self.question, keeping=None)
        pool = self._workers(asked.workers)
        heard = on_verdict or _unheard
        try:
            return prove(self.sources, self.name, asked, heard, self._memory, pool=pool)
        except BaseException:
            self._end_workers()
            raise

    def _workers(self, count: int) -> Pool:
        """Workers that stay from one edit to the next; they start, and load solvers, when needed.

        Now and then they begin anew: what a solver does not give back is given back then.
        """
        from verifier.proof.workers import Pool

        if self._pool is None or self._pool.count != count or self._judged >= EDITS_OF_A_WORKER:
            self._end_workers()
            self._pool = Pool(count)
            self._pool.prepare(0, READY)
        self._judged += 1
        return self._pool

    def _end_workers(self) -> None:
        if self._pool is not None:
            self._pool.close()
        self._pool, self._judged = None, 0


def _unheard(requirement: Requirement, verdict: Verdict, seconds: float) -> None:
    """Nobody listens."""
