"""`duskproof testsheet`: what to try on site, step by step."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import FOLDER, checked, say, tell
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten, can_be_written, write_whole
from verifier.pipeline import Result
from verifier.source import Span


@click.command("testsheet")
@FOLDER
@click.option(
    "-o",
    "path",
    type=PaperPath((".html", ".pdf", ".csv")),
    required=True,
    metavar="FILE.html|.pdf|.csv",
    help="Where the sheet goes.",
)
@click.option(
    "--since", metavar="OLD_FOLDER", help="Only what has to be tested again after an edit."
)
def command(folder: str, path: Path, since: str | None) -> int:
    """Write the test sheet for the day on site: what to do, how long to wait, what to expect.

    Every way through every rule once, each trigger refused once, each wait just before and just
    after its end, in an order to walk. Each step was taken on the interpreter, in every order of
    handling; what would hang on the order is not expected.

    \b
    Example:
      duskproof testsheet specs/stair -o sheet.html
    """
    from verifier.front.progress import working
    from verifier.front.sheet_csv import sheet_csv
    from verifier.front.sheet_html import sheet_body, sheet_title
    from verifier.handover.fingerprint import fingerprint_of
    from verifier.handover.sheet import changed_since, sheet_of

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    if not result.job.rules:
        return tell((replace(result, findings=(_no_steps(result),)),), "text", False)
    try:
        can_be_written(path)
    except NotWritten as problem:
        return tell((replace(result, findings=(problem.args[0],)),), "text", False)
    rules = None
    if since is not None:
        old = checked(since)
        if old.job is None or old.rejected:
            return tell((old,), "text", False)
        rules = changed_since(old.job, result.job)
        if not rules:
            say(f"Nothing that acts has changed since {since}: there is nothing to test again.")
            return 0
    with working(sys.stderr) as told:
        sheet = sheet_of(result.job, told, rules)
    try:
        if path.suffix.lower() == ".csv":
            write_whole(path, sheet_csv(sheet).encode("utf-8"))
        else:
            body = sheet_body(sheet, fingerprint_of(result.sources))
            write_paper(path, sheet_title(sheet), body)
    except NotWritten as problem:
        return tell((replace(result, findings=(problem.args[0],)),), "text", False)
    say(f"The test sheet is in {path}: {sheet.steps} steps.")
    return 0


def _no_steps(result: Result) -> Diagnostic:
    name = result.sources.files[0].name if result.sources.files else ""
    return Diagnostic(
        "no-steps",
        Severity.ERROR,
        "the job has no rule, so there is nothing to try on site",
        (Label(Span(name, 0, 0)),),
        "Write the rules first; `duskproof promise` works without any.",
    )
