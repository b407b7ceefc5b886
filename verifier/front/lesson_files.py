"""Lessons on disk: where they lie, and their files read into texts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.folder import read_file
from verifier.source import SourceFile, Span
from verifier.teach.lesson import Lesson, Outline
from verifier.teach.lessons import PACKED, PLAIN, TEXT, read_lesson, read_outline

MOST_LESSONS = 500
MOST_FILES = 200


@dataclass(frozen=True, slots=True)
class Shelf:
    """The lessons of a folder, in the order of their names; and what is wrong with some."""

    folder: Path
    outlines: tuple[Outline, ...]
    diagnostics: tuple[Diagnostic, ...]


def own_lessons() -> Path:
    """The folder of the lessons that come with the tool. Raises: FileNotFoundError."""
    here = Path(__file__).resolve()
    for root in (here.parents[1] / "_data" / "specs", here.parents[2] / "specs"):
        if (root / "lessons").is_dir():
            return root / "lessons"
    raise FileNotFoundError("the installation lacks its lessons")


def shelf_of(folder: Path) -> Shelf:
    """The heads of all lessons of a folder: each is a folder in it with a ``lesson.md``."""
    try:
        inside = sorted(p for p in folder.iterdir() if not p.name.startswith("."))
        texts = [p / TEXT for p in inside if (p / TEXT).is_file()]
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        return Shelf(folder, (), (_no_lessons(folder, f"cannot be read: {why}"),))
    if not texts:
        return Shelf(folder, (), (_no_lessons(folder, f"has no lesson: no folder with `{TEXT}`"),))
    if len(texts) > MOST_LESSONS:
        return Shelf(folder, (), (_no_lessons(folder, f"has more than {MOST_LESSONS} lessons"),))
    outlines: list[Outline] = []
    problems: list[Diagnostic] = []
    for path in texts:
        file, problem = read_file(path, f"{path.parent.name}/{TEXT}")
        if file is None or problem is not None:
            problems.extend([] if problem is None else [problem])
            continue
        outline, found = read_outline(path.parent.name, file)
        problems.extend(found)
        outlines.extend([] if outline is None else [outline])
    return Shelf(folder, tuple(outlines), tuple(problems))


def lesson_of(folder: Path, name: str) -> tuple[Lesson | None, tuple[Diagnostic, ...]]:
    """One lesson of a folder, whole, or what is wrong with it."""
    files, problems = lesson_files(folder / name)
    return (None, problems) if problems else read_lesson(name, files)


def lesson_files(folder: Path) -> tuple[dict[str, SourceFile], tuple[Diagnostic, ...]]:
    """The texts of a lesson by their paths in it: its own, and those of folders right inside."""
    try:
        inside = sorted(p for p in folder.iterdir() if not p.name.startswith("."))
        deeper = [q for p in inside if p.is_dir() for q in sorted(p.iterdir())]
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        return {}, (_no_lessons(folder, f"cannot be read: {why}"),)
    wanted = [
        path
        for path in (*inside, *deeper)
        if path.is_file()
        and not path.name.startswith(".")
        and (path.suffix == ".dusk" or path.name in (TEXT, PACKED))
    ]
    if len(wanted) > MOST_FILES:
        return {}, (_no_lessons(folder, f"has more than {MOST_FILES} files"),)
    files: dict[str, SourceFile] = {}
    problems: list[Diagnostic] = []
    for path in wanted:
        inner = path.relative_to(folder).as_posix()
        shown = path.name if "/" not in inner or inner.startswith(f"{PLAIN}/") else inner
        file, problem = read_file(path, shown if path.suffix == ".dusk" else inner)
        if file is not None:
            files[inner] = file
        problems.extend([] if problem is None else [problem])
    return files, tuple(problems)


def _no_lessons(folder: Path, why: str) -> Diagnostic:
    return Diagnostic(
        "no-such-lesson",
        Severity.ERROR,
        f'"{folder}" {why}',
        (Label(Span(str(folder), 0, 0)),),
        f"Give a folder that holds a folder for each lesson, with a `{TEXT}` in it.",
    )
