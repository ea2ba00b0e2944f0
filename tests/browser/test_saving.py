"""In a browser: forms that save themselves, however fast one types, however slow the answer, from two tabs."""

import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn

from holdzero.store import Book, open_book
from holdzero.web.app import create_app
from holdzero.web.circuit_presets import PRESETS

pytestmark = pytest.mark.browser
AXIS = {"travel": "300 mm", "limit_trip": "4 mm", "home_trip": "8 mm", "differential_travel": "0.3 mm"}
MACHINE = {
    "machine": {"name": "Bench mill"},
    "requirement": {"position": "0.05 mm"},
    "axes": {"X": AXIS | {"delay": "12 ms"}},
}
GANTRY = {"travel": "900 mm", "motors": 2, "drive_distance": "800 mm"}


class Slow:
    """The app behind a server that answers late, or not at all: the test's own hook."""

    def __init__(self, app) -> None:
        self._app, self.by_s, self.refuses = app, 0.0, False

    async def __call__(self, scope, receive, send) -> None:
        import asyncio

        if scope["type"] == "http" and scope["method"] == "POST":
            if self.refuses:
                await send({"type": "http.response.start", "status": 503, "headers": []})
                await send({"type": "http.response.body", "body": b"gone"})
                return
            await asyncio.sleep(self.by_s)
        await self._app(scope, receive, send)


@dataclass
class Bench:
    """One server and one browser context for all tests here."""

    book: Book
    address: str
    slow: Slow
    context: object
    page: object
    trouble: list[str]

    def machine(self, document=MACHINE) -> int:
        return self.book.add_machine(document)

    def at(self, address: str, page=None):
        page = page or self.page
        page.goto(self.address + address)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        return page

    def axis(self, machine: int, name: str = "X") -> dict:
        return self.book.machine(machine).document["axes"][name]


@pytest.fixture(scope="module")
def served(chromium, tmp_path_factory) -> Iterator[Bench]:
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen()
    path: Path = tmp_path_factory.mktemp("saving") / "shed.holdzero"
    with open_book(path) as book:
        slow = Slow(create_app(book))
        server = uvicorn.Server(
            uvicorn.Config(slow, log_level="warning", lifespan="off", timeout_graceful_shutdown=1)
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        context = chromium.new_context(viewport={"width": 1280, "height": 844}, reduced_motion="reduce")
        context.set_default_timeout(10_000)
        page, trouble = context.new_page(), []
        page.on("pageerror", lambda error: trouble.append(str(error)))
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        yield Bench(book, address, slow, context, page, trouble)
        context.close()
        server.should_exit = True
        thread.join()


@pytest.fixture
def bench(served: Bench) -> Iterator[Bench]:
    served.slow.by_s, served.slow.refuses = 0.0, False
    served.trouble.clear()
    yield served
    assert served.trouble == []


def settled(page) -> None:
    """Wait until every field that was left is marked as kept and none waits."""
    page.wait_for_function("!document.querySelector('.fate.waits') && document.querySelector('.fate.kept')")


def texts(page, form: str) -> dict[str, str]:
    return page.evaluate(
        "(form) => Object.fromEntries([...document.querySelectorAll(form + ' input:not([type=hidden])')]"
        ".map((field) => [field.name, field.value]))",
        form,
    )


FORMS = {  # a form, and three of its fields that follow one another, with what is typed there
    "machine": ("machine", "#machine", ["axes.X.top_speed", "axes.X.approach_speed", "axes.X.creep_speed"]),
    "travel": ("travel?axis=X", "#axis", ["axes.X.top_speed", "axes.X.approach_speed", "axes.X.creep_speed"]),
    "budget": ("budget?axis=X", "#axis", ["axes.X.top_speed", "axes.X.approach_speed", "axes.X.creep_speed"]),
}
SPEEDS = ["120 mm/s", "40 mm/s", "2.5 mm/s"]
