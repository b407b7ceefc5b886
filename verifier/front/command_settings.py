"""`duskproof settings`: every figure of the rules, and between which values the requirements hold."""

from __future__ import annotations

import os
import sys
from fractions import Fraction

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


@click.command("settings")
@FOLDER
@click.option("--format", "form", type=click.Choice(["text", "csv", "json"]), default="text")
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest search for the edges of all figures.",
)
def command(folder: str, form: str, time_limit: Fraction) -> int:
    """List every duration and level of the rules, and what holds it between which values.

    A figure is made smaller and larger, and each time the requirements that it can matter to are
    proved anew: so it is known how far it can be turned before which of them fails. Requirements that
    do not hold as the job is are left out.
    Exit codes: 0 listed, 2 the input is wrong, 130 interrupted.

    \b
    Example:
      duskproof settings specs/stair
    """
    from verifier.explain.mending import good
    from verifier.front.paint import paint_for
    from verifier.front.progress import working
    from verifier.front.settings_text import (
        settings_csv,
        settings_json,
        settings_text,
        shown_names,
    )
    from verifier.handover.settings import schedule
    from verifier.pipeline import Question

    workers = min(os.cpu_count() or 1, 8)
    question = Question(
        time_limit_s=min(time_limit, Fraction(60)), workers=workers, years=years_from_now()
    )
    (result,) = judged_all((folder,), question)
    if result.job is None or result.rejected or result.interrupted:
        return tell((result,), "json" if form == "json" else "text", False)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
    with working(sys.stderr) as words:
        found = schedule(
            result.sources, result.job, verdicts, float(time_limit), workers,
            lambda name: words(f"turning figures up and down, {name} is done …"),
        )  # fmt: skip
    if form == "csv":
        say(settings_csv(found, result.sources), end="")
    elif form == "json":
        say(settings_json(found, result.sources, result.name))
    else:
        say(settings_text(found, result.sources, paint_for(sys.stdout), terminal_width()))
    failing = tuple(name for name, verdict in verdicts.items() if not good(verdict))
    if failing and form == "text":
        say(f"Left out, as they do not hold or say nothing: {shown_names(failing)}.")
    return 0
