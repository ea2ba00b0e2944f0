"""Same file: a book removed, renamed, replaced or copied over is noticed before anything more is acknowledged."""

import os
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from holdzero.store import Book, Elsewhere, NewReading, check, open_book

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be moved there")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "shed.holdzero"
    with open_book(path) as book:
        book.add_trial(book.add_machine(MACHINE), name="First")
        book.add_reading(1, reading(1))
    return path


def reading(i: int) -> NewReading:
    return NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=i / 1000, ticket=str(i))


def other_book(path: Path) -> Path:
    with open_book(path) as book:
        book.add_trial(book.add_machine({"machine": {"name": "Router"}, "axes": {"Y": {}}}), name="Another")
        for i in range(5):
            book.add_reading(1, reading(50 + i))
    return path


def kept(path: Path) -> list[float]:
    with open_book(path, create=False) as book:
        return [row.deviation_mm for row in book.rows(1)]


def renamed(path: Path) -> None:
    path.rename(path.with_name("moved.holdzero"))


def replaced(path: Path) -> None:
    other_book(path.with_name("another.holdzero")).replace(path)


@pytest.mark.parametrize("change", [Path.unlink, renamed, replaced])
def test_it_is_noticed_nothing_more_is_taken_and_all_can_be_saved(path: Path, change):
    with open_book(path) as book:
        book.add_reading(1, reading(2))
        change(path)
        with pytest.raises(Elsewhere) as refused:
            book.add_reading(1, reading(3))
        assert refused.value.whole
        with pytest.raises(Elsewhere):
            book.add_machine(MACHINE)
        saved = book.save_beside()
    assert saved.parent == path.parent
    assert kept(saved) == [0.001, 0.002]
    assert saved.stat().st_mode & 0o777 == 0o600


def test_what_was_in_the_midst_is_not_acknowledged(path: Path):
    """The file goes while the transaction runs: it is written, but on no disk that anyone finds."""

    def two_at_once(book: Book) -> None:
        with book.together():
            book.add_reading(1, reading(2))
            path.unlink()

    with open_book(path) as book, pytest.raises(Elsewhere):
        two_at_once(book)


@pytest.mark.parametrize("checkpointed", [True, False])
def test_another_book_copied_over_it(path: Path, tmp_path: Path, checkpointed: bool):
    other = other_book(tmp_path / "another.holdzero")
    with open_book(path) as book:
        book.add_reading(1, reading(2))
        if checkpointed:
            with book._engine.connect() as connection:
                connection.exec_driver_sql("rollback")
                connection.exec_driver_sql("pragma wal_checkpoint(truncate)")
        shutil.copyfile(other, path)
        with pytest.raises(Elsewhere, match="copied over") as refused:
            book.add_reading(1, reading(3))
        assert not refused.value.whole


def test_an_older_copy_of_itself_copied_over_it(path: Path, tmp_path: Path):
    with open_book(path) as book:
        book.back_up(tmp_path / "older.holdzero")
    with open_book(path) as book:
        book.add_reading(1, reading(2))
    with open_book(path) as book:
        shutil.copyfile(tmp_path / "older.holdzero", path)
        with pytest.raises(Elsewhere, match="copied over"):
            book.add_reading(1, reading(3))


def test_what_other_programs_write_is_no_alarm(path: Path):
    with open_book(path) as book:
        for i in range(2, 8):
            with open_book(path) as at_once:
                at_once.add_reading(1, reading(10 * i))
                with at_once._engine.connect() as connection:
                    connection.exec_driver_sql("rollback")
                    connection.exec_driver_sql("pragma wal_checkpoint(truncate)")
            os.utime(path)
            book.add_reading(1, reading(i))
        assert len(book.rows(1)) == 13


def test_a_file_that_is_gone_is_not_made_anew(path: Path):
    with open_book(path) as book:
        path.unlink()
        book._engine.dispose()
        with pytest.raises(Exception, match="cannot be opened"):
            book.machines()
    assert not path.exists()


def moved_log(path: Path) -> None:
    log = path.with_name(path.name + "-wal")
    log.rename(log.with_name("tidied away"))


def cut_log(path: Path) -> None:
    os.truncate(path.with_name(path.name + "-wal"), 0)


def linked(path: Path) -> None:
    path.rename(path.with_name("real.holdzero"))
    path.symlink_to(path.with_name("real.holdzero"))


@pytest.mark.parametrize("change", [moved_log, cut_log, linked])
def test_the_log_beside_it_is_looked_at_too(path: Path, change):
    """The newest entries lie there alone until SQLite merges them: after a kill they would be gone."""
    with open_book(path) as book:
        book.add_reading(1, reading(2))
        change(path)
        with pytest.raises(Elsewhere):
            book.add_reading(1, reading(3))


def test_a_log_that_is_moved_before_anything_is_in_it(path: Path):
    with open_book(path) as book:
        moved_log(path)
        with pytest.raises(Elsewhere) as refused:
            book.add_reading(1, reading(2))
        assert refused.value.whole


@pytest.mark.parametrize("first", [0, 40])
def test_a_packed_copy_of_itself_copied_over_it_damages_nothing(path: Path, tmp_path: Path, first: int):
    """Its pages stand elsewhere: what the log and the memory hold of the old ones does not fit them."""
    with open_book(path) as book:
        for i in range(2, first):
            book.add_reading(1, reading(i))
    with open_book(path) as book:
        for i in range(40, 40 + first):
            book.add_reading(1, reading(i))
        before = len(book.rows(1))
        with closing(sqlite3.connect(path)) as other:
            other.execute("vacuum into ?", [str(tmp_path / "packed.holdzero")])
        shutil.copyfile(tmp_path / "packed.holdzero", path)
        try:
            book.add_reading(1, reading(99))
        except Elsewhere:
            return
        assert len(book.rows(1)) == before + 1
    assert check(path).wrong == ()


def test_a_page_that_another_program_overwrites(path: Path):
    with open_book(path) as book:
        book.add_reading(1, reading(2))
        with path.open("r+b") as raw:
            raw.seek(2 * 4096)
            raw.write(bytes(range(256)) * 16)
        for _ in range(2):
            with pytest.raises(Elsewhere):
                book.add_reading(1, reading(3))
