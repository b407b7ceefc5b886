"""What was made of the last few jobs, found again by the job's identity."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

from verifier.model.job import Job

T = TypeVar("T")


class Recent(Generic[T]):
    """Makes something of a job once, and remembers it for the last few jobs.

    By identity: to compare two large jobs would cost more than it saves.
    """

    def __init__(self, make: Callable[[Job], T], most: int = 2) -> None:
        self._make = make
        self._made: deque[tuple[Job, T]] = deque(maxlen=most)

    def of(self, job: Job) -> T:
        """What is made of a job."""
        for known, made in self._made:
            if known is job:
                return made
        made = self._make(job)
        self._made.appendleft((job, made))
        return made
