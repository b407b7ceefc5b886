"""The process of a page that answers what it asks beside proving: reading, stories, room, lessons."""

from __future__ import annotations

import pickle
from typing import assert_never

from verifier.front.play.messages import (
    AskHint,
    Format,
    GiveAnswer,
    ListLessons,
    ReadLesson,
    RoomDo,
    Stop,
    TellStory,
    Text,
    TryChallenge,
)
from verifier.front.play.orders import TO_PROVE, Answer, Order, Setup
from verifier.front.play.process import Frame, Say
from verifier.front.play.room_desk import RoomDesk
from verifier.front.play.school import School
from verifier.front.play.values import checked_values, explained_for_page
from verifier.pipeline import Result, checked
from verifier.proof.verdict import Verdict
from verifier.source import SourceFile, Sources


class Desk:
    """Answers messages about the text that it was told last."""

    def __init__(self, setup: Setup, say: Say, frame: Frame) -> None:
        self.setup = setup
        self.say = say
        self.frame = frame
        self.version = -1
        self.room = RoomDesk()
        self.school = School(setup)
        self.result = Result(setup.name, Sources(()), None, (), (), ())

    def carry_out(self, order: Order) -> None:
        """Answers one message."""
        assert isinstance(order, Answer)
        message = order.message
        match message:
            case Text():
                self._take(message, quiet=order.quiet)
            case TellStory(version, requirement):
                self._tell(version, requirement, order.verdict)
            case Format(version, file):
                self._format(version, file)
            case RoomDo():
                self._room(message, order.verdict)
            case ListLessons() | ReadLesson() | GiveAnswer() | TryChallenge() | AskHint():
                self.say(self.school.answer(message, self.result.sources))
            case Stop():
                pass
            case _:
                assert_never(message)

    def _error(self, words: str) -> None:
        self.say({"kind": "error", "words": words})

    def _take(self, text: Text, *, quiet: bool) -> None:
        """Reads and checks a text; says whether it can be proved."""
        sources = Sources(tuple(SourceFile(name, content) for name, content in text.files))
        # Reading may be cut short, and what was known of an older text is nothing known of this one.
        self.version = text.version
        self.result = Result(self.setup.name, sources, None, (), (), (), interrupted=True)
        self.result = checked(sources, self.setup.name)
        if quiet:
            return
        self.say(checked_values(self.result, text.version))
        job = self.result.job
        if job is None or self.result.rejected:
            return
        most = self.setup.limits.rules
        if len(job.rules) > most:
            words = (
                f"The text has {len(job.rules):,} rules; this page proves up to {most:,}. "
                "It was checked, but not proved: `duskproof prove FOLDER` proves any number."
            )
            self.say({"kind": "limit", "what": "rules", "version": text.version, "words": words})
            return
        self.frame(TO_PROVE)

    def _tell(self, version: int, name: str, pickled: bytes) -> None:
        """Tells why a requirement fails."""
        from verifier.explain.explained import explained, fails

        job = self.result.job
        if version != self.version or job is None or name not in job.requirement:
            self._error(f'There is no requirement "{name}" in the text as it is now.')
            return
        if not pickled:
            self._error(f'"{name}" has not been judged yet.')
            return
        verdict: Verdict = pickle.loads(pickled)  # from the other process of this page
        if not fails(verdict):
            self._error(f'"{name}" does not fail: there is no failing case to tell.')
            return
        told = explained(job, job.requirement[name], verdict)
        self.say(explained_for_page(version, told, self.result.sources))

    def _room(self, message: RoomDo, verdict: bytes) -> None:
        """Does something in the room."""
        job = self.result.job
        if message.do == "end":
            self.room.end()
        elif message.do != "start":
            self.say(self.room.carry_out(message, verdict, self.result.sources))
        elif self.result.interrupted:
            self.say(
                {"kind": "room", "words": "The text was not read to its end: change it first."}
            )
        elif job is None or self.result.rejected:
            self.say(
                {"kind": "room", "words": "The text has a mistake in it, so there is no room."}
            )
        else:
            self.say(self.room.begin(job, self.result.sources, self.version))

    def _format(self, version: int, name: str) -> None:
        """The canonical layout of one file, if it can be read."""
        from verifier.language.layout import format_text

        file = self.result.sources.by_name.get(name)
        if version != self.version or file is None:
            self._error(f'There is no file "{name}" in the text as it is now.')
            return
        text, mistakes = format_text(file)
        if mistakes:
            self._error(f'"{name}" has a mistake in it: it can be laid out once that is mended.')
            return
        self.say({"kind": "formatted", "version": version, "file": name, "text": text})
