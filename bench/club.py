"""Two programs enter readings into one trial of a club's book: an advisory lock, a locked row, or tried again.

    PYTHONPATH=tests:src python bench/club.py

A PostgreSQL server of its own (fsync on) on loopback; each way in turn, medians of three runs.
"""

import os
import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import sqlalchemy as sa

from holdzero.store import NewReading, open_book
from holdzero.store.server import LOCK
from postgres import server

N, RUNS = 150, 3
MACHINE = {"machine": {"name": "Bench"}, "axes": {"Y": {}}}


def lock(c: sa.Connection) -> None:
    c.exec_driver_sql(f"select pg_advisory_xact_lock({LOCK})")


def row(c: sa.Connection) -> None:
    c.exec_driver_sql("update turn set n = n + 1")


def nothing(c: sa.Connection) -> None:
    c.exec_driver_sql("select 1")


def writing(book, begin):
    @contextmanager
    def write() -> Iterator[sa.Connection]:
        with book._engine.connect() as c, c.begin():
            begin(c)
            c.exec_driver_sql("select max(version_num) from alembic_version")
            yield c

    return write


def entered(book, first: int, tried: list[int]) -> None:
    for i in range(first, first + N):
        while True:
            tried[0] += 1
            try:
                new = NewReading(
                    sensor="A", axis="Y", side="", set_label="1", deviation_mm=i / 1000, ticket=f"{first}-{i}"
                )
                book.add_reading(1, new)
                break
            except sa.exc.DBAPIError as error:
                if getattr(error.orig, "sqlstate", "") != "40001":
                    raise


def main() -> None:
    with server(fsync="on") as own:
        os.environ["PGPASSWORD"] = own.password
        for name, begin, level in (
            ("advisory lock", lock, "READ COMMITTED"),
            ("locked row", row, "READ COMMITTED"),
            ("serializable, tried again", nothing, "SERIALIZABLE"),
        ):
            rates, tries = [], [0]
            for run in range(RUNS):
                address = own.made(f"{name.replace(' ', '_').replace(',', '')}_{run}")
                books = [open_book(address) for _ in range(2)]
                books[0].add_trial(books[0].add_machine(MACHINE), name="T", axis="Y")
                own.told("create table turn (n int); insert into turn values (0)", address.rpartition("/")[2])
                for book in books:
                    book._engine = book._engine.execution_options(isolation_level=level)
                    book.shelf.writing = writing(book, begin)
                threads = [
                    threading.Thread(target=entered, args=(b, 1000 * k, tries)) for k, b in enumerate(books)
                ]
                start = time.perf_counter()
                for thread in threads:
                    thread.start()
                for thread in threads:
                    thread.join()
                rates.append(2 * N / (time.perf_counter() - start))
                homings = [kept.homing for kept in books[0].rows(1)]
                assert homings == list(range(1, 2 * N + 1)), "numbers are not dense"
                for book in books:
                    book.close()
            again = tries[0] / (2 * N * RUNS)
            print(f"{name:28} {statistics.median(rates):7.0f} readings/s   tries a reading {again:.2f}")


if __name__ == "__main__":
    main()
