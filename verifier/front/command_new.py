"""`duskproof new`: a few questions in the terminal, and a first job that is proved."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front import answers as given
from verifier.front.console import judged_all, say, tell, terminal_width, years_from_now
from verifier.front.first_job import (
    INPUTS,
    NEVER,
    WHAT,
    Answers,
    Never,
    What,
    first_job,
    name_of,
    nevers_of,
)
from verifier.model.words import duration
from verifier.pipeline import Question, Result
from verifier.source import Sources, Span

T = TypeVar("T")


@click.command("new")
@click.argument("folder", required=False, metavar="[FOLDER]")
@click.option(
    "--answers",
    "answers_path",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.toml",
    help="Ask nothing: the answers are in this file, the rest is as usual.",
)
def command(folder: str | None, answers_path: Path | None) -> int:
    """Ask a few questions, write a first job into FOLDER, and prove it.

    What is fitted, how long the light stays on, what must never happen. Nothing is overwritten: a
    FOLDER that has a job already is left alone. An empty answer takes what stands in brackets.

    \b
    # A file for --answers; whatever is left out is as usual.
    place = "Cellar stair"
    what = "button"                         # or "detector", "contact"
    input = "Push-button"
    light = "Stair light"
    power = "2 x 18 W"
    dimmable = true
    by_night = false
    stays_on = "3 min"
    warning = "20 s"
    warning_level = "40 %"
    never = ["dark", "left on", "sudden"]   # "by day", where by_night is true

    \b
    Example:
      duskproof new cellar --answers cellar.toml

    Exit codes: those of prove for the new job, 2 if it cannot be written or an answer is wrong.
    """
    try:
        if folder is not None:
            _must_be_free(Path(folder))
        answers = _asked() if answers_path is None else _read(answers_path)
        if folder is None:
            usual = name_of(answers.place, "job")
            folder = usual if answers_path else click.prompt("Folder to write it to", default=usual)
            _must_be_free(Path(folder))
        sources = first_job(answers)
        _write(Path(folder), sources)
    except _Wrong as wrong:
        return tell((Result("", Sources(()), None, (), (), (wrong.args[0],)),), "text", False)
    return _proved(folder, sources)


class _Wrong(Exception):
    """Something that keeps the job from being written; ``args[0]`` is the diagnostic."""


def _wrong(code: str, place: str, message: str, hint: str) -> _Wrong:
    return _Wrong(Diagnostic(code, Severity.ERROR, message, (Label(Span(place, 0, 0)),), hint))


# ---------------------------------------------------------------- questions


def _asked() -> Answers:
    """The answers that a person gives at the terminal."""
    usual = Answers()
    place = _ask("What is the place called?", usual.place, given.label)
    what: What = _choose("What sets the light going?", WHAT)
    answers = replace(
        usual,
        place=place,
        what=what,
        input=_ask("What is that called?", INPUTS[what], given.label),
        light=_ask("What is the light called?", usual.light, given.label),
        power=_ask("What does it draw? (as in 2 x 18 W; may be left out)", "", given.power),
        by_night=click.confirm("Is it to come on by night only?", default=False),
        stays_on_s=_ask("How long does it stay on?", duration(usual.stays_on_s), given.seconds),
        dimmable=click.confirm("Can it be dimmed?", default=False),
    )
    if answers.dimmable:
        answers = replace(
            answers,
            warning_s=_ask(
                "How long is it dimmed, as a warning, before it goes dark?",
                duration(usual.warning_s),
                given.seconds,
            ),
            warning_percent=_ask("To what level?", f"{usual.warning_percent} %", given.percent),
        )
    return replace(answers, never=_nevers(answers))


def _nevers(answers: Answers) -> tuple[Never, ...]:
    possible = nevers_of(answers)
    click.echo("What must never happen?")
    for number, each in enumerate(possible, 1):
        click.echo(f"  {number}  {NEVER[each]}")

    def chosen(text: str) -> tuple[Never, ...]:
        words = text.replace(",", " ").split()
        wrong = [word for word in words if word not in {str(n + 1) for n in range(len(possible))}]
        if wrong or not words:
            raise given.WrongAnswer(f"write numbers from 1 to {len(possible)}, as in 1, 2")
        return tuple(each for n, each in enumerate(possible, 1) if str(n) in words)

    every = ", ".join(str(n + 1) for n in range(len(possible)))
    return _ask("Numbers", every, chosen)


def _choose(question: str, choices: dict[T, str]) -> T:
    click.echo(question)
    for number, words in enumerate(choices.values(), 1):
        click.echo(f"  {number}  {words}")

    def chosen(text: str) -> T:
        if text.strip() not in {str(n + 1) for n in range(len(choices))}:
            raise given.WrongAnswer(f"write a number from 1 to {len(choices)}")
        return list(choices)[int(text) - 1]

    return _ask("Number", "1", chosen)


def _ask(question: str, usual: str, read: Callable[[str], T]) -> T:
    """An answer, asked for until it can be used."""
    while True:
        text = click.prompt(question, default=usual, show_default=bool(usual))
        try:
            return read(text)
        except given.WrongAnswer as wrong:
            click.echo(f"  That will not do: {wrong.args[0]}.")


def _read(path: Path) -> Answers:
    """The answers of a file. Raises: _Wrong."""
    from verifier.front.folder import read_file

    file, problem = read_file(path, str(path))
    if file is None or problem is not None:
        raise _Wrong(problem)
    try:
        return given.answers_of(file.text)
    except given.WrongAnswer as wrong:
        hint = "`duskproof new --help` shows such a file."
        raise _wrong("wrong-answer", str(path), wrong.args[0], hint) from wrong


# ---------------------------------------------------------------- writing and proving


def _must_be_free(folder: Path) -> None:
    """Raises: _Wrong if there is a job already, or no folder can be there."""
    there = next((each for each in (folder, *folder.parents) if each.exists()), folder)
    if there.exists() and not there.is_dir():
        message = f'"{there}" is a file; a job is a folder'
        raise _wrong("not-a-folder", str(there), message, "Give the name of a new folder.")
    try:
        names = sorted(each.name for each in folder.iterdir()) if folder.is_dir() else []
    except OSError as error:
        raise _not_written(folder, error) from error
    jobs = [name for name in names if name.lower().endswith(".dusk")]
    if jobs:
        message = f'there is a job in "{folder}" already ({jobs[0]}); it is left as it is'
        raise _wrong("already-there", str(folder), message, "Give the name of a new folder.")


def _write(folder: Path, sources: Sources) -> None:
    """Writes new files, all or none, and never over anything. Raises: _Wrong."""
    written: list[Path] = []
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file in sources.files:
            path = folder / file.name
            with path.open("x", encoding="utf-8", newline="\n") as stream:
                written.append(path)
                stream.write(file.text)
    except OSError as error:
        for path in written:
            path.unlink(missing_ok=True)
        if made and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
        raise _not_written(folder, error) from error


def _not_written(folder: Path, error: OSError) -> _Wrong:
    why = (error.strerror or type(error).__name__).lower()
    message = f'the job cannot be written to "{folder}": {why}'
    hint = "Give a folder that may be written to and has room; nothing was written."
    return _wrong("file-not-written", str(folder), message, hint)


def _proved(folder: str, sources: Sources) -> int:
    """Proves what was written, and says what can be done with it next."""
    from verifier.front.outcome import exit_code
    from verifier.front.paint import paint_for
    from verifier.front.shown import shown
    from verifier.front.watch_text import first_text

    names = ", ".join(file.name for file in sources.files)
    say(f"Written to {shown(folder)}: {names}. Proving it …\n")
    question = Question(workers=min(os.cpu_count() or 1, 8), years=years_from_now())
    (result,) = judged_all((folder,), question)
    say(first_text(result, paint_for(sys.stdout), terminal_width()))
    where = shown(f'"{folder}"' if " " in folder else folder)
    say(
        f"\nduskproof read-back {where}   says it in plain words"
        f"\nduskproof watch {where}       proves it again whenever you save a file"
        f'\nduskproof prove {where} --consider "power cuts"   asks what a power cut does to it'
    )
    return int(exit_code((result,), strict=False))
