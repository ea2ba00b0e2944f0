"""Readings and log that are remembered between two pages: never other than what is in the book, whoever wrote."""

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from itertools import count
from pathlib import Path

import numpy as np
import pytest

from case.books import one_motor
from holdzero import memory
from holdzero.case.case import Case
from holdzero.case.in_book import InBook
from holdzero.errors import BookError, HoldzeroError, InputError
from holdzero.inputs.log import LogEntry
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.store import Book, NewReading, file_shelf, open_book, read_archive
from holdzero.store import server as club
from postgres import Server, server

TABLE = "sensor,axis,side,set,homing,deviation_mm\nA,X,,{0},1,0.00{0}\nA,X,,{0},2,0.003\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book that each test gets a copy of, and its archive beside it."""
    path = tmp_path_factory.mktemp("made") / "shed.holdzero"
    with open_book(path) as book:
        machine = book.add_machine(one_motor())
        trial = book.add_trial(machine, name="First", axis="X", resolution="0.001 mm")
        book.import_readings(trial, read_readings(TABLE.format(1), resolution_mm=0.001))
        book.add_log(machine, [entry(0)])
        book.export(path.with_suffix(".zip"))
    return path


@pytest.fixture
def path(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path))


@pytest.fixture(scope="module")
def made_on_server(made: Path, club_server: Server) -> str:
    """The same on a server: the name of its database."""
    read_archive(made.with_suffix(".zip"), club_server.made("never_stale"))
    return "never_stale"


@pytest.fixture
def on_server(made_on_server: str, club_server: Server) -> str:
    """The address of a copy of it."""
    return club_server.made(f"{made_on_server}_{next(_numbers)}", template=made_on_server)


_numbers = count(1)


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest) -> Path | str:
    """Where the book lies: in its file, or on a server."""
    return request.getfixturevalue("path" if request.param == "file" else "on_server")


@pytest.fixture
def one(place: Path | str) -> Iterator[Book]:
    with open_book(place) as opened:
        yield opened


@pytest.fixture
def other(place: Path | str) -> Iterator[Book]:
    """The same book, opened by another program."""
    with open_book(place) as opened:
        yield opened


@pytest.fixture
def clock_stands_still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the system tell nothing of the file: as where two writings fall into one tick of its clock."""
    monkeypatch.setattr(file_shelf, "_of_system", lambda path: [])


def entry(number: int) -> LogEntry:
    facts = {"axis": "X", "power_up": "1", "homing": number, "deviation_mm": 0.001}
    return LogEntry(moment_s=1.7e9 + number, time=f"2026-01-01T00:00:00+00:00, {number}", **facts)


def remembered(book: Book) -> tuple[object, ...]:
    """What a page sees."""
    in_book = InBook(book, book.machine(1))
    return [(row.name, row.kind, row.event, row.left_out, row.readings.digest) for row in in_book.labelled], [
        (row.id, row.entry, row.undone) for row in in_book.kept_log
    ]


def read(book: Book) -> tuple[object, ...]:
    """What is in the book, read at this moment."""
    trials = book.trials(1)[::-1]
    names = {trial.id: trial.name for trial in trials}
    return [
        (
            names.get(trial.joined_to or trial.id, trial.name),
            trial.kind,
            trial.event,
            trial.left_out,
            book.readings(trial.id).digest,
        )
        for trial in trials
    ], [(row.id, row.entry, row.undone) for row in book.log(1)]


def acts(book: Book, rng: np.random.Generator) -> list[Callable[[], object]]:
    """Everything that changes what readings and log say, each once."""
    number = int(rng.integers(10**6))
    trials = [trial.id for trial in book.trials(1)]
    trial = int(rng.choice(trials))
    rows = [row.id for known in trials for row in book.rows(known, undone=True)] or [1]
    row, logged = int(rng.choice(rows)), int(rng.choice([kept.id for kept in book.log(1, undone=True)]))
    new = NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=number / 1e6, resolution_mm=0.001)

    def refused_at_its_end() -> None:
        with suppress(InputError), book.together():
            book.add_reading(trial, new)
            remembered(book)  # what will not be kept is not remembered either
            raise InputError(where="here", found="a slip", need="none", do="try again")

    def together() -> None:
        with book.together():
            book.add_reading(trial, new)
            assert remembered(book) == read(book)
            book.undo(row)
            assert remembered(book) == read(book)

    return [
        lambda: book.add_reading(trial, new),
        lambda: book.undo(row),
        lambda: book.redo(row),
        lambda: book.set_aside(row, f"slipped {number}"),
        lambda: book.leave_out(row, f"another cable {number}"),
        lambda: book.begin_level(row, f"a new bracket {number}"),
        lambda: book.read_as(
            trial, sensor="A", axis="X", side="", resolution_mm=number / 1e9, protocol=Protocol.OUTSIDE
        ),
        lambda: book.change_trial(trial, name=f"Trial {number}"),
        lambda: book.label_trial(trial, left_out=str(number)),
        lambda: book.label_trial(trial, event=f"moved {number}"),
        lambda: book.add_trial(1, name=f"Trial {number}", axis="X"),
        lambda: book.remove_trial(trial) if len(trials) > 1 else None,
        lambda: book.import_readings(trial, read_readings(TABLE.format(number), resolution_mm=0.001)),
        lambda: book.add_log(1, [entry(number)]),
        lambda: book.undo_logged(logged),
        lambda: book.redo_logged(logged),
        refused_at_its_end,
        together,
    ]


@pytest.mark.usefixtures("clock_stands_still")
@pytest.mark.parametrize("seed", [1, 2])
def test_whatever_two_programs_write_is_seen_at_once(one: Book, other: Book, seed: int):
    """By the one that looks: where both did, each would take the place of what the other remembers."""
    rng, changed, looks = np.random.default_rng(seed), 0, (one, other)[seed - 1]
    before = read(one)
    for number in rng.permutation(np.repeat(np.arange(18), 2)).tolist():
        writes = one if rng.random() < 0.5 else other
        possible = acts(writes, rng)
        with suppress(HoldzeroError):  # e.g. a homing that is there already counts again
            possible[number]()
        now = read(one)
        changed += now != before
        before = now
        assert remembered(looks) == now
    assert len(possible) == 18
    assert changed > 15


def test_what_did_not_change_is_read_once(one: Book, other: Book, monkeypatch: pytest.MonkeyPatch):
    read_of: list[str] = []
    readings, log = Book.readings, Book.log
    monkeypatch.setattr(Book, "readings", lambda *args: (read_of.append("readings"), readings(*args))[1])
    monkeypatch.setattr(Book, "log", lambda *args: (read_of.append("log"), log(*args))[1])
    for _ in range(3):
        remembered(one)
    assert read_of == ["readings", "log"]
    other.rows(1)  # to look at a book changes nothing
    remembered(one)
    assert read_of == ["readings", "log"]
    other.keep_setting("system", "inch")  # anything that is kept counts as a change
    remembered(one)
    assert read_of == ["readings", "log"] * 2


PARTS = {
    "labelled": lambda basis: [labelled.readings.digest for labelled in basis.labelled],
    "joined": lambda basis: basis.readings.digest,
    "readings.csv": lambda basis: basis.texts["readings"],
    "log": lambda basis: [kept.id for kept in basis.kept_log],
    "log.csv": lambda basis: basis.texts["log"],
    "watch": lambda basis: [side.logged.series.moment_s.size for side in Case(basis).watched.rows],
}


@pytest.mark.parametrize("looked_at_before", PARTS)
@pytest.mark.parametrize("part", PARTS)
def test_what_was_begun_before_a_writing_is_not_remembered_after_it(one: Book, looked_at_before: str, part: str):
    """A page that was being made meanwhile may be of both times; the next one is not."""
    slow = InBook(one, one.machine(1))
    PARTS[looked_at_before](slow)
    one.add_trial(1, name="Second", axis="X", resolution="0.001 mm")
    new = NewReading(sensor="A", axis="X", side="", set_label="7", deviation_mm=0.005, resolution_mm=0.001)
    one.add_reading(2, new)
    one.add_log(1, [entry(9)])
    PARTS[part](slow)
    after = PARTS[part](InBook(one, one.machine(1)))
    for kept in memory._every:
        kept.forget()
    assert after == PARTS[part](InBook(one, one.machine(1)))


def test_machines_and_books_are_kept_apart(one: Book, tmp_path: Path):
    second = one.add_machine(one_motor("Second"))
    assert remembered(one) == read(one)
    assert InBook(one, one.machine(second)).labelled == ()
    one.back_up(tmp_path / "copy.holdzero")
    with open_book(tmp_path / "copy.holdzero") as copy:
        copy.undo(1)
        assert remembered(copy) == read(copy) != remembered(one)


@pytest.mark.usefixtures("clock_stands_still")
def test_a_book_that_is_opened_again_is_read_again(place: Path | str):
    """SQLite counts what others wrote for each connection anew: two openings may count alike."""
    seen = []
    for _ in range(3):
        with open_book(place) as book:
            seen.append(remembered(book))
            assert seen[-1] == read(book)
        with open_book(place) as book:
            book.add_reading(1, NewReading(sensor="A", axis="X", side="", set_label="9", deviation_mm=0.01))
    assert len({str(of_opening) for of_opening in seen}) == 3


@pytest.mark.usefixtures("clock_stands_still")
def test_another_program_of_its_own_process(place: Path | str, one: Book):
    before = remembered(one)
    written = "from holdzero.store import open_book\nwith open_book(__import__('sys').argv[1]) as b: b.undo(1)"
    subprocess.run([sys.executable, "-c", written, str(place)], check=True)
    assert remembered(one) == read(one) != before


@pytest.mark.usefixtures("clock_stands_still")
@pytest.mark.parametrize("place", ["file"], indirect=True)
def test_another_programs_own_statements(path: Path, one: Book):
    before = remembered(one)
    with closing(sqlite3.connect(path)) as past_us:
        past_us.execute("update reading set deviation_mm = 0.5 where id = 1")
        past_us.commit()
    assert remembered(one) == read(one) != before


@pytest.mark.postgres
class TestOnAServer:
    """Its mark is the snapshot of transactions: it sees past us, and what is not kept yet is not seen."""

    @pytest.fixture
    def place(self, on_server: str) -> str:
        return on_server

    def test_statements_of_another_program(self, club_server: Server, place: str, one: Book):
        before = remembered(one)
        club_server.told("update reading set deviation_mm = 0.5 where id = 1", place.rpartition("/")[2])
        assert remembered(one) == read(one) != before

    def test_two_transactions_that_end_in_either_order(self, place: str, one: Book):
        """One begun first is kept last: each of the two is seen as it is kept, not as it was begun."""
        import psycopg

        statement = "update reading set deviation_mm = deviation_mm + 1 where id = %s"
        for first_ends_first in (True, False):
            with psycopg.connect(place) as a, psycopg.connect(place) as b:
                a.execute(statement, (1,))
                b.execute(statement, (2,))
                for ends in (a, b) if first_ends_first else (b, a):
                    before = remembered(one)
                    assert before == read(one)
                    ends.commit()
                    assert remembered(one) == read(one) != before

    def test_what_is_taken_back_was_never_seen(self, place: str, one: Book):
        import psycopg

        before = remembered(one)
        with psycopg.connect(place) as past_us:
            past_us.execute("update reading set deviation_mm = 7 where id = 1")
            assert remembered(one) == before
            past_us.rollback()
        assert remembered(one) == read(one) == before

    def test_the_mark_stays_while_nobody_writes(self, one: Book, other: Book):
        marks = {one.mark(), other.mark()}
        other.rows(1)
        remembered(other)
        assert {one.mark(), *marks} == {one.mark()}
        assert one.mark()
        with one.together():
            assert one.mark() == ""

    def test_a_server_that_was_started_anew_has_other_marks(self, path: Path):
        with server(fsync="on") as own, pytest.MonkeyPatch.context() as environment:
            environment.setenv("PGPASSWORD", own.password)
            with open_book(own.made("club")) as book:
                before = book.mark()
                own.killed()
                own.started()
                assert book.mark() not in ("", before)

    def test_an_older_server_is_refused(self, place: str, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(club, "OLDEST", 99)
        with pytest.raises(BookError, match=r"found PostgreSQL \d+; needed is PostgreSQL 99 or newer"):
            open_book(place)


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be replaced there")
@pytest.mark.parametrize("put", [shutil.copyfile, os.replace])
def test_a_book_that_is_copied_over_or_replaced(path: Path, put: Callable[[Path, Path], object]):
    older = path.with_name("older.holdzero")
    with open_book(path) as book:
        book.back_up(older)
        book.undo(1)
    with open_book(path) as book:
        assert remembered(book) == read(book)
        os.utime(older, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns))
        put(older, path)
        assert remembered(book) == read(book)
    with open_book(path) as book:
        assert remembered(book) == read(book)


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be replaced there")
@pytest.mark.parametrize("place", ["file"], indirect=True)
def test_what_is_written_past_sqlite_changes_the_mark(path: Path, one: Book):
    marks = [one.mark(), one.mark()]
    path.write_bytes(path.read_bytes())
    marks.append(one.mark())
    shutil.copy2(path, path.with_name("copy"))  # of the same size and time
    os.replace(path.with_name("copy"), path)
    marks.append(one.mark())
    assert marks[0] == marks[1]
    assert len(set(marks)) == 3


def test_a_book_on_a_network_drive(path: Path, monkeypatch: pytest.MonkeyPatch):
    """There it has no write-ahead log: SQLite counts in the file itself."""
    monkeypatch.setattr("holdzero.store.file.network_drive", lambda path: "nfs")
    monkeypatch.setattr(file_shelf, "_of_system", lambda path: [])
    with open_book(path) as one, open_book(path) as other:
        for row, writes in enumerate((one, other, one, other), 1):
            before = remembered(one)
            writes.undo(1) if row % 2 else writes.redo(1)
            assert remembered(one) == read(one) != before
