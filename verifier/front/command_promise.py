"""`duskproof promise`: what was promised, in plain words, for the client to sign."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from verifier.explain.figures import listed
from verifier.front.console import FOLDER, checked, requirement_names, say, tell, terminal_width
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten, write_whole


@click.command("promise")
@FOLDER
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    shell_complete=requirement_names,
    help="This requirement only.",
)
@click.option(
    "-o",
    "path",
    type=PaperPath((".html", ".pdf", ".txt")),
    metavar="FILE.html|.pdf|.txt",
    help="Write the paper there.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def command(folder: str, only: tuple[str, ...], path: Path | None, form: str) -> int:
    """Read the requirements back in plain words, each with a run that keeps and one that breaks it.

    For the client to sign before there are rules: the runs are made up from the requirements alone,
    lamps move freely in them, and each is judged by its requirement. A requirement may name a rule
    that is still to be written.

    \b
    Example:
      duskproof promise specs/stair -o promises.html
    """
    from verifier.front.page import CAUTIONS
    from verifier.front.paint import PLAIN, paint_for
    from verifier.front.promise_html import promise_body
    from verifier.front.promise_json import promise_json
    from verifier.front.promise_text import promise_text
    from verifier.front.rules_to_come import with_rules_to_come
    from verifier.handover.promise import promise_of, promise_title
    from verifier.pipeline import Question, unknown_requirement, with_requirements

    result, to_come = with_rules_to_come(checked(folder))
    if result.job is None or result.rejected:
        return tell((result,), form, False)
    for name in only:
        if name not in result.job.requirement:
            problem = unknown_requirement(name, result.job)
            return tell((replace(result, findings=(problem,)),), form, False)
    asked = with_requirements(result, result.job, Question(only))
    if asked.rejected:
        return tell((asked,), form, False)
    promise = promise_of(result.job, only)
    made = f"{date.today():%d %B %Y}".lstrip("0")
    try:
        if path is not None and path.suffix.lower() == ".txt":
            whole = promise_text(promise, made, PLAIN, 100, CAUTIONS)
            write_whole(path, f"{whole}\n".encode())
        elif path is not None:
            write_paper(path, promise_title(promise), promise_body(promise, made))
    except NotWritten as problem:
        return tell((replace(result, findings=(problem.args[0],)),), form, False)
    if form == "json":
        say(promise_json(promise, CAUTIONS))
    elif path is None:
        say(promise_text(promise, made, paint_for(sys.stdout), terminal_width(), CAUTIONS))
    else:
        say(f"The promises are in {path}.")
    if to_come and form != "json":
        click.echo(f"Still to be written: the rules {listed(to_come)}.", err=True)
    return 0
