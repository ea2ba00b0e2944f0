"""App: the pages of one book, put together."""

import threading
from collections.abc import Iterable

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from holdzero import __version__
from holdzero.errors import HoldzeroError
from holdzero.store import Book, NotInBook
from holdzero.web import keys, start
from holdzero.web.guard import LOOPBACK, Guard
from holdzero.web.page import HERE, Page, templates
from holdzero.web.stations import STATIONS

MOST_BYTES = 64 * 2**20  # a readings file of a million rows


def create_app(book: Book, *, hosts: Iterable[str] = LOOPBACK) -> FastAPI:
    """Return the web app of a book.

    Parameters
    ----------
    book : Book
        What its pages show and change.
    hosts : iterable of str
        Names the server may be called by: this computer's, unless told otherwise.
    """
    app = FastAPI(title="holdzero", version=__version__, max_body_size=MOST_BYTES, openapi_url=None)
    app.state.book, app.state.stations, app.state.templates = book, STATIONS, templates()
    app.state.ending = threading.Event()  # set when the server is told to end
    app.add_middleware(Guard, hosts=hosts)
    app.mount("/static", StaticFiles(directory=HERE / "static"))
    for router in (start.router, keys.router, *(router for station in STATIONS for router in station.routers)):
        app.include_router(router)
    app.add_exception_handler(HoldzeroError, _say)
    app.add_exception_handler(HTTPException, _say)
    app.add_exception_handler(RequestValidationError, _say)
    return app


def _say(request: Request, error: Exception) -> Response:
    """Answer with what was found, what is needed and what to do: a page, or JSON where that was asked for."""
    status, said = _status(error), _sentences(error)
    if request.url.path.endswith(".json"):
        return JSONResponse({"version": __version__, "error": said}, status_code=status)
    return Page(request)("error.html", status=status, said=said)


def _status(error: Exception) -> int:
    if isinstance(error, HTTPException):
        return error.status_code
    if isinstance(error, NotInBook):
        return 404
    return 422


def _sentences(error: Exception) -> dict[str, str]:
    if isinstance(error, HoldzeroError):
        return {"where": error.where, "found": error.found, "need": error.need, "do": error.do}
    if isinstance(error, HTTPException) and error.status_code == 404:
        return {
            "where": "",
            "found": "no such page",
            "need": "an address of this book",
            "do": "go back to the book",
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
