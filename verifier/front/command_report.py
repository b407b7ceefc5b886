"""`duskproof report`: the client's report, as a page or as PDF."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import click

from verifier.front.console import FOLDER, Duration, judged_all, say, tell, years_from_now
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten


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
def command(folder: str, path: Path, consider: tuple[str, ...], time_limit: Fraction) -> int:
    """Write the client's report: what was promised, what holds, what fails and how.

    One file for mail and print, without anything from elsewhere: client pages first, the
    engineer's appendix after.
    Exit codes: 0 all hold, 1 something fails, 2 the input is wrong, 3 something is undecided.
    """
    from verifier.explain.explained import explained, fails
    from verifier.front.outcome import exit_code
    from verifier.front.report_html import Report, report_body, report_title
    from verifier.pipeline import Question

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
    report = Report(result, result.job, told, folder, date.today())
    try:
        write_paper(path, report_title(report), report_body(report))
    except NotWritten as problem:
        return tell((replace(result, verdicts=(), findings=(problem.args[0],)),), "text", False)
    say(f"The report is in {path}.")
    return int(exit_code((result,), False))
