"""Serve: the pages of a book on this computer, until stopped."""

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
    book: Book, *, port: int | None = None, browser: bool = True, say: Callable[[str], None] = print
) -> None:
    """Serve a book on loopback until Ctrl-C.

    Parameters
    ----------
    book : Book
        What is shown.
    port : int, optional
        Where; by default 8047, or any free one if that is taken.
    browser : bool
        Open the first page in a browser, if there is one.
    say : callable
        Takes the line that names the address.

    Raises
    ------
    InputError
        The port asked for is taken.
    """
    listening = _listen(port)
    address = f"http://{HOST}:{listening.getsockname()[1]}/"
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


def _listen(port: int | None) -> socket.socket:
    for wanted in (USUAL_PORT, 0) if port is None else (port,):
        listening = socket.socket()
        try:
            listening.bind((HOST, wanted))
        except OSError:
            listening.close()
        else:
            listening.listen()  # from here on a browser that comes early waits instead of failing
            return listening
    raise InputError(
        where="--port",
        found=f"port {port} taken, or not allowed",
        need="a free port",
        do="leave --port out: a free one is taken",
    )
