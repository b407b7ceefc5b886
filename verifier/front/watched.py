"""A folder that is watched: when its `.dusk` files change, and work that a change cuts short."""

from __future__ import annotations

import _thread
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from verifier.front.folder import SUFFIX

POLL_S = 0.25
"""How often a folder is looked at. Every file system can be asked, also those of other machines."""

Look = tuple[tuple[str, int, int], ...]
"""The `.dusk` files of a folder as they are: name, time of the last change, size."""


def look_at(folder: Path) -> Look | None:
    """How the `.dusk` files of a folder are now; None if it cannot be read."""
    found: list[tuple[str, int, int]] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.lower().endswith(SUFFIX) and not entry.name.startswith("."):
                    status = _status(entry)
                    found.append((entry.name, status[0], status[1]))
    except OSError:
        return None
    return tuple(sorted(found))


def _status(entry: os.DirEntry[str]) -> tuple[int, int]:
    try:
        status = entry.stat()
    except OSError:
        return 0, -1
    return status.st_mtime_ns, status.st_size


def wait_for_change(folder: Path, seen: Look | None) -> Look | None:
    """How a folder is when it is another than ``seen`` and has been left alone for a moment.

    Editors write a file in several steps: what stands between them is not worth a look.
    """
    now = look_at(folder)
    while now == seen:
        time.sleep(POLL_S)
        now = look_at(folder)
    while True:
        time.sleep(POLL_S / 2)
        again = look_at(folder)
        if again == now:
            return now
        now = again


class CutShort(Exception):
    """The work was cut short, as the folder changed meanwhile."""


@contextmanager
def cut_short_by_change(folder: Path, seen: Look | None) -> Iterator[Callable[[], bool]]:
    """A stretch of work of the main thread that ends when the folder is another than ``seen``.

    It ends as Ctrl-C ends it. The function that it gives says whether a change was why; where the
    stretch is left by the exception, that is turned into its own. Raises: CutShort.
    """
    done = threading.Event()
    lock = threading.Lock()
    cut = False

    def watch() -> None:
        nonlocal cut
        while not done.wait(POLL_S):
            if look_at(folder) != seen:
                with lock:
                    if not done.is_set():
                        cut = True
                        _interrupt_main_thread()
                return

    thread = threading.Thread(target=watch, daemon=True)
    thread.start()
    try:
        yield lambda: cut
        with lock:
            done.set()
    except KeyboardInterrupt:
        if not cut:
            raise
        raise CutShort from None
    finally:
        done.set()
        thread.join()


def _interrupt_main_thread() -> None:
    """What Ctrl-C does, to this process alone: its workers leave that to it anyway."""
    kill = getattr(signal, "pthread_kill", None)
    ident = threading.main_thread().ident
    if kill is not None and ident is not None:
        kill(ident, signal.SIGINT)
    else:
        _thread.interrupt_main()
