"""Serving: a book on loopback for a browser, in one way for all tests, so that `HOLDZERO_SLOW_S` reaches each.

A test that passes at any of these seconds waits for what its last act brings, whatever computer it runs on.
"""

import asyncio
import os
import random
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
import uvicorn
from fastapi import FastAPI

from holdzero.store import Book
from holdzero.web.app import create_app
from holdzero.web.phone import door

SLOW_S = float(os.environ.get("HOLDZERO_SLOW_S", "0"))  # up to so late comes each answer, scripts and styles too
LAST_S = 1.0  # what is still asked when a test is over has so long to be answered
_chance = random.Random()


class Late:
    """The same pages from a computer that has other work to do: what is asked is done late, and answered later."""

    def __init__(self, app: Callable[..., Any]) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        before_s, whole_s = sorted(SLOW_S * _chance.random() for _ in range(2))

        async def send_late(message: Any) -> None:
            if message["type"] == "http.response.start":
                await asyncio.sleep(whole_s - before_s)
            await send(message)

        if scope["type"] == "http":
            await asyncio.sleep(before_s)
        await self._app(scope, receive, send_late)


def late(app: FastAPI) -> FastAPI:
    """Return the app; where `SLOW_S` says so, it answers late from now on."""
    if SLOW_S:
        app.add_middleware(Late)
    return app


def late_in(page) -> None:
    """Let the browser itself be late with each request of a page: for a server that is a process of its own."""
    if SLOW_S:
        network = page.context.new_cdp_session(page)
        how = {"latency": 1000 * SLOW_S * _chance.random(), "downloadThroughput": -1, "uploadThroughput": -1}
        network.send("Network.emulateNetworkConditions", {"offline": False} | how)


@dataclass(frozen=True)
class Served:
    """A running server."""

    app: FastAPI
    address: str


@contextmanager
def serving(book: Book, *, around: Callable[[FastAPI], Any] = lambda app: app) -> Iterator[Served]:
    """Serve a book, and what it opens to a phone; `around` puts a test's own hook in front of its app."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen()
    app = late(create_app(book))
    config = uvicorn.Config(around(app), log_level="warning", lifespan="off", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    with pytest.MonkeyPatch.context() as patch:
        phone_app = door.phone_app
        patch.setattr(door, "phone_app", lambda *how, **more: late(phone_app(*how, **more)))
        thread.start()
        while not server.started:
            time.sleep(0.01)
        try:
            yield Served(app, f"http://127.0.0.1:{listening.getsockname()[1]}")
        finally:
            app.state.phone.close()
            end = time.monotonic() + LAST_S
            while server.server_state.tasks and time.monotonic() < end:
                time.sleep(0.005)
            server.should_exit = True  # it sees to that by itself: nobody waits the fifth of a second it takes
            if server.server_state.tasks:
                thread.join()
