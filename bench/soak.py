"""Soak: all pages, and homings entered, many times a second for as long as is asked: nothing may grow.

`HOLDZERO_SOAK_S` sets how long, 20 s by default; `HOLDZERO_SOAK_RATE` the requests a second, 20 by default, of
which a homing that is entered takes two. Once 2 000 are entered, more than a trial has, each is taken back again.
Memory is what the server holds, in MB: after two dozen rounds over everything, when what it keeps has filled its
room, half-way and at the end. How long an answer takes means little while the computer does other things.
"""

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlencode

import numpy as np

from bench._measure import row
from holdzero.case.demo_book import keep_demo
from holdzero.store import open_book
from holdzero.web.stations import STATIONS

LASTS_S = float(os.environ.get("HOLDZERO_SOAK_S", 20))
RATE = float(os.environ.get("HOLDZERO_SOAK_RATE", 20))  # requests a second
GROWS, WAITS_S = 1.10, 0.3
MOST = 2000  # homings that count
ROUNDS = 24  # before memory is first looked at: each page, and as many homings


class Server:
    """A book opened as a person opens it, in a process of its own."""

    def __init__(self, book: Path) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            port_now_free = str(free.getsockname()[1])
        words = (sys.executable, "-m", "holdzero", "open", str(book), "--no-browser", "--port", port_now_free)
        self._process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        assert self._process.stdout is not None
        port = re.search(r":(\d+)/", self._process.stdout.readline())
        assert port is not None, "the book did not open"
        self._client = http.client.HTTPConnection("127.0.0.1", int(port[1]), timeout=120)
        self.waited_s: list[float] = []

    def ask(self, address: str, form: dict[str, str] | None = None) -> str:
        """Send one request, and note how long the answer took."""
        start = time.perf_counter()
        body = None if form is None else urlencode(form)
        kind = {} if form is None else {"content-type": "application/x-www-form-urlencoded"}
        self._client.request("GET" if form is None else "POST", address, body, kind)
        answer = self._client.getresponse()
        text = answer.read().decode("utf-8", "replace")
        self.waited_s.append(time.perf_counter() - start)
        assert answer.status < 500, (answer.status, address)
        return text

    @property
    def memory_mb(self) -> float:
        """What it holds now, where the system tells. [MB]"""
        status = Path(f"/proc/{self._process.pid}/status").read_text(encoding="utf-8")
        held = re.search(r"VmRSS:\s+(\d+) kB", status)
        return int(held[1]) * 1024 / 1e6 if held else 0.0

    def end(self) -> None:
        """Close the book."""
        self._client.close()
        self._process.terminate()
        self._process.wait(timeout=20)


def run() -> list[dict[str, Any]]:
    """Goals: at most 10 % more memory at the end than after two dozen rounds, 99 of 100 answers within 300 ms."""
    with TemporaryDirectory() as folder:
        book = Path(folder) / "soak.holdzero"
        with open_book(book) as opened:
            machine = keep_demo(opened)
            trial = opened.trials(machine)[0].id
        server = Server(book)
        try:
            return _soaked(server, machine, trial)
        finally:
            server.end()


def _soaked(server: Server, machine: int, trial: int) -> list[dict[str, Any]]:
    asked = _requests(server, machine, trial)
    pages = len(STATIONS) + 1
    for _ in range(ROUNDS * 2 * pages):
        next(asked)()
    server.waited_s.clear()
    begun = time.monotonic()
    held_mb = [server.memory_mb]
    while (gone_s := time.monotonic() - begun) < LASTS_S:
        next(asked)()
        sent = len(server.waited_s)
        if len(held_mb) == 1 and gone_s > LASTS_S / 2:
            held_mb.append(server.memory_mb)
        time.sleep(max(0.0, sent / RATE - (time.monotonic() - begun)))
    held_mb.append(server.memory_mb)
    start_mb, *half_way_mb, end_mb = held_mb
    p50, p99 = np.quantile(server.waited_s, [0.5, 0.99]).tolist()
    return [
        row(f"memory half-way of {LASTS_S:g} s, MB", (half_way_mb or [end_mb])[0], start_mb, most=GROWS),
        row(f"memory after {sent} requests, MB", end_mb, start_mb, most=GROWS),
        row(f"requests wanted in {LASTS_S:g} s / sent", RATE * LASTS_S, float(sent), most=1.02),
        row("an answer, half of them, s", p50, WAITS_S, most=1.0),
        row("an answer, 99 of 100, s", p99, WAITS_S, most=1.0),
    ]


def _requests(server: Server, machine: int, trial: int) -> Any:
    """Yield what is asked, without an end: every page, and between them homings entered one by one."""
    rng, number = np.random.default_rng(1), 0
    trial_page = f"/machines/{machine}/trial?trial={trial}&sensor=A&axis=Y&sides=L"
    slugs = cycle(["/", *(f"/machines/{machine}/{station.slug}" for station in STATIONS)])

    def enter() -> None:
        nonlocal number
        part = server.ask(trial_page).partition('id="entry"')[2].partition("</form>")[0]
        given = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', part))
        number += 1
        new = {"ticket": f"soak-{number}", "deviation": f"{rng.normal(0, 0.003):.3f}", "sure": ""}
        new["sure"] = new["deviation"]
        server.ask(f"/trials/{trial}/readings", given | new)
        if number > MOST:
            newest = re.search(r'action="(/readings/\d+/undo)"', server.ask(trial_page))
            assert newest is not None, "the homing that was entered is not on its page"
            server.ask(newest[1], {"back": trial_page})

    def look() -> None:
        server.ask(next(slugs))

    while True:
        yield look
        yield enter
