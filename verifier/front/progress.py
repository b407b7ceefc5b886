"""What is told on a terminal while the tool works. Nothing where the errors go to a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from verifier.front.figures import counted

Tell = Callable[[str], None]
"""Called with the name of each requirement as it is judged."""


@contextmanager
def progress(stream: TextIO) -> Iterator[Tell]:
    """A function to call with each judged requirement's name; it keeps one line up to date."""
    if not stream.isatty():
        yield lambda name: None
        return
    from rich.console import Console

    console = Console(file=stream)
    judged = 0
    with console.status("reading the job …") as status:

        def tell(name: str) -> None:
            nonlocal judged
            judged += 1
            status.update(f"{counted(judged, 'verdict')}, the last one on {name}")

        yield tell


@contextmanager
def working(stream: TextIO) -> Iterator[Tell]:
    """A function to call with what is being done, in words; it keeps one line up to date."""
    if not stream.isatty():
        yield lambda words: None
        return
    from rich.console import Console

    with Console(file=stream).status("reading the job …") as status:
        yield lambda words: status.update(words)
