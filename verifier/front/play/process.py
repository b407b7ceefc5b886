"""The processes of a page, from within: one proves, one answers whatever else the page asks.

Each begins with a connection to the server and a pipe that closes when the server is gone, and
then carries out one order after the other. An interrupt cuts short what it is doing.
"""

from __future__ import annotations

import contextlib
import errno
import gc
import json
import os
import signal
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from verifier.front.play.orders import DONE, TOLD, Order, Setup

if TYPE_CHECKING:
    from types import FrameType

Say = Callable[[dict[str, Any]], None]
Frame = Callable[[bytes], None]
Work = Callable[[Order], None]

NICER = 5
"""By how much the processes of pages stand back behind the server."""

FIRST_TO_GO = 800
"""How much sooner than other programs the processes of pages end when the machine has no memory left
(0 to 1000; proc_pid_oom_score_adj(5))."""

OUT_OF_MEMORY = 112
"""The exit code by which a process says that it ran out of memory."""


class _Busy:
    """Whether an order is being carried out: only then does an interrupt mean anything."""

    def __init__(self) -> None:
        self.now = False
        self._speaking = False
        self._wanted = False

    def interrupted(self, number: int, frame: FrameType | None) -> None:
        """What an interrupt does."""
        if self._speaking:
            self._wanted = True
        elif self.now:
            self.now = False
            raise KeyboardInterrupt

    @contextlib.contextmanager
    def speaking(self) -> Iterator[None]:
        """A stretch in which an interrupt waits: a frame is sent whole or not at all."""
        self._speaking, self._wanted = True, False
        try:
            yield
        finally:
            self._speaking = False
        if self._wanted and self.now:
            self.now = False
            raise KeyboardInterrupt


def serve(role: str, connection: Any, life: Any, setup: Setup) -> None:
    """The life of a process. ``role`` is "bench" (it proves), "desk" (it answers) or "examiner".

    An examiner is a desk that judges what is handed in to lessons, and takes its time.
    """
    busy = _Busy()
    signal.signal(signal.SIGINT, busy.interrupted)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    with contextlib.suppress(OSError, AttributeError):  # not on Windows
        os.setsid()
    with contextlib.suppress(OSError, AttributeError):
        os.nice(NICER)
    with (
        contextlib.suppress(OSError),  # on Linux alone
        open("/proc/self/oom_score_adj", "w", encoding="ascii") as file,
    ):
        file.write(str(FIRST_TO_GO))
    threading.Thread(target=_end_with_the_server, args=(life,), daemon=True).start()
    _limit_memory(setup.limits.memory)
    gc.freeze()

    def frame(data: bytes) -> None:
        with busy.speaking():
            try:
                connection.send_bytes(data)
            except OSError as gone:
                raise EOFError from gone

    def say(value: dict[str, Any]) -> None:
        frame(TOLD + json.dumps(value).encode())

    code = 1
    try:
        work = _work(role, say, frame, setup)
        while True:
            order: Order = connection.recv()
            _carry_out(work, order, busy, say)
            frame(DONE)
    except (EOFError, KeyboardInterrupt):
        code = 0
    except Exception as failure:
        if _for_memory(failure):
            code = OUT_OF_MEMORY
    finally:
        # Whatever is left to be taken apart may want memory that is not there.
        os._exit(code)


def _carry_out(work: Work, order: Order, busy: _Busy, say: Say) -> None:
    """Carries out an order; what goes wrong in it is told. Raises: EOFError, MemoryError."""
    try:
        busy.now = True
        work(order)
    except KeyboardInterrupt:
        pass  # it is no longer wanted
    except (MemoryError, EOFError):
        raise
    except Exception as failure:
        if _for_memory(failure):
            raise MemoryError from failure
        say(_fault(failure))
    finally:
        busy.now = False


def _for_memory(failure: Exception) -> bool:
    """Whether it failed for want of memory."""
    refused = isinstance(failure, OSError) and failure.errno == errno.ENOMEM
    return refused or isinstance(failure, MemoryError)


def _work(role: str, say: Say, frame: Frame, setup: Setup) -> Work:
    if role == "bench":
        from verifier.front.play.bench import Bench

        return Bench(setup, say, frame).carry_out
    from verifier.front.play.desk import Desk

    return Desk(setup, say, frame).carry_out


def _fault(failure: Exception) -> dict[str, Any]:
    """What is told when the tool itself fails; the page lives on."""
    from verifier.front.command import fault_words

    words = fault_words(failure)
    return {
        "kind": "error",
        "words": f"{words}. This says nothing about the job; please report it.",
    }


def _end_with_the_server(life: Any) -> None:
    """Ends this process and its workers as soon as the server's end of a pipe is closed."""
    with contextlib.suppress(EOFError, OSError):
        life.recv_bytes()
    with contextlib.suppress(OSError, AttributeError):  # not on Windows
        os.killpg(0, signal.SIGKILL)
    os._exit(1)


def _limit_memory(memory: int) -> None:
    """Limits what this process, and each that it starts, may add to its address space."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    try:
        with open("/proc/self/statm", encoding="ascii") as file:
            size = int(file.read().split()[0]) * resource.getpagesize()
    except OSError:
        size = 1 << 30
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (memory + size, memory + size))
