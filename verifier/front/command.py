"""The command line: words in, values through the pipeline, text or JSON out, an exit code."""

from __future__ import annotations

import gc
import io
import os
import sys
import traceback
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click
from click.core import ParameterSource

from verifier import __version__
from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import (
    FOLDER,
    FOLDERS,
    Duration,
    Years,
    checked,
    judged_all,
    requirement_names,
    say,
    tell,
    terminal_width,
    years_from_now,
)
from verifier.source import Span

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from verifier.front.paint import Style
    from verifier.pipeline import Result

DEBUG_VARIABLE = "DUSKPROOF_DEBUG"

BESIDE: dict[str, str] = {
    "completion": "Print what makes a shell complete commands, options, folders and names.",
    "new": "Ask a few questions, write a first job, and prove it.",
    "watch": "Judge a job again whenever one of its files is saved.",
    "read-back": "Read requirements and rules back in plain words.",
    "format": "Lay out the text of jobs in the one canonical way; comments stay.",
    "play": "Open a page on which rules are written, proved and tried by hand.",
    "learn": "Learn in lessons: read, predict before you run, prove, meet a challenge.",
    "serve-editor": "Serve an editor: mistakes as you type, proofs as you save.",
    "cache": "Show what is kept from one run to the next, or forget it.",
    "house-page": "Tell the people of the house how their lights behave, in ten lines.",
    "settings": "List the figures of the rules, and between which values all stays proved.",
    "energy": "Tell what each lamp uses in a year, and what it costs, from a stated usage.",
    "testsheet": "Write the test sheet for the day on site: what to do, wait for and expect.",
    "replay": "Play failing cases that were kept on the job as it is now, without a solver.",
    "effects": "Show what each trigger, and the end of each wait, does to each output.",
    "points": "Show the points schedule, write it as CSV, or take an edited one in.",
    "promise": "Read the requirements back in plain words, with runs that keep and break them.",
    "report": "Write the client's report: what was promised, what holds, what fails and how.",
    "mend": "Propose changes of the rules that put right what fails; each is proved first.",
    "graph": "Show the rules as graphs, or who drives what: text, drawing or page.",
    "explain": "Tell why requirements fail: story, causes, and what would have gone well.",
}
"""Commands with a module of their own, ``front/command_NAME.py``, and their first line of help."""


class Commands(click.Group):
    """The commands of this module, and those beside it, which are imported when they are used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all commands."""
        return sorted({*super().list_commands(ctx), *BESIDE})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """A command; its module is imported here."""
        if cmd_name not in BESIDE:
            return super().get_command(ctx, cmd_name)
        from importlib import import_module

        module = import_module(f"verifier.front.command_{cmd_name.replace('-', '_')}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Names of commands and options, without importing the commands beside."""
        from click.shell_completion import CompletionItem

        names = [name for name in self.list_commands(ctx) if name.startswith(incomplete)]
        items = [CompletionItem(name, help=self._help_of(name)) for name in names]
        return [*items, *click.Command.shell_complete(self, ctx, incomplete)]

    def _help_of(self, name: str) -> str:
        own = self.commands.get(name)
        return BESIDE[name] if own is None else own.get_short_help_str(100)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, without importing those beside."""
        rows = [(name, self._help_of(name)) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="duskproof", message="%(prog)s %(version)s")
@click.option("--debug", is_flag=True, help="If the tool itself fails, show where.")
def cli(debug: bool) -> None:
    """Prove that the rules of a lighting installation keep to what was promised.

    A job is a folder with .dusk files; `duskproof new` writes a first one, and the help of each
    command shows an example. Exit codes: 0 all hold, 1 something refuted, 2 the input
    is wrong, 3 something undecided, 70 the tool's own fault, 130 interrupted.
    """
    if debug:
        os.environ[DEBUG_VARIABLE] = "1"


# ---------------------------------------------------------------- prove


@cli.command()
@FOLDERS
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    shell_complete=requirement_names,
    help="Judge this requirement only.",
)
@click.option("--ask", multiple=True, metavar="FORM", help='Judge this too: "never: a is on".')
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
@click.option(
    "--output",
    "outputs",
    multiple=True,
    metavar="FORMAT:PATH",
    help="Write this, too: text, json, sarif, junit; vcd, trace, itf (a file for each run). "
    "PATH - is standard output.",
)
@click.option(
    "--save-case",
    "cases",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Keep each failing case there, for `duskproof replay`.",
)
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one requirement.",
)
@click.option("--workers", type=click.IntRange(1, 64), help="Requirements judged side by side.")
@click.option(
    "--certificates",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Write each proof there, as SMT-LIB text.",
)
@click.option(
    "--consider",
    multiple=True,
    metavar="FAULT",
    help='Consider this fault too: "power cuts", "lost reports of gate".',
)
@click.option(
    "--each-fault",
    is_flag=True,
    help="Judge without faults and under each fault alone, too, and show a table.",
)
@click.option(
    "--years",
    type=Years(),
    help="Years whose sun and clock are considered, where a site rules them: 2027-2056.",
)
@click.option("--strict", is_flag=True, help="Warnings count as failures.")
@click.option(
    "--cache",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Keep answers there from one run to the next, not in your own cache folder.",
)
@click.option(
    "--cluster",
    default="",
    metavar="ADDRESS",
    help="Have a Dask cluster do the work: the address of its scheduler, tcp://HOST:8786.",
)
@click.option("--no-cache", is_flag=True, help="Keep nothing, and take nothing that was kept.")
@click.option(
    "--recheck", is_flag=True, help="Have the solvers check every proof anew that was kept."
)
@click.pass_context
def prove(
    context: click.Context,
    folders: tuple[str, ...],
    only: tuple[str, ...],
    ask: tuple[str, ...],
    consider: tuple[str, ...],
    each_fault: bool,
    years: tuple[int, int] | None,
    form: str,
    outputs: tuple[str, ...],
    cases: Path | None,
    time_limit: Fraction,
    workers: int | None,
    certificates: Path | None,
    strict: bool,
    cache: Path | None,
    cluster: str,
    no_cache: bool,
    recheck: bool,
) -> int:
    """Prove or refute the requirements of the job in each FOLDER.

    \b
    Example:
      duskproof prove specs/boathouse-first-draft --only porch_lit
    """
    from verifier.front.keeping import NOTHING, keeping
    from verifier.front.outcome import exit_code
    from verifier.front.outputs import outputs_of, with_outputs
    from verifier.pipeline import Question, Result
    from verifier.source import Sources

    written, problems = outputs_of(
        outputs,
        one_asked=len(folders) == 1 and len(only) + len(ask) == 1,
        prints=context.get_parameter_source("form") is not ParameterSource.DEFAULT,
        folders=folders,
    )
    if problems:
        return tell((Result("", Sources(()), None, (), (), problems),), form, strict)
    question = Question(
        only,
        ask,
        time_limit,
        workers or min(os.cpu_count() or 1, 8),
        consider,
        each_fault,
        years or years_from_now(),
        certificates=certificates is not None,
        cluster=cluster,
        keeping=NOTHING if no_cache else keeping(cache, recheck),
    )
    try:
        results = judged_all(folders, question)
        if certificates is not None:
            results = _with_certificates(results, certificates)
        if cases is not None:
            from verifier.front.case_files import with_cases

            results = with_cases(results, question, cases)
        results, printed = with_outputs(results, folders, written, strict=strict)
        if printed is None:
            return tell(results, form, strict)
        say(printed, end="")
        return int(exit_code(results, strict))
    except Exception as error:
        if form == "json":
            say(_fault_json(error))
        raise


def _with_certificates(results: tuple[Result, ...], folder: Path) -> tuple[Result, ...]:
    """The results, with an error in the last one if the certificates could not be written."""
    from dataclasses import replace

    from verifier.front.certificates import certificate_files, write_certificates

    try:
        write_certificates(folder, certificate_files(results))
    except OSError as error:
        problem = Diagnostic(
            "certificates-not-written",
            Severity.ERROR,
            f'the certificates cannot be written to "{folder}": {(error.strerror or "").lower()}',
            (Label(Span("--certificates", 0, 0)),),
            "Give a folder that may be written to and has room.",
        )
        last = replace(results[-1], findings=(*results[-1].findings, problem))
        return (*results[:-1], last)
    return results


# ---------------------------------------------------------------- certificates


@cli.command("check-certificate")
@click.argument("files", nargs=-1, required=True, metavar="FILE…")
@click.option("--rules", metavar="FOLDER", help="Make the texts anew from the rules of this job.")
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one text and solver.",
)
def check_certificate(files: tuple[str, ...], rules: str | None, time_limit: Fraction) -> int:
    """Check certificates that `prove --certificates` wrote, with both solvers and no engine.

    A FILE is a folder with certificates, one of its certificate.json, or a single .smt2 text.
    Without --rules each text is solved as it stands. With it the texts are made anew from the
    rules as well, and from the certificate come the lemmas alone.
    Exit codes: 0 all accepted, 1 one refused, 2 a file is wrong, 3 one not checked in time.

    \b
    Example:
      duskproof prove specs/stair --certificates proofs
      duskproof check-certificate proofs --rules specs/stair
    """
    from verifier.front.certificate_check import CannotRead, check_file, found_below
    from verifier.front.diagnostic_text import diagnostic_text
    from verifier.front.paint import paint_for
    from verifier.front.shown import shown
    from verifier.source import Sources

    job = None
    if rules is not None:
        result = checked(rules)
        job = result.job
        if job is None or result.rejected:
            return tell((result,), "text", False)
    paint, codes_ = paint_for(sys.stdout), set[int]()
    for given in files:
        try:
            for path in found_below(given):
                told = check_file(path, float(time_limit), job)
                word = "not checked" if told.unsure else "refused" if told.refused else "accepted"
                style: Style = "doubt" if told.unsure else "bad" if told.refused else "good"
                say(f"{paint(word, style)}  {shown(told.place)}")
                say(f"  {shown(told.refused or told.accepted)}")
                codes_.add(3 if told.unsure else 1 if told.refused else 0)
        except CannotRead as wrong:
            say(diagnostic_text(wrong.args[0], Sources(()), paint, terminal_width()))
            codes_.add(2)
    return next(code for code in (2, 1, 3, 0) if code in codes_)


# ---------------------------------------------------------------- try


@cli.command("try")
@FOLDER
@click.argument("script", required=False, metavar="[SCRIPT]")
@click.option("--every-order", is_flag=True, help="Try every order of what happens at one moment.")
def try_(folder: str, script: str | None, every_order: bool) -> int:
    """Play a SCRIPT (all *.run files of the FOLDER without one) and check what it expects.

    \b
    # a script is a text file; its name ends in .run
    starts side_door shut, night
    at 5 s       side_door becomes open
    after 10 s   expect porch_light is on
    after 2 min  expect porch_light is off
    until 5 min

    \b
    starts       values at the start; what is not named is at rest
    at           counted from the start
    after        counted from the line before
    expect       a condition, as rules and requirements have them
    until        how long the script goes on

    What happens is said as in the rules: push pressed, night begins, shutter starts to go up,
    somebody comes into changing, light is switched on by hand, power fails and returns.
    What runs out by itself happens on time in between, and before a line of the same moment
    (with --every-order also after it). Rules triggered by one change are handled in the order
    in which they are declared. An expectation is read when all that is due has happened.
    Exit codes: 0 all kept, 1 an expectation is broken, 2 the script or the job is wrong.

    \b
    Example:
      duskproof try specs/boathouse dusk.run --every-order
    """
    from verifier.front.paint import paint_for
    from verifier.front.trying import try_scripts

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    tried = try_scripts(
        result.job,
        result.sources,
        folder,
        script,
        every_order=every_order,
        paint=paint_for(sys.stdout),
        width=terminal_width(),
    )
    say(tried.text)
    return tried.code


# ---------------------------------------------------------------- sun


@cli.command()
@FOLDER
@click.option("--year", type=click.IntRange(1950, 2150), help="The year; without it this one.")
@click.option(
    "-o",
    "picture",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.svg",
    help="Draw the year there.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def sun(folder: str, year: int | None, picture: Path | None, form: str) -> int:
    """Show when night and day begin at the site of a job, and the times that it reads.

    \b
    Example:
      duskproof sun specs/path --year 2027 -o sun.svg
    """
    from dataclasses import replace

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    site = result.job.site
    if site is None or site.latitude_deg is None:
        return tell((replace(result, findings=(_no_site(result),)),), form, False)
    from verifier.front.paint import paint_for
    from verifier.front.sun_picture import sun_svg
    from verifier.front.sun_text import sun_json, sun_text
    from verifier.front.sun_year import sun_year

    found = sun_year(result.job, site, year or years_from_now()[0])
    if picture is not None:
        try:
            picture.write_text(sun_svg(found), encoding="utf-8")
        except OSError as error:
            problem = Diagnostic(
                "picture-not-written",
                Severity.ERROR,
                f'the picture cannot be written to "{picture}": {(error.strerror or "").lower()}',
                (Label(Span("-o", 0, 0)),),
                "Give a file in a folder that may be written to and has room.",
            )
            return tell((replace(result, findings=(problem,)),), form, False)
    say(
        sun_json(found)
        if form == "json"
        else sun_text(found, paint_for(sys.stdout), terminal_width()).rstrip()
    )
    return 0


def _no_site(result: Result) -> Diagnostic:
    name = result.sources.files[0].name if result.sources.files else ""
    return Diagnostic(
        "no-site",
        Severity.ERROR,
        "the job does not say where it stands, so there is no sun to show",
        (Label(Span(name, 0, 0)),),
        'Write `site "NAME"` with `latitude … deg`, `longitude … deg`, `timezone "…"` and `end site`.',
    )


# ---------------------------------------------------------------- codes, standard


@cli.command()
@click.argument("code", required=False, metavar="[CODE]")
def codes(code: str | None) -> int:
    """List what can be found, or explain one CODE.

    \b
    Example:
      duskproof codes two-drivers
    """
    from verifier.diagnostics.codes import all_codes, page_text

    pages = all_codes()
    if code is None:
        widest = max(len(name) for name in pages)
        say("\n".join(f"{name:<{widest}}  {page.title}" for name, page in pages.items()))
        return 0
    if code in pages:
        say(page_text(pages[code]).rstrip("\n"))
        return 0
    from difflib import get_close_matches

    from verifier.front.shown import shown

    near = get_close_matches(code, list(pages), n=3, cutoff=0.6)
    hint = f"Did you mean {' or '.join(near)}?" if near else "`duskproof codes` lists all of them."
    say(f'error: there is no code called "{shown(code)}"  [unknown-code]\n  do: {hint}')
    return 2


@cli.command()
@click.argument("folder", required=False, metavar="[FOLDER]")
@click.option("--only", multiple=True, metavar="NAME", help="Show this standard requirement only.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def standard(folder: str | None, only: tuple[str, ...], form: str) -> int:
    """List the standard requirements that a job can take in with a line.

    Each with what it asks, its parameters, and the clause and edition that it is modelled on. With
    a FOLDER: which of them fit the points of that job, and which it has claimed.

    \b
    Example:
      duskproof standard specs/stair
    """
    from verifier.front.paint import paint_for
    from verifier.front.standard import fits_text, standards_json, standards_of, standards_text

    result = None if folder is None else checked(folder)
    if result is not None and (result.job is None or result.rejected):
        return tell((result,), form, False)
    job = None if result is None else result.job
    found = standards_of(None if result is None else result.sources)
    unknown = [name for name in only if name not in {each.name.text for each in found}]
    if unknown:
        say(_unknown("standard requirement", unknown[0], [each.name.text for each in found]))
        return 2
    chosen = tuple(each for each in found if not only or each.name.text in only)
    paint, width = paint_for(sys.stdout), terminal_width()
    if form == "json":
        say(standards_json(chosen, job))
    elif job is None:
        say(standards_text(chosen, paint, width))
    else:
        say(fits_text(job, chosen, paint, width))
    return 0


def _unknown(what: str, name: str, known: Sequence[str]) -> str:
    from difflib import get_close_matches

    from verifier.front.shown import shown

    near = get_close_matches(name, list(known), n=3, cutoff=0.6)
    hint = (
        f"Did you mean {' or '.join(near)}?" if near else "`duskproof standard` lists all of them."
    )
    return f'error: there is no {what} called "{shown(name)}"  [unknown-name]\n  do: {hint}'


# ---------------------------------------------------------------- the way out


def fault_words(error: BaseException) -> str:
    """What is said when the tool itself fails."""
    last = traceback.extract_tb(error.__traceback__)[-1:]
    place = f" in {Path(last[0].filename).name}, line {last[0].lineno}" if last else ""
    kind = type(error).__name__
    words = str(error).split("\n")[0][:200]
    return f"the tool itself failed: {kind}{place}{f': {words}' if words else ''}"


def _fault_json(error: BaseException) -> str:
    import json

    finding = {
        "code": "tool-fault",
        "severity": "error",
        "where": "",
        "message": fault_words(error),
        "hint": "Report it with the job and the version.",
        "related": [],
    }
    whole = {
        "tool": "duskproof",
        "version": __version__,
        "job": "",
        "exit": 70,
        "interrupted": False,
        "requirements": [],
        "findings": [finding],
    }
    return json.dumps(whole, indent=2)


def _fault(error: BaseException, arguments: Sequence[str]) -> int:
    if os.environ.get(DEBUG_VARIABLE):
        traceback.print_exception(error)
    from verifier.front.shown import shown

    again = shown(" ".join(arguments))
    click.echo(
        f"duskproof: {shown(fault_words(error))}\n"
        "This says nothing about the job. Please report it, with the job, the version "
        f"({__version__}) and what this prints:\n"
        f"  duskproof --debug {again}",
        err=True,
    )
    return 70


def run(arguments: Sequence[str]) -> int:
    """The exit code of the command line; whatever goes wrong, no traceback (unless asked for)."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = cli.main(list(arguments), prog_name="duskproof", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return 2
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("duskproof: interrupted.", err=True)
        return 130
    except Exception as error:
        return _fault(error, arguments)


def main() -> None:
    """Runs the command line of this process and ends it."""
    # A job is many small values that stay: to look for rubbish among them often costs a fifth.
    gc.set_threshold(50_000, 20, 100)
    _end(run(sys.argv[1:]))


def _end(code: int) -> NoReturn:
    """Ends the process at once: to take all that it made apart again costs a twentieth of a run.

    Nothing is left to do by then: files are closed, workers ended. What cannot be written any more
    is Python's to tell.
    """
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        sys.exit(code)
    os._exit(code)


if __name__ == "__main__":
    main()
