"""How far a learner has come, as a value and as the text that is kept, exported and taken in."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

KIND = "duskproof progress, 1"
MOST = 5000
"""Lessons in one text."""

ANSWERED = ("right", "wrong")
CHALLENGES = ("passed", "tried")


@dataclass(frozen=True, slots=True)
class LessonProgress:
    """One lesson's: ``answers`` are (number of the question, ``right`` or ``wrong``).

    ``challenge`` is ``passed``, ``tried`` or empty.
    """

    read: bool = False
    answers: tuple[tuple[int, str], ...] = ()
    challenge: str = ""


@dataclass(frozen=True, slots=True)
class Progress:
    """All lessons' by name."""

    lessons: tuple[tuple[str, LessonProgress], ...] = ()

    def of(self, name: str) -> LessonProgress:
        """The progress in a lesson; none so far if nothing is known of it."""
        return dict(self.lessons).get(name, LessonProgress())

    def with_lesson(self, name: str, now: LessonProgress) -> Progress:
        """The progress with that of one lesson as it is now."""
        return Progress(tuple(sorted({**dict(self.lessons), name: now}.items())))

    def with_read(self, name: str) -> Progress:
        """The progress with a lesson read."""
        return self.with_lesson(name, replace(self.of(name), read=True))

    def with_answer(self, name: str, number: int, *, right: bool) -> Progress:
        """The progress with an answer; what was right once stays so."""
        before = dict(self.of(name).answers)
        if before.get(number) != "right":
            before[number] = "right" if right else "wrong"
        return self.with_lesson(name, replace(self.of(name), answers=tuple(sorted(before.items()))))

    def with_challenge(self, name: str, *, passed: bool) -> Progress:
        """The progress with a challenge tried or passed; passed stays passed."""
        kept = passed or self.of(name).challenge == "passed"
        now = replace(self.of(name), challenge="passed" if kept else "tried")
        return self.with_lesson(name, now)


class NotProgress(Exception):
    """A text is no progress; ``args[0]`` says why."""


def progress_text(progress: Progress) -> str:
    """The text that is kept."""
    lessons = {
        name: {
            "read": one.read,
            "answers": {str(number): came for number, came in one.answers},
            "challenge": one.challenge,
        }
        for name, one in progress.lessons
    }
    return json.dumps({"kind": KIND, "lessons": lessons}, indent=1, ensure_ascii=False) + "\n"


def read_progress(text: str) -> Progress:
    """The progress of a text. Raises: NotProgress."""
    try:
        whole = json.loads(text)
    except (ValueError, RecursionError) as wrong:
        raise NotProgress("it is not JSON") from wrong
    if not isinstance(whole, dict) or whole.get("kind") != KIND:
        raise NotProgress(f'its kind is not "{KIND}"')
    lessons = whole.get("lessons")
    if not isinstance(lessons, dict) or len(lessons) > MOST:
        raise NotProgress('it has no "lessons"')
    if any("\ud800" <= letter <= "\udfff" for name in lessons for letter in name):
        raise NotProgress("the name of a lesson has half a character in it")
    return Progress(tuple((name, _one(name, lessons[name])) for name in sorted(lessons)))


def _one(name: str, value: object) -> LessonProgress:
    if not isinstance(value, dict):
        raise NotProgress(f'what it says of "{name}" is not understood')
    answers, challenge = value.get("answers", {}), value.get("challenge", "")
    good = isinstance(answers, dict) and all(
        number.isascii() and number.isdecimal() and len(number) < 6 and came in ANSWERED
        for number, came in answers.items()
    )
    if not good or challenge not in ("", *CHALLENGES):
        raise NotProgress(f'what it says of "{name}" is not understood')
    read = value.get("read") is True
    return LessonProgress(read, tuple(sorted((int(n), c) for n, c in answers.items())), challenge)
