"""`duskproof report`: the client's report, as a page or as PDF."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import click

from verifier.front.console import FOLDER, Duration, checked, judged_all, say, tell, years_from_now
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten, can_be_written
from verifier.pipeline import Result

WEEKS, SEED = 26, 1
"""Weeks that are simulated for the report's energy, spread over a year, and how they are drawn."""


@click.command("report")
@FOLDER
@click.option(
    "-o",
    "path",
    type=PaperPath((".html", ".pdf")),
    required=True,
    metavar="FILE.html|.pdf",
    help="Where the report goes.",
)
@click.option(
    "--consider", multiple=True, metavar="FAULT", help='Consider this fault too: "power cuts".'
)
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one requirement.",
)
@click.option("--no-energy", is_flag=True, help="Leave the energy out, which takes some seconds.")
def command(
    folder: str, path: Path, consider: tuple[str, ...], time_limit: Fraction, no_energy: bool
) -> int:
    """Write the client's report: what was promised, what holds, what fails and how.

    One file for mail and print, without anything from elsewhere: client pages first, the
    engineer's appendix after. The energy of a year is in it if the job says how it is used.
    Exit codes: 0 all hold, 1 something fails, 2 the input is wrong, 3 something is undecided.

    \b
    Example:
      duskproof report specs/stair-first-draft -o report.html
    """
    from verifier.explain.explained import explained, fails
    from verifier.front.outcome import exit_code
    from verifier.front.report_html import Report, report_body, report_title
    from verifier.pipeline import Question

    read = checked(folder)
    try:
        can_be_written(path)
    except NotWritten as problem:
        return tell((replace(read, verdicts=(), findings=(problem.args[0],)),), "text", False)
    workers = min(os.cpu_count() or 1, 8)
    question = Question((), (), time_limit, workers, consider, years=years_from_now())
    (result,) = judged_all((folder,), question)
    if result.job is None or result.rejected or result.interrupted:
        return tell((result,), "text", False)
    told = tuple(
        explained(result.job, requirement, verdict)
        for requirement, verdict, _ in result.verdicts
        if fails(verdict)
    )
    extra = () if no_energy else _energy(result, float(time_limit), workers)
    report = Report(result, result.job, told, folder, date.today(), extra)
    try:
        write_paper(path, report_title(report), report_body(report))
    except NotWritten as problem:
        return tell((replace(result, verdicts=(), findings=(problem.args[0],)),), "text", False)
    say(f"The report is in {path}.")
    return int(exit_code((result,), False))


def _energy(result: Result, limit_s: float, workers: int) -> tuple[tuple[str, str], ...]:
    """The section about energy, if the job says how it is used and when it is night."""
    from verifier.front.energy_html import energy_html
    from verifier.front.progress import working
    from verifier.handover.energy import Told, energy
    from verifier.handover.simulated import TooMuch
    from verifier.handover.year import NoNights

    job = result.job
    if job is None or job.usage is None:
        return ()
    with working(sys.stderr) as words:
        told = Told(
            lambda number: words(f"playing week {number + 1} of {WEEKS} …"),
            lambda name: words(f"proving how long each output can be on: {name} …"),
        )
        try:
            found = energy(job, job.years[0], WEEKS, SEED, limit_s, workers, told)
        except (NoNights, TooMuch):
            return ()
    return (("Energy", energy_html(found, result.sources)),)
