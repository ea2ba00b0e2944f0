"""Settings of all tests."""

import os

# as the program does: several workers with a thread for every core would take turns in spinning
os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"), "1")

import gc
import shutil
import signal
import tempfile
from collections.abc import Generator, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from _pytest.doctest import DoctestModule
from hypothesis import HealthCheck, Phase, settings

import our_options
from holdzero.store import file
from postgres import Server, server
from ready_books import at_once, sharing

settings.register_profile("holdzero", deadline=None)  # a loaded computer is not a failure
settings.load_profile("holdzero")

MEMORY, ROOM = Path("/dev/shm"), 2**32  # bytes; the files of one run take a twentieth of it
if "TMPDIR" not in os.environ and MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM:
    # thousands of books are opened, and a disk takes a hundred times as long to say that something is on it
    os.environ["TMPDIR"] = tempfile.tempdir = str(MEMORY)

os.environ["HOLDZERO_SETTINGS"] = os.devnull  # what a person keeps on this computer decides no test
for _name in ("UNITS", "BOOK", "FOLDER"):
    os.environ.pop(f"HOLDZERO_{_name}", None)


@pytest.fixture(scope="session", autouse=True)
def _books_at_once() -> Iterator[None]:
    """The tables of a new book are made in one go; `every_step` in tests/store takes all steps."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sa, "create_engine", sharing(sa.create_engine))
        patch.setattr(file, "migrate", at_once(file.migrate))
        yield


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take a share of the tests, say how long each took."""
    our_options.add(parser)


def pytest_configure(config: pytest.Config) -> None:
    """Do what these options ask for; each fuzz run is the same, but with `--hypothesis-seed` another."""
    settings.register_profile(
        "fuzz",
        derandomize=config.getoption("hypothesis_seed", None) is None,
        database=None,
        deadline=None,
        phases=(Phase.explicit, Phase.generate),  # a book changes with each request: nothing to shrink
        suppress_health_check=list(HealthCheck),
    )
    config.pluginmanager.register(our_options.SharesAndTimes(), "shares and times")


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Look for examples in docstrings of the program only: every file here would be read twice."""
    return [collector for collector in (yield) if not isinstance(collector, DoctestModule)]


@pytest.fixture(scope="session")
def club_server() -> Iterator[Server]:
    """One PostgreSQL server for all tests; its password where the client library looks for it."""
    from holdzero.store import open_book

    with server() as running, pytest.MonkeyPatch.context() as environment:
        environment.setenv("PGPASSWORD", running.password)
        open_book(running.made("book")).close()  # made once, copied for each test
        yield running


@pytest.fixture
def club_address(club_server: Server) -> str:
    """The address of a database of its own with a book in which nothing is yet."""
    return club_server.made(f"club_{next(_numbers)}", template="book")


@pytest.fixture
def empty_address(club_server: Server) -> str:
    """The address of a database in which nothing is yet."""
    return club_server.made(f"empty_{next(_numbers)}")


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.postgres)])
def new_book(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where a new book may lie: a file, and a database of its own."""
    return tmp_path / "shed.holdzero" if request.param == "file" else request.getfixturevalue("club_address")


@pytest.fixture
def coarse_budgets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Budgets of a case are drawn to one digit less, for tests that ask for no digit of them."""
    from holdzero.case import remembered

    finely = remembered.assess

    def coarsely(*of: Any, digits: int, **how: Any) -> Any:
        return finely(*of, digits=digits - 1, **how)

    monkeypatch.setattr(remembered, "assess", coarsely)


_numbers = count(1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser's files: they take longest, no worker shall end alone with them."""
    items.sort(key=lambda item: "browser" not in item.path.parts)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Leave what is loaded and collected alone: looking through it for garbage takes a fifth of a page."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(20_000)
        gc.enable()


def pytest_collection_finish() -> None:
    """Refuse to begin where some import made a closed pipe deadly: workers would vanish without a word."""
    pipe = getattr(signal, "SIGPIPE", None)
    if pipe and signal.getsignal(pipe) != signal.SIG_IGN:
        raise pytest.UsageError("an imported library reset SIGPIPE: a peer that hangs up would end the process")
