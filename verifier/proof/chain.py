"""An endless chain as data."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Chain:
    """An endless chain that can be reached: what begins it, and the lines that go round."""

    begins: str
    lines: tuple[Span, ...]
    happenings: int
    rules: tuple[str, ...]
    """The rules that have these lines, of the part of the job in which it was found."""
