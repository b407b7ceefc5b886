"""Names as the people of the house know them: each point, door and room by its label."""

from __future__ import annotations

import re

from verifier.model.job import Job

_PIECE = re.compile(r"[“”]|[A-Za-z_][A-Za-z0-9_]*(?:\.[A-Za-z_][A-Za-z0-9_]*)*")


def labels_of(job: Job) -> dict[str, str]:
    """The labels of points, doors, rooms and requirements, by name; only where there is one."""
    named = [(p.name, p.label) for p in job.points]
    named.extend((d.name, d.label) for d in job.doors)
    named.extend((r.name, r.label) for r in job.rooms)
    return {name: label for name, label in named if label}


def with_labels(text: str, labels: dict[str, str]) -> str:
    """The text with each name replaced by its label, in quotation marks unless it stands in some.

    >>> with_labels("side_door becomes open", {"side_door": "Side door"})
    '“Side door” becomes open'
    """
    inside = 0

    def replaced(found: re.Match[str]) -> str:
        nonlocal inside
        piece = found[0]
        if piece in "“”":
            inside += 1 if piece == "“" else -1
            return piece
        label = labels.get(piece)
        if label is None:
            return piece
        return label if inside > 0 else f"“{label}”"

    return _PIECE.sub(replaced, text)
