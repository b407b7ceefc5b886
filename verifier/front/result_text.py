"""A result as text that an installer can read: verdict by verdict, then findings and totals."""

from __future__ import annotations

import textwrap
from typing import assert_never

from verifier.diagnostics import Diagnostic, Severity
from verifier.front.diagnostic_text import alike, alike_text, in_order, snippet
from verifier.front.each_fault import (
    Cell,
    cell_head,
    cell_reason,
    cells_of,
    each_fault_text,
)
from verifier.front.figures import counted, listed
from verifier.front.outcome import Exit, exit_code
from verifier.front.paint import Paint, Style
from verifier.front.reason import method, reason
from verifier.front.result_places import line_of
from verifier.front.run_text import run_text
from verifier.front.shown import shown
from verifier.model.job import Always, Implies, Job, Requirement
from verifier.model.words import fault_words, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.simulate.run import Run
from verifier.surroundings.calendar import reads_calendar

_INDENT = "    "

_PLAIN_MARKS = {"✓": "+", "○": "o", "✗": "X", "?": "?", "=": "="}


def result_text(result: Result, strict: bool, paint: Paint, width: int) -> str:
    """The whole text, ending in a line end."""
    blocks = [] if result.job is None else [_head(result, result.job, paint, width)]
    blocks.extend(
        requirement_text(result, requirement, verdict, paint, width)
        for requirement, verdict, _ in result.verdicts
    )
    if result.under:
        blocks.append(each_fault_text(result, paint, width))
        blocks.extend(_cell_text(result, cell, paint, width) for cell in cells_of(result))
    blocks.extend(
        alike_text(group, result.sources, paint, width)
        for group in alike(in_order(result.sources, result.findings))
    )
    blocks.append(_totals(result, strict, width))
    return "\n\n".join(blocks) + "\n"


def _head(result: Result, job: Job, paint: Paint, width: int) -> str:
    title = job.name if job.site is None else job.site.name
    lines = [f"{paint(shown(title), 'strong')}: {_size(job, result)}"]
    if job.faults:
        faults = listed(tuple(fault_words(f) for f in job.faults))
        lines.extend(textwrap.wrap(f"Faults considered: {faults}.", width, subsequent_indent="  "))
    if job.site is not None and job.site.latitude_deg is not None and reads_calendar(job):
        first, last = job.years
        span = f"the year {first}" if first == last else f"the years {first} to {last}"
        lines.append(f"Sun and clock are those of the site, for {span}.")
    if job.assumptions:
        lines.append(f"{counted(len(job.assumptions), 'assumption')} about the surroundings.")
    return "\n".join(lines)


def _size(job: Job, result: Result) -> str:
    return (
        f"{counted(len(job.points), 'point')}, {counted(len(job.rules), 'rule')}, "
        f"{counted(len(result.asked), 'requirement')} to judge"
    )


# ---------------------------------------------------------------- one requirement


def requirement_text(
    result: Result, requirement: Requirement, verdict: Verdict, paint: Paint, width: int
) -> str:
    """One requirement: mark and word, title, reason, place; a run where there is one."""
    mark, word, style = headline(verdict)
    if paint.plain_marks:
        mark = _PLAIN_MARKS[mark]
    title = f'  "{shown(requirement.label)}"' if requirement.label else ""
    lines = [f"{paint(f'{mark} {word}', style)}  {paint(shown(requirement.name), 'strong')}{title}"]
    lines.extend(_indented(shown(reason(requirement, verdict)), width))
    how = method(verdict)
    if how:
        lines.extend(_indented(f"Found {how}." if how.startswith("by ") else f"({how})", width))
    if _settled(verdict):
        lines.append(f"{_INDENT}{line_of(requirement.span, result.sources)}")
    else:
        lines.extend(_place(result, requirement, paint, width))
    run, ends = _shown_run(requirement, verdict)
    if run is not None:
        lines.append("")
        lines.extend(
            f"{_INDENT}{line}".rstrip()
            for line in run_text(
                run, requirement, result.job, result.sources, paint, width - len(_INDENT), ends
            )
        )
    return "\n".join(lines)


def _cell_text(result: Result, cell: Cell, paint: Paint, width: int) -> str:
    """A cell of the table of faults: why, and its run."""
    lines = [*cell_head(cell, paint, width), *_indented(cell_reason(cell), width)]
    run, ends = _shown_run(cell.requirement, cell.verdict)
    if run is not None:
        lines.extend(
            f"{_INDENT}{line}".rstrip()
            for line in run_text(
                run,
                cell.requirement,
                result.job,
                result.sources,
                paint,
                width - len(_INDENT),
                ends,
            )
        )
    return "\n".join(lines)


def headline(verdict: Verdict) -> tuple[str, str, Style]:
    """Mark, word and colour of a verdict; mark and word say all that the colour says."""
    match verdict:
        case Proved(vacuous=True):
            return "○", "PROVED, VACUOUS", "doubt"
        case Proved():
            return "✓", "PROVED", "good"
        case Refuted():
            return "✗", "REFUTED", "bad"
        case Undecided():
            return "?", "UNDECIDED", "doubt"
        case Answered(vacuous=True):
            return "○", "ANSWERED, VACUOUS", "doubt"
        case Answered():
            return "=", "ANSWERED", "strong"
        case _:
            assert_never(verdict)


def _settled(verdict: Verdict) -> bool:
    """Whether a reader has nothing to look up: then the place is one short line."""
    return isinstance(verdict, Proved | Answered) and not verdict.vacuous


def _place(result: Result, requirement: Requirement, paint: Paint, width: int) -> list[str]:
    lines = [f"{_INDENT}{result.sources.place(requirement.span)}"]
    lines.extend(
        f"{_INDENT}{line}"
        for line in snippet(requirement.span, result.sources, paint, width - len(_INDENT))
    )
    demand = requirement_words(requirement)
    if demand not in _line_at(result, requirement):
        lines.extend(_indented(f"It demands: {shown(demand)}", width))
    return lines


def _line_at(result: Result, requirement: Requirement) -> str:
    """The line that is shown of a requirement, with single blanks."""
    span = requirement.span
    file = result.sources.by_name.get(span.file)
    if file is None:
        return ""
    return " ".join(file.line(file.line_and_column(span.start)[0]).split())


def run_ends_words(requirement: Requirement, verdict: Verdict) -> str:
    """What is so at the end of a verdict's run (``here the requirement is broken``)."""
    return _shown_run(requirement, verdict)[1]


def _shown_run(requirement: Requirement, verdict: Verdict) -> tuple[Run | None, str]:
    match verdict:
        case Refuted():
            if verdict.run is not None and verdict.run.rests:
                return verdict.run, "nothing more will happen"
            if verdict.run is not None and verdict.run.cycle_from is not None:
                return verdict.run, "and so on, round and round"
            return verdict.run, _fails_in_words(requirement)
        case Proved():
            return verdict.witness, "it is so"
        case Answered():
            ends = "and so on" if verdict.bound_s == "unbounded" else "the longest time is reached"
            return verdict.run, ends
        case Undecided():
            return None, ""
        case _:
            assert_never(verdict)


def _fails_in_words(requirement: Requirement) -> str:
    if isinstance(requirement.form, Always) and not isinstance(requirement.form.condition, Implies):
        return "here it is not so"
    return "here the requirement is broken"


def _indented(text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        max(width, 24),
        initial_indent=_INDENT,
        subsequent_indent=_INDENT,
        break_on_hyphens=False,
    )


# ---------------------------------------------------------------- totals


def _totals(result: Result, strict: bool, width: int) -> str:
    code = exit_code((result,), strict)
    lines = []
    if result.interrupted:
        missing = len(result.asked) - len(result.verdicts)
        what = counted(missing, "requirement")
        if not missing:
            asked = len(result.asked) * len(result.under)
            missing = asked - sum(len(one.verdicts) for one in result.under)
            what = counted(missing, "cell of the table", "cells of the table")
        lines.append(f"Interrupted: {what} not judged.")
    if result.rejected:
        errors = [
            f for f in in_order(result.sources, result.findings) if f.severity is Severity.ERROR
        ]
        judged = "The verdicts do not count" if result.verdicts else "Nothing was judged"
        if not result.sources.files or any(_of_the_job(result, f) for f in errors):
            lines.append(f"{judged}: the job has {counted(len(errors), 'error')}.")
    elif result.asked:
        lines.extend(textwrap.wrap(counts_words(result), width))
    for line in _ending(code, result).split("\n"):
        lines.extend(textwrap.wrap(line, width, break_on_hyphens=False))
    return "\n".join(lines)


def _of_the_job(result: Result, error: Diagnostic) -> bool:
    """Whether an error lies in the job's text, and not in the command."""
    places = [label.span.file for label in error.labels]
    return any(f in result.sources.by_name and not f.startswith(("(", "--")) for f in places)


def counts_words(result: Result) -> str:
    """How many requirements came out how, and how many warnings and notes there are."""
    verdicts = [verdict for _, verdict, _ in result.verdicts]
    parts = []
    for kind, word in (
        (Proved, "proved"),
        (Refuted, "refuted"),
        (Undecided, "undecided"),
        (Answered, "answered"),
    ):
        number = sum(isinstance(v, kind) for v in verdicts)
        if number:
            parts.append(f"{number} {word}")
    vacuous = sum(isinstance(v, Proved | Answered) and v.vacuous for v in verdicts)
    text = f"{counted(len(result.asked), 'requirement')}: {', '.join(parts) or 'none judged'}"
    if vacuous:
        text += f" ({vacuous} of them vacuous)"
    text += "."
    for severity, one in ((Severity.WARNING, "warning"), (Severity.NOTE, "note")):
        count = sum(f.severity is severity for f in in_order(result.sources, result.findings))
        if count:
            text += f" {counted(count, one).capitalize()}."
    return text


def _ending(code: Exit, result: Result) -> str:
    match code:
        case Exit.HOLDS:
            return "All hold (exit code 0)."
        case Exit.REFUTED:
            refuted = any(isinstance(v, Refuted) for _, v, _ in result.verdicts)
            why = "Something is refuted" if refuted else "A warning counts as a failure (--strict)"
            told = "\n`duskproof explain` tells why, `duskproof mend` how to put it right."
            return f"{why} (exit code 1).{told if refuted else ''}"
        case Exit.WRONG_INPUT:
            return "The input is wrong (exit code 2)."
        case Exit.UNDECIDED:
            return "Something is undecided (exit code 3)."
        case Exit.INTERRUPTED:
            return "Exit code 130."
        case Exit.TOOL_FAULT:
            return "Exit code 70."
        case _:
            assert_never(code)
