"""One open page: its messages in, what is told in return, and the processes that work for it."""

from __future__ import annotations

import asyncio
import json
from collections import deque
from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any

from verifier.front.play.child import Child, Ending
from verifier.front.play.limits import UNREAD, UNREAD_CHARACTERS, WAITING
from verifier.front.play.messages import (
    AskHint,
    Message,
    RoomDo,
    Stop,
    TellStory,
    Text,
    TooLong,
    TryChallenge,
    Wrong,
    message_of,
)
from verifier.front.play.orders import TO_PROVE, TOLD, VERDICT, Answer, Judge, Setup

Send = Callable[[str], Awaitable[None]]

_NEEDLESS = (Text, TellStory)
"""What a new text makes needless while it is being done."""


class NotRead(Exception):
    """The page does not read what it is told."""


class Page:
    """A page and its processes.

    The desk answers at once, the bench proves, the examiner judges what is handed in to a lesson.
    """

    def __init__(self, setup: Setup, send: Send) -> None:
        self.setup = setup
        self.limits = setup.limits
        self.desk = Child("desk", setup, self._reminder)
        self.bench = Child("bench", setup)
        self.examiner = Child("examiner", setup)
        self._send = send
        self._outgoing: asyncio.Queue[str] = asyncio.Queue()
        self._unread = 0
        """Characters of what the page has not taken yet."""
        self._asked: deque[Message] = deque()
        self._doing: Message | None = None
        self._asked_something = asyncio.Event()
        self._to_prove: Text | None = None
        self._something_to_prove = asyncio.Event()
        self._to_examine: deque[TryChallenge | AskHint] = deque()
        self._examined: Message | None = None
        self._something_to_examine = asyncio.Event()
        self._latest: Text | None = None
        self._stopped = -1
        self._told_end = False
        self._verdicts: dict[str, bytes] = {}

    async def run(self) -> None:
        """Works for the page until it is cancelled; then its processes are ended."""
        try:
            async with asyncio.TaskGroup() as tasks:
                tasks.create_task(self._answering())
                tasks.create_task(self._proving())
                tasks.create_task(self._examining())
                tasks.create_task(self._telling())
                tasks.create_task(self.bench.start())
        finally:
            await asyncio.shield(self.end())

    async def end(self) -> None:
        """Ends the page's processes; returns when they are gone."""
        await asyncio.gather(self.desk.end(), self.bench.end(), self.examiner.end())

    def tell(self, value: dict[str, Any]) -> None:
        """Tells the page something, after all that it was told before."""
        self._put(json.dumps(value))

    def _put(self, text: str) -> None:
        if self._outgoing.qsize() >= UNREAD or self._unread > UNREAD_CHARACTERS:
            raise NotRead
        self._unread += len(text)
        self._outgoing.put_nowait(text)

    def hear(self, data: str) -> None:
        """Takes a message of the page; never waits. Raises: NotRead."""
        message = message_of(data, self.limits.text_bytes)
        match message:
            case Wrong(words):
                self.tell({"kind": "error", "words": words})
            case TooLong(size):
                self.tell(_too_long(size, self.limits.text_bytes))
            case Stop():
                self._stop()
            case Text():
                self._new_text(message)
            case TryChallenge() | AskHint():
                self._examine(message)
            case _:
                self._ask(message)

    # ------------------------------------------------------------ messages

    def _stop(self) -> None:
        self._stopped = -1 if self._latest is None else self._latest.version
        if self._to_prove is not None:  # it waits for the bench, and does not come to it any more
            self.tell(_judged_nothing(self._to_prove.version))
        self._to_prove = None
        self.bench.cut()

    def _new_text(self, text: Text) -> None:
        self._latest = text
        self._stopped = -1
        self._verdicts.clear()
        self._to_prove = None
        self.bench.cut()
        if isinstance(self._doing, _NEEDLESS):
            self.desk.cut()
        self._asked = deque(m for m in self._asked if not isinstance(m, _NEEDLESS))
        self._ask(text)

    def _examine(self, message: TryChallenge | AskHint) -> None:
        """What is handed in takes the place of what was handed in before."""
        if isinstance(message, TryChallenge):
            self._to_examine.clear()
            if isinstance(self._examined, TryChallenge):
                self.examiner.cut()
        if len(self._to_examine) >= WAITING:
            self.tell({"kind": "error", "words": "There is too much to do at once; wait a little."})
            return
        self._to_examine.append(message)
        self._something_to_examine.set()

    def _ask(self, message: Message) -> None:
        if len(self._asked) >= WAITING:
            self.tell({"kind": "error", "words": "There is too much to do at once; wait a little."})
            return
        self._asked.append(message)
        self._asked_something.set()

    # ------------------------------------------------------------ work

    async def _telling(self) -> None:
        while True:
            text = await self._outgoing.get()
            await self._send(text)
            self._unread -= len(text)

    async def _answering(self) -> None:
        while True:
            await self.desk.start()
            while not self._asked:
                self._asked_something.clear()
                await self._asked_something.wait()
            message = self._doing = self._asked.popleft()
            verdict = self._verdicts.get(_speaks_of(message), b"")
            hear = partial(self._heard, message)
            ending = await self.desk.carry_out(Answer(message, verdict), self.limits.desk_s, hear)
            self._doing = None
            self._said_how(ending, self.limits.desk_s, message)
            if ending == "died" and message is self._latest:
                self.tell(_judged_nothing(self._latest.version))

    def _reminder(self) -> Answer | None:
        """What a desk that was started anew has to know: the page's text, unless that comes anyway."""
        asked = (self._doing, *self._asked)
        if self._latest is None or any(isinstance(message, Text) for message in asked):
            return None
        return Answer(self._latest, quiet=True)

    def _heard(self, message: Message, frame: bytes) -> None:
        """Takes what the desk says."""
        if frame.startswith(TOLD):
            self._put(frame[1:].decode())
        elif frame == TO_PROVE and isinstance(message, Text) and message is self._latest:
            if message.version == self._stopped:
                self.tell(_judged_nothing(message.version))
                return
            self._to_prove = message
            self._something_to_prove.set()

    async def _proving(self) -> None:
        while True:
            while self._to_prove is None:
                self._something_to_prove.clear()
                await self._something_to_prove.wait()
            text, self._to_prove = self._to_prove, None
            self._told_end = False
            hear = partial(self._proved, text)
            ending = await self.bench.carry_out(Judge(text), self.limits.judged_s, hear)
            if not self._told_end:
                self.tell(_judged_nothing(text.version))
            elif ending == "died":
                continue  # all was told, and the next text gets another process
            if text is self._latest:
                self._said_how(ending, self.limits.judged_s, text)

    async def _examining(self) -> None:
        while True:
            while not self._to_examine:
                self._something_to_examine.clear()
                await self._something_to_examine.wait()
            message = self._examined = self._to_examine.popleft()
            limit_s = self.limits.judged_s
            hear = partial(self._heard, message)
            ending = await self.examiner.carry_out(Answer(message), limit_s, hear)
            self._examined = None
            self._said_how(ending, limit_s, message)
            if isinstance(message, TryChallenge) and ending not in ("done", "cut"):
                self.tell(_not_judged(message))

    def _proved(self, text: Text, frame: bytes) -> None:
        """Takes what the bench says."""
        if frame.startswith(TOLD):
            self._told_end = json.loads(frame[1:])["kind"] == "judged"
            self._put(frame[1:].decode())
        elif frame.startswith(VERDICT) and text is self._latest:
            name, _, verdict = frame[1:].partition(b"\0")
            self._verdicts[name.decode()] = verdict

    def _said_how(self, ending: Ending, limit_s: float, message: Message) -> None:
        """Tells of an order that did not come to its end."""
        version = message.version if isinstance(message, Text) else None
        match ending:
            case "overran":
                words = f"This took longer than {limit_s:g} s and was stopped."
                self.tell({"kind": "limit", "what": "time", "version": version, "words": words})
            case "no memory":
                most = self.limits.memory >> 20
                words = (
                    f"This needed more memory than a page may have ({most:,} MB), and was stopped."
                )
                self.tell({"kind": "limit", "what": "memory", "version": version, "words": words})
            case "died":
                words = "The process that worked on this has died; another one takes its place."
                self.tell({"kind": "error", "version": version, "words": words})
            case "done" | "cut":
                pass


def _speaks_of(message: Message) -> str:
    """The requirement that a message speaks of, if any."""
    return message.requirement if isinstance(message, TellStory | RoomDo) else ""


def _judged_nothing(version: int) -> dict[str, Any]:
    """The end of proving as the server tells it, when the process could not."""
    return {
        "kind": "judged",
        "version": version,
        "seconds": 0.0,
        "interrupted": True,
        "rejected": False,
        "findings": [],
    }


def _not_judged(challenge: TryChallenge) -> dict[str, Any]:
    """What is told of a challenge whose judging did not come to its end."""
    return {
        "kind": "graded",
        "lesson": challenge.lesson,
        "question": None,
        "passed": False,
        "wrong": [{"message": "It could not be judged to the end.", "file": "", "line": 0}],
        "moved": [],
        "parts": [],
    }


def _too_long(size: int, most: int) -> dict[str, Any]:
    words = (
        f"The text has {size / 1e6:,.1f} MB; this page takes up to {most / 1e6:,.1f} MB. "
        "It was not read. Check what was pasted; a larger job is proved by `duskproof prove`."
    )
    return {"kind": "limit", "what": "text", "words": words}
