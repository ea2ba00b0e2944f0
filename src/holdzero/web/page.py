"""Page: turns what a route found into a sheet, a piece of a sheet, or its JSON twin."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote, unquote, urlsplit

from fastapi import Depends, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.templating import Jinja2Templates
from jinja2 import StrictUndefined

from holdzero import __version__
from holdzero.caution import HOMING_MOVES
from holdzero.errors import HoldzeroError
from holdzero.quantity import System
from holdzero.report.alone import no_png
from holdzero.report.printed import no_pdf
from holdzero.tell import safety
from holdzero.web import show, take
from holdzero.web.case import OpenCase
from holdzero.web.contained import worked_out
from holdzero.web.drawn import gathering
from holdzero.web.manual import manual_href
from holdzero.web.next_step import known_step
from holdzero.web.rail import Station, places

HERE = Path(__file__).parent
READ_FROM_HOMINGS = ("trial", "findings", "choice", "record")  # pages
SAID = "said"  # cookie: one sentence for the next page
UNDO = "undo"  # cookie: how what it tells is undone at once
SWAP = "x-swap"  # header of our own script: it asks for the sheet without the head around it


@cache
def templates() -> Jinja2Templates:
    """Return the templates with the filters of `show`, read once in a process whatever books it serves."""
    made = Jinja2Templates(directory=HERE / "templates")
    made.env.undefined = StrictUndefined
    made.env.trim_blocks = made.env.lstrip_blocks = True
    made.env.globals |= {"version": __version__, "safety": safety, "HOMING_MOVES": HOMING_MOVES, "no_pdf": no_pdf}
    made.env.globals |= {"manual_href": manual_href}
    made.env.filters |= show.FILTERS
    return made


@dataclass(frozen=True, slots=True)
class Undo:
    """How what was done is undone at once: what the button says, and where it sends to."""

    label: str
    action: str


class Page:
    """Shows what a route found, as the request wants it."""

    def __init__(self, request: Request) -> None:
        self.request = request

    def __call__(
        self,
        template: str,
        case: OpenCase | None = None,
        *,
        data: Callable[[], Mapping[str, Any]] | None = None,
        status: int = 200,
        **values: Any,
    ) -> Response:
        """Return the page, or its JSON twin where the address ends in .json.

        Parameters
        ----------
        template : str
            Name of the template; without its ending it is the station the carriage stands at.
        case : OpenCase, optional
            The machine and trial the page is about.
        data : callable, optional
            Gives the JSON twin.
        status : int
            422 where a form came back with errors.
        **values
            What the template shows.
        """
        if self.request.url.path.endswith(".json") and data is not None:
            invented = {"invented": True} if case and case.invented else {}
            return JSONResponse({"version": __version__} | invented | dict(data()))
        if status == 200 and take.ASKED in self.request.query_params and self.request.method == "GET":
            return self._taken(template, case, values)
        return self._set(template, case, values, status=status)

    def _taken(self, template: str, case: OpenCase | None, values: Mapping[str, Any]) -> Response:
        """Return the list of what can be taken of a page, or one of its files."""
        asked, url = self.request.query_params[take.ASKED], self.request.url
        with gathering() as pictures:
            page = bytes(self._set(template, case, values).body).decode()
        takings = take.Takings.of(template.removesuffix(".html"), page, pictures, case)
        if asked != take.LIST:
            return takings.file(asked)
        hrefs = {
            "page_href": take.local(url.remove_query_params(take.ASKED)),
            "twin_href": take.twin(self.request),
            "taken": lambda name: take.local(url.include_query_params(**{take.ASKED: name})),
        }
        return self._set("take.html", case, {"takings": takings, "no_png": no_png(), **hrefs})

    def _set(
        self, template: str, case: OpenCase | None, values: Mapping[str, Any], *, status: int = 200
    ) -> Response:
        """Set a page."""
        state = self.request.app.state
        stations: Sequence[Station] = state.stations
        page_name = template.removesuffix(".html")
        asked_system: System | None = values.get("system")
        shared = {
            "book": state.book,
            "system": asked_system or (case.system if case else state.book.system),
            "case": case,
            "page_name": page_name,
            "old": _notice(case) if case and page_name in READ_FROM_HOMINGS else "",
            "rail": () if case is None or "rail" in values else places(stations, case, page_name),
            "next_step": None if case is None else known_step(case),
            "layout": "fragment.html" if SWAP in self.request.headers else "sheet.html",
            "address": _address(self.request),
            "take_href": take.local(self.request.url.include_query_params(**{take.ASKED: take.LIST})),
            "notice": unquote(self.request.cookies.get(SAID, "")),
            "undo": _undo(self.request),
        }
        answer: Response = state.templates.TemplateResponse(
            self.request,
            template,
            {**shared, **values},
            status_code=status,
            headers={"vary": SWAP, "cache-control": "no-store"},
        )
        if shared["notice"]:
            answer.delete_cookie(SAID)
            answer.delete_cookie(UNDO)
        return answer

    def kept(self, address: str, notice: str) -> Response:
        """Go on after a form that saved itself; with our script the mark at its field tells enough."""
        return self.to(address, "" if SWAP in self.request.headers else notice)

    def to(self, address: str, notice: str = "", *, undo: Undo | None = None) -> Response:
        """Go on to a page of this book; `notice` is told there once, with a button that undoes it."""
        answer = RedirectResponse(_local(address), status_code=303)
        if undo is not None:
            words = quote(f"{undo.label}|{undo.action}")
            answer.set_cookie(UNDO, words, max_age=20, httponly=True, samesite="strict")
        if notice:
            answer.set_cookie(SAID, quote(notice), max_age=20, httponly=True, samesite="strict")
        return answer


def _local(address: str) -> str:
    return address if address.startswith("/") and not address.startswith(("//", "/\\")) else "/"


def _undo(request: Request) -> Undo | None:
    label, _, action = unquote(request.cookies.get(UNDO, "")).partition("|")
    return Undo(label, _local(action)) if label and action else None


def _notice(case: OpenCase) -> str:
    """Say which homings were read before the last event, or why that cannot be told."""
    old = worked_out("which homings were read before the last event", lambda: case.made_old)
    return str(old) if isinstance(old, HoldzeroError) else old.text if old else ""


def _address(request: Request) -> str:
    """Return where a form on this page comes back to: this page, or the one whose form was sent."""
    try:
        at = urlsplit(str(request.url) if request.method == "GET" else request.headers.get("referer", "/"))
    except ValueError:
        return "/"
    return at.path + (f"?{at.query}" if at.query else "")


ThisPage = Annotated[Page, Depends(Page)]
