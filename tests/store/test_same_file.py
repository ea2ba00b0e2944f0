"""Same file: a book removed, renamed, replaced or copied over is noticed before anything more is acknowledged."""

import os
import shutil
import sys
from pathlib import Path

import pytest

from holdzero.store import Book, Elsewhere, NewReading, open_book

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
