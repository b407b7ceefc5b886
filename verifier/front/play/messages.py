"""What a page asks: JSON text becomes a message, or words that say what is wrong with it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, NoReturn, get_args

from verifier.front.folder import SUFFIX
from verifier.front.shown import shown

MOST_FILES = 50

_LONGEST_NAME = 200
_BESIDE_TEXT = 200_000
"""Characters of a message beside its text. A text takes less than three times its size as JSON;
what is longer is not read, so that nobody's page waits for it."""

_LONGEST_S = Fraction(10 * 366 * 86_400)

Doing = Literal["start", "act", "pass", "due", "choose", "undo", "against", "show_run", "end"]


@dataclass(frozen=True, slots=True)
class Text:
    """The job's files as they are now; ``version`` counts the page's texts."""

    version: int
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """No more proving of this text."""


@dataclass(frozen=True, slots=True)
class TellStory:
    """Why a requirement fails."""

    version: int
    requirement: str


@dataclass(frozen=True, slots=True)
class RoomDo:
    """Something that a person does in the room, or asks of it."""

    do: Doing
    key: str
    seconds: Fraction | None
    requirement: str


@dataclass(frozen=True, slots=True)
class ListLessons:
    """Which lessons there are."""


@dataclass(frozen=True, slots=True)
class ReadLesson:
    """One lesson, whole."""

    name: str


@dataclass(frozen=True, slots=True)
class GiveAnswer:
    """An answer to a question of a lesson: a word, a figure, a place in a list, a lane."""

    lesson: str
    question: str
    answer: Any


@dataclass(frozen=True, slots=True)
class TryChallenge:
    """A text that is to meet the challenge of a lesson."""

    lesson: str
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AskHint:
    """The next hint to the text that was tried last."""

    lesson: str
    step: int


@dataclass(frozen=True, slots=True)
class Format:
    """One file in its canonical layout."""

    version: int
    file: str


Message = (
    Text
    | Stop
    | TellStory
    | RoomDo
    | ListLessons
    | ReadLesson
    | GiveAnswer
    | TryChallenge
    | AskHint
    | Format
)


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with a message, in words."""

    words: str


@dataclass(frozen=True, slots=True)
class TooLong:
    """The files of a message have more bytes than may be."""

    size: int


class _Wrong(Exception):
    """What is wrong, in words."""


class _TooLong(Exception):
    """How many bytes there are."""


def message_of(data: str, text_bytes: int) -> Message | Wrong | TooLong:
    r"""The message of a JSON text whose files have at most so many bytes.

    >>> message_of('{"kind": "story", "version": 3, "requirement": "lit"}', 100)
    TellStory(version=3, requirement='lit')
    >>> message_of('{"kind": "sing"}', 100).words
    'There is no message of the kind "sing".'
    """
    if len(data) > 3 * text_bytes + _BESIDE_TEXT:
        return TooLong(len(data))
    try:
        value = json.loads(data, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return Wrong("The message is not JSON that can be read.")
    if not isinstance(value, dict):
        return Wrong("The message is no JSON object.")
    fields = _Fields(value, text_bytes)
    try:
        return _read(fields.word("kind"), fields)
    except _Wrong as wrong:
        return Wrong(str(wrong))
    except _TooLong as long:
        return TooLong(int(str(long)))


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no figure")


def _read(kind: str, fields: _Fields) -> Message:
    match kind:
        case "text":
            return Text(fields.version(), fields.files())
        case "stop":
            return Stop()
        case "story":
            return TellStory(fields.version(), fields.word("requirement"))
        case "room":
            return RoomDo(
                fields.doing(),
                fields.word("key", ""),
                fields.seconds(),
                fields.word("requirement", ""),
            )
        case "lessons":
            return ListLessons()
        case "lesson":
            return ReadLesson(fields.word("name"))
        case "answer":
            return GiveAnswer(fields.word("lesson"), fields.word("question"), fields.answer())
        case "challenge":
            return TryChallenge(fields.word("lesson"), fields.files())
        case "hint":
            return AskHint(fields.word("lesson"), fields.step())
        case "format":
            return Format(fields.version(), fields.word("file"))
        case _:
            raise _Wrong(f'There is no message of the kind "{kind[:40]}".')


class _Fields:
    """The fields of a message, each read with a check of what it is."""

    def __init__(self, value: Mapping[str, Any], text_bytes: int) -> None:
        self.value = value
        self.text_bytes = text_bytes

    def word(self, name: str, default: str | None = None) -> str:
        """A short text; a whole number will do, too."""
        found = self.value.get(name, default)
        if isinstance(found, int) and not isinstance(found, bool) and abs(found) < 1 << 53:
            found = str(found)
        if not isinstance(found, str) or len(found) > _LONGEST_NAME or _has_half(found):
            raise _Wrong(f'"{name}" has to be a short text.')
        return found

    def version(self) -> int:
        """The number of a text."""
        found = self.value.get("version")
        if not isinstance(found, int) or isinstance(found, bool) or not 0 <= found < 1 << 53:
            raise _Wrong('"version" has to be a whole number, 0 or more.')
        return found

    def step(self) -> int:
        """The number of a hint."""
        found = self.value.get("step")
        if not isinstance(found, int) or isinstance(found, bool) or found not in (1, 2, 3):
            raise _Wrong('"step" has to be 1, 2 or 3.')
        return found

    def doing(self) -> Doing:
        """What is done in the room."""
        found = self.value.get("do")
        for each in get_args(Doing):
            if found == each:
                doing: Doing = each
                return doing
        raise _Wrong(f'"do" has to be one of {", ".join(get_args(Doing))}.')

    def seconds(self) -> Fraction | None:
        """A stretch of time, exact if it is given as a text; None if there is none."""
        found = self.value.get("seconds")
        if found is None:
            return None
        if isinstance(found, bool) or not isinstance(found, int | float | str):
            raise _Wrong('"seconds" has to be a figure.')
        text = str(found)
        if len(text) > 30 or re.fullmatch(r"\d+(\.\d+|/\d+)?(e-?\d{1,2})?", text) is None:
            raise _Wrong('"seconds" has to be a figure of 0 or more.')
        try:
            exact = Fraction(text)
        except (ValueError, ZeroDivisionError):
            raise _Wrong('"seconds" has to be a figure of 0 or more.') from None
        if exact > _LONGEST_S:
            raise _Wrong('"seconds" has to be less than ten years.')
        return exact

    def files(self) -> tuple[tuple[str, str], ...]:
        """The files of a job, ordered by name."""
        found = self.value.get("files")
        if not isinstance(found, dict) or not all(isinstance(t, str) for t in found.values()):
            raise _Wrong('"files" has to be an object of names and texts.')
        if not 1 <= len(found) <= MOST_FILES:
            raise _Wrong(f'"files" has to have between 1 and {MOST_FILES} files.')
        if sum(map(len, found.values())) > self.text_bytes:
            raise _TooLong(sum(map(len, found.values())))
        if any(map(_has_half, found.values())):
            raise _Wrong("The text has half a character in it, which is no text.")
        size = sum(len(text.encode()) for text in found.values())
        if size > self.text_bytes:
            raise _TooLong(size)
        for name in found:
            if not _names_a_file(name):
                raise _Wrong("A file's name has no folder in it, and ends in .dusk.")
        return tuple(sorted(found.items()))

    def answer(self) -> Any:
        """An answer: any JSON that is not too long."""
        if "answer" not in self.value:
            raise _Wrong('"answer" is missing.')
        found = self.value["answer"]
        if len(json.dumps(found)) > 100_000:
            raise _Wrong("The answer is too long.")
        return found


def _has_half(text: str) -> bool:
    """Whether a text has half of a pair of UTF-16 in it, which JSON can say and UTF-8 cannot."""
    return not text.isascii() and any("\ud800" <= character <= "\udfff" for character in text)


def _names_a_file(name: str) -> bool:
    """Whether it is a file's own name: no folder, nothing that hides."""
    plain = len(name) <= _LONGEST_NAME and shown(name) == name and not set(name) & {"/", "\\"}
    return plain and not name.startswith(".") and name.lower().endswith(SUFFIX)
