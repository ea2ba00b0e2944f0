"""Gate: before anything of the phone's pages answers, the phone has to be the one that was let in."""

from http.cookies import CookieError, SimpleCookie

from starlette.responses import HTMLResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from holdzero.web.phone.pairing import Pairing

COOKIE = "phone"
PAIR = "/pair"
OPEN = (PAIR, "/static/")  # what a phone needs before it is let in
BARE = "<!doctype html><meta name=viewport content='width=device-width'><title>holdzero</title><h1>{}</h1>"
SENTENCES = {
    "ended": "The time for a phone is over. Open it again at the computer.",
    "paired": "Another phone is let in. One at a time: end that one at the computer, then pair this one.",
    "open": "This phone is not let in. Scan the code at the computer.",
    "no code": "This phone is not let in. Make a new code at the computer and scan it.",
}


class PhoneGate:
    """Lets the paired phone through, and others to the page that pairs.

    Parameters
    ----------
    app : ASGI application
        The phone's pages.
    pairing : Pairing
        Who is let in.
    """

    def __init__(self, app: ASGIApp, pairing: Pairing) -> None:
        self.app, self.pairing = app, pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        path = str(scope["path"])
        word = _word(scope)
        scope.setdefault("state", {})["shut_out"] = lambda: not self.pairing.knows(word)
        if self.pairing.knows(word) or (self.pairing.left_s and path.startswith(OPEN)):
            await self.app(scope, receive, send)
            return
        sentence = SENTENCES[self.pairing.state]
        await HTMLResponse(BARE.format(sentence), status_code=403, headers={"cache-control": "no-store"})(
            scope, receive, send
        )


def _word(scope: Scope) -> str:
    headers = [value.decode("latin-1") for name, value in scope["headers"] if name == b"cookie"]
    try:
        held = SimpleCookie("; ".join(headers))
    except CookieError:
        return ""
    return held[COOKIE].value if COOKIE in held else ""
