"""Live: everyone who looks at a trial hears at once that something was kept.

Only that something changed is sent; the page then fetches what it shows. The book's file or server says so itself,
so a homing that another program keeps (`holdzero listen`) is heard of like one from another page.
"""

import asyncio
from collections.abc import AsyncIterable, Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.sse import EventSourceResponse, ServerSentEvent

from holdzero.errors import BookError
from holdzero.web import listening
from holdzero.web.case import OpenBook

LOOKS_EVERY_S = 0.2

router = APIRouter()


@router.get("/trials/{trial_id}/live", response_class=EventSourceResponse)
async def live(trial_id: int, request: Request, book: OpenBook, seen: str = "") -> AsyncIterable[ServerSentEvent]:
    """Say `changed` whenever the book differs from what was seen last, and what an indicator shows."""
    async for change in _changes(book, seen, trial_id, over=over_for(request)):
        yield change


@router.get("/machines/{machine_id}/live", response_class=EventSourceResponse)
async def live_machine(
    machine_id: int, request: Request, book: OpenBook, seen: str = ""
) -> AsyncIterable[ServerSentEvent]:
    """Say `changed` whenever the book differs from what was seen last."""
    async for change in _changes(book, seen, over=over_for(request)):
        yield change


def over_for(request: Request) -> Callable[[], bool]:
    """Return what tells whether a stream has to end: with the program, or with what lets its reader in."""
    shut_out: Callable[[], bool] = getattr(request.state, "shut_out", lambda: False)
    return lambda: request.app.state.ending.is_set() or shut_out()


async def _changes(
    book: OpenBook, seen: str, trial_id: int | None = None, *, over: Callable[[], bool]
) -> AsyncIterable[ServerSentEvent]:
    shown: dict[str, Any] | None = None
    while not over():
        heard = None if trial_id is None else listening.of(book.address, trial_id)
        news = {"state": heard.state, "lines": heard.read} if heard else None
        if news and news != shown:
            shown = news
            yield ServerSentEvent(event="heard", data=shown)
        now = await asyncio.to_thread(_stamp, book, seen)  # a server may keep it waiting
        if now != seen:
            seen = now
            yield ServerSentEvent(event="changed", data=seen)  # without data a browser keeps it to itself
        await asyncio.sleep(LOOKS_EVERY_S)


def _stamp(book: OpenBook, seen: str) -> str:
    """Return the mark of what is kept; the one before where nobody answers at this moment."""
    try:
        return book.stamp()
    except BookError:
        return seen
