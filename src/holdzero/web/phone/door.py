"""Door: the one address beyond this computer that is opened to a phone, until told or until its time is over."""

import threading
import time
from dataclasses import dataclass

import uvicorn
from fastapi import FastAPI

from holdzero.errors import InputError
from holdzero.store import Book
from holdzero.web.bound import bound
from holdzero.web.phone.address import checked_address
from holdzero.web.phone.pages import phone_app
from holdzero.web.phone.pairing import Pairing

HOURS = 4.0
MOST_HOURS = 12.0
PORTS = 9  # after that of the computer's own pages: the same each time, so that what waits in the phone is found


@dataclass(frozen=True, slots=True)
class OpenedDoor:
    """One address that is open to a phone."""

    address: str
    port: int
    pairing: Pairing
    app: FastAPI
    server: uvicorn.Server
    thread: threading.Thread
    timer: threading.Timer

    @property
    def url(self) -> str:
        """Where the phone's pages are."""
        return f"http://{self.address}:{self.port}/"


class PhoneDoor:
    """Opens one address of this computer to one phone, and closes it.

    Parameters
    ----------
    book : Book
        What the phone enters into.
    """

    def __init__(self, book: Book) -> None:
        self._book, self._lock = book, threading.Lock()
        self._opened: OpenedDoor | None = None
        self.port = 0  # of the computer's own pages, once it is known

    @property
    def opened(self) -> OpenedDoor | None:
        """What is open; None where nothing is."""
        return self._opened if self._opened and self._opened.pairing.left_s else None

    def open(self, address: str = "", *, hours: float = HOURS) -> OpenedDoor:
        """Open one address; what was open before is closed.

        Parameters
        ----------
        address : str
            Which; empty: the only one there is.
        hours : float
            After how long it closes by itself. [h]

        Raises
        ------
        InputError
            It cannot be opened to a phone, is none of this computer, or a time that is none or too long.
        """
        address = checked_address(address)
        if not 0 < hours <= MOST_HOURS:
            raise InputError(
                where="hours",
                found=f"{hours:g}",
                need=f"up to {MOST_HOURS:g} h",
                do="choose the hours of this work",
            )
        with self._lock:
            self._close()
            ports = range(self.port + 1, self.port + 1 + PORTS) if self.port else (0,)
            listening = next(filter(None, (bound(address, port) for port in ports)), None)
            if listening is None:
                raise InputError(
                    where="phone",
                    found=f"{address}, where nothing can be opened",
                    need="an address that this computer has now",
                    do="look it up in the network settings, or choose another",
                )
            pairing, port = Pairing(lasts_s=hours * 3600), listening.getsockname()[1]
            app = phone_app(self._book, pairing, host=f"{address}:{port}")
            config = uvicorn.Config(app, log_level="warning", lifespan="off", timeout_graceful_shutdown=3)
            server = uvicorn.Server(config)
            thread = threading.Thread(
                target=server.run, kwargs={"sockets": [listening]}, name="holdzero-phone", daemon=True
            )
            timer = threading.Timer(hours * 3600, self.close)
            timer.daemon = True
            thread.start()
            timer.start()
            self._opened = OpenedDoor(address, port, pairing, app, server, thread, timer)
            while not server.started and thread.is_alive():
                time.sleep(0.01)
            return self._opened

    def close(self) -> None:
        """Close it: nothing listens beyond this computer any more."""
        with self._lock:
            self._close()

    def _close(self) -> None:
        opened, self._opened = self._opened, None
        if opened is None:
            return
        opened.timer.cancel()
        opened.pairing.end()
        opened.app.state.ending.set()
        opened.server.should_exit = True
        if opened.thread is not threading.current_thread():
            opened.thread.join(timeout=5)
