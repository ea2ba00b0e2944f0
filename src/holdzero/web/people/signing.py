"""Sign in: a name and a password, and out again."""

import math

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool

from holdzero.web.case import OpenBook
from holdzero.web.people.sessions import LASTS_S, Sessions, SignInTries
from holdzero.web.people.signed import COOKIE, SIGN_IN, person_of, word_of

router = APIRouter()
WRONG = "Name and password do not fit together."  # the same whether there is anyone of that name or not


@router.get(SIGN_IN)
def sign_in_page(request: Request) -> Response:
    """Ask for a name and a password."""
    return _page(request)


@router.post(SIGN_IN)
async def sign_in(request: Request, book: OpenBook) -> Response:
    """Begin a session, or say that it does not fit, or how long to wait."""
    form = await request.form()
    name, password = str(form.get("name", "")).strip(), str(form.get("password", ""))
    return await run_in_threadpool(_signed_in, request, book, name, password)


def _signed_in(request: Request, book: OpenBook, name: str, password: str) -> Response:
    sessions: Sessions = request.app.state.sessions
    tries: SignInTries = request.app.state.tries
    address = request.client.host if request.client else ""
    if wait_s := tries.wait_s(name, address):
        minutes = math.ceil(wait_s / 60)
        sentence = f"Too many wrong tries: wait {minutes} minute{'' if minutes == 1 else 's'}, then try again."
        return _page(request, refusal=sentence, name=name, status=429)
    person = book.signing_in(name, password)
    if person is None:
        tries.wrong(name, address)
        return _page(request, refusal=WRONG, name=name, status=403)
    tries.right(name, address)
    sessions.end(word_of(request.scope))
    answer = RedirectResponse("/", status_code=303)
    answer.set_cookie(
        COOKIE,
        sessions.begin(person),
        max_age=int(LASTS_S),
        secure=True,
        httponly=True,
        samesite="strict",
        path="/",
    )
    return answer


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End the session."""
    sessions: Sessions = request.app.state.sessions
    sessions.end(word_of(request.scope))
    answer = RedirectResponse(SIGN_IN, status_code=303)
    answer.delete_cookie(COOKIE, path="/", secure=True, httponly=True, samesite="strict")
    return answer


def _page(request: Request, *, refusal: str = "", name: str = "", status: int = 200) -> Response:
    values = {"refusal": refusal, "name": name, "person": person_of(request.scope)}
    answer: Response = request.app.state.templates.TemplateResponse(
        request, "sign_in.html", values, status_code=status, headers={"cache-control": "no-store"}
    )
    return answer
