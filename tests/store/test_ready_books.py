"""The books that tests copy hold what a book holds that was made step by step."""

from pathlib import Path

import pytest

import ready_books
from holdzero import demo
from holdzero.case import demo_book
from holdzero.store import check, file, migrate, open_book

pytestmark = pytest.mark.usefixtures("every_step")
CLOCK = ("added", "begun")  # columns: when a row was made


@pytest.mark.parametrize("fitted", [True, False])
def test_the_copied_demo_is_the_demo(tmp_path: Path, fitted: bool):
    with open_book(tmp_path / "made") as made, open_book(tmp_path / "copied") as copied:
        assert demo_book.keep_demo(made, fitted=fitted) == ready_books.keep_demo(copied, fitted=fitted)
    made_rows, copied_rows = (ready_books.contents(tmp_path / name, but=CLOCK) for name in ("made", "copied"))
    assert len(made_rows["rows"]["reading"]) == demo.READINGS
    for rows in (made_rows["rows"], copied_rows["rows"]):
        rows["digest"] = len(rows["digest"])  # they sum the clock too
    assert made_rows == copied_rows
    assert check(tmp_path / "copied").wrong == ()


def test_beside_another_machine_nothing_is_overwritten(tmp_path: Path):
    with open_book(tmp_path / "shed") as book:
        mine = book.add_machine({"machine": {"name": "Mine"}, "axes": {"X": {}}})
        machine = ready_books.keep_demo(book)
        assert [kept.id for kept in book.machines()] == [mine, machine]


def test_tables_made_at_once_are_those_made_step_by_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    assert file.migrate is migrate.migrate  # here every step is taken
    open_book(tmp_path / "steps").close()
    monkeypatch.setattr(file, "migrate", ready_books.at_once(migrate.migrate))
    open_book(tmp_path / "at once").close()
    assert ready_books.contents(tmp_path / "at once") == ready_books.contents(tmp_path / "steps")
