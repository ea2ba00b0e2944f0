"""Pages: all that a phone can reach. What is not listed in this module is not there for it."""

import secrets
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Annotated, Any

from fastapi import APIRouter, Depends, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse
from fastapi.sse import EventSourceResponse
from starlette.exceptions import HTTPException

from holdzero import __version__
from holdzero.errors import BookError, HoldzeroError, InputError
from holdzero.store import Book, NotInBook
from holdzero.tell.followed import tell_planned
from holdzero.trial.keeping import ONE_AT_A_TIME, keep_typed
from holdzero.web import live, trial_form
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import Contained, NotWorkedOut, worked_out
from holdzero.web.forms import FormTexts, Typed, needed
from holdzero.web.guard import Guard
from holdzero.web.page import HERE, SWAP, templates
from holdzero.web.phone.ahead import ahead
from holdzero.web.phone.gate import COOKIE, PAIR, PhoneGate
from holdzero.web.phone.pairing import Pairing
from holdzero.web.stations import follow, install, trial, watch

router = APIRouter()
FILES = ("holdzero.css", "holdzero.js", "phone.js", "icon.svg")
MOST_BYTES = 64 * 2**10  # one entry
LONGEST_AGO_S = 7 * 86400.0
FRESH_S = 60.0  # typed so shortly before it came in that the computer's own clock says when


def phone_app(book: Book, pairing: Pairing, *, host: str) -> FastAPI:
    """Return the web app that a phone sees.

    Parameters
    ----------
    book : Book
        What it enters into.
    pairing : Pairing
        Who is let in.
    host : str
        Address and port, the only name it answers to.
    """
    app = FastAPI(title="holdzero", version=__version__, max_body_size=MOST_BYTES, openapi_url=None)
    app.state.book, app.state.templates, app.state.pairing = book, templates(), pairing
    app.state.ending = threading.Event()
    app.add_middleware(Contained, page=_refusal)
    app.add_middleware(PhoneGate, pairing=pairing)
    app.add_middleware(Guard, hosts=(host,), advice=f"Use http://{host}.")
    app.include_router(router)
    for error in (HoldzeroError, HTTPException, RequestValidationError):
        app.add_exception_handler(error, _refusal)
    return app


def _this_pairing(request: Request) -> Pairing:
    pairing: Pairing = request.app.state.pairing
    return pairing


ThisPairing = Annotated[Pairing, Depends(_this_pairing)]


@router.get(PAIR)
def pair_page(request: Request, pairing: ThisPairing) -> Response:
    """The page that the code leads to: our script takes the code from behind the # and sends it."""
    return _page(request, "phone_pair.html", state=pairing.state, refusal="")


@router.post(PAIR)
def pair(texts: Typed, request: Request, pairing: ThisPairing) -> Response:
    """Let this phone in by the code."""
    try:
        word = pairing.pair(texts.get("code", ""))
    except InputError as refused:
        return _page(request, "phone_pair.html", status=403, state=pairing.state, refusal=str(refused))
    answer = RedirectResponse("/", status_code=303)
    answer.set_cookie(COOKIE, word, max_age=int(pairing.left_s), httponly=True, samesite="strict")
    return answer


@router.get("/")
def machines(request: Request, book: OpenBook) -> Response:
    """The machines of the book; of a single one its page at once."""
    kept = [machine for machine in book.each_machine() if not isinstance(machine, HoldzeroError)]
    if len(kept) == 1:
        return RedirectResponse(f"/machines/{kept[0].id}/trial", status_code=303)
    return _page(request, "phone_machines.html", machines=kept)


@router.get("/static/{name}")
def static_file(name: str) -> Response:
    """One of the few files that these pages need."""
    if name not in FILES:
        raise HTTPException(404)
    return FileResponse(HERE / "static" / name)


@router.get("/machines/{machine_id}/trial")
def at_machine(case: ThisCase, request: Request, pairing: ThisPairing) -> Response:
    """The next homing, the tests and the check homing of a machine on one page: none is fetched later."""
    return _at_machine(case, request, pairing, dict(request.query_params))


@router.post("/machines/{machine_id}/trials")
def begin(texts: Typed, book: OpenBook, case: ThisCase, request: Request, pairing: ThisPairing) -> Response:
    """Begin the planned trial where none has begun: the person at the machine says that its stop was tested."""
    with ONE_AT_A_TIME:  # tapped twice it begins once
        if case.trial is None:
            texts |= {"axis": follow.planned(case).axis}
            fields = trial_form.fields(case, texts, new=True)
            untested = "" if "stop_tested" in texts else "needed is that word, after it was tested"
            if untested or any(field.error for field in fields):
                shown = {"begin_fields": fields, "untested": untested}
                return _at_machine(case, request, pairing, texts, status=422, **shown)
            trial.begin_trial(book, case, texts, led=True)
    return RedirectResponse(f"/machines/{case.id}/trial", status_code=303)


def _at_machine(
    case: OpenCase, request: Request, pairing: Pairing, texts: FormTexts, *, status: int = 200, **shown: Any
) -> Response:
    stamp = case.book.stamp()  # before anything is read: what comes later is heard of
    now = trial.now_values(case, case.trial, texts)
    if request.headers.get(SWAP) == trial.NOW and now:
        return _page(request, "trial_now.html", **now)
    checks = worked_out("the tests", lambda: install.test_values(case))
    until = datetime.now() + timedelta(seconds=pairing.left_s)
    values = {
        "step": None,
        "stamp": stamp,
        "case": case,
        **({} if case.trial else _to_begin(case)),
        "until": f"{until:%H:%M}",
        "book_key": book_key(case.book),
        "coming": ahead(case, case.trial, texts) if case.trial else (),
        "checks_said": str(checks) if isinstance(checks, HoldzeroError) else "",
        **({} if isinstance(checks, HoldzeroError) else checks),
        "check_fields": watch.entry_fields(case, {}),
        "check_ticket": secrets.token_hex(8),
        "newest_log": case.basis.kept_log[:-4:-1],
    }
    layout = "phone_part.html" if SWAP in request.headers else "phone_sheet.html"
    return _page(request, "phone.html", status=status, layout=layout, **(values | now | shown))


def _to_begin(case: OpenCase) -> dict[str, Any]:
    """What the planned trial would be, and what is asked before it begins; nothing without candidates."""
    made = worked_out("the plan", lambda: tell_planned(follow.planned(case))) if case.candidates else ""
    return {
        "planned": "" if isinstance(made, HoldzeroError) else made,
        "not_planned": str(made) if isinstance(made, HoldzeroError) else "",
        "begin_fields": trial_form.fields(case, new=True),
        "untested": "",
    }


@router.post("/trials/{trial_id}/readings")
def send_reading(texts: Typed, book: OpenBook, trial_id: int) -> Response:
    """Keep a reading; what looks like a slip is asked about before."""
    kept = book.trial(trial_id)
    case = OpenCase(book, kept.machine_id, trial_id)
    return _kept(lambda: keep_typed(book, case, kept, texts, taken_at=_written_at(texts)))


@router.post("/machines/{machine_id}/install/checks")
def send_check(texts: Typed, book: OpenBook, case: ThisCase) -> Response:
    """Keep what came of a test."""

    def keep() -> str:
        install.keep_check(book, case, texts, written_at=_written_at(texts))
        return ""

    return _kept(keep)


@router.post("/machines/{machine_id}/watch/entries")
def send_entry(texts: Typed, book: OpenBook, case: ThisCase) -> Response:
    """Keep a check homing."""
    allowed = {name: text for name, text in texts.items() if name not in ("event", "acknowledged", "failed")}
    if at := _written_at(texts):
        allowed = {"time": at} | allowed

    def keep() -> str:
        watch.keep_entry(book, case, allowed, source="phone")
        return ""

    return _kept(keep)


for path, act in (
    ("/trials/{trial_id}/power-ups", trial.power_up),
    ("/trials/{trial_id}/note", trial.note),
    ("/trials/{trial_id}/plan/skip", follow.skip),
    ("/readings/{reading_id}/undo", trial.undo),
    ("/readings/{reading_id}/confirm", trial.confirm),
):
    router.add_api_route(path, act, methods=["POST"])  # as at the computer: they lead back to the page above
router.add_api_route("/trials/{trial_id}/live", live.live, methods=["GET"], response_class=EventSourceResponse)
router.add_api_route(
    "/machines/{machine_id}/live", live.live_machine, methods=["GET"], response_class=EventSourceResponse
)


def book_key(book: Book) -> str:
    """Return what tells a book from another at the same address: what waits in a phone goes to its own."""
    return sha256(str(book.path.resolve() if book.path else book.address).encode()).hexdigest()[:16]


def _kept(keep: Callable[[], str]) -> Response:
    """Answer whether an entry is kept, is asked about first, or cannot be read."""
    try:
        doubt = keep()
    except InputError as refused:
        return JSONResponse({"wrong": needed(refused)}, status_code=422)
    return JSONResponse({"asks": doubt} if doubt else {"kept": True})


def _written_at(texts: FormTexts) -> str:
    """Return when an entry that waited in the phone was typed: by how long ago, whatever its clock shows."""
    text = texts.get("age_s", "")
    age_s = float(text) if text.isdecimal() and len(text) < 9 else 0.0
    if not FRESH_S < age_s <= LONGEST_AGO_S:
        return ""
    return f"{datetime.now(UTC) - timedelta(seconds=age_s):%Y-%m-%dT%H:%M:%SZ}"


def _page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    book: Book = request.app.state.book
    shared: Mapping[str, Any] = {
        "book": book,
        "system": book.system,
        "address": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        "layout": "phone_sheet.html",
    }
    answer: Response = request.app.state.templates.TemplateResponse(
        request, template, {**shared, **values}, status_code=status, headers={"cache-control": "no-store"}
    )
    return answer


def _refusal(request: Request, error: Exception) -> Response:
    """Answer in one sentence; JSON where the phone's script asked."""
    sentence, status = _sentence(error)
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"wrong": sentence}, status_code=status)
    try:
        return _page(request, "phone_refused.html", status=status, sentence=sentence)
    except Exception:  # not even that: a slip of ours in the page itself
        return HTMLResponse(sentence, status_code=status)


def _sentence(error: Exception) -> tuple[str, int]:
    if isinstance(error, NotInBook):
        return str(error), 404
    if isinstance(error, NotWorkedOut):
        return error.sentence, 500
    if isinstance(error, BookError):  # it waits in the phone until the book can be written again
        return str(error), 503
    if isinstance(error, HoldzeroError):
        return str(error), 422
    status = error.status_code if isinstance(error, HTTPException) else 422
    return "A phone has only the trial, the tests and the check homing. The rest is at the computer.", status
