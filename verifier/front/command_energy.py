"""`duskproof energy`: what the lighting uses in a year, and what it costs."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import FOLDER, Duration, checked, say, tell, terminal_width
from verifier.source import Span

if TYPE_CHECKING:
    from verifier.pipeline import Result


@click.command("energy")
@FOLDER
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, show_default=True,
              help="Another seed draws another year of the same kind.")  # fmt: skip
@click.option(
    "--year", type=click.IntRange(1950, 2150), help="The year; without it the job's first."
)
@click.option(
    "--weeks",
    type=click.IntRange(1, 52),
    help="How many weeks of the year are played, spread over it; all, or what some minutes allow.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
@click.option(
    "--time-limit",
    type=Duration(),
    default="20 s",
    show_default=True,
    help="Longest time for the proof of one bound.",
)
def command(
    folder: str, seed: int, year: int | None, weeks: int | None, form: str, time_limit: Fraction
) -> int:
    """Tell what each lamp uses in a year, and what it costs, from the usage that the job states.

    Three figures beside each other: weeks of the year played on the rules, the mean by formula
    where a rule is simple enough for one, and what it can come to at most by proof. And what it would
    be if all were left on. With where each figure comes from.

    \b
    Example:
      duskproof energy specs/boathouse --weeks 4
    """
    from verifier.front.energy_json import energy_json
    from verifier.front.energy_text import energy_text
    from verifier.front.paint import paint_for
    from verifier.front.progress import working
    from verifier.handover.energy import Told, energy
    from verifier.handover.simulated import TooMuch
    from verifier.handover.year import NoNights

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), form, False)
    if result.job.usage is None or not result.job.usage.uses:
        return _wrong(result, form, _no_usage(result))
    with working(sys.stderr) as words:
        told = Told(
            lambda number: words(f"playing the rules, week {number + 1} …"),
            lambda name: words(f"proving how long each output can be on: {name} …"),
        )
        workers = min(os.cpu_count() or 1, 8)
        try:
            found = energy(
                result.job,
                year or result.job.years[0],
                weeks,
                seed,
                float(time_limit),
                workers,
                told,
            )
        except NoNights:
            return _wrong(result, form, _no_nights(result))
        except TooMuch:
            return _wrong(result, form, _too_much(result))
    say(
        energy_json(found, result.sources)
        if form == "json"
        else energy_text(found, result.sources, paint_for(sys.stdout), terminal_width())
    )
    return 0


def _wrong(result: Result, form: str, problem: Diagnostic) -> int:
    return tell((replace(result, findings=(problem,)),), form, False)


def _place(result: Result) -> Label:
    name = result.sources.files[0].name if result.sources.files else ""
    return Label(Span(name, 0, 0))


def _no_usage(result: Result) -> Diagnostic:
    return Diagnostic(
        "no-usage",
        Severity.ERROR,
        "the job does not say how the house is used, so there is no energy to tell",
        (_place(result),),
        "Write `usage` … `end usage`, with lines such as "
        "`side_door becomes open for 10 s 24 times a day between 06:00 and 22:00`.",
    )


def _no_nights(result: Result) -> Diagnostic:
    assert result.job is not None
    assert result.job.usage is not None
    return Diagnostic(
        "no-nights",
        Severity.ERROR,
        "the rules read night and day, and the job does not say when it is night",
        (Label(result.job.usage.uses[0].span),),
        "Write `night between 18:00 and 06:00` in the usage, or the site's latitude, longitude and "
        "timezone.",
    )


def _too_much(result: Result) -> Diagnostic:
    return Diagnostic(
        "too-much-happens",
        Severity.ERROR,
        "more happens in a week of this usage than can be played",
        (_place(result),),
        "Look for rules that set each other off without an end (`duskproof prove` tells), or state "
        "fewer events a day.",
    )
