"""What the commands share: kinds of argument, reading and judging a job, saying what came out."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

import click

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from verifier.front.progress import Judging
    from verifier.model.job import Requirement, Rule
    from verifier.pipeline import Question, Result


def _folders(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Folders, for the shell to complete."""
    from click.shell_completion import CompletionItem

    return [CompletionItem(incomplete, type="dir")]


FOLDERS = click.argument(
    "folders", nargs=-1, required=True, metavar="FOLDER…", shell_complete=_folders
)
FOLDER = click.argument("folder", metavar="FOLDER", shell_complete=_folders)


Completer = Callable[["click.Context", "click.Parameter", str], "list[CompletionItem]"]


def _names_of(*kinds: Literal["requirements", "rules"]) -> Completer:
    """What completes the names in a job whose folder was typed before."""

    def complete(
        ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        from click.shell_completion import CompletionItem

        # With an option that still lacks its value, click leaves the arguments where they were.
        given = ctx.params.get("folder") or ctx.params.get("folders") or ctx.args
        items: list[CompletionItem] = []
        for folder in (given,) if isinstance(given, str) else given:
            job = checked(folder).job
            things: list[Requirement | Rule] = []
            if job is not None:
                things += job.requirements if "requirements" in kinds else ()
                things += job.rules if "rules" in kinds else ()
            items += [
                CompletionItem(each.name, help=" ".join(each.label.split()) or None)
                for each in things
                if each.name.startswith(incomplete)
            ]
        return items

    return complete


requirement_names = _names_of("requirements")
rule_names = _names_of("rules")
rule_and_requirement_names = _names_of("requirements", "rules")


class Duration(click.ParamType[Fraction, Any]):
    """A duration as the rule language writes it, or a bare number of seconds."""

    name = "D"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Fraction:
        """The seconds of it."""
        from verifier.front.figures import seconds_of

        if isinstance(value, Fraction):
            return value
        seconds = seconds_of(str(value))
        if seconds is None:
            self.fail(f'"{value}" is not a duration; write 20, "30 s" or "1 min 30 s"', param, ctx)
        return seconds


MOST_YEARS = 100


class Years(click.ParamType[tuple[int, int], Any]):
    """A year, or two with a hyphen."""

    name = "Y-Y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """First and last year."""
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"(\d{4})(?:\s*[-–]\s*(\d{4}))?", str(value).strip())
        if found is None:
            self.fail(f'"{value}" names no years; write 2027 or 2027-2056', param, ctx)
        first, last = int(found[1]), int(found[2] or found[1])
        if not 1950 <= first <= last <= 2150 or last - first >= MOST_YEARS:
            self.fail(
                f"{value}: the years go up, lie between 1950 and 2150, and are {MOST_YEARS} at most",
                param,
                ctx,
            )
        return first, last


def years_from_now() -> tuple[int, int]:
    """This year and 29 more: thirty years for which a job with a site is proved."""
    from datetime import date

    year = date.today().year
    return year, year + 29


def checked(folder: str) -> Result:
    """The job of a folder, without verdicts."""
    from verifier import pipeline
    from verifier.front.folder import read_folder

    reading = read_folder(folder)
    if reading.diagnostics:
        return pipeline.Result(reading.name, reading.sources, None, (), (), reading.diagnostics)
    return pipeline.checked(reading.sources, reading.name)


def judged_all(folders: tuple[str, ...], question: Question) -> tuple[Result, ...]:
    """The results of several folders; progress is told meanwhile."""
    from verifier.front.keeping import keeping, warning
    from verifier.front.progress import progress

    if question.keeping is None:
        question = replace(question, keeping=keeping())
    results: list[Result] = []
    with progress(sys.stderr) as judging:
        for folder in folders:
            judging.begin(folder)
            result = judged(folder, question, judging)
            results.append(result)
            if result.interrupted:
                break
    for said in filter(None, map(warning, results)):
        click.echo(said, err=True)
    return tuple(results)


def judged(folder: str, question: Question, judging: Judging) -> Result:
    """The result of one folder; ``judging`` is told how far it has come."""
    from verifier import pipeline
    from verifier.front.folder import read_folder

    reading = read_folder(folder)
    if reading.diagnostics:
        return pipeline.Result(reading.name, reading.sources, None, (), (), reading.diagnostics)
    return pipeline.prove(
        reading.sources,
        reading.name,
        question,
        lambda *_: None,
        on_progress=judging.update,
    )


def tell(results: tuple[Result, ...], form: str, strict: bool) -> int:
    """Says what came out, as text or JSON; the exit code."""
    from verifier.front.outcome import exit_code

    if form == "json":
        from verifier.front.result_json import results_json

        say(results_json(results, strict))
    else:
        from verifier.front.paint import paint_for
        from verifier.front.result_text import result_text

        paint, width = paint_for(sys.stdout), terminal_width()
        say("\n".join(result_text(result, strict, paint, width) for result in results), end="")
    return int(exit_code(results, strict))


def terminal_width() -> int:
    """The columns of the terminal, between 40 and 140."""
    return min(max(shutil.get_terminal_size((100, 24)).columns, 40), 140)


def say(text: str, end: str = "\n") -> None:
    """Prints to standard output; a reader that has gone away (`| head`) is no fault."""
    try:
        click.echo(f"{text}{end}", nl=False, color=True)
        sys.stdout.flush()
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
