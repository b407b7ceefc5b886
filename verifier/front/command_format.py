"""`duskproof format`: the texts of a job in the canonical layout, comments kept."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from verifier.diagnostics import Diagnostic
from verifier.explain.figures import counted, listed
from verifier.front.console import say, terminal_width
from verifier.front.written import NotWritten, write_over
from verifier.source import SourceFile, Sources

STANDARD_INPUT = "-"


@click.command("format")
@click.argument("paths", nargs=-1, required=True, metavar="PATH…")
@click.option("--check", "only_check", is_flag=True, help="Write nothing; tell what would change.")
@click.option("--diff", "with_diff", is_flag=True, help="Write nothing; show what would change.")
def command(paths: tuple[str, ...], only_check: bool, with_diff: bool) -> int:
    """Lay out the .dusk files of folders, or single ones, in the one canonical way.

    Only blanks and ends of lines change, never what a job means; comments stay with their lines.
    Points that follow each other are laid out as a table, long lines are broken, one blank line
    stays where there was one. With - as the PATH the text is read from standard input and written
    to standard output, for editors.

    \b
    Example:
      duskproof format --check specs/boathouse

    Exit codes: 0 done or nothing to do, 1 with --check or --diff something would change, 2 a file
    cannot be read or has mistakes; such a file is left as it is, the others are laid out.
    """
    from verifier.language.layout import format_text

    files, problems = _files(paths)
    changed: list[str] = []
    for path, file in files:
        text, found = format_text(file)
        if found:
            problems.append((found, Sources((file,))))
            continue
        if path is None and not (only_check or with_diff):
            say(text, end="")
            continue
        if text == file.text:
            continue
        changed.append(file.name)
        if with_diff:
            say(_diff(file, text), end="")
        elif not only_check and path is not None:
            try:
                write_over(path, file.text, text)
            except NotWritten as error:
                changed.pop()
                problems.append(((error.args[0],), Sources(())))
    _tell_problems(problems)
    looking = only_check or with_diff
    if not with_diff and paths != (STANDARD_INPUT,):
        wrong = len({file for found, sources in problems for file in sources.files})
        say(_summary(len(files), changed, looking, wrong))
    return 2 if problems else 1 if looking and changed else 0


Problems = list[tuple[tuple[Diagnostic, ...], Sources]]


def _files(paths: tuple[str, ...]) -> tuple[list[tuple[Path | None, SourceFile]], Problems]:
    """The files to lay out, each with its path (None: standard input), named as they were given."""
    from verifier.front.folder import decoded, read_file, read_folder

    files: list[tuple[Path | None, SourceFile]] = []
    problems: Problems = []
    for given in dict.fromkeys(paths):
        path = Path(given)
        if given == STANDARD_INPUT:
            file, problem = decoded(sys.stdin.buffer.read(), "(standard input)")
            files.extend([] if problem else [(None, file)])
            problems.extend([((problem,), Sources((file,)))] if problem else [])
        elif path.is_file():
            read, problem = read_file(path, given)
            files.extend([(path, read)] if read is not None and problem is None else [])
            shown = Sources(() if read is None else (read,))
            problems.extend([((problem,), shown)] if problem else [])
        else:
            reading = read_folder(given)
            if reading.diagnostics:
                problems.append((reading.diagnostics, reading.sources))
            wrong = {label.span.file for each in reading.diagnostics for label in each.labels}
            for each in reading.sources.files:
                if each.name not in wrong:
                    place = path / each.name
                    files.append((place, SourceFile(str(place), each.text)))
    return files, problems


def _tell_problems(problems: Problems) -> None:
    from verifier.front.diagnostic_text import diagnostic_text
    from verifier.front.paint import paint_for

    for found, sources in problems:
        for each in found:
            text = diagnostic_text(each, sources, paint_for(sys.stderr), terminal_width())
            click.echo(text, err=True)


def _diff(file: SourceFile, text: str) -> str:
    from difflib import unified_diff

    old, new = file.text.splitlines(True), text.splitlines(True)
    lines = unified_diff(old, new, file.name, f"{file.name} (laid out)", n=2)
    return "".join(line if line.endswith("\n") else f"{line}\n" for line in lines)


def _summary(count: int, changed: list[str], looking: bool, wrong: int) -> str:
    from verifier.front.shown import shown

    left = f" {counted(wrong, 'file')} with a mistake, left as it is." if wrong else ""
    if not changed:
        return (
            left.strip()
            if wrong == count
            else f"{counted(count, 'file')}: nothing to change.{left}"
        )
    names = shown(listed(tuple(changed), "and"))
    verb = "would be laid out anew" if looking else "laid out anew"
    return f"{counted(count, 'file')}: {len(changed)} {verb}: {names}.{left}"
