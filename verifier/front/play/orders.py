"""What the server and the processes of a page say to each other.

To a process go orders, one at a time; from it come frames: a letter and bytes. The server hands
verdicts on without looking into them, so nothing that a process says is ever carried out.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.front.play.limits import Limits
from verifier.front.play.messages import Message, Text
from verifier.pipeline import Keeping

TOLD = b"j"
"""A JSON text for the page."""

TO_PROVE = b"c"
"""The text is in order and small enough: it can be proved."""

VERDICT = b"v"
"""A name, a zero, and the verdict on it, pickled; for another process of the same page."""

DONE = b"."
"""The order is carried out."""


@dataclass(frozen=True, slots=True)
class Setup:
    """What a process of a page is told as it starts."""

    name: str
    limits: Limits
    years: tuple[int, int]
    keeping: Keeping
    lessons: str = ""
    """A folder with lessons of the teacher's own; empty if there is none."""


@dataclass(frozen=True, slots=True)
class Judge:
    """Prove this text."""

    text: Text


@dataclass(frozen=True, slots=True)
class Answer:
    """Answer a message of the page.

    ``verdict`` is the verdict on the requirement that it speaks of, pickled, if there is one.
    ``quiet``: nothing is told; the process only has to know.
    """

    message: Message
    verdict: bytes = b""
    quiet: bool = False


Order = Judge | Answer
