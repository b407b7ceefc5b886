"""The page's server as a program: an address, a port, and uvicorn until it is interrupted."""

from __future__ import annotations

import contextlib
import socket
import sys
from collections.abc import Callable

import uvicorn

from verifier.front.play.limits import MESSAGE_BYTES
from verifier.front.play.server import House, application

LOOPBACK = "127.0.0.1"

USUAL_PORT = 3875
"""Spells "dusk" on a telephone's keys; no service is registered for it (IANA, from memory)."""

_OPEN_CONNECTIONS = 400
"""Beyond this many at once newcomers are told to come again later."""


def bound(port: int, classroom: bool) -> socket.socket:
    """A socket that takes connections: of this machine alone, or of the local network.

    Port 0 is any free one. Raises: OSError.
    """
    # The protocol is named, as asyncio sends small messages at once only where it is.
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform == "win32":
            # There the other option would let any program listen beside this one.
            made.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(("0.0.0.0" if classroom else LOOPBACK, port))
        made.listen()  # at once: until somebody listens the system gives the port away again
    except BaseException:
        made.close()
        raise
    return made


def usually_bound(classroom: bool) -> socket.socket:
    """A socket at the usual port if it is free, else at any free one. Raises: OSError.

    A browser keeps what a page keeps (how far one has come in the lessons) for each port.
    """
    try:
        return bound(USUAL_PORT, classroom)
    except OSError:
        return bound(0, classroom)


def address_in_the_network() -> str:
    """This machine's address in the local network; empty if it is in none.

    Nothing is sent: the system only looks up which way it would go to a documentation address
    (RFC 5737).
    """
    with (
        contextlib.suppress(OSError),
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked,
    ):
        asked.connect(("192.0.2.1", 9))
        found = str(asked.getsockname()[0])
        return "" if found.startswith("127.") else found
    return ""


def hosts(port: int, network: str) -> tuple[str, ...]:
    """The names under which a browser may come."""
    names = ["127.0.0.1", "localhost", *([network] if network else [])]
    with_port = [f"{name}:{port}" for name in names]
    return (*with_port, *names) if port == 80 else tuple(with_port)


class _Server(uvicorn.Server):
    """Tells when it has begun to listen."""

    def __init__(self, config: uvicorn.Config, begun: Callable[[], None]) -> None:
        super().__init__(config)
        self._begun = begun

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begins to listen."""
        await super().startup(sockets)
        if self.started:
            self._begun()


def server_of(house: House, begun: Callable[[], None]) -> uvicorn.Server:
    """The server, to be run with a bound socket; ``begun`` is called when it listens."""
    config = uvicorn.Config(
        application(house),
        http="h11",
        ws="websockets-sansio",
        loop="asyncio",
        lifespan="on",
        log_config=None,
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws_max_size=MESSAGE_BYTES,
        ws_max_queue=8,
        ws_per_message_deflate=False,
        limit_concurrency=_OPEN_CONNECTIONS,
        timeout_keep_alive=5,
        timeout_graceful_shutdown=3,
    )
    return _Server(config, begun)
