"""Live: everyone who looks at a trial hears at once that something was kept.

Only that something changed is sent; the page then fetches what it shows. The book's file says so itself,
so a homing that another program keeps (`holdzero listen`) is heard of like one from another page.
"""

import asyncio
import hashlib
from collections.abc import AsyncIterable
from pathlib import Path

from fastapi import APIRouter
from fastapi.sse import EventSourceResponse, ServerSentEvent

from holdzero.web import listening
from holdzero.web.case import OpenBook

LOOKS_EVERY_S = 0.2

router = APIRouter()


def stamp(path: Path) -> str:
    """Return a mark that changes with everything kept in a book, and not by reading it."""
    parts = []
    for ending in ("", "-wal"):
        try:
            at = path.with_name(path.name + ending).stat()
        except FileNotFoundError:
            continue
        if at.st_size:  # the log of a book that is only read is there, but empty
            parts.append((ending, at.st_size, at.st_mtime_ns))
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


@router.get("/trials/{trial_id}/live", response_class=EventSourceResponse)
async def live(trial_id: int, book: OpenBook, seen: str = "") -> AsyncIterable[ServerSentEvent]:
    """Say `changed` whenever the book differs from what was seen last, and what an indicator shows."""
    shown = ""
    while True:
        heard = listening.of(str(book.path), trial_id)
        if heard and heard.state != shown:
            shown = heard.state
            yield ServerSentEvent(event="heard", data=shown)
        now = stamp(book.path)
        if now != seen:
            seen = now
            yield ServerSentEvent(event="changed", data=trial_id)
        await asyncio.sleep(LOOKS_EVERY_S)
