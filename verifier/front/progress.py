"""What is told on a terminal while the tool works. Nothing where the errors go to a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TextIO

from verifier.front.figures import counted

Tell = Callable[[str], None]
"""Called with what is being done, in words."""


@dataclass(slots=True)
class Judging:
    """How far the judging of a job has come, on a line of its own."""

    show: Callable[[str], None]
    folder: str = ""

    def begin(self, folder: str) -> None:
        """Another folder's turn."""
        self.folder = folder
        self.show(f"{folder}: reading the job …")

    def update(self, judged: int, asked: int, still_open: int) -> None:
        """``judged`` of ``asked`` verdicts are there; so many different questions are still open."""
        left = (
            f"{counted(still_open, 'question')} still open" if still_open else "checking the rest"
        )
        self.show(
            f"{self.folder}: {judged:,} of {asked:,} {'verdict' if asked == 1 else 'verdicts'}, {left}"
        )


@contextmanager
def progress(stream: TextIO) -> Iterator[Judging]:
    """Where to tell how far the judging has come; it keeps one line up to date."""
    with working(stream) as show:
        yield Judging(show)


@contextmanager
def working(stream: TextIO) -> Iterator[Tell]:
    """A function to call with what is being done, in words; it keeps one line up to date."""
    if not stream.isatty():
        yield lambda words: None
        return
    from rich.console import Console

    with Console(file=stream).status("reading the job …") as status:
        yield lambda words: status.update(words)
