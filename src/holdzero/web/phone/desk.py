"""Desk: the page at the computer that opens an address to a phone, shows the code, and ends it."""

import asyncio
from collections.abc import AsyncIterable
from datetime import datetime, timedelta
from typing import Annotated, Any

import segno
from fastapi import APIRouter, Depends, Request, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from holdzero.errors import InputError
from holdzero.quantity import read
from holdzero.web.forms import Typed
from holdzero.web.page import ThisPage
from holdzero.web.phone.address import addresses
from holdzero.web.phone.door import HOURS, PhoneDoor
from holdzero.web.phone.gate import PAIR

router = APIRouter()
LOOKS_EVERY_S = 0.5
CHOICES_H = (1, 2, 4, 8)


def _this_door(request: Request) -> PhoneDoor:
    door: PhoneDoor = request.app.state.phone
    return door


ThisDoor = Annotated[PhoneDoor, Depends(_this_door)]


@router.get("/phone")
@router.get("/phone.json")
def desk(door: ThisDoor, page: ThisPage) -> Response:
    """What is open to a phone, the code that lets it in, and what ends it."""
    return _shown(door, page)


@router.post("/phone")
def open_door(texts: Typed, request: Request, door: ThisDoor, page: ThisPage) -> Response:
    """Open one address of this computer to one phone."""
    door.port = request.url.port or 80
    try:
        hours = read(texts.get("hours", f"{HOURS:g}"), "number", where="hours")
        door.open(texts.get("address", ""), hours=hours)
    except InputError as refused:
        return _shown(door, page, refusal=str(refused), status=422)
    return page.to("/phone")


@router.post("/phone/code")
def new_code(door: ThisDoor, page: ThisPage) -> Response:
    """Make a new code; a phone that was let in has to be paired again."""
    if door.opened:
        door.opened.pairing.renew()
    return page.to("/phone")


@router.post("/phone/end")
def end(door: ThisDoor, page: ThisPage) -> Response:
    """Close it."""
    door.close()
    return page.to("/phone", "Closed. Nothing listens beyond this computer.")


@router.get("/phone/live", response_class=EventSourceResponse)
async def live_desk(request: Request, door: ThisDoor, seen: str = "") -> AsyncIterable[ServerSentEvent]:
    """Say `changed` when a phone came in, a code ran out, or the time is over."""
    while not request.app.state.ending.is_set():
        if (now := _state(door)) != seen:
            seen = now
            yield ServerSentEvent(event="changed", data=seen)
        await asyncio.sleep(LOOKS_EVERY_S)


def _state(door: PhoneDoor) -> str:
    return door.opened.pairing.state if door.opened else "closed"


def _shown(door: PhoneDoor, page: ThisPage, *, refusal: str = "", status: int = 200) -> Response:
    opened, state = door.opened, _state(door)
    until = datetime.now() + timedelta(seconds=opened.pairing.left_s) if opened else None
    code = opened.pairing.code if opened else ""
    values: dict[str, Any] = {
        "state": state,
        "opened": opened,
        "until": f"{until:%H:%M}" if until else "",
        "code": f"{code[:4]} {code[4:]}",
        "drawn_code": _drawn(f"{opened.url.rstrip('/')}{PAIR}#{code}") if opened and code else "",
        "known": addresses(),
        "hours": CHOICES_H,
        "usual_hours": HOURS,
        "refusal": refusal,
    }
    told_now = {"state": state, "address": opened.url if opened else None, "until": values["until"] or None}
    return page("phone_desk.html", data=lambda: told_now, status=status, **values)


def _drawn(url: str) -> str:
    """Return the code as a drawing: dark on light whatever the page is in, as readers of codes need it."""
    drawn = segno.make(url, micro=False, error="m")
    return str(drawn.svg_inline(border=4, dark="#000", light="#fff", omitsize=True))
