"""A book and its pages, without a browser."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book, open_book
from holdzero.web.app import create_app
from ready_books import keep_demo


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with open_book(tmp_path / "shed.holdzero") as opened:
        yield opened


@pytest.fixture
def client(book: Book) -> Iterator[TestClient]:
    with TestClient(create_app(book), base_url="http://127.0.0.1") as opened:
        yield opened


@pytest.fixture
def demo(book: Book) -> int:
    """The invented machine with its trial, not yet wired or squared."""
    return keep_demo(book, fitted=False)


@pytest.fixture(scope="module")
def demo_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, int]]:
    """The demo's pages, for tests that only read: client and number of the machine."""
    with open_book(tmp_path_factory.mktemp("site") / "shed.holdzero") as opened:
        machine = keep_demo(opened)
        with TestClient(create_app(opened), base_url="http://127.0.0.1") as reading:
            yield reading, machine
