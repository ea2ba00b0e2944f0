"""Two programs enter readings into one trial of a club's book: an advisory lock, a locked row, or tried again.

A PostgreSQL server of its own (fsync on) on loopback; without PostgreSQL's programs there is nothing to measure.
"""

import os
import shutil
import statistics
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from tests.postgres import Server, server

from bench._measure import row
from holdzero.store import Book, NewReading, open_book
from holdzero.store.server import LOCK

N, RUNS = 150, 3
MACHINE = {"machine": {"name": "Bench"}, "axes": {"Y": {}}}


def lock(c: sa.Connection) -> None:
    c.exec_driver_sql(f"select pg_advisory_xact_lock({LOCK})")


def locked_row(c: sa.Connection) -> None:
    c.exec_driver_sql("update turn set n = n + 1")


def nothing(c: sa.Connection) -> None:
    c.exec_driver_sql("select 1")


def writing(
    book: Book, begin: Callable[[sa.Connection], None]
) -> Callable[[], AbstractContextManager[sa.Connection]]:
    @contextmanager
    def write() -> Iterator[sa.Connection]:
        with book._engine.connect() as c, c.begin():
            begin(c)
            c.exec_driver_sql("select max(version_num) from alembic_version")
            yield c

    return write


def entered(book: Book, first: int) -> None:
    for i in range(first, first + N):
        while True:
            try:
                new = NewReading(
                    sensor="A", axis="Y", side="", set_label="1", deviation_mm=i / 1000, ticket=f"{first}-{i}"
                )
                book.add_reading(1, new)
                break
            except sa.exc.DBAPIError as error:
                if getattr(error.orig, "sqlstate", "") != "40001":
                    raise


def run() -> Iterator[dict[str, Any]]:
    """Seconds a reading of two programs at once, against a limit and against the two other ways to take turns."""
    if shutil.which("pg_config") is None and not list(Path("/usr/lib/postgresql").glob("*/bin/initdb")):
        return
    with server(fsync="on") as own:
        os.environ["PGPASSWORD"] = own.password
        taken = {
            name: seconds_a_reading(own, name, begin, level)
            for name, begin, level in (
                ("advisory_lock", lock, "READ COMMITTED"),
                ("locked_row", locked_row, "READ COMMITTED"),
                ("serializable", nothing, "SERIALIZABLE"),
            )
        }
    yield row("a homing kept, two programs in one club's book", taken["advisory_lock"], 0.015, most=1.0)
    yield row("advisory lock / locked row", taken["advisory_lock"], taken["locked_row"], most=1.2)
    yield row("advisory lock / serializable, again", taken["advisory_lock"], taken["serializable"], most=1.2)


def seconds_a_reading(own: Server, name: str, begin: Callable[[sa.Connection], None], level: str) -> float:
    """The median of three runs, by the clock; the numbers of the homings must come out dense."""
    taken = []
    for attempt in range(RUNS):
        address = own.made(f"{name}_{attempt}")
        books = [open_book(address) for _ in range(2)]
        books[0].add_trial(books[0].add_machine(MACHINE), name="T", axis="Y")
        own.told("create table turn (n int); insert into turn values (0)", address.rpartition("/")[2])
        for book in books:
            book._engine = book._engine.execution_options(isolation_level=level)
            book.shelf.writing = writing(book, begin)  # type: ignore[method-assign]  # to take turns another way
        threads = [threading.Thread(target=entered, args=(book, 1000 * k)) for k, book in enumerate(books)]
        start = time.perf_counter()
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        taken.append((time.perf_counter() - start) / (2 * N))
        homings = [kept.homing for kept in books[0].rows(1)]
        if homings != list(range(1, 2 * N + 1)):
            raise RuntimeError(f"{name}: numbers are not dense")
        for book in books:
            book.close()
    return statistics.median(taken)
