"""`duskproof read-back`: requirements and rules in plain words, for whoever does not read rules."""

from __future__ import annotations

import sys
from dataclasses import replace
from difflib import get_close_matches

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.explain.figures import listed
from verifier.front.console import (
    FOLDER,
    checked,
    rule_and_requirement_names,
    say,
    tell,
    terminal_width,
)
from verifier.model.job import Job
from verifier.source import Span


@click.command("read-back")
@FOLDER
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    shell_complete=rule_and_requirement_names,
    help="This rule or requirement only.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def command(folder: str, only: tuple[str, ...], form: str) -> int:
    """Read the requirements and rules of a job back in plain words.

    To see whether what was written is what was meant. Of a rule: what begins it, its steps, and
    what a further trigger does. Nothing is proved, and there need not be any rules yet.

    \b
    Example:
      duskproof read-back specs/boathouse --only fan_run

    Exit codes: 0 read back, 2 the job has mistakes or there is no such name.
    """
    from verifier.front.paint import paint_for
    from verifier.front.read_back_text import job_read_back, read_back_json, read_back_text
    from verifier.front.rules_to_come import with_rules_to_come

    result, to_come = with_rules_to_come(checked(folder))
    if result.job is None or result.rejected:
        return tell((result,), form, False)
    for name in only:
        if name not in result.job.rule and name not in result.job.requirement:
            problem = _unknown(name, result.job)
            return tell((replace(result, findings=(problem,)),), form, False)
    said = job_read_back(result.job, only, to_come)
    if form == "json":
        say(read_back_json(said))
        return 0
    if not (said.requirements or said.rules):
        say("There is neither a requirement nor a rule yet, so there is nothing to read back.")
        return 0
    say(read_back_text(said, paint_for(sys.stdout), terminal_width()))
    if to_come:
        click.echo(f"Still to be written: the rules {listed(to_come)}.", err=True)
    return 0


def _unknown(name: str, job: Job) -> Diagnostic:
    known = [*(each.name for each in job.requirements), *(each.name for each in job.rules)]
    near = get_close_matches(name, known, n=3, cutoff=0.6)
    more = ", …" if len(known) > 12 else ""
    hint = (
        f"Did you mean {' or '.join(near)}?"
        if near
        else f"There are: {', '.join(known[:12])}{more}."
    )
    return Diagnostic(
        "unknown-name",
        Severity.ERROR,
        f'there is no rule or requirement called "{name}"',
        (Label(Span("--only", 0, 0)),),
        hint,
    )
