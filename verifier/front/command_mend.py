"""`duskproof mend`: proposals that put right what fails, each proved before it is shown."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.explain.figures import counted
from verifier.front.console import (
    FOLDER,
    Duration,
    checked,
    judged_all,
    requirement_names,
    say,
    tell,
    terminal_width,
    years_from_now,
)
from verifier.front.written import NotWritten, write_over
from verifier.model.job import Job
from verifier.pipeline import Result
from verifier.source import Span


@click.command("mend")
@FOLDER
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    shell_complete=requirement_names,
    help="Mend this requirement only.",
)
@click.option("--apply", "number", type=click.IntRange(1), metavar="N", help="Write proposal N.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
@click.option(
    "--time-limit",
    type=Duration(),
    default="12 s",
    show_default=True,
    help="Longest search for proposals for one requirement.",
)
def command(
    folder: str, only: tuple[str, ...], number: int | None, form: str, time_limit: Fraction
) -> int:
    """Propose changes of the rules that put right what fails; each is proved first.

    Shown are the change as a diff, which requirements hold with it, and which it would break.
    With --apply N the rules are changed; the same command without it shows what N is.
    Exit codes: 0 nothing fails or the proposal is written, 1 something fails, 2 the input is wrong.

    \b
    Example:
      duskproof mend specs/stair-first-draft
    """
    from verifier.explain.explained import fails
    from verifier.explain.mending import Limits, mends
    from verifier.front.mend_text import applied_json, applied_text, mends_json, mends_text
    from verifier.front.paint import paint_for
    from verifier.front.progress import working
    from verifier.pipeline import Question

    read = checked(folder)
    unknown = None if read.job is None else _unknown(read.job, only)
    if unknown is not None:
        return tell((replace(read, findings=(unknown,)),), form, False)
    workers = min(os.cpu_count() or 1, 8)
    question = Question(workers=workers, years=years_from_now())
    (result,) = judged_all((folder,), question)
    if result.job is None or result.rejected or result.interrupted:
        return tell((result,), form, False)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
    names = tuple(n for n in verdicts if fails(verdicts[n]) and (not only or n in only))
    limits = Limits(all_s=float(time_limit), workers=workers)
    with working(sys.stderr) as told:
        found = mends(result.sources, result.job, verdicts, names, limits, told)
    if number is None:
        code = 1 if names else 0
        if form == "json":
            say(mends_json(found, names, result.name, code))
        elif not names:
            say("Nothing fails, so there is nothing to mend.")
        else:
            say(mends_text(found, names, folder, only, paint_for(sys.stdout), terminal_width()))
        return code
    if number > len(found):
        return _wrong(result, _no_proposal(number, len(found)), form)
    mend = found[number - 1]
    try:
        for old, new in zip(result.sources.files, mend.after.files, strict=True):
            if old.text != new.text:
                write_over(Path(folder) / old.name, old.text, new.text)
    except NotWritten as problem:
        return _wrong(result, problem.args[0], form)
    if form == "json":
        say(applied_json(result.sources, mend, result.name, number))
    else:
        say(applied_text(result.sources, mend, folder))
    return 0


def _wrong(result: Result, problem: Diagnostic, form: str) -> int:
    """Says what is wrong with the command; the verdicts are no part of that."""
    return tell((replace(result, verdicts=(), findings=(problem,)),), form, False)


def _unknown(job: Job, only: tuple[str, ...]) -> Diagnostic | None:
    from verifier.pipeline import unknown_requirement

    for name in only:
        if name not in job.requirement:
            return unknown_requirement(name, job)
    return None


def _no_proposal(number: int, count: int) -> Diagnostic:
    there = f"there {'is' if count == 1 else 'are'} {counted(count, 'proposal')}"
    return Diagnostic(
        "no-such-proposal",
        Severity.ERROR,
        f"there is no proposal {number}: {there if count else 'there is none'}",
        (Label(Span("--apply", 0, 0)),),
        "Run the same command without --apply, and choose one of those that it lists.",
    )
