"""Contained: a slip of ours on one page, or in the figures of one machine, takes nothing else with it."""

import logging
import re
from collections.abc import Callable
from typing import TypeVar

from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from holdzero import __version__
from holdzero.errors import HoldzeroError

T = TypeVar("T")
log = logging.getLogger(__name__)
INPUTS = ("machine", "sensors", "trial")  # pages that stay open whatever the figures do
_OF_MACHINE = re.compile(r"/machines/(\d{1,18})/([a-z-]+)")


class NotWorkedOut(HoldzeroError):
    """A slip of this program kept something from being worked out; the terminal has the whole of it."""

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self.sentence = f"Something went wrong while working out {subject}."
        super().__init__(
            found=f"something that went wrong while working out {subject}",
            need="nothing from you: it is a slip of this program, and what was entered is kept",
            do="go on with the other pages; the terminal that holdzero runs in says more",
        )


def worked_out(subject: str, make: Callable[[], T]) -> T | HoldzeroError:
    """Return what `make` gives, or why it could not be had; a slip of ours goes to the terminal as well."""
    try:
        return make()
    except HoldzeroError as refused:
        return refused
    except Exception:
        log.exception("While working out %s", subject)
        return NotWorkedOut(subject)


class Contained:
    """Answers with a page in words where a page failed in a way that nobody foresaw.

    Parameters
    ----------
    app : ASGI application
        What may fail.
    page : callable
        Draws the page of an error.
    """

    def __init__(self, app: ASGIApp, page: Callable[[Request, Exception], Response]) -> None:
        self.app, self.page = app, page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except ClientDisconnect:  # in the midst of sending: nobody waits for an answer
            return
        except Exception as slip:
            if begun:
                raise
            request = Request(scope, receive)
            log.error("%s %s", request.method, request.url.path, exc_info=slip)
            await self._answer(request)(scope, receive, send)

    def _answer(self, request: Request) -> Response:
        slip = NotWorkedOut(_named(request.url.path))
        try:
            return self.page(request, slip)
        except Exception:
            log.exception("While drawing the page that says so")
            return _bare(request, slip)


def ways_on(path: str) -> tuple[tuple[str, str], ...]:
    """Return where one can go on from a page that failed: address and words."""
    match = _OF_MACHINE.match(path)
    ways = [(f"/machines/{match[1]}/{slug}", slug.capitalize()) for slug in INPUTS] if match else []
    return ("/", "To the book"), *ways


def _named(path: str) -> str:
    match = _OF_MACHINE.match(path)
    return f"the page {match[2].replace('-', ' ').capitalize()}" if match else "this page"


def _bare(request: Request, slip: NotWorkedOut) -> Response:
    """Return the last resort: a page that needs neither the book nor a template."""
    if request.url.path.endswith(".json"):
        return JSONResponse({"version": __version__, "error": str(slip)}, status_code=500)
    return HTMLResponse(
        f"<!doctype html><title>holdzero</title><h1>{slip.sentence}</h1><p>To do: {slip.do}.</p>"
        '<p><a href="/">To the book</a></p>',
        status_code=500,
    )
