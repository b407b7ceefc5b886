"""Calls that behave and calls that do not, for the tests of workers: found by name in a worker."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path


def square(number: int) -> int:
    return number * number


def process_id() -> int:
    return os.getpid()


def wait_for(seconds: float) -> str:
    time.sleep(seconds)
    return "waited"


def stay_busy() -> None:
    while True:
        pass


def ignore_ends_and_stay_busy() -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    stay_busy()


def fail(message: str) -> None:
    raise ValueError(message)


def leave(status: int) -> None:
    os._exit(status)


def leave_politely() -> None:
    raise SystemExit(0)


def signal_myself() -> None:
    os.kill(os.getpid(), signal.SIGTERM)


def take_memory(megabytes: int) -> int:
    return len(bytearray(megabytes << 20))


def tell_and_wait(path: str, seconds: float) -> None:
    Path(path).write_text(str(os.getpid()), encoding="ascii")
    time.sleep(seconds)


def not_picklable() -> object:
    return lambda: None


def large(size: int) -> bytes:
    return bytes(size)


def run_out(solver: str) -> None:
    """What z3 and cvc5 raise when they are given no more memory."""
    if solver == "z3":
        import z3

        raise z3.Z3Exception("out of memory")
    raise RuntimeError("std::bad_alloc")


class Unwilling:
    """Can be sent, and fails when it arrives."""

    def __reduce__(self) -> tuple[object, ...]:
        return (fail, ("not this way",))


def unwilling() -> Unwilling:
    return Unwilling()


made_ready: list[str] = []
"""How this process was made ready."""


def ready_at_once() -> None:
    made_ready.append("at once")


def ready_later() -> None:
    made_ready.append("later")


def ready_but_fails() -> None:
    made_ready.append("failed")
    raise RuntimeError("what it needs is missing")


def how_ready(seconds: float) -> tuple[int, tuple[str, ...]]:
    time.sleep(seconds)
    return os.getpid(), tuple(made_ready)
