"""A real server of the page in this process, and pages that speak to it over real sockets."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread
from typing import Any

from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from verifier.front.play.limits import Limits
from verifier.front.play.orders import Setup
from verifier.front.play.server import House
from verifier.front.play.serving import bound, hosts, server_of
from verifier.language.highlighting import words
from verifier.pipeline import Keeping

TOKEN = "the-token-of-the-tests"
PATIENCE_S = 90
"""How long a test waits for what has to come; nothing is measured."""

PORCH = """\
contact side_door "Side door"
lamp porch "Porch light" 12 W
rule come_in
  retriggerable
  upon side_door becomes open
  do
    porch on
    wait 2 min
    porch off
end rule
require lit
  when side_door becomes open: porch is on within 0 s
end require
require bright
  always: side_door is open implies porch is on
end require
"""

CHAIN = """\
button push
lamp light
rule begin
  upon push pressed
  do
    light on
end rule
rule ping
  upon light becomes on
  do
    light off
end rule
rule pong
  upon light becomes off
  do
    light on
end rule
require lit
  possible: light is on
end require
"""


def runs_away(rules: int = 6) -> str:
    """A job whose proof does not come to an end: rules that wait, queue, and set each other off."""
    lines = [f"button b{k}\nflag f{k}\n" for k in range(rules)]
    lines.append("lamp out\n")
    for k in range(rules):
        lines.append(
            f"rule r{k}\n  at once 4, waiting 4\n  upon b{k} pressed\n"
            f"  upon f{(k + 1) % rules} changes\n  do\n    wait {13 + 7 * k} s\n"
            f"    if f{(k + 1) % rules} is yes then\n      f{k} no\n    else\n      f{k} yes\n"
            f"    end if\n    wait {17 + 3 * k} s\n    out on\n    wait {5 + k} s\n    out off\n"
            "end rule\n"
        )
    lines.append("require short\n  no longer than 1 h: out is on\nend require\n")
    return "".join(lines)


def many_rules(count: int) -> str:
    """So many rules, each on a lamp of its own."""
    return "".join(
        f"button b{k}\nlamp l{k}\nrule r{k}\n  upon b{k} pressed\n  do\n    l{k} on\nend rule\n"
        for k in range(count)
    )


def many_rooms(count: int) -> str:
    """A short text for a large job: so many rooms of one kind."""
    rooms = ", ".join(f"r{k}" for k in range(count))
    return (
        "typical stair\nbutton push\nlamp light\nrule glow\n  upon push pressed\n  do\n"
        f"    light on\nend rule\nend typical\napply stair to {rooms}\n"
    )


class Page:
    """An open page."""

    def __init__(self, connection: ClientConnection) -> None:
        self.connection = connection
        self.heard: list[dict[str, Any]] = []

    def say(self, kind: str, **fields: Any) -> None:
        """Sends a message."""
        self.connection.send(json.dumps({"kind": kind, **fields}))

    def text(self, version: int, text: str) -> None:
        """Sends a job of one file."""
        self.say("text", version=version, files={"job.dusk": text})

    def next(self) -> dict[str, Any]:
        """The next message of the server."""
        message: dict[str, Any] = json.loads(self.connection.recv(PATIENCE_S))
        self.heard.append(message)
        return message

    def until(self, kind: str, **fields: Any) -> dict[str, Any]:
        """The next message of a kind that has these fields."""
        while True:
            message = self.next()
            if message["kind"] == kind and fields.items() <= message.items():
                return message

    def verdicts(self, version: int) -> dict[str, str]:
        """The verdicts of a version, when all are there."""
        found: dict[str, str] = {}
        while True:
            message = self.next()
            if message.get("version") != version:
                continue
            if message["kind"] == "verdict":
                found[message["name"]] = message["verdict"]
            if message["kind"] == "judged":
                return found


@dataclass(frozen=True)
class Served:
    """A server that runs."""

    port: int

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/{TOKEN}/"

    @contextlib.contextmanager
    def page(self) -> Iterator[Page]:
        """Opens a page; the first message has been heard."""
        with self.connected() as connection:
            page = Page(connection)
            assert page.next()["kind"] == "hello"
            yield page

    def connected(self) -> ClientConnection:
        """An open socket."""
        return connect(
            f"ws://127.0.0.1:{self.port}/{TOKEN}/socket",
            origin=Origin(f"http://127.0.0.1:{self.port}"),
            max_size=None,
            compression=None,
        )


def house(
    port: int, limits: Limits, files: Mapping[str, str] | None = None, lessons: str = ""
) -> House:
    """What a server of the tests serves."""
    return House(
        TOKEN,
        hosts(port, ""),
        Setup("made", limits, (2027, 2056), Keeping(None, None), lessons),
        tuple((files or {"job.dusk": PORCH}).items()),
        words(),
        classroom=False,
    )


@contextlib.contextmanager
def served(
    limits: Limits | None = None, files: Mapping[str, str] | None = None, lessons: str = ""
) -> Iterator[Served]:
    """A server that runs as long as the context does."""
    listening: socket.socket = bound(0, False)
    port = int(listening.getsockname()[1])
    begun = Event()
    server = server_of(house(port, limits or Limits(), files, lessons), begun.set)
    thread = Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    assert begun.wait(PATIENCE_S)
    try:
        yield Served(port)
    finally:
        server.should_exit = True
        thread.join(PATIENCE_S)
        listening.close()
        assert not thread.is_alive()


def comes_true(condition: Callable[[], bool]) -> bool:
    """Whether something comes true while one waits."""
    until = time.monotonic() + PATIENCE_S
    while not condition():
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


def page_processes() -> set[int]:
    """The processes of open pages and all that they started, by their place in the family."""
    parent_of: dict[int, int] = {}
    for path in Path("/proc").iterdir():
        if path.name.isdigit():
            with contextlib.suppress(OSError):
                words = (path / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()
                if words[0] != "Z":
                    parent_of[int(path.name)] = int(words[1])
    return {pid for pid in parent_of if _depth(pid, parent_of) >= 2}


def _depth(pid: int, parent_of: Mapping[int, int]) -> int:
    """How many steps a process is below this one; 0 if it is none of its family."""
    steps = 0
    while pid != os.getpid():
        if pid not in parent_of:
            return 0
        pid, steps = parent_of[pid], steps + 1
    return steps


def frame(text: str) -> bytes:
    """A text frame of a client with a mask of zeros (RFC 6455, 5.2), of fewer than 126 bytes."""
    data = text.encode()
    return bytes([0x81, 0x80 | len(data), 0, 0, 0, 0]) + data


@contextlib.contextmanager
def raw_socket(server: Served) -> Iterator[socket.socket]:
    """An open socket to the server from which nothing is read after the handshake."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as made:
        host = f"127.0.0.1:{server.port}"
        lines = [
            f"GET /{TOKEN}/socket HTTP/1.1", f"Host: {host}", f"Origin: http://{host}",
            "Upgrade: websocket", "Connection: Upgrade", "Sec-WebSocket-Version: 13",
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "", "",
        ]  # fmt: skip
        made.sendall("\r\n".join(lines).encode())
        assert made.recv(12) == b"HTTP/1.1 101"
        yield made
