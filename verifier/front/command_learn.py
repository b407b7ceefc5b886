"""`duskproof learn`: lessons in the terminal, answers graded, challenges judged, worksheets."""

from __future__ import annotations

import sys
from contextlib import suppress
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import say, terminal_width
from verifier.front.paper import PaperPath, write_paper
from verifier.front.written import NotWritten, write_whole
from verifier.source import Sources, Span

if TYPE_CHECKING:
    from verifier.front.lesson_files import Shelf
    from verifier.teach.challenge import Judged
    from verifier.teach.lesson import Lesson
    from verifier.teach.progress import Progress

LARGEST_PROGRESS = 5_000_000


class _Wrong(Exception):
    """Something is wrong with what was asked; ``args[0]`` are the diagnostics, ``args[1]`` sources."""


@click.command("learn")
@click.argument("lesson", required=False, metavar="[LESSON]")
@click.option("--answer", "answers", nargs=2, type=str, multiple=True, metavar="N ANSWER",
              help="Answer question N, and be told what came of it.")  # fmt: skip
@click.option("--take", type=click.Path(file_okay=False, path_type=Path), metavar="DIR",
              help="Put the files of the lesson's challenge into this folder.")  # fmt: skip
@click.option("--hand-in", "handed_in", metavar="DIR",
              help="Judge the rules of this folder as the answer to the challenge.")  # fmt: skip
@click.option("--hint", type=click.IntRange(1, 3), metavar="1|2|3",
              help="With --hand-in: where to look, when it goes wrong, the run.")  # fmt: skip
@click.option("--worksheet", type=PaperPath((".html", ".pdf")), metavar="FILE.html|.pdf",
              help="Write the lesson as a worksheet to print.")  # fmt: skip
@click.option("--key", is_flag=True, help="With --worksheet: with the answers, for the teacher.")
@click.option("--folder", type=click.Path(path_type=Path), metavar="DIR",
              help="Lessons of your own: a folder for each, with a lesson.md.")  # fmt: skip
@click.option("--progress", "kept", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
              help="Keep there how far you have come, not in your own state folder.")  # fmt: skip
@click.option("--export", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
              help="Write how far you have come into a file, for another machine or a page.")  # fmt: skip
@click.option("--pack", is_flag=True,
              help="With --folder: pack what each challenge is graded by, for learners.")  # fmt: skip
def command(
    lesson: str | None,
    answers: tuple[tuple[str, str], ...],
    take: Path | None,
    handed_in: str | None,
    hint: int | None,
    worksheet: Path | None,
    key: bool,
    folder: Path | None,
    kept: Path | None,
    export: Path | None,
    pack: bool,
) -> int:
    """Learn in lessons: read, predict before you run, prove, and meet a challenge.

    Without a LESSON they are listed; LESSON is a number of the list or a name. On a terminal the
    questions are asked one by one (an empty answer leaves one for later).
    Exit codes: 0 all right, 1 an answer is wrong or a challenge not passed, 2 the input is wrong.

    \b
    duskproof learn
    duskproof learn 1
    duskproof learn 1 --answer 2 "off; 10 s on; 1 min 50 s off"
    duskproof learn 1 --take porch && duskproof learn 1 --hand-in porch
    """
    from verifier.front.lesson_files import own_lessons, shelf_of

    try:
        needs = {
            "--answer": answers,
            "--take": take,
            "--hand-in": handed_in,
            "--worksheet": worksheet,
        }
        given = next((option for option, value in needs.items() if value), None)
        if lesson is None and given is not None:
            raise _wrong("no-such-lesson", given, f"{given} says of no lesson that it is meant",
                         f"Name one: `duskproof learn 1 {given} …`.")  # fmt: skip
        if hint is not None and handed_in is None:
            raise _wrong("no-such-lesson", "--hint", "a hint is drawn from your own rules",
                         "Say which: `duskproof learn 1 --hand-in DIR --hint 1`.")  # fmt: skip
        if key and worksheet is None:
            raise _wrong(
                "no-such-lesson",
                "--key",
                "the key is printed with a worksheet",
                "Say where: `duskproof learn 1 --worksheet key.pdf --key`.",
            )
        shelf = shelf_of(folder if folder is not None else own_lessons())
        if shelf.diagnostics and not (lesson and shelf.outlines):
            raise _Wrong(shelf.diagnostics, _texts(shelf))
        if pack:
            return _pack(shelf)
        path = kept if kept is not None else _usual_place()
        progress = _read(path)
        code = 0
        if lesson is None:
            if export is None:
                _list(shelf, progress)
        else:
            one = _lesson(shelf, lesson)
            progress, code = _with(one, progress, answers, take, handed_in, hint, worksheet, key)
            _write(path, progress)
        if export is not None:
            _write(export, progress)
            say(f"How far you have come is in {export}.")
        return code
    except NotWritten as problem:
        return _tell((problem.args[0],), Sources(()))
    except _Wrong as wrong:
        return _tell(wrong.args[0], wrong.args[1])


def _with(
    lesson: Lesson,
    progress: Progress,
    answers: tuple[tuple[str, str], ...],
    take: Path | None,
    handed_in: str | None,
    hint: int | None,
    worksheet: Path | None,
    key: bool,
) -> tuple[Progress, int]:
    """What is to be done with a lesson; the progress after it and the exit code."""
    code = 0
    for number, text in answers:
        progress, right = _answered(lesson, progress, number, text)
        code = code if right else 1
    if take is not None:
        _take(lesson, take)
    if handed_in is not None:
        progress, code = _handed_in(lesson, progress, handed_in, hint)
    if worksheet is not None:
        from verifier.front.worksheet import worksheet_body, worksheet_title

        write_paper(worksheet, worksheet_title(lesson, key=key), worksheet_body(lesson, key=key))
        say(f"The worksheet{' with its key' if key else ''} is in {worksheet}.")
    if not (answers or take or handed_in or worksheet):
        progress = _shown(lesson, progress)
    return progress, code


# ---------------------------------------------------------------- reading and answering


def _list(shelf: Shelf, progress: Progress) -> None:
    from verifier.front.lesson_text import list_text
    from verifier.front.paint import paint_for

    say(list_text(shelf.outlines, progress, paint_for(sys.stdout), terminal_width()))


def _lesson(shelf: Shelf, asked: str) -> Lesson:
    """The lesson that is meant: by its number in the list, its name, or the name without number."""
    from verifier.front.lesson_files import lesson_of

    names = [outline.name for outline in shelf.outlines]
    name = ""
    if asked.isdecimal() and 1 <= int(asked) <= len(names):
        name = names[int(asked) - 1]
    else:
        meant = [n for n in names if asked in (n, n.lstrip("0123456789-"))]
        name = meant[0] if len(meant) == 1 else ""
    if not name:
        near = get_close_matches(asked, names, n=3, cutoff=0.4)
        hint = f"Did you mean {' or '.join(near)}?" if near else "`duskproof learn` lists them."
        raise _wrong("no-such-lesson", "LESSON", f'there is no lesson "{asked}"', hint)
    lesson, problems = lesson_of(shelf.folder, name)
    if lesson is None:
        from verifier.front.lesson_files import lesson_files

        files, _ = lesson_files(shelf.folder / name)
        raise _Wrong(problems, Sources(tuple(files.values())))
    return lesson


def _shown(lesson: Lesson, progress: Progress) -> Progress:
    """Shows the whole lesson; on a terminal the questions are asked."""
    from verifier.front.lesson_text import block_text, head_text
    from verifier.front.paint import paint_for
    from verifier.teach.lesson import Asked

    paint, width = paint_for(sys.stdout), terminal_width()
    asks = sys.stdin.isatty() and sys.stdout.isatty()
    say(head_text(lesson.outline, paint, width))
    for block in lesson.blocks:
        say("\n" + block_text(lesson, block, paint, width))
        if asks and isinstance(block, Asked):
            text = click.prompt("Your answer", default="", show_default=False)
            if text.strip():
                progress, _ = _answered(lesson, progress, str(block.number), text, again=True)
    return progress.with_read(lesson.outline.name)


def _answered(
    lesson: Lesson, progress: Progress, number: str, text: str, *, again: bool = False
) -> tuple[Progress, bool]:
    """Grades an answer and says what came of it; ``again``: on a terminal it can be put anew."""
    from verifier.front.lesson_text import graded_text
    from verifier.front.paint import paint_for
    from verifier.teach.answers import NotUnderstood
    from verifier.teach.questions import answered

    count = len(lesson.questions)
    if not number.isdecimal() or not 1 <= int(number) <= count:
        raise _wrong("no-such-question", "--answer", f'the lesson has no question "{number}"',
                     f"Its questions are 1 to {count}.")  # fmt: skip
    while True:
        try:
            graded = answered(lesson, int(number), text)
            break
        except NotUnderstood as why:
            if not again:
                hint = f"`duskproof learn {lesson.outline.name}` shows the question."
                said = str(why.args[0])
                raise _wrong("answer-not-understood", "--answer", said, hint) from why
            say(str(why.args[0]))
            text = click.prompt("Your answer", default="", show_default=False)
            if not text.strip():
                return progress, True
    question = lesson.questions[int(number) - 1]
    say(graded_text(lesson, question, graded, paint_for(sys.stdout), terminal_width()))
    name = lesson.outline.name
    return progress.with_answer(name, int(number), right=graded.right), graded.right


# ---------------------------------------------------------------- challenges


def _take(lesson: Lesson, folder: Path) -> None:
    """Puts the files of the challenge into a folder; never over files that are there."""
    if lesson.challenge is None and not lesson.jobs:
        raise _wrong(
            "no-challenge", "--take", "the lesson has no challenge", "Take another lesson."
        )
    where = "" if lesson.challenge is None else lesson.challenge.job
    files = lesson.job(where).files
    there = [file.name for file in files if (folder / Path(file.name).name).exists()]
    if there:
        raise _wrong("file-there", str(folder), f'"{folder}" has a {there[0]} already',
                     "Give a new folder: what is there is left as it is.")  # fmt: skip
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _wrong("file-there", str(folder), f'the folder "{folder}" cannot be made: '
                     f"{(error.strerror or '').lower()}", "Give another one.") from error  # fmt: skip
    for file in files:
        write_whole(folder / Path(file.name).name, file.text.encode("utf-8"))
    name = lesson.outline.name
    say(f"The files are in {folder}. Change them, then: duskproof learn {name} --hand-in {folder}")


def _handed_in(
    lesson: Lesson, progress: Progress, folder: str, step: int | None
) -> tuple[Progress, int]:
    from verifier.front.folder import read_folder
    from verifier.front.lesson_text import hint_text, judged_text
    from verifier.front.paint import paint_for
    from verifier.front.progress import working
    from verifier.teach.challenge import hint, judge

    if lesson.challenge is None:
        raise _wrong(
            "no-challenge", "--hand-in", "the lesson has no challenge", "Take another lesson."
        )
    reading = read_folder(folder)
    if reading.diagnostics:
        raise _Wrong(reading.diagnostics, reading.sources)
    with working(sys.stderr) as words:
        words("judging …")
        judged: Judged = judge(lesson, reading.sources.files)
    paint, width = paint_for(sys.stdout), terminal_width()
    if step is None or judged.wrong:
        say(judged_text(judged, paint, width))
    else:
        say(hint_text(hint(judged, step), paint, width))
    code = 0 if judged.passed else 2 if judged.wrong else 1
    return progress.with_challenge(lesson.outline.name, passed=judged.passed), code


def _pack(shelf: Shelf) -> int:
    """Packs the plain challenges of a teacher's own lessons."""
    from verifier.front.folder import read_file
    from verifier.teach.hidden import NotPacked, hidden_of, packed
    from verifier.teach.lessons import PACKED, PLAIN

    done = []
    for outline in shelf.outlines:
        folder = shelf.folder / outline.name / PLAIN
        if not folder.is_dir():
            continue
        texts: dict[str, str] = {}
        for path in sorted(folder.glob("*.dusk")):
            file, problem = read_file(path, path.name)
            if problem is not None:
                raise _Wrong((problem,), Sources(()))
            texts[path.name] = "" if file is None else file.text
        try:
            text = packed(hidden_of(texts))
        except NotPacked as why:
            raise _wrong("lesson-challenge", str(folder), str(why.args[0]),
                         "`hidden.dusk` and `solution.dusk` are enough.") from why  # fmt: skip
        write_whole(shelf.folder / outline.name / PACKED, text.encode("utf-8"))
        done.append(outline.name)
    if not done:
        raise _wrong("no-challenge", str(shelf.folder), f"no lesson has a folder `{PLAIN}` to pack",
                     "Put `hidden.dusk` and `solution.dusk` there.")  # fmt: skip
    say(f"Packed: {', '.join(done)}. Give learners the lessons without the folders `{PLAIN}`.")
    return 0


# ---------------------------------------------------------------- progress


def _usual_place() -> Path:
    from platformdirs import user_state_path

    return user_state_path("duskproof", appauthor=False) / "lessons.json"


def _read(path: Path) -> Progress:
    from verifier.teach.progress import NotProgress, Progress, read_progress

    try:
        if not path.exists():
            return Progress()
        if path.stat().st_size > LARGEST_PROGRESS:
            raise NotProgress("it is far too large")
        return read_progress(path.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError, NotProgress) as error:
        why = error.args[0] if isinstance(error, NotProgress) else "it cannot be read"
        raise _wrong("progress-not-read", str(path), f'"{path}" says nothing of your progress: {why}',
                     "Name another file with --progress, or move this one away.") from error  # fmt: skip


def _write(path: Path, progress: Progress) -> None:
    from verifier.teach.progress import progress_text

    with suppress(OSError):  # `write_whole` says what is wrong
        path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, progress_text(progress).encode("utf-8"))


# ---------------------------------------------------------------- what can go wrong


def _wrong(code: str, place: str, message: str, hint: str) -> _Wrong:
    problem = Diagnostic(code, Severity.ERROR, message, (Label(Span(place, 0, 0)),), hint)
    return _Wrong((problem,), Sources(()))


def _texts(shelf: Shelf) -> Sources:
    """The heads of the lessons, for places in them."""
    from verifier.front.folder import read_file
    from verifier.teach.lessons import TEXT

    files = []
    for path in sorted(shelf.folder.glob(f"*/{TEXT}")) if shelf.folder.is_dir() else ():
        file, _ = read_file(path, f"{path.parent.name}/{TEXT}")
        files.extend([] if file is None else [file])
    return Sources(tuple(files))


def _tell(problems: tuple[Diagnostic, ...], sources: Sources) -> int:
    from verifier.front.diagnostic_text import diagnostic_text
    from verifier.front.paint import paint_for

    paint, width = paint_for(sys.stdout), terminal_width()
    say("\n\n".join(diagnostic_text(each, sources, paint, width) for each in problems[:20]))
    return 2
