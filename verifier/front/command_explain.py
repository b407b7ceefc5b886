"""`duskproof explain`: why requirements fail."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import (
    FOLDER,
    Duration,
    judged_all,
    requirement_names,
    say,
    tell,
    terminal_width,
    years_from_now,
)
from verifier.source import Span

if TYPE_CHECKING:
    from verifier.explain.explained import Explained


@click.command("explain")
@FOLDER
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    shell_complete=requirement_names,
    help="Explain this requirement only.",
)
@click.option("--ask", multiple=True, metavar="FORM", help='Explain this too: "never: a is on".')
@click.option("--other", is_flag=True, help="Look for a second case of another kind, too.")
@click.option(
    "--pictures",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Draw each case there, as SVG.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one requirement.",
)
def command(
    folder: str,
    only: tuple[str, ...],
    ask: tuple[str, ...],
    other: bool,
    pictures: Path | None,
    form: str,
    time_limit: Fraction,
) -> int:
    """Tell why requirements fail: story, causes, and what would have gone well.

    Each failing case with its picture, the instants at which something changes, the lines that
    acted, the values that made it fail, which rule has to do with it, and the nearest case that
    goes well. Everything is tried out on the interpreter.
    Exit codes: 0 nothing fails, 1 something does, 2 the input is wrong, 3 something is undecided.

    \b
    Example:
      duskproof explain specs/stair-first-draft
    """
    from verifier.explain.explained import explained, fails
    from verifier.front.explain_json import explanations_json
    from verifier.front.explain_text import explained_text
    from verifier.front.outcome import exit_code
    from verifier.front.paint import paint_for
    from verifier.pipeline import Question

    workers = min(os.cpu_count() or 1, 8)
    question = Question(only, ask, time_limit, workers, years=years_from_now())
    (result,) = judged_all((folder,), question)
    if result.job is None or result.rejected or result.interrupted:
        return tell((result,), form, False)
    told = tuple(
        explained(result.job, requirement, verdict, other=other)
        for requirement, verdict, _ in result.verdicts
        if fails(verdict)
    )
    code = int(exit_code((result,), False))
    if pictures is not None:
        try:
            _draw(pictures, told)
        except OSError as error:
            problem = Diagnostic(
                "picture-not-written",
                Severity.ERROR,
                f'the pictures cannot be written to "{pictures}": {(error.strerror or "").lower()}',
                (Label(Span("--pictures", 0, 0)),),
                "Give a folder that may be written to and has room.",
            )
            return tell((replace(result, verdicts=(), findings=(problem,)),), form, False)
    if form == "json":
        say(explanations_json(told, result.sources, result.name, code))
        return code
    paint, width = paint_for(sys.stdout), terminal_width()
    blocks = [explained_text(each, result.sources, folder, paint, width) for each in told]
    if not told:
        blocks.append("Nothing fails, so there is nothing to explain.")
    say("\n\n".join(blocks))
    return code


def _draw(folder: Path, told: tuple[Explained, ...]) -> None:
    """Writes a picture for each story, and one for the case beside it that goes well."""
    from verifier.front.timing_svg import timing_svg

    folder.mkdir(parents=True, exist_ok=True)
    for each in told:
        name = each.requirement.name
        found = [(name, each.story), (f"{name}-other", each.other), (f"{name}-well", each.contrast)]
        for file, drawn in found:
            if drawn is not None:
                picture = timing_svg(drawn.diagram)
                (folder / f"{file}.svg").write_text(picture, encoding="utf-8")
