"""A process of a page, from the server's side: started, told what to do, cut short, ended."""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from multiprocessing.connection import wait
from typing import Any, Literal

from verifier.front.play.orders import DONE, Order, Setup
from verifier.front.play.process import OUT_OF_MEMORY, serve

Ending = Literal["done", "cut", "overran", "no memory", "died"]
"""How an order ended. "cut": because it was no longer wanted, by force if need be."""

Hear = Callable[[bytes], None]

_PRELOADED = ["verifier.front.play.preloaded"]
"""What all processes need; loaded once, in the process that they are all forked from."""

_INTERRUPTS = 5
"""How often a process is interrupted before it is killed."""

_BY_MEMORY = frozenset(
    {
        OUT_OF_MEMORY,
        *(-int(getattr(signal, name, 0)) for name in ("SIGABRT", "SIGSEGV", "SIGBUS")),
    }
)
"""Exit codes of a process for want of memory: it said so, or Python, or a solver, broke down."""

_starting = threading.Lock()


def _context() -> Any:
    """How processes are started: forked from one that has a single thread, where that can be."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(_PRELOADED)
    return context


class Child:
    """One process of a page; it is started with its first order, and anew after it was killed."""

    def __init__(
        self,
        role: Literal["bench", "desk", "examiner"],
        setup: Setup,
        reminder: Callable[[], Order | None] | None = None,
    ) -> None:
        """``reminder`` is what a process has to be told first that was started anew."""
        self.role = role
        self.setup = setup
        self.busy = False
        self._reminder = reminder or _nothing
        self._fresh = True
        """Whether the process does not know anything yet."""
        self._silent = True
        """Whether it has said nothing of its order."""
        self.over = False
        self._cut = False
        self._process: Any = None
        self._connection: Any = None
        self._life: Any = None
        self._heard: asyncio.Queue[bytes | None] = asyncio.Queue()
        self._start = asyncio.Lock()
        self._next: asyncio.TimerHandle | None = None

    @property
    def pid(self) -> int | None:
        """The number of the process, if there is one."""
        return None if self._process is None else int(self._process.pid)

    async def start(self) -> None:
        """Starts the process, unless it runs; anew if it has died while it had nothing to do."""
        async with self._start:
            if self._process is not None and not self._process.is_alive():
                await self._forget()
            if self._process is None and not self.over:
                await self._begin()

    async def _begin(self) -> None:
        loop = asyncio.get_running_loop()
        heard: asyncio.Queue[bytes | None] = asyncio.Queue()
        started = await asyncio.to_thread(_started, self.role, self.setup)
        self._process, self._connection, self._life = started
        self._heard, self._fresh = heard, True
        reader = threading.Thread(
            target=_read, args=(*started[:2], loop, heard.put_nowait), daemon=True
        )
        reader.start()
        if self.over:  # it was ended meanwhile
            self.kill()

    async def carry_out(self, order: Order, limit_s: float, hear: Hear) -> Ending:
        """Has an order carried out; ``hear`` hears what is said meanwhile.

        If the process was found dead before it said a word, another one gets the order, once.
        """
        self.busy, self._cut = True, False
        until = asyncio.get_running_loop().time() + limit_s
        try:
            ending = await self._begun_and_done(order, until, hear)
            if ending == "died" and self._silent:
                ending = await self._begun_and_done(order, until, hear)
            return ending
        finally:
            self.busy = False
            if self._next is not None:
                self._next.cancel()

    async def _begun_and_done(self, order: Order, until: float, hear: Hear) -> Ending:
        self._silent = True
        await self.start()
        reminder = self._reminder() if self._fresh else None
        self._fresh = False
        if reminder is not None:
            ending = await self._done(reminder, until, lambda frame: None)
            if ending != "done":
                return ending
        return await self._done(order, until, hear)

    async def _done(self, order: Order, until: float, hear: Hear) -> Ending:
        """How one order ended."""
        if self.over or self._is_cut():
            return "cut"
        overran = False
        with contextlib.suppress(OSError):  # that it has died is seen below
            await asyncio.to_thread(self._connection.send, order)
        while True:
            try:
                async with asyncio.timeout_at(None if overran else until):
                    frame = await self._heard.get()
            except TimeoutError:
                overran = True
                self._interrupt()
                continue
            if frame is None:
                memory = await self._forget() in _BY_MEMORY
                if overran:
                    return "overran"
                return "cut" if self._is_cut() else "no memory" if memory else "died"
            if frame == DONE:
                return "overran" if overran else "cut" if self._is_cut() else "done"
            self._silent = False
            hear(frame)

    def cut(self) -> None:
        """Cuts short what the process is doing: an interrupt first, and then by force."""
        if self.busy and not self._cut:
            self._cut = True
            self._interrupt()

    def _is_cut(self) -> bool:
        """Whether what it does is no longer wanted."""
        return self._cut

    def _interrupt(self, again: int = 0) -> None:
        """Interrupts the process a few times (the first may come before it has begun), then kills it."""
        if self._process is None or not self.busy or not self._process.is_alive():
            return
        if again >= _INTERRUPTS:
            self.kill()
            return
        with contextlib.suppress(OSError):
            os.kill(self._process.pid, getattr(signal, "SIGINT", signal.SIGTERM))
        pause = self.setup.limits.cut_s / _INTERRUPTS
        loop = asyncio.get_running_loop()
        self._next = loop.call_later(pause, self._interrupt, again + 1)

    def kill(self) -> None:
        """Kills the process and all that it started; that it is gone is heard later."""
        if self._process is not None:
            _kill(self._process)

    async def end(self) -> None:
        """Ends the process for good; returns when it is gone."""
        self.over = True
        self.kill()
        await self._forget()

    async def _forget(self) -> int | None:
        """Lets go of the process, which is killed if it still lives; its exit code, if known."""
        process, connection, life = self._process, self._connection, self._life
        self._process = self._connection = self._life = None
        if process is None:
            return None
        _kill(process)
        await asyncio.to_thread(process.join, 5.0)
        connection.close()
        life.close()
        code: int | None = process.exitcode
        return code


def _nothing() -> None:
    """There is nothing to be told first."""


def _started(role: str, setup: Setup) -> tuple[Any, Any, Any]:
    """A new process, the connection to it, and the pipe that tells it that the server lives."""
    with _starting:
        context = _context()
        ours, theirs = context.Pipe()
        watched, life = context.Pipe(duplex=False)
        process = context.Process(target=serve, args=(role, theirs, watched, setup))
        process.start()
        theirs.close()
        watched.close()
        return process, ours, life


def _read(
    process: Any, connection: Any, loop: asyncio.AbstractEventLoop, heard: Callable[[Any], None]
) -> None:
    """Hands each frame on to the loop; None when there will be no more. Runs in its own thread.

    The end of the process is waited for by itself: one that it started may still hold its connection.
    """
    with contextlib.suppress(RuntimeError):  # the loop is closed: nobody listens any more
        with contextlib.suppress(EOFError, OSError):
            while connection in wait([connection, process.sentinel]):
                loop.call_soon_threadsafe(heard, connection.recv_bytes())
        loop.call_soon_threadsafe(heard, None)


def _kill(process: Any) -> None:
    """Kills a process that leads a group, and all of the group."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except (AttributeError, OSError):  # on Windows, or it has not come to lead one, or all is gone
        process.kill()


def be_ready() -> None:
    """Starts the process from which those of pages are forked, so that the first page need not wait."""
    with _starting:
        context = _context()
        if context.get_start_method() == "forkserver":
            from multiprocessing.forkserver import ensure_running

            ensure_running()
