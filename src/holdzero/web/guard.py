"""Guard: who may ask this server, and what its pages may do.

The server listens on this computer only, but every page open in the same browser can reach it. A
foreign name in the Host header is a rebound name service entry; a change sent from another site is
forged. Both are refused before any route runs.
"""

from collections.abc import Iterable
from urllib.parse import SplitResult, urlsplit

import anyio
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
READING = frozenset({"GET", "HEAD", "OPTIONS"})
HEADERS = {
    "content-security-policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
}
USE = "Use http://127.0.0.1 and the port."
UNSAID = (
    "no-store"  # what a book says may change with the next homing: no answer is kept, unless it says otherwise
)


class Guard:
    """Refuses foreign names and forged changes; puts the safety headers on every answer.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    hosts : iterable of str
        Names this server may be called by; one with a port is meant with that port alone.
    advice : str
        What to use instead, for who calls it by another name.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = LOOPBACK, advice: str = USE) -> None:
        self.app, self.hosts, self.advice = app, frozenset(hosts), advice

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        kept = "no-cache" if scope["path"].startswith("/static/") else UNSAID

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                before = message.get("headers", [])
                extra = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
                if all(name.lower() != b"cache-control" for name, _ in before):
                    extra.append((b"cache-control", kept.encode()))
                message = {**message, "headers": [*before, *extra]}
            await send(message)

        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        refused = refusal(scope["method"], headers, self.hosts, advice=self.advice)
        answering = refused or (without_body(self.app) if scope["method"] == "HEAD" else self.app)
        await answering(scope, receive, with_headers)


def without_body(app: ASGIApp) -> ASGIApp:
    """Return an app that answers HEAD as GET is answered, without the body (RFC 9110, section 9.3.2)."""

    async def answering(scope: Scope, receive: Receive, send: Send) -> None:
        with anyio.CancelScope() as until_begun:  # a live stream would never end by itself

            async def head_only(message: Message) -> None:
                if message["type"] == "http.response.start":
                    await send(message)
                    await send({"type": "http.response.body", "body": b""})
                    until_begun.cancel()

            await app({**scope, "method": "GET"}, receive, head_only)

    return answering


def refusal(
    method: str, headers: dict[str, str], hosts: frozenset[str], *, advice: str = USE
) -> PlainTextResponse | None:
    """Return the answer to a request that must not reach the app; None for all others.

    A program that is no browser sends neither Sec-Fetch-Site nor Origin nor Referer; it may change the book.
    """
    host = headers.get("host", "")
    if host not in hosts and _split(f"//{host}").hostname not in hosts:
        return PlainTextResponse(f"This address is not served here. {advice}", 421)
    if method in READING:
        return None
    site, origin = headers.get("sec-fetch-site"), headers.get("origin", headers.get("referer"))
    if site not in (None, "same-origin") or (origin is not None and _split(origin).netloc != host):
        return PlainTextResponse("Changes are taken from holdzero's own pages only.", 403)
    return None


def _split(address: str) -> SplitResult:
    """Take an address apart; one that is none has no name in it."""
    try:
        return urlsplit(address)
    except ValueError:
        return SplitResult("", "", "", "", "")
