"""What one page may ask for, so that nothing it does can hold up another page or this machine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of a server.

    ``text_bytes`` are those of all files of a page together, as UTF-8. ``requirement_s`` is the
    longest time for one requirement, ``judged_s`` for all of them, ``desk_s`` for anything else
    that a page asks; ``cut_s`` how long work that is no longer wanted has to come to an end by
    itself. ``memory`` is what each process may add to its address space, in bytes.
    """

    text_bytes: int = 1_000_000
    rules: int = 2_000
    pages: int = 8
    requirement_s: float = 20.0
    judged_s: float = 120.0
    desk_s: float = 15.0
    cut_s: float = 1.0
    memory: int = 3 << 30


ALONE = Limits()
"""One person at one machine."""

CLASSROOM = Limits(
    rules=500, pages=30, requirement_s=10.0, judged_s=60.0, desk_s=10.0, memory=1 << 30
)
"""Thirty learners who share a machine."""

MESSAGE_BYTES = 8 << 20
"""The longest message that is read at all. Beyond it the connection is closed; a text that is too
long, but below this, is answered in words."""

WAITING = 64
"""Messages of one page that may wait for their turn."""

UNREAD = 5_000
"""Messages to a page that it has not read yet: beyond this it is taken for gone."""

UNREAD_CHARACTERS = 100_000_000
"""Their characters in all: beyond this, too. A few of the longest answers are less."""
