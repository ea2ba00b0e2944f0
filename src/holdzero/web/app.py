"""App: the pages of one book, put together."""

import threading
from collections.abc import Iterable
from functools import cache

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Mount

from holdzero import __version__
from holdzero.errors import HoldzeroError
from holdzero.quantity import System
from holdzero.store import Book, DiskFails, Elsewhere, NoAnswer, NoRoom, NotInBook, Unreadable
from holdzero.web import keys, manual, mend, next_step, start, take, trail
from holdzero.web.contained import Contained, NotWorkedOut, ways_on
from holdzero.web.guard import LOOPBACK, USE, Guard
from holdzero.web.page import HERE, Page, templates
from holdzero.web.people import signing
from holdzero.web.people.sessions import Sessions, SignInTries
from holdzero.web.people.signed import SignedGate
from holdzero.web.phone import desk
from holdzero.web.phone.door import PhoneDoor
from holdzero.web.stations import STATIONS

MENDED = ("machine", "sensor")  # rows whose text a page offers
MOST_BYTES = 64 * 2**20  # a readings file of a million rows


def create_app(book: Book, *, hosts: Iterable[str] = LOOPBACK, sign_in: bool = False) -> FastAPI:
    """Return the web app of a book.

    Parameters
    ----------
    book : Book
        What its pages show and change.
    hosts : iterable of str
        Names the server may be called by: this computer's, unless told otherwise.
    sign_in : bool
        Whether it answers over TLS only, and only people of the book who signed in.
    """
    shown = Mount("/static", StaticFiles(directory=HERE / "static"))
    app = FastAPI(
        title="holdzero", version=__version__, routes=[shown, *_routes(MOST_BYTES, sign_in)], openapi_url=None
    )
    app.state.book, app.state.stations, app.state.templates = book, STATIONS, templates()
    app.state.phone = PhoneDoor(book)
    app.state.ending = threading.Event()  # set when the server is told to end
    app.add_middleware(Contained, page=_say)
    if sign_in:
        app.state.sessions, app.state.tries = Sessions(), SignInTries()
        app.add_middleware(SignedGate, book=book, sessions=app.state.sessions, page=_say)
    app.add_middleware(Guard, hosts=hosts, advice="Use the name it was given." if sign_in else USE)
    app.add_exception_handler(HoldzeroError, _say)
    app.add_exception_handler(HTTPException, _say)
    app.add_exception_handler(RequestValidationError, _say)
    return app


@cache
def _routes(most_bytes: int, sign_in: bool) -> tuple[BaseRoute, ...]:
    """Return what answers at which address: read from the functions once, whatever books a process serves."""
    every = APIRouter(max_body_size=most_bytes)
    for router in (
        start.router,
        keys.router,
        manual.router,
        take.router,
        mend.router,
        trail.router,
        next_step.router,
        signing.router if sign_in else desk.router,  # a phone is let in at the computer itself
        *(router for station in STATIONS for router in station.routers),
    ):
        every.include_router(router)
    return tuple(every.routes)


def _say(request: Request, error: Exception) -> Response:
    """Answer with what was found, what is needed and what to do: a page, or JSON where that was asked for."""
    status, parts = _status(error), _sentences(error)
    if request.url.path.endswith(".json"):
        return JSONResponse({"version": __version__, "error": parts}, status_code=status)
    parts = {"sentence": ""} | parts
    return Page(request)(
        "error.html",
        status=status,
        system=_system(request),
        parts=parts,
        ways=ways_on(request.url.path),
        mends=_mends(error),
        repairs=_repairs(request, error),
        typed=getattr(request.state, "typed", ()),
    )


def _system(request: Request) -> System:
    """Return the book's units, or any where it cannot be asked: a page that says so shows no figure."""
    book: Book = request.app.state.book
    try:
        return book.system
    except HoldzeroError:
        return "metric"


def _mends(error: Exception) -> tuple[tuple[str, str], ...]:
    """Return the page where the text of a row that cannot be read is put right: address and words."""
    if isinstance(error, Unreadable) and error.table in MENDED:
        return ((f"/{error.table}s/{error.key}/mend", "Put its text right"),)
    return ()


def _repairs(request: Request, error: Exception) -> tuple[tuple[str, str], ...]:
    """Return what mends a book with a row that cannot be read: address and words. Nothing is deleted by it."""
    if isinstance(error, Elsewhere) and error.whole:
        return (("/save-beside", "Write what is open to a new file"),)
    if not isinstance(error, Unreadable):
        return ()
    if error.table == "machine":
        return ((f"/machines/{error.key}/remove", "Take this machine out of sight"),)
    machine = request.path_params.get("machine_id")
    if error.table == "sensor" and machine is not None:
        return ((f"/machines/{machine}/sensors/{error.key}/remove", "Take this candidate out of the choice"),)
    if error.table == "reading":
        return ((f"/readings/{error.key}/undo", "Take this reading back"),)
    if error.table == "square entry" and machine is not None:
        return ((f"/machines/{machine}/square/take-back/{error.key}", "Take this entry back"),)
    return ()


def _status(error: Exception) -> int:
    if isinstance(error, HTTPException):
        return error.status_code
    if isinstance(error, NotWorkedOut):
        return 500
    if isinstance(error, NotInBook):
        return 404
    if isinstance(error, NoRoom):
        return 507
    if isinstance(error, Elsewhere | DiskFails | NoAnswer):
        return 503
    return 422


def _sentences(error: Exception) -> dict[str, str]:
    if isinstance(error, NotWorkedOut):
        return {"sentence": error.sentence, "where": "", "found": error.found, "need": error.need, "do": error.do}
    if isinstance(error, HoldzeroError):
        return {"where": error.where, "found": error.found, "need": error.need, "do": error.do}
    if isinstance(error, HTTPException) and error.status_code == 404:
        return {
            "where": "",
            "found": "no such page",
            "need": "an address of this book",
            "do": "go back to the book",
        }
    if isinstance(error, HTTPException) and error.status_code == 400:
        return {
            "where": "",
            "found": "a form that cannot be read, or too much in it",
            "need": "at most 1000 fields, each of at most 1 MiB of text",
            "do": "bring a long table in as a file",
        }
    if isinstance(error, HTTPException) and error.status_code == 413:
        return {"where": "", "found": "too much at once", "need": "at most 64 MB", "do": "split the file"}
    if isinstance(error, RequestValidationError):
        first = error.errors()[0]
        return {
            "where": ".".join(str(part) for part in first["loc"][1:]),
            "found": str(first["msg"]).lower(),
            "need": "an address or a form of this book",
            "do": "go back and try again",
        }
    return {"where": "", "found": str(error), "need": "something this page can do", "do": "go back"}
