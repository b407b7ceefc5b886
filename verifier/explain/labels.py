"""Names as the people of the house know them: each point, door and room by its label."""

from __future__ import annotations

import re

from verifier.model.job import Job

_PIECE = re.compile(r"[“”]|[A-Za-z_][A-Za-z0-9_]*(?:\.[A-Za-z_][A-Za-z0-9_]*)*")

_WORDS = """
a act after all allowed although and anything are as asked at be been before begin begins
bottom bounces bright broken by called cannot case changes clear come comes counts day dark
done down each empty end ends ever every fade fails first for from given go goes going gone
good had hand handled happen happens has have held here holds how if in instant instead into
is it its just keep kept last late later least leave leaves left limit longer lost lowered
made means moment more most moved moving much nearest next night no nobody not nothing now
occupied of off on once one only open or order other out over part peopled power pressed
promise promised put raised reached reaches report reported rest returns right rule rules
run running runs same say seen set sets shut so somebody something start starts stay stays
step steps still stopped stops stretch switched than that the then there this time to top
true up vacant wait waited was way well were what when where while whole wire with within
without yes yet
"""
_ORDINARY = frozenset(_WORDS.split())
"""Words that sentences have anyway. A name may be one of them (``up``, ``last``, ``run``)."""

_SURELY = re.compile(r"\s(?:is|was|becomes|changes|pressed|has|goes|as reported)\b")
"""What follows a name and no ordinary word of ours."""

_PERHAPS = re.compile(
    r"\s(?:reaches|sticks|bounces|starts to|stops part|arrives at|above|below|at (?:least|most)|on"
    r"|off|open|shut|reached|clear|occupied|vacant|dark|bright|raised|lowered|moving|stopped|peopled"
    r"|empty|yes|no|\d)"
)
_NO_NAME = re.compile(r"\b(?:go|after|before|the|by|to|of|for|is|becomes|goes|has)\s$")


def labels_of(job: Job) -> dict[str, str]:
    """The labels of points, doors, rooms and requirements, by name; only where there is one."""
    named = [(p.name, p.label) for p in job.points]
    named.extend((d.name, d.label) for d in job.doors)
    named.extend((r.name, r.label) for r in job.rooms)
    return {name: label for name, label in named if label}


def with_labels(text: str, labels: dict[str, str]) -> str:
    """The text with each name replaced by its label, in quotation marks unless it stands in some.

    A name that is an ordinary word, too, is replaced where it can only be the name.

    >>> with_labels("side_door becomes open", {"side_door": "Side door"})
    '“Side door” becomes open'
    >>> with_labels("gate starts to go up, up clear", {"up": "Upper switch"})
    'gate starts to go up, “Upper switch” clear'
    """
    inside = 0

    def replaced(found: re.Match[str]) -> str:
        nonlocal inside
        piece = found[0]
        if piece in "“”":
            inside += 1 if piece == "“" else -1
            return piece
        label = labels.get(piece)
        if label is None or (piece in _ORDINARY and not _is_name(found)):
            return piece
        return label if inside > 0 else f"“{label}”"

    return _PIECE.sub(replaced, text)


def _is_name(found: re.Match[str]) -> bool:
    """Whether an ordinary word stands where only a name can."""
    before, after = found.string[: found.start()], found.string[found.end() :]
    if _SURELY.match(after) is not None:
        return True
    return _PERHAPS.match(after) is not None and _NO_NAME.search(before) is None
