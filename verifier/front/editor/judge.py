"""The server's end of the process that proves: it is given orders, listened to, and cut short."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import json
import os
import signal
import sys
from collections.abc import Callable, Coroutine
from typing import Any

Message = dict[str, Any]

PATIENCE_S = 1.0
"""How long what is cut short may take to stop before its process is ended."""

_LINE_LIMIT = 64 * 1024 * 1024
"""Bytes of one answer."""


class Judge:
    """Proofs of one job in a process of their own.

    ``heard`` is called with what the process says of the newest order to judge; of older ones
    nothing is told any more.
    """

    def __init__(self, heard: Callable[[Message], None]) -> None:
        self._heard = heard
        self._process: asyncio.subprocess.Process | None = None
        self._numbers = itertools.count(1)
        self._judging: Message | None = None
        self._asked: dict[int, asyncio.Future[Message]] = {}
        self._sent = 0
        self._unheard = False
        """Whether nothing was heard of the newest order yet, and it was sent but once."""
        self._tasks: set[asyncio.Task[None]] = set()
        self._idle = asyncio.Event()
        self._idle.set()
        self._lock = asyncio.Lock()

    @property
    def pid(self) -> int | None:
        """The process, if there is one."""
        return None if self._process is None else self._process.pid

    def number(self) -> int:
        """The number of the next order."""
        return next(self._numbers)

    async def judge(self, number: int, name: str, files: dict[str, str], limit_s: float) -> None:
        """Has these files judged, under a number of :meth:`number`; what is being done is cut short."""
        order = {"kind": "judge", "id": number, "name": name, "files": files, "limit_s": limit_s}
        self._judging = order
        async with self._lock:
            if self._judging is not order:
                return  # a newer one has come meanwhile
            await self._cut_short()
            if self._judging is order:
                self._sent, self._unheard = number, True
                await self._send(order)

    async def ask(self, order: Message) -> Message | None:
        """The answer to a question about the job as it was judged; None if it was cut short."""
        number = next(self._numbers)
        future: asyncio.Future[Message] = asyncio.get_running_loop().create_future()
        self._asked[number] = future
        while True:
            await self._idle.wait()
            async with self._lock:
                if self._idle.is_set():
                    await self._send({**order, "id": number})
                    break
        try:
            return await future
        except asyncio.CancelledError:
            if future.cancelled():
                return None
            raise
        finally:
            self._asked.pop(number, None)

    async def stop(self) -> None:
        """Cuts short what is being done."""
        self._judging = None
        async with self._lock:
            await self._cut_short()

    async def close(self) -> None:
        """Ends the process."""
        self._judging = None
        self._end()
        if self._process is not None:
            with contextlib.suppress(ProcessLookupError):
                await self._process.wait()

    # ------------------------------------------------------------ the process

    async def _send(self, order: Message) -> None:
        process = await self._started()
        assert process.stdin is not None
        self._idle.clear()
        try:
            process.stdin.write((json.dumps(order) + "\n").encode())
            await process.stdin.drain()
        except (BrokenPipeError, ConnectionResetError):
            pass  # its end is heard where its answers are read

    async def _started(self) -> asyncio.subprocess.Process:
        if self._process is not None and self._process.returncode is None:
            return self._process
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "verifier.front.editor.judging",
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            limit=_LINE_LIMIT,
            start_new_session=True,
        )
        self._begin(self._read(self._process))
        return self._process

    def _begin(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout is not None
        with contextlib.suppress(ValueError, ConnectionResetError):
            while line := await process.stdout.readline():
                self._take(json.loads(line))
        await process.wait()
        if process is not self._process:
            return
        self._ended()
        if self._judging is not None and self._judging["id"] == self._sent:
            if self._unheard:
                # It may have been dead before the order came to it.
                self._unheard = False
                self._begin(self._send(self._judging))
                return
            number, self._judging = self._sent, None
            self._heard(
                {"kind": "fault", "id": number, "words": "the process that proves has died"}
            )

    def _take(self, message: Message) -> None:
        number, kind = message["id"], message["kind"]
        if number == self._sent:
            self._unheard = False
        if kind in ("stopped", "judged", "done", "fault"):
            self._idle.set()
        future = self._asked.get(number)
        if future is not None:
            if kind == "stopped":
                future.cancel()
            elif not future.done():
                future.set_result(message)
            return
        if self._judging is None or number not in (self._judging["id"], None):
            return
        cut = kind == "stopped" or (kind == "judged" and message["interrupted"])
        if cut and self._sent == self._judging["id"]:
            # The word to stop was meant for the order before, and came late.
            self._begin(self._send(self._judging))
            return
        if kind in ("judged", "fault"):
            self._judging = None
        self._heard(message)

    def _ended(self) -> None:
        """The process is gone, by its own fault or because it was ended."""
        self._process = None
        self._idle.set()
        for future in self._asked.values():
            future.cancel()

    async def _cut_short(self) -> None:
        """Has the process stop; it is ended if it does not."""
        if self._process is None or self._idle.is_set():
            return
        assert self._process.stdin is not None
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            self._process.stdin.write(b'{"kind": "stop"}\n')
            await self._process.stdin.drain()
        try:
            await asyncio.wait_for(self._idle.wait(), PATIENCE_S)
        except TimeoutError:
            self._end()
            self._ended()

    def _end(self) -> None:
        """Ends the process with all that it started."""
        if self._process is None or self._process.returncode is not None:
            return
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()
