"""Pages of a book that others write to meanwhile: each says what it would say if nothing were remembered."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from case.books import one_motor
from every_page import pages
from holdzero import memory
from holdzero.inputs.log import LogEntry
from holdzero.store import Book, NewReading, file_shelf, open_book
from holdzero.web.app import create_app
from holdzero.web.case import OpenCase
from holdzero.web.next_step import next_step_of
from in_process import run

pytestmark = pytest.mark.usefixtures("coarse_budgets")  # nothing is remembered: they are drawn dozens of times
ENTERED = {"sensor": "A", "axis": "X", "set": "1", "ticket": "t", "deviation": "0.004"}
LOGGED = {"deviation.X": "0.004", "ticket": "w"}
HAPPENED = {"what": "crash", "day": "2026-05-01"}
TABLE = "sensor,axis,set,homing,deviation_mm\nA,X,7,1,0.004\nA,X,7,2,0.002\n"


@pytest.fixture
def programs(
    new_book: Path | str, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[TestClient, TestClient, TestClient, Book]]:
    """Two browsers at one program, one at another, and the book; all within one tick of the system's clock."""
    monkeypatch.setattr(file_shelf, "_of_system", lambda path: [])
    with ExitStack() as stack:
        ours, theirs = (stack.enter_context(open_book(new_book)) for _ in range(2))
        machine = ours.add_machine(one_motor())
        ours.add_sensor(machine, "A", {"kind": "lever", "price": "3"})
        trial = ours.add_trial(machine, name="First", axis="X", resolution="0.001 mm")
        for deviation_mm in (0.001, 0.003, -0.002, 0.002, 0.0, 0.001):
            new = NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=deviation_mm)
            ours.add_reading(trial, new)
        ours.add_log(machine, [logged(day) for day in range(1, 20)])
        apps = create_app(ours), create_app(ours), create_app(theirs)
        clients = [stack.enter_context(TestClient(app, base_url="http://127.0.0.1")) for app in apps]
        yield *clients, theirs


def logged(day: int) -> LogEntry:
    time = datetime(2026, 4, 20, 7, tzinfo=UTC) + timedelta(days=day)
    facts = {"axis": "X", "power_up": str(day), "homing": "1", "deviation_mm": day % 4 / 1000}
    return LogEntry(moment_s=time.timestamp(), time=time.isoformat(), **facts)


def answers(client: TestClient) -> dict[str, object]:
    """What every page says, as JSON but for the clock, and the next step at its end."""
    twins = ["/machines.json", *(address for address in pages(1) if address.endswith(".json"))]
    said = {address: client.get(address).json() for address in twins}
    said["/machines/1/watch.json"].pop("now", None)
    return said | {"next": client.get("/machines/1/next").text}


def test_every_page_says_what_is_in_the_book_whoever_wrote(programs, tmp_path: Path):
    ann, ben, other, theirs = programs
    table = tmp_path / "more.csv"
    table.write_text(TABLE)

    def brought_in() -> None:
        done = run("import", str(table), "--book", theirs.address, "--trial", "First")
        assert done.returncode == 0, done.stderr

    acts: dict[str, Callable[[], object]] = {
        "another browser": lambda: ben.post("/trials/1/readings", data=ENTERED),
        "taken back there": lambda: ben.post("/readings/1/undo"),
        "another program": lambda: other.post("/trials/1/readings", data=ENTERED | {"ticket": "u"}),
        "its log": lambda: other.post("/machines/1/watch/entries", data=LOGGED),
        "what happened": lambda: ben.post("/machines/1/square/events", data=HAPPENED),
        "what is asked of the watch": lambda: theirs.add_sheet(1, "watch", {"resolution": "0.002 mm"}),
        "its units": lambda: other.post("/system", data={"system": "inch"}),
        "the command line": brought_in,
        "the book itself": lambda: theirs.change_trial(1, name="Second"),
    }
    said = answers(ann)
    for who, act in acts.items():
        answer = act()
        assert getattr(answer, "status_code", 200) == 200, who
        now = answers(ann)
        assert now != said, who
        for kept in memory._every:
            kept.forget()
        said = answers(ann)
        differing = [address for address in said if now[address] != said[address]]
        assert not differing, (who, differing)


def test_a_next_step_begun_before_a_writing_is_not_remembered_after_it(programs):
    book = programs[-1]
    slow = OpenCase(book, 1)
    assert slow.standings
    for deviation_mm in (0.001, 0.002, 0.0, 0.001, 0.002):  # one power-up less is asked for
        book.add_reading(1, NewReading(sensor="A", axis="X", side="", set_label="2", deviation_mm=deviation_mm))
    of_before = next_step_of(slow)
    after = next_step_of(OpenCase(book, 1))
    for kept in memory._every:
        kept.forget()
    assert after == next_step_of(OpenCase(book, 1)) != of_before
