"""Serve: the pages of a book on this computer, until stopped."""

import gc
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import uvicorn

from holdzero.errors import InputError
from holdzero.freed import give_back
from holdzero.store import Book
from holdzero.web.app import create_app
from holdzero.web.bound import bound
from holdzero.web.phone.door import HOURS

HOST = "127.0.0.1"
USUAL_PORT = 8047
SELDOM = (10_000, 3, 20)  # new things before Python looks for rings among them: a page makes hardly any


@contextmanager
def put_away_when_told() -> Iterator[None]:
    """Within, SIGTERM ends with status 0 once whoever called has put away what it holds."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@put_away_when_told()
def serve(
    book: Book,
    *,
    port: int | None = None,
    before: int | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
    opened_at: Callable[[int], None] | None = None,
    phone: str | None = None,
    phone_hours: float = HOURS,
) -> None:
    """Serve a book on loopback until Ctrl-C.

    Parameters
    ----------
    book : Book
        What is shown.
    port : int, optional
        Where; by default where it was before, else 8047, or any free one if that is taken.
    before : int, optional
        The port this book was open at the last time: what a browser kept of it lies under that address.
    browser : bool
        Open the first page in a browser, if there is one.
    say : callable
        Takes the line that names the address.
    opened_at : callable, optional
        Takes the port.
    phone : str, optional
        Open this address of the computer to one phone as well; empty: the only one there is.
    phone_hours : float
        After how long that closes by itself. [h]

    Raises
    ------
    InputError
        The port asked for, or the one of the last time, is taken; or no phone can reach the address.
    """
    with _listen(port, before=before) as listening:
        open_port = listening.getsockname()[1]
        if opened_at is not None:
            opened_at(open_port)
        address = f"http://{HOST}:{open_port}/"
        app = create_app(book)
        door = app.state.phone
        door.port = open_port
        try:
            opened = door.open(phone, hours=phone_hours) if phone is not None else None
            say(f"{book.name} is open at {address} (Ctrl-C ends)")
            if opened:
                address += "phone"
                say(f"One phone may come in at {opened.url} for {phone_hours:g} h, by the code on {address}")
                say("Anyone in that network can read along: it is plain http.")
            if browser:
                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
            config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=1)
            EndingServer(config, ending=app.state.ending).run(sockets=[listening])
        finally:
            door.close()


class EndingServer(uvicorn.Server):
    """Tells the live streams to end first: a page left open would hold up the end, then be cut off."""

    def __init__(self, config: uvicorn.Config, *, ending: threading.Event) -> None:
        super().__init__(config)
        self._ending = ending

    def run(self, sockets: list[socket.socket] | None = None) -> None:
        """Serve until told to end; uvicorn raises the signal that told it once more when it has ended."""
        if threading.current_thread() is threading.main_thread():
            gc.set_threshold(*SELDOM)
            give_back()
        super().run(sockets)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """End the streams, then the server."""
        self._ending.set()
        super().handle_exit(sig, frame)


def _listen(port: int | None, *, before: int | None = None) -> socket.socket:
    asked = port or before
    for wanted in (USUAL_PORT, 0) if asked is None else (asked,):
        if listening := bound(HOST, wanted):
            return listening
    if port is None:
        raise InputError(
            where=f"{HOST}:{before}",
            found=f"port {before} taken, where this book was open the last time",
            need="the same address: a browser keeps there what was typed and not yet sent",
            do="look whether the book is open there already, end what uses the port, or choose one with --port",
        )
    raise InputError(
        where="--port",
        found=f"port {port} taken, or not allowed",
        need="a free port",
        do="leave --port out, or name another",
    )
