"""Serve: the pages of a book on this computer, until stopped."""

import os
import socket
import threading
import webbrowser
from collections.abc import Callable
from types import FrameType

import uvicorn

from holdzero.errors import InputError
from holdzero.store import Book
from holdzero.web.app import create_app

HOST = "127.0.0.1"
USUAL_PORT = 8047


def serve(
    book: Book,
    *,
    port: int | None = None,
    before: int | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
    opened_at: Callable[[int], None] | None = None,
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

    Raises
    ------
    InputError
        The port asked for, or the one of the last time, is taken.
    """
    listening = _listen(port, before=before)
    open_port = listening.getsockname()[1]
    if opened_at is not None:
        opened_at(open_port)
    address = f"http://{HOST}:{open_port}/"
    say(f"{book.path.name} is open at {address} (Ctrl-C ends)")
    if browser:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    app = create_app(book)
    config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=1)
    _Server(config, ending=app.state.ending).run(sockets=[listening])


class _Server(uvicorn.Server):
    """Tells the live streams to end first: a page left open would hold up the end, then be cut off."""

    def __init__(self, config: uvicorn.Config, *, ending: threading.Event) -> None:
        super().__init__(config)
        self._ending = ending

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self._ending.set()
        super().handle_exit(sig, frame)


def _listen(port: int | None, *, before: int | None = None) -> socket.socket:
    asked = port or before
    for wanted in (USUAL_PORT, 0) if asked is None else (asked,):
        listening = socket.socket()
        if os.name == "posix":  # at once again after an end by force; elsewhere the option means something else
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, wanted))
            listening.listen()  # from here on a browser that comes early waits instead of failing
        except OSError:
            listening.close()
        else:
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
