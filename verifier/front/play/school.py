"""Lessons for a page: listed, read, answers graded, challenges judged, hints."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from verifier.front.lesson_files import Shelf, lesson_of, own_lessons, shelf_of
from verifier.front.lesson_values import (
    challenge_values,
    graded_values,
    hint_values,
    lesson_values,
    lessons_values,
    not_understood_values,
)
from verifier.front.play.messages import (
    AskHint,
    GiveAnswer,
    ListLessons,
    ReadLesson,
    TryChallenge,
)
from verifier.front.play.orders import Setup
from verifier.front.play.values import Object, Places
from verifier.source import SourceFile, Sources, Span
from verifier.teach.answers import NotUnderstood
from verifier.teach.challenge import Judged, hint, judge
from verifier.teach.lesson import Lesson
from verifier.teach.questions import Graded, answered

LessonMessage = ListLessons | ReadLesson | GiveAnswer | TryChallenge | AskHint

LONGEST_ANSWER = 2_000


class _No(Exception):
    """Why something cannot be answered, in words."""


class School:
    """The lessons of a folder; what a learner handed in last is kept for hints on it."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self._shelf: Shelf | None = None
        self._read: dict[str, Lesson] = {}
        self._judged: dict[str, Judged] = {}

    def answer(self, message: LessonMessage, shown: Sources) -> Object:
        """What the page is told; ``shown`` is the text that it shows."""
        try:
            match message:
                case ListLessons():
                    return self._list()
                case ReadLesson(name):
                    return lesson_values(self._lesson(name))
                case GiveAnswer(name, question, given):
                    return self._graded(name, question, given, shown)
                case TryChallenge(name, files):
                    return self._tried(name, files)
                case AskHint(name, step):
                    return self._hint(name, step)
        except _No as no:
            return {"kind": "error", "words": str(no)}

    def _list(self) -> Object:
        shelf = self._shelves()
        wrong = [{"message": each.message, "hint": each.hint} for each in shelf.diagnostics]
        return {**lessons_values(shelf.outlines), "wrong": wrong}

    def _shelves(self) -> Shelf:
        if self._shelf is None:
            try:
                folder = Path(self.setup.lessons) if self.setup.lessons else own_lessons()
            except FileNotFoundError as missing:
                raise _No(f"There are no lessons: {missing}.") from missing
            self._shelf = shelf_of(folder)
        return self._shelf

    def _lesson(self, name: str) -> Lesson:
        """A lesson of the shelf, read once. Raises: _No."""
        if name not in self._read:
            shelf = self._shelves()
            if name not in {outline.name for outline in shelf.outlines}:
                raise _No(f'There is no lesson "{name}".')
            lesson, problems = lesson_of(shelf.folder, name)
            if lesson is None:
                raise _No(f'The lesson "{name}" cannot be read: {problems[0].message}.')
            self._read[name] = lesson
        return self._read[name]

    def _graded(self, name: str, question: str, given: Any, shown: Sources) -> Object:
        lesson = self._lesson(name)
        if not question.isdecimal() or not 1 <= int(question) <= len(lesson.questions):
            raise _No(f'The lesson has no question "{question[:20]}".')
        if not isinstance(given, str) or len(given) > LONGEST_ANSWER:
            raise _No("An answer is a short text.")
        number = int(question)
        try:
            graded = answered(lesson, number, given)
        except NotUnderstood as why:
            return not_understood_values(name, question, str(why.args[0]))
        files = lesson.job(lesson.questions[number - 1].job).files
        return graded_values(name, question, _shown_lines(graded, files, shown), Places(shown).of)

    def _tried(self, name: str, files: tuple[tuple[str, str], ...]) -> Object:
        lesson = self._lesson(name)
        if lesson.challenge is None:
            raise _No("The lesson has no challenge.")
        sources = tuple(SourceFile(file, text) for file, text in files)
        limit_s = Fraction(self.setup.limits.requirement_s)
        # If judging is cut short, no hint may speak of what was handed in before.
        self._judged.pop(name, None)
        judged = self._judged[name] = judge(lesson, sources, limit_s)
        return challenge_values(name, judged)

    def _hint(self, name: str, step: int) -> Object:
        """A hint on what was handed in last; its run is told without the lines that are hidden."""
        self._lesson(name)
        if name not in self._judged:
            raise _No("A hint is drawn from your own rules: hand them in first.")
        given = hint(self._judged[name], step)
        return hint_values(name, given)


def _shown_lines(graded: Graded, files: tuple[SourceFile, ...], shown: Sources) -> Graded:
    """What came of an answer, with its lines in the page's own files, where those are the lesson's.

    Lines of a text that the learner has changed, or that the page does not show, are left out.
    """
    same = set()
    for file in files:
        there = shown.by_name.get(_own_name(file.name))
        if there is not None and there.text == file.text:
            same.add(file.name)
    lines = tuple(
        Span(_own_name(span.file), span.start, span.end)
        for span in graded.lines
        if span.file in same
    )
    return replace(graded, lines=lines)


def _own_name(path: str) -> str:
    return path.rpartition("/")[2]
