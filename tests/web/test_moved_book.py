"""A book that is moved while its pages are open, and a disk that fills: said at once, nothing typed is lost."""

import re
import sqlite3
import sys
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book, file_shelf, open_book
from holdzero.store.file import in_plain_words

NEW = {"name": "Second mill", "axis": "X"}


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be moved there")
def test_a_moved_book_takes_nothing_more_and_is_saved_by_a_button(client: TestClient, book: Book, demo: int):
    book.path.rename(book.path.with_name("tidied away.holdzero"))
    answer = client.post("/machines", data=NEW)
    assert answer.status_code == 503
    assert "data-refused" in answer.text
    assert "removed, renamed" in answer.text
    assert 'action="/save-beside"' in answer.text
    assert ">Second mill</textarea>" in answer.text  # what was typed can be sent again
    shown = client.post("/save-beside")
    saved = Path(re.search(r"All that was open is in (\S+\.holdzero)\.", shown.text)[1])
    with open_book(saved, create=False) as again:
        assert [machine.machine.name for machine in again.machines()] == [
            machine.machine.name for machine in book.machines()
        ]


def test_a_full_disk_is_said_with_its_own_status(client: TestClient, demo: int, monkeypatch: pytest.MonkeyPatch):
    def full(path: Path):
        raise sqlite3.OperationalError("database or disk is full")

    def refuse(self) -> None:
        with in_plain_words(self.path):
            full(self.path)

    monkeypatch.setattr(file_shelf.FileShelf, "_refuse_elsewhere", refuse)
    answer = client.post("/machines", data=NEW)
    assert answer.status_code == 507
    assert "no room left on the disk" in answer.text.lower()
    assert ">Second mill</textarea>" in answer.text
