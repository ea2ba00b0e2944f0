"""Durability: killed at any moment, no acknowledged homing is lost, none is doubled.

A prepared process forks one that enters readings; it is killed with SIGKILL after a random time, and its
successor goes on. A sender that got no answer sends the same ticket again, as a browser does.
"""

import contextlib
import http.client
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

import pytest

from holdzero.store import open_book
from holdzero.store.check import check

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL, no fork there")
MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}

FORKING = """
import os, sys
import tempfile
from holdzero.store import NewReading, open_book
with tempfile.TemporaryDirectory() as folder:
    open_book(folder + "/warm").close()  # loads what is loaded late, so that a child begins at once
{prepare}
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        try:
            run(line.split())
        finally:
            os._exit(0)
    print(child, flush=True)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""
BY_API = """
def run(words):
    path, said, first = words[0], os.open(words[1], os.O_WRONLY | os.O_APPEND), int(words[2])
    book = open_book(path)
    for i in range(first, first + 100_000):
        book.add_reading(1, NewReading(
            sensor="A", axis="X", side="", set_label="1", deviation_mm=i / 1000, ticket=str(i)))
        os.write(said, b"%d\\n" % i)
"""
BY_WEB = """
import socket, uvicorn
import holdzero.web.serve
from holdzero.web.app import create_app
listening = socket.socket()
listening.bind(("127.0.0.1", 0))
listening.listen(16)
print(listening.getsockname()[1], flush=True)
with tempfile.TemporaryDirectory() as folder:
    uvicorn.Config(create_app(open_book(folder + "/warm")), lifespan="off").load()
def run(words):
    app = create_app(open_book(words[0]))
    uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off")).run(sockets=[listening])
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with open_book(tmp_path / "shed.holdzero") as book:
        machine = book.add_machine(MACHINE)
        book.add_sensor(machine, "A", {})
        book.add_trial(machine, name="First", axis="X")
    return tmp_path / "shed.holdzero"


@contextmanager
def forking(prepare: str) -> Iterator[subprocess.Popen]:
    script = FORKING.replace("{prepare}", prepare)
    process = subprocess.Popen([sys.executable, "-c", script], stdin=-1, stdout=-1, text=True)
    try:
        yield process
    finally:
        process.stdin.close()
        process.wait(timeout=20)
        process.stdout.close()


def begun(process: subprocess.Popen, *words: object) -> int:
    process.stdin.write(" ".join(map(str, words)) + "\n")
    process.stdin.flush()
    return int(process.stdout.readline())


def killed(process: subprocess.Popen, child: int) -> None:
    os.kill(child, signal.SIGKILL)
    assert process.stdout.readline() == "gone\n"


def kept(path: Path) -> list[int]:
    with open_book(path) as book:
        return [round(row.deviation_mm * 1000) for row in book.rows(1, undone=True)]


def through_the_book(path: Path, kills: int) -> None:
    rng = random.Random(20261125)
    said = path.with_name("said")
    said.touch()
    next_one = 0
    with forking(BY_API) as process:
        for _ in range(kills):
            # begin with one that was acknowledged, sent again: its ticket makes it count once
            child = begun(process, path, said, max(next_one - 1, 0))
            if rng.random() < 0.75:  # as it keeps readings; else at any moment, perhaps as it starts
                wait_for_more(said)
            time.sleep(rng.uniform(0, 0.1))
            killed(process, child)
            lines = said.read_text().split()
            next_one = int(lines[-1]) + 1 if lines else 0
    there = kept(path)
    assert there[:next_one] == list(range(next_one))  # all that was acknowledged, in order, once
    assert there[next_one:] in ([], [next_one])  # perhaps one that was written and not acknowledged any more
    assert next_one > kills / 2  # it was killed while it wrote, not before it began
    assert check(path).wrong == ()


def wait_for_more(said: Path, most_s: float = 20.0) -> None:
    before, until = said.stat().st_size, time.monotonic() + most_s
    while said.stat().st_size == before and time.monotonic() < until:
        time.sleep(0.002)


def through_the_web(path: Path, kills: int) -> None:
    rng = random.Random(20261126)
    acknowledged = 0
    with forking(BY_WEB) as process:
        port = int(process.stdout.readline())
        for _ in range(kills):
            child = begun(process, path)
            web = Sender(port)
            if rng.random() < 0.75:  # as it keeps readings; else at any moment, perhaps as it starts
                acknowledged += web.until_sent(acknowledged)
            timer = threading.Timer(rng.uniform(0, 0.1), web.killed, (child,))
            timer.start()
            while web.alive:
                acknowledged += web.sent(acknowledged)
            timer.join()
            assert process.stdout.readline() == "gone\n"
        child = begun(process, path)  # the last one answers what may have been kept without an answer
        acknowledged += Sender(port).until_sent(acknowledged)
        killed(process, child)
    assert kept(path) == list(range(acknowledged))
    assert acknowledged > kills / 2  # it was killed while it wrote
    assert check(path).wrong == ()


class Sender:
    """A browser: sends one reading after another to one server, and sees when that is gone."""

    def __init__(self, port: int):
        self.port, self.alive = port, True
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)

    def killed(self, child: int) -> None:
        """Kill the server and hang up: the waiting connection would be answered by its successor."""
        self.alive = False
        os.kill(child, signal.SIGKILL)
        with contextlib.suppress(OSError, AttributeError):
            self.connection.sock.shutdown(socket.SHUT_RDWR)

    def until_sent(self, i: int, most_s: float = 30.0) -> bool:
        """Send one reading, again where no answer comes; it has to be acknowledged."""
        until = time.monotonic() + most_s
        while not self.sent(i):
            assert time.monotonic() < until, "the server does not answer"
        return True

    def sent(self, i: int) -> bool:
        """Send one reading; whether it was acknowledged."""
        if not self.alive:
            return False
        form = {"sensor": "A", "axis": "X", "set": "1", "deviation": f"{i / 1000:.3f}", "ticket": f"t{i}"}
        headers = {"content-type": "application/x-www-form-urlencoded", "origin": f"http://127.0.0.1:{self.port}"}
        try:
            self.connection.request("POST", "/trials/1/readings", urlencode(form), headers)
            answer = self.connection.getresponse()
            answer.read()
        except (http.client.HTTPException, OSError):
            return False
        finally:
            self.connection.close()
        assert answer.status == 303, answer.status
        return True


def test_40_kills_through_the_book(path: Path):
    through_the_book(path, 40)


def test_10_kills_through_the_web(path: Path):
    through_the_web(path, 10)


@pytest.mark.checks
def test_500_kills_through_the_book(path: Path):
    through_the_book(path, 500)


@pytest.mark.checks
def test_500_kills_through_the_web(path: Path):
    through_the_web(path, 500)
