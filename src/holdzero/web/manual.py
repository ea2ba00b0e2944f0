"""Manual: its pages beside those of the book, and which of them fits a page."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.exceptions import HTTPException

from holdzero.manual.contents import HOME
from holdzero.manual.sheet import MEDIA, file_of

router = APIRouter()
FITS = {  # template without its ending: page of the manual, with the part of it
    "start": "first-machine",
    "machine": "first-machine#1-say-what-the-machine-must-do",
    "sensors": "how-to#which-kind-of-switch-for-dust-chips-or-coolant",
    "wiring": "wiring",
    "wiring_unknown": "wiring#an-unknown-sensor",
    "travel": "travel",
    "budget": "budget",
    "trial": "trial",
    "trial_import": "book#import-of-readings",
    "trials": "trial#several-trials-of-one-machine",
    "phone": "trial#a-phone-at-the-machine",
    "reading": "trial#slips",
    "plan": "plan",
    "noise": "plan#noise-hunt",
    "capture": "capture",
    "tally": "instruments#a-long-run-without-an-analyser",
    "findings": "findings",
    "choice": "findings#the-verdict",
    "square": "square",
    "install": "square#install-sheet-and-tests",
    "record": "record",
    "watch": "watch",
    "keys": "keys",
    "take": "how-to#take-pictures-tables-and-homings-away",
    "files": "book",
    "trail": "book#who-changed-what",
    "mend": "book#when-something-is-wrong",
}


def manual_href(page_name: str) -> str:
    """Return the address of the page of the manual that fits a page, by the name of its template."""
    fitting = FITS.get(page_name) or FITS.get(page_name.partition("_")[0], HOME)  # a page beside another
    slug, mark, anchor = fitting.partition("#")
    return f"/manual/{slug}.html{mark}{anchor}"


@router.get("/manual")
@router.get("/manual/")
def manual() -> Response:
    """The first page of the manual."""
    return RedirectResponse(f"/manual/{HOME}.html", status_code=307)


@router.get("/manual/{name:path}")
def manual_page(name: str, request: Request) -> Response:
    """One page, picture, script or style of the manual."""
    made = file_of(name, book="/")
    if made is None:
        raise HTTPException(404)
    return Response(made, media_type=MEDIA[name.rpartition(".")[2]])
