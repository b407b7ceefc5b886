"""`duskproof effects`: the cause-and-effect table of the rules."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from verifier.front.console import FOLDER, checked, say, tell, terminal_width
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten, write_whole


@click.command("effects")
@FOLDER
@click.option(
    "-o",
    "path",
    type=PaperPath((".html", ".pdf", ".csv", ".txt")),
    metavar="FILE.html|.pdf|.csv|.txt",
    help="Write the table there.",
)
@click.option("--format", "form", type=click.Choice(["text", "csv", "html"]), default="text")
def command(folder: str, path: Path | None, form: str) -> int:
    """Show what each trigger, and the end of each wait, does to each output.

    A row for each cause with its condition, a column for each output and note of the controller:
    the table that the trade calls cause and effect. A large one is split by what belongs together.

    \b
    Example:
      duskproof effects specs/boathouse
    """
    from verifier.front.effects_shown import (
        effects_body,
        effects_csv,
        effects_text,
        effects_title,
    )
    from verifier.front.page import page
    from verifier.front.paint import PLAIN, paint_for
    from verifier.handover.effects import effects_of

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    effects = effects_of(result.job)
    if path is None:
        match form:
            case "csv":
                say(effects_csv(effects, result.sources), end="")
            case "html":
                say(page(effects_title(effects), effects_body(effects)), end="")
            case _:
                say(effects_text(effects, paint_for(sys.stdout), terminal_width()))
        return 0
    try:
        match path.suffix.lower():
            case ".csv":
                write_whole(path, effects_csv(effects, result.sources).encode())
            case ".txt":
                write_whole(path, f"{effects_text(effects, PLAIN, 120)}\n".encode())
            case _:
                write_paper(path, effects_title(effects), effects_body(effects))
    except NotWritten as problem:
        return tell((replace(result, findings=(problem.args[0],)),), "text", False)
    say(f"The table is in {path}.")
    return 0
