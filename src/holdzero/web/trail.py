"""Trail: a page of the book, who changed what, newest first."""

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Query, Response

from holdzero.case.in_book import names_of_rows
from holdzero.tell.trail import tell_changes
from holdzero.web.case import OpenBook
from holdzero.web.page import ThisPage

router = APIRouter()
MOST = 100  # on one page


@router.get("/book/trail")
@router.get("/book/trail.json")
def trail(book: OpenBook, page: ThisPage, before: Annotated[int | None, Query(ge=1, lt=2**31)] = None) -> Response:
    """Show who changed what, newest first, so many at a time."""
    changes = book.trail(most=MOST, before=before)
    return page(
        "trail.html",
        data=lambda: {"changes": [asdict(change) for change in changes]},
        changes=tell_changes(changes, names_of_rows(book)),
        older=changes[-1].id if len(changes) == MOST else None,
        newest=before is None,
    )
