"""A club's book open in two programs at once: one killed, the server cut off or started anew; nothing is lost."""

import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

import httpx
import pytest

from holdzero.store import Book, open_book
from opened import Program, opened
from postgres import Server, server

pytestmark = pytest.mark.postgres
MILL = {"requirement": {"position": "0.05 mm"}, "axes": {"X": {"travel": "300 mm"}}}
ASKED = {"timeout": 60, "verify": False}  # over http alone: the list of certificates takes longer than the answer
ENTERED = {"sensor": "A", "axis": "X", "set": "1"}
ENDED = "select pg_terminate_backend(pid) from pg_stat_activity where application_name = 'holdzero'"
GONE = re.compile(r"<h1[^>]*>\s*Found no (answer from the server|connection)")


@pytest.fixture(scope="module")
def own() -> Iterator[Server]:
    """A server that may be ended; what it confirms is on its disk."""
    with server(fsync="on") as running, pytest.MonkeyPatch.context() as environment:
        environment.setenv("PGPASSWORD", running.password)
        yield running


@pytest.fixture(scope="module")
def club(own: Server) -> Iterator[tuple[str, Program, Program]]:
    """The address of a book, and two programs that have it open."""
    address = own.made("club")
    with open_book(address), opened(address) as one, opened(address, port=free_port()) as two:
        yield address, one, two


@pytest.fixture
def book(club: tuple[str, Program, Program]) -> Iterator[Book]:
    """The same, open in the process of the test."""
    with open_book(club[0]) as of_club:
        yield of_club


@pytest.fixture
def one(club: tuple[str, Program, Program]) -> Program:
    return club[1]


@pytest.fixture
def two(club: tuple[str, Program, Program]) -> Program:
    return club[2]


@pytest.fixture
def mill(book: Book) -> int:
    """A machine, the name of which is Mill and its number."""
    machine = book.add_machine(MILL | {"machine": {"name": f"Mill {len(book.machines()) + 1}"}})
    book.add_sensor(machine, "A", {})
    return machine


@pytest.fixture
def trial(book: Book, mill: int) -> int:
    return book.add_trial(mill, name="Saturday", axis="X", resolution="0.001 mm")


def enter(program: Program, trial: int, number: int, whose: str) -> int:
    """Send one reading as a page does; returns the status, 0 where no answer came."""
    form = ENTERED | {"deviation": f"{number / 1000:.3f}", "ticket": f"{trial}-{whose}{number}"}
    try:
        return httpx.post(f"{program.address}/trials/{trial}/readings", data=form, **ASKED).status_code
    except httpx.TransportError:
        return 0


def in_turn(
    program: Program, trial: int, numbers: range, whose: str, kept: list[int], *, wait_s: float = 60.0
) -> None:
    """Enter readings, each again until it is acknowledged, as a person who reads the page does."""
    until = time.monotonic() + wait_s
    for number in numbers:
        while (status := enter(program, trial, number, whose)) not in (200, 303):
            assert status == 503, status
            assert time.monotonic() < until
            time.sleep(0.1)
        kept.append(number)


def at_once(*acts) -> None:
    raised: list[BaseException] = []

    def run(act) -> None:
        try:
            act()
        except BaseException as error:
            raised.append(error)

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert raised == []


def numbers_of(book: Book, trial: int) -> list[int]:
    return [round(row.deviation_mm * 1000) for row in book.rows(trial)]


def test_two_pages_and_the_terminal_enter_at_once(book: Book, mill: int, trial: int, one: Program, two: Program):
    """Two `holdzero open` and a `holdzero log` that is called again and again, all processes of their own."""
    ann: list[int] = []
    ben: list[int] = []
    logged: list[int] = []

    def logs() -> None:
        for number in range(4):
            words = ["log", book.address, "--machine", f"Mill {mill}", "--deviation", f"0.00{number}"]
            words = [sys.executable, "-m", "holdzero", *words, "--set", str(number), "--homing", "1"]
            done = subprocess.run(words, capture_output=True, text=True, check=True)
            assert "1 entry kept" in done.stdout
            logged.append(number)

    at_once(
        lambda: in_turn(one, trial, range(20), "a", ann),
        lambda: in_turn(two, trial, range(100, 120), "b", ben),
        logs,
    )
    assert sorted(numbers_of(book, trial)) == sorted(ann + ben) == [*range(20), *range(100, 120)]
    assert [row.homing for row in book.rows(trial)] == [*range(1, 41)]
    assert sorted(entry.entry.deviation_mm for entry in book.log(mill)) == [0.0, 0.001, 0.002, 0.003]
    seen = [
        httpx.get(f"{program.address}/machines/{mill}/findings.json", **ASKED).json() for program in (one, two)
    ]
    assert seen[0] == seen[1]
    assert seen[0]["sensors"][0]["n"] == 40


def test_the_same_field_in_two_programs_is_shown_with_both_values(
    book: Book, mill: int, one: Program, two: Program
):
    travel = {"shown_in": "metric", "was.axes.X.travel": "300 mm"}
    answers = [
        httpx.post(f"{program.address}/machines/{mill}/machine", data=travel | {"axes.X.travel": typed}, **ASKED)
        for program, typed in ((one, "310 mm"), (two, "320 mm"))
    ]
    assert [answer.status_code for answer in answers] == [303, 409]
    assert "310 mm is kept there" in answers[1].text
    assert re.search(r'name="axes.X.travel" value="320 mm"', answers[1].text)
    assert book.machine(mill).document["axes"]["X"]["travel"] == "310 mm"


def test_a_program_that_is_killed_loses_nothing_it_acknowledged(book: Book, trial: int, two: Program):
    acknowledged: list[int] = []
    other: list[int] = []
    with opened(book.address, port=free_port()) as one:

        def until_killed() -> None:
            for number in range(1000):
                if enter(one, trial, number, "a") not in (200, 303):
                    return
                acknowledged.append(number)

        def kills() -> None:
            while len(acknowledged) < 12:
                time.sleep(0.005)
            one.killed()

        at_once(until_killed, kills, lambda: in_turn(two, trial, range(2000, 2020), "b", other))
        kept = [number for number in numbers_of(book, trial) if number < 2000]
        assert kept[: len(acknowledged)] == acknowledged
        assert len(kept) <= len(acknowledged) + 1  # one may be kept, and its answer lost
        again = len(acknowledged)
        assert (
            enter(two, trial, again, "a") == 303
        )  # sent again at the other program, as the page does: counts once
    kept = numbers_of(book, trial)
    assert sorted(kept) == [*range(again + 1), *range(2000, 2020)]
    assert [row.homing for row in book.rows(trial)] == [*range(1, len(kept) + 1)]


@pytest.mark.parametrize("how", ["connections ended", "server killed and started"])
def test_a_server_that_goes_away_under_open_pages(
    book: Book, mill: int, trial: int, one: Program, two: Program, own: Server, how: str
):
    """Each entry is kept or refused in one line, and goes on by itself once the server is back."""
    ann: list[int] = []
    ben: list[int] = []

    def ends() -> None:
        for after in (5, 15):
            while len(ann) < after:
                time.sleep(0.005)
            if how == "connections ended":
                own.told(ENDED)
            else:
                own.killed()
                for address in (
                    "/",
                    f"/machines/{mill}/trial",
                    f"/trials/{trial}/readings.json",
                    f"/machines/{mill}/findings",
                ):
                    answer = httpx.get(one.address + address, **ASKED)
                    assert (answer.status_code in (404, 503), "slip" in answer.text) == (True, False), address
                    assert answer.status_code == 404 or GONE.search(answer.text), answer.text[:3000]
                own.started()

    at_once(
        lambda: in_turn(one, trial, range(25), "a", ann),
        lambda: in_turn(two, trial, range(100, 125), "b", ben),
        ends,
    )
    assert httpx.get(f"{one.address}/machines/{mill}/trial", **ASKED).status_code == 200
    assert sorted(numbers_of(book, trial)) == [*range(25), *range(100, 125)]
    assert [row.homing for row in book.rows(trial)] == [*range(1, 51)]


def free_port() -> int:
    """For a second program of the same book, which would ask for the port of the first."""
    import socket

    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


assert os.environ["HOLDZERO_SETTINGS"] == os.devnull  # no port is remembered by these programs
