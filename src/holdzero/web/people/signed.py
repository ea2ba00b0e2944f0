"""Signed: beyond this computer nothing answers but over TLS, and to people who signed in."""

from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from holdzero.errors import HoldzeroError
from holdzero.store import Book
from holdzero.store.people import Person
from holdzero.store.who import acting
from holdzero.web.people.sessions import Sessions

COOKIE = "__Host-signed-in"  # a browser keeps it to this host, to TLS and to the whole of it
SIGN_IN = "/sign-in"
OPEN = (SIGN_IN, "/static/holdzero.css", "/static/holdzero.js", "/static/icon.svg")  # for who has not signed in
BARE = "<!doctype html><meta name=viewport content='width=device-width'><title>holdzero</title><h1>{}</h1>"
UNSIGNED = "Nobody is signed in here."
NOT_TLS = "This book is open over TLS only: use https."


class SignedGate:
    """Lets people through who signed in, and others to the page where they do; what they change is in their name.

    Parameters
    ----------
    app : ASGI application
        The pages.
    book : Book
        Whose people may sign in.
    sessions : Sessions
        Who has.
    page : callable
        Draws the page of an error: while the book cannot say who still may, nobody gets in, and no session ends.
    """

    def __init__(
        self, app: ASGIApp, book: Book, sessions: Sessions, page: Callable[[Request, Exception], Response]
    ) -> None:
        self.app, self.book, self.sessions, self.page = app, book, sessions, page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        if scope["scheme"] != "https":
            await HTMLResponse(BARE.format(NOT_TLS), status_code=403)(scope, receive, send)
            return
        word = word_of(scope)
        person = self.sessions.of(word)
        try:
            taken_away = person is not None and not await run_in_threadpool(self.book.still_may, person)
        except HoldzeroError as no_answer:
            page = await run_in_threadpool(self.page, Request(scope), no_answer)
            await page(scope, receive, send)
            return
        if taken_away:
            self.sessions.end(word)
            person = None
        scope.setdefault("state", {}).update(person=person, shut_out=lambda: not self.sessions.lasts(word))
        if person is None and scope["path"] not in OPEN:
            await _refused(str(scope["path"]))(scope, receive, send)
            return
        with acting(person.name if person else ""):
            await self.app(scope, receive, send)


def word_of(scope: Scope) -> str:
    """Return what the cookie of a session holds; empty where there is none."""
    headers = [value.decode("latin-1") for name, value in scope["headers"] if name == b"cookie"]
    try:
        held = SimpleCookie("; ".join(headers))
    except CookieError:
        return ""
    return held[COOKIE].value if COOKIE in held else ""


def person_of(scope: Scope) -> Person | None:
    """Return who signed in; None on this computer alone, where nobody has to."""
    person: Person | None = scope.get("state", {}).get("person")
    return person


def _refused(path: str) -> Response:
    if path.endswith(".json"):
        parts = {
            "where": path,
            "found": "nobody signed in",
            "need": "someone who is",
            "do": f"sign in at {SIGN_IN}",
        }
        return JSONResponse({"error": parts}, status_code=401)
    do = "sign in, in another tab where something is typed here and not kept yet, then send it again"
    to_do = f"<dl data-refused><div><dt>To do</dt><dd>{do}</dd></div></dl>"
    page = f"{BARE.format(UNSIGNED)}{to_do}<p><a href='{SIGN_IN}' data-apart>Sign in</a></p>"
    return HTMLResponse(page, status_code=401)
