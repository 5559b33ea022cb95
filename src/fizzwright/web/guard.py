"""What stands at the door: only this machine's own pages may talk to the workbench, and nothing enormous comes in."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 3_000_000
"""A form carries a document of at most 1 MB up to twice, form-encoded."""
HOSTS = ("localhost", "127.0.0.1", "[::1]")
"""Names a page of this machine may be asked by: a stranger's name that points here is turned away."""
READING = ("GET", "HEAD", "OPTIONS")
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


def host_name(host: str) -> str:
    """The name in a Host header without its port."""
    return host.rsplit(":", 1)[0].lower() if not host.endswith("]") and ":" in host else host.lower()


def refusal(method: str, headers: Headers) -> tuple[int, str] | None:
    """Why a request is turned away, as status and sentence; None when it may come in."""
    host = headers.get("host", "")
    if host_name(host) not in HOSTS:
        return 421, "The workbench answers on this machine only. Open it as localhost, as it said when it started."
    if method in READING:
        return None
    origin = headers.get("origin")
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return 403, "This was sent by another site's page, so nothing was changed."
    if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
        return 403, "This was sent by another site's page, so nothing was changed."
    length = headers.get("content-length", "0")
    if not length.isdigit() or int(length) > MOST_BYTES:
        return 413, "That is too large for the workbench: a recipe is at most 1 MB. Nothing was changed."
    return None


class Guard:
    """Turns away foreign hosts, foreign origins and oversize bodies; sets the headers that keep scripts out."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        turned_away = refusal(scope["method"], Headers(scope=scope))
        if turned_away:
            status, sentence = turned_away
            await PlainTextResponse(sentence, status)(scope, receive, _with_headers(send))
            return
        await self.app(scope, _at_most(receive, MOST_BYTES), _with_headers(send))


class TooLarge(Exception):
    """A body without a length turned out to be too large."""


def _at_most(receive: Receive, most: int) -> Receive:
    """Receive, but not for ever: a body sent in pieces has no length to check beforehand."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise TooLarge
        return message

    return counted


def _with_headers(send: Send) -> Callable[[Message], Awaitable[None]]:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sent
