"""Lessons for a page: listed, read, answers graded, challenges judged, hints."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from verifier.explain.story import story_of
from verifier.front.explain_json import story_values
from verifier.front.lesson_files import Shelf, lesson_of, own_lessons, shelf_of
from verifier.front.play.lesson_values import graded_values, lesson_values, wrong_values
from verifier.front.play.messages import (
    AskHint,
    GiveAnswer,
    ListLessons,
    ReadLesson,
    TryChallenge,
)
from verifier.front.play.orders import Setup
from verifier.front.play.values import Object, Places
from verifier.source import SourceFile, Sources
from verifier.teach.answers import NotUnderstood
from verifier.teach.challenge import Judged, hint, judge
from verifier.teach.lesson import Lesson
from verifier.teach.questions import answered

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

    def answer(self, message: LessonMessage) -> Object:
        """What the page is told."""
        try:
            match message:
                case ListLessons():
                    return self._list()
                case ReadLesson(name):
                    return lesson_values(self._lesson(name))
                case GiveAnswer(name, question, given):
                    return self._graded(name, question, given)
                case TryChallenge(name, files):
                    return self._tried(name, files)
                case AskHint(name, step):
                    return self._hint(name, step)
        except _No as no:
            return {"kind": "error", "words": str(no)}

    def _list(self) -> Object:
        shelf = self._shelves()
        lessons = []
        for outline in shelf.outlines:
            try:
                count = len(self._lesson(outline.name).questions)
            except _No:
                continue
            lessons.append(
                {
                    "name": outline.name,
                    "title": outline.title,
                    "minutes": outline.minutes,
                    "aims": list(outline.aims),
                    "optional": outline.optional,
                    "questions": count,
                }
            )
        places = Places(Sources(()))
        return {
            "kind": "lessons",
            "lessons": lessons,
            "wrong": [wrong_values(each, places) for each in shelf.diagnostics],
        }

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

    def _graded(self, name: str, question: str, given: Any) -> Object:
        lesson = self._lesson(name)
        if not question.isdecimal() or not 1 <= int(question) <= len(lesson.questions):
            raise _No(f'The lesson has no question "{question[:20]}".')
        if not isinstance(given, str) or len(given) > LONGEST_ANSWER:
            raise _No("An answer is a short text.")
        try:
            graded = answered(lesson, int(question), given)
        except NotUnderstood as why:
            return {
                "kind": "graded",
                "lesson": name,
                "question": int(question),
                "right": None,
                "words": str(why.args[0]),
            }
        return graded_values(lesson, int(question), graded)

    def _tried(self, name: str, files: tuple[tuple[str, str], ...]) -> Object:
        lesson = self._lesson(name)
        if lesson.challenge is None:
            raise _No("The lesson has no challenge.")
        sources = tuple(SourceFile(file, text) for file, text in files)
        limit_s = Fraction(self.setup.limits.requirement_s)
        judged = self._judged[name] = judge(lesson, sources, limit_s)
        places = Places(judged.sources)
        return {
            "kind": "graded",
            "lesson": name,
            "question": None,
            "passed": judged.passed,
            "wrong": [wrong_values(each, places) for each in judged.wrong],
            "moved": list(judged.moved),
            "parts": [
                {"name": part.name, "title": part.title, "came": part.came, "words": part.words}
                for part in judged.parts
            ],
        }

    def _hint(self, name: str, step: int) -> Object:
        """A hint on what was handed in last; its run is told without the lines that are hidden."""
        self._lesson(name)
        if name not in self._judged:
            raise _No("A hint is drawn from your own rules: hand them in first.")
        judged = self._judged[name]
        given = hint(judged, step)
        told: Object = {"kind": "hint", "lesson": name, "step": step, "words": given.words}
        part = given.part
        if step < 3 or part is None or part.run is None or part.job is None:
            return told
        if part.requirement is None:
            return told
        story = story_of(part.job, part.requirement, part.run)
        if story is None:
            return told
        own = Places(judged.sources)
        names = judged.sources.by_name
        acted = [r.span for moment in story.moments for r in moment.reactions]
        lines = [own.of(span) for span in acted if span.file in names]
        return {**told, "story": story_values(story, part.sources), "lines": lines}
