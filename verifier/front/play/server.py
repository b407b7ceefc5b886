"""The server of the page: who may come in, what is served, and a socket for each page.

Whoever has no business here gets a few words and nothing else. The address holds a token that
cannot be guessed; a page of another origin, or one that reaches this machine under another name,
is turned away even with the token.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import json
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.routing import Mount, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from verifier.front.play.child import be_ready
from verifier.front.play.orders import Setup
from verifier.front.play.session import NotRead, Page
from verifier.language.highlighting import Words

STATIC = Path(__file__).parent / "static"

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

HEADERS: Mapping[str, str] = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}

TURNED_AWAY = 1008
"""The code with which a socket is closed that must not be opened again (RFC 6455, 7.4.1: policy)."""

FULL = 1013
"""The code of a server that has no room (IANA's registry: try again later)."""


@dataclass(frozen=True, slots=True)
class House:
    """What is served: to whom (``hosts`` as a browser names them), and what each page begins with."""

    token: str
    hosts: tuple[str, ...]
    setup: Setup
    files: tuple[tuple[str, str], ...]
    words: Words
    classroom: bool


class Guard:
    """Lets in who comes under a right name, with the token, and only asks."""

    def __init__(self, app: ASGIApp, house: House) -> None:
        self.app = app
        self.house = house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers a request, or hands it on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        refused = self._refused(scope)
        if refused is None:
            await self.app(scope, receive, with_headers)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": TURNED_AWAY, "reason": refused[1]})
        else:
            response = PlainTextResponse(f"{refused[1]}\n", refused[0])
            await response(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        """Why somebody is turned away: a status and words; None who may come in."""
        headers = Headers(scope=scope)
        host = headers.getlist("host")
        if len(host) != 1 or host[0].lower() not in self.house.hosts:
            return 421, "This server goes by another name. Open the address that it printed."
        # A path need not begin with a stroke: "*" is one, too (RFC 9110, 7.1).
        given = f"{scope['path']}/".split("/")[1].encode("utf-8", "surrogatepass")
        if not hmac.compare_digest(given, self.house.token.encode()):
            return 404, "The address is not whole. Open the address that the server printed."
        if scope["type"] == "websocket":
            if headers.get("origin", "").lower() != f"http://{host[0].lower()}":
                return 403, "A page of another origin may not use this server."
        elif scope["method"] not in ("GET", "HEAD"):
            return 405, "Nothing can be sent here."
        return None


def application(house: House) -> ASGIApp:
    """The server's application."""
    pages: set[Page] = set()

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        await asyncio.to_thread(be_ready)
        yield
        await asyncio.gather(*(page.end() for page in pages))

    async def socket(websocket: WebSocket) -> None:
        await websocket.accept()
        if len(pages) >= house.setup.limits.pages:
            words = (
                f"{len(pages)} pages are open already, which is as many as this server takes. "
                "Close one, then load this page again."
            )
            await websocket.send_text(
                json.dumps({"kind": "limit", "what": "pages", "words": words})
            )
            await websocket.close(FULL, "no room")
            return
        page = Page(house.setup, websocket.send_text)
        pages.add(page)
        try:
            await _converse(page, websocket, hello(house))
        finally:
            pages.discard(page)

    inner = Starlette(
        routes=[
            Mount(
                f"/{house.token}",
                routes=[
                    WebSocketRoute("/socket", socket),
                    Mount("/", StaticFiles(directory=STATIC, html=True)),
                ],
            )
        ],
        lifespan=lifespan,
    )
    return Guard(inner, house)


def hello(house: House) -> dict[str, Any]:
    """What a page is told first."""
    limits = house.setup.limits
    return {
        "kind": "hello",
        "job": house.setup.name,
        "files": dict(house.files),
        "limits": {"text_bytes": limits.text_bytes, "rules": limits.rules},
        "keywords": list(house.words.keywords),
        "values": list(house.words.values),
        "classroom": house.classroom,
    }


async def _converse(page: Page, websocket: WebSocket, first: dict[str, Any]) -> None:
    """Hears a page until it is closed, and works for it meanwhile."""
    page.tell(first)
    working = asyncio.create_task(page.run())
    try:
        while not working.done():
            receiving = asyncio.create_task(websocket.receive())
            await asyncio.wait({receiving, working}, return_when=asyncio.FIRST_COMPLETED)
            if not receiving.done():
                receiving.cancel()
                break
            message = receiving.result()
            if message["type"] == "websocket.disconnect":
                break
            page.hear(message.get("text") or "")
    except NotRead:
        pass
    finally:
        working.cancel()
        # It ends because it was cancelled, or because the page is no longer there to be told.
        with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, Exception):
            await working
