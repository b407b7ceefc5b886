"""`duskproof house-page`: how the lights behave, in ten lines for the people of the house."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click

from verifier.front.console import (
    FOLDER,
    Duration,
    judged_all,
    say,
    tell,
    terminal_width,
    years_from_now,
)
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten


@click.command("house-page")
@FOLDER
@click.option(
    "-o",
    "path",
    type=PaperPath((".html", ".pdf")),
    metavar="FILE.html|.pdf",
    help="Write the page there.",
)
@click.option(
    "--time-limit",
    type=Duration(),
    default="20 s",
    show_default=True,
    help="Longest time for one proof.",
)
def command(folder: str, path: Path | None, time_limit: Fraction) -> int:
    """Tell the people of the house how their lights behave, in ten lines of plain words.

    What brings each light on comes from the rules, how soon it is off from proof. Promises are named
    only if they were proved; what fails is in the report, not here.

    \b
    Example:
      duskproof house-page specs/stair -o house.html
    """
    from verifier.front.house_shown import house_body, house_text
    from verifier.front.paint import paint_for
    from verifier.front.progress import working
    from verifier.handover.house import house
    from verifier.pipeline import Question

    workers = min(os.cpu_count() or 1, 8)
    question = Question(time_limit_s=time_limit, workers=workers, years=years_from_now())
    (result,) = judged_all((folder,), question)
    if result.job is None or result.rejected or result.interrupted:
        return tell((result,), "text", False)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
    with working(sys.stderr) as words:
        found = house(
            result.job, verdicts, float(time_limit), workers,
            lambda name: words(f"how soon each light is off: {name} …"),
        )  # fmt: skip
    if path is None:
        say(house_text(found, paint_for(sys.stdout), terminal_width()))
        return 0
    try:
        write_paper(path, found.title, house_body(found))
    except NotWritten as problem:
        return tell((replace(result, verdicts=(), findings=(problem.args[0],)),), "text", False)
    say(f"The page for the house is in {path}.")
    return 0
