"""A run as a short table: when, what happened, what changed, because of which line."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from fractions import Fraction

from verifier.explain.clock_words import ClockTold
from verifier.explain.handled import Handled, handled_in
from verifier.explain.told import REPORTED, changes_told, parted_in_the_end, start_told
from verifier.front.figures import moment
from verifier.front.paint import Paint
from verifier.front.result_places import line_of
from verifier.front.shown import columns, padded, shown
from verifier.model.job import (
    Always,
    AtMostTimes,
    Becomes,
    Changes,
    Condition,
    DayBegins,
    Event,
    HasStayed,
    Is,
    Job,
    LeadsTo,
    Level,
    Night,
    NightBegins,
    Possible,
    Pressed,
    Requirement,
    Stayed,
    atoms_and_leaves,
)
from verifier.simulate.run import Run
from verifier.source import Sources

_NARROW = 76
"""Below this many columns the table is told line by line."""

Row = tuple[str, str, str, str]
_HEADS: Row = ("when", "what happens", "what changes", "because of")


def run_text(
    run: Run,
    requirement: Requirement,
    job: Job | None,
    sources: Sources,
    paint: Paint,
    width: int,
    ends: str,
) -> tuple[str, ...]:
    """The lines of a run; ``ends`` says what is so at its end (``it fails here``)."""
    lines = [] if run.clock is None else list(_wrapped(ClockTold(run.clock).begins(), width))
    lines.extend(_wrapped(f"at the start: {_start(run, requirement)}", width))
    lines.extend(table_text(_rows(run, job, sources, ends), paint, width))
    if run.cycle_from is not None:
        lines.append("From the step marked (again) on, this goes round for ever.")
    return tuple(lines)


def table_text(rows: Sequence[Row], paint: Paint, width: int) -> tuple[str, ...]:
    """Rows (when, what happens, what changes, because of) as a table, or told line by line."""
    if width < _NARROW:
        return tuple(line for row in rows for line in _told(row, width))
    return _table(tuple(rows), paint, width)


def changes_text(said: tuple[str, ...], handled: tuple[Handled, ...]) -> str:
    """What a step changes, and what became of triggers of rules that were running."""
    return shown(", ".join([*said, *(each.words for each in handled)])) or "nothing"


def _rows(run: Run, job: Job | None, sources: Sources, ends: str) -> tuple[Row, ...]:
    rows: list[Row] = []
    handled = ((),) * len(run.steps) if job is None else handled_in(job, run.start, run.steps)
    changes = changes_told(run.start, run.steps, run.clock is not None)
    for number, step in enumerate(run.steps):
        places = ", ".join(dict.fromkeys(line_of(span, sources) for span in step.because))
        again = " (again)" if number == run.cycle_from else ""
        rows.append(
            (
                when(run, step.earliest_s, step.just_after),
                shown(f"{step.what}{again}"),
                changes_text(changes[number], handled[number]),
                shown(places),
            )
        )
    rows.append((when(run, run.fails_s, run.fails_just_after), ends, _still(run, changes), ""))
    return tuple(rows)


def _still(run: Run, changes: tuple[tuple[str, ...], ...]) -> str:
    """What parts the truth from the reports at the end of a run, unless its last step told it."""
    last = changes[-1] if changes else ()
    still = [each for each in parted_in_the_end(run.start, run.steps) if each not in last]
    return shown(f"still {', '.join(still)}") if still else ""


def when(run: Run, at_s: Fraction, just_after: bool) -> str:
    """A moment from the start of a run, with the time of the clock where it has one."""
    text = moment(at_s, just_after)
    return text if run.clock is None else f"{text} ({ClockTold(run.clock).at(at_s)})"


def _table(rows: tuple[Row, ...], paint: Paint, width: int) -> tuple[str, ...]:
    natural = [max(columns(row[n]) for row in (_HEADS, *rows)) for n in range(4)]
    room = width - 6
    widths = [min(natural[0], 30), natural[1], natural[2], natural[3]]
    while sum(widths) > room:
        widest = max(range(1, 4), key=lambda n: widths[n])
        widths[widest] -= 1
    lines = []
    for number, row in enumerate((_HEADS, *rows)):
        cells = [_wrapped(cell, widths[n]) or ("",) for n, cell in enumerate(row)]
        for level in range(max(len(cell) for cell in cells)):
            parts = [
                padded(cell[level] if level < len(cell) else "", widths[n])
                for n, cell in enumerate(cells)
            ]
            line = "  ".join(parts).rstrip()
            lines.append(paint(line, "quiet") if number == 0 else line)
    return tuple(lines)


def _told(row: Row, width: int) -> tuple[str, ...]:
    when, what, changes, because = row
    lines = [*_wrapped(f"{when}: {what}", width)]
    if changes:
        lines.extend("  " + line for line in _wrapped(f"changes: {changes}", width - 2))
    if because:
        lines.extend("  " + line for line in _wrapped(f"because of {because}", width - 2))
    return tuple(lines)


def _wrapped(text: str, width: int) -> tuple[str, ...]:
    return tuple(textwrap.wrap(text, max(width, 8), break_on_hyphens=False, break_long_words=True))


# ---------------------------------------------------------------- what of the start is worth saying


def _start(run: Run, requirement: Requirement) -> str:
    wanted = set(subjects(requirement))
    for step in run.steps:
        wanted |= {subject for subject, _ in step.changes}
        wanted |= set(step.what.split())
    wanted.add("sun")  # guards read it, and a run by day is another than one by night
    wanted |= {subject.removesuffix(REPORTED) for subject in wanted}
    told = start_told(run.start, run.clock is not None)
    said = [text for subject, text in told if subject in wanted]
    rest = len(told) - len(said)
    words = ", ".join(said) or "everything at rest"
    if said and rest:
        words += f" (and {rest} more that {'stays as it is' if rest == 1 else 'stay as they are'})"
    return shown(words)


def subjects(requirement: Requirement) -> tuple[str, ...]:
    """The points, doors and rooms that a requirement names, and the sun (as a run calls it)."""
    form = requirement.form
    conditions: list[Condition] = [] if requirement.scope is None else [requirement.scope]
    events: tuple[Event, ...] = ()
    match form:
        case LeadsTo() | Always() | Possible():
            conditions.append(form.condition)
        case AtMostTimes():
            events = form.events
        case _:
            conditions.append(form.condition)
            events = getattr(form, "events", ())
    names: list[str] = []
    for condition in conditions:
        names.extend(_subject_of_leaf(leaf) for leaf in atoms_and_leaves(condition))
    names.extend(_subject_of_event(event) for event in events)
    return tuple(dict.fromkeys(name for name in names if name))


def _subject_of_leaf(leaf: Condition) -> str:
    match leaf:
        case Is(subject) | Level(subject):
            return subject
        case Stayed(atom):
            return atom.subject
        case Night():
            return "sun"
        case _:
            return ""


def _subject_of_event(event: Event) -> str:
    match event:
        case Becomes(atom):
            return atom.subject
        case HasStayed(timer):
            return timer.atom.subject
        case Changes(subject):
            return subject
        case Pressed(button):
            return button
        case NightBegins() | DayBegins():
            return "sun"
        case _:
            return ""
