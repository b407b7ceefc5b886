"""The values of a run in words: what is so, and beside it what was reported where the two part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from verifier.simulate.run import Step

REPORTED = " as reported"
"""What follows a point's name in a run where its last report stands for itself."""

_TOLD_BY_THE_CLOCK = "clock"
"""In which stretch of the clock it is; a run with a clock tells the time itself."""

Values = Iterable[tuple[str, str]]


def pair(subject: str, value: str) -> str:
    """A subject and its value; of the sun only ``night`` or ``day``."""
    return value if subject == "sun" else f"{subject} {value}"


def beside(values: Mapping[str, str], name: str) -> str:
    """What is so of a point and what was reported.

    >>> beside({"gate": "open", "gate as reported": "shut"}, "gate")
    'gate open, reported shut'
    """
    return f"{pair(name, values[name])}, reported {values[name + REPORTED]}"


def parted(values: Mapping[str, str], name: str) -> bool:
    """Whether what was last reported of a point is not what is so."""
    return values.get(name + REPORTED, values.get(name)) != values.get(name)


def start_told(start: Values, clock: bool) -> tuple[tuple[str, str], ...]:
    """(subject, words) of how a run begins; a report of its own only where it is not what is so.

    >>> start_told((("gate", "shut"), ("gate as reported", "shut"), ("sun", "night")), clock=False)
    (('gate', 'gate shut'), ('sun', 'night'))
    """
    values = dict(start)
    return tuple(
        (subject, beside(values, subject) if parted(values, subject) else pair(subject, value))
        for subject, value in values.items()
        if not (_report_of(values, subject) or (clock and subject == _TOLD_BY_THE_CLOCK))
    )


def changes_told(start: Values, steps: Iterable[Step], clock: bool) -> tuple[tuple[str, ...], ...]:
    """For each step what it changes; a point and its report in one, where they part or meet."""
    values = dict(start)
    found = []
    for step in steps:
        before, changed = dict(values), dict(step.changes)
        values.update(changed)
        said: dict[str, str] = {}
        for subject, value in step.changes:
            name = _report_of(values, subject) or subject
            if clock and subject == _TOLD_BY_THE_CLOCK:
                continue
            if parted(before, name) or parted(values, name) or name not in changed:
                said[name] = beside(values, name)
            else:
                said.setdefault(name, pair(subject, value))
        found.append(tuple(said.values()))
    return tuple(found)


def parted_in_the_end(start: Values, steps: Iterable[Step]) -> tuple[str, ...]:
    """Points of which another value was reported than is so, as a run ends."""
    values = dict(start)
    for step in steps:
        values.update(step.changes)
    return tuple(beside(values, name) for name in values if parted(values, name))


def _report_of(values: Mapping[str, str], subject: str) -> str | None:
    """The point of which a subject is the report."""
    name = subject.removesuffix(REPORTED)
    return name if name != subject and name in values else None
