"""Disk: full, read-only, on another computer: a clear sentence, nothing lost."""

import errno
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from holdzero.errors import BookError
from holdzero.store import Book, NewReading, check, file, open_book, place
from holdzero.store.schema import SCHEMA

pytestmark = pytest.mark.usefixtures("every_step")
MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}


def filled(path: Path) -> Path:
    with open_book(path) as book:
        book.add_trial(book.add_machine(MACHINE), name="First")
        book.add_reading(1, reading(0))
    return path


def reading(i: int) -> NewReading:
    return NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=i / 1000, ticket=str(i))


def fill(folder: Path) -> Path:
    """Leave no room in a folder's disk."""
    out = os.open(folder / "ballast", os.O_WRONLY | os.O_CREAT)
    try:
        while True:
            os.write(out, b"0" * 4096)
    except OSError as full:
        if full.errno != errno.ENOSPC:
            raise
    finally:
        os.close(out)
    return folder / "ballast"


def until_refused(book: Book) -> int:
    """Enter readings 1, 2, ... until one is refused for want of room; how many were kept."""
    i = 0
    said = r"no room left on the disk.*nothing of the last step was written"
    with pytest.raises(BookError, match=said):  # noqa: PT012 (which of them is refused is not known)
        for i in range(1, 20_000):
            book.add_reading(1, reading(i))
    return i - 1


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A disk of 1.5 MB, where this user may make one."""
    folder = tmp_path / "small"
    folder.mkdir()
    made = (
        sys.platform == "linux"
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1500k", "tmpfs", str(folder)], capture_output=True, check=False
        ).returncode
    )
    if not made:
        pytest.skip("no small disk can be made here")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


LIMITED = """
import resource, sys
from holdzero.errors import BookError
from holdzero.store import NewReading, open_book
book = open_book(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
kept = 0
try:
    for i in range(1, 20_000):
        new = NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=i / 1000, ticket=str(i))
        book.add_reading(1, new)
        kept = i
except BookError as error:
    print(kept, error)
"""


class TestFull:
    """Disk full: the homing is not acknowledged, and what was acknowledged stays."""

    def test_a_small_disk(self, small: Path):
        path = filled(small / "shed.holdzero")
        with open_book(path) as book:
            kept = until_refused(book)
            assert kept > 20
            assert [round(row.deviation_mm * 1000) for row in book.rows(1)] == list(range(kept + 1))
        assert check(path).wrong == ()

    def test_it_goes_on_when_there_is_room_again(self, small: Path):
        path = filled(small / "shed.holdzero")
        with open_book(path) as book:
            ballast = fill(small)
            until_refused(book)
            ballast.unlink()
            n = len(book.rows(1))
            book.add_reading(1, reading(5000))
            assert len(book.rows(1)) == n + 1

    def test_a_backup_that_finds_no_room_leaves_no_part(self, small: Path, tmp_path: Path):
        path = filled(tmp_path / "shed.holdzero")
        with open_book(path) as book:
            book.keep_setting("note", "x" * 2_000_000)
            with pytest.raises(BookError, match="no room"):
                book.back_up(small / "copy.holdzero")
        assert list(small.iterdir()) == []

    @pytest.mark.skipif(sys.platform == "win32", reason="no limits on files there")
    def test_a_limited_file(self, tmp_path: Path):
        """Where no disk can be made: the system's limit on the size of one file stands in for it."""
        path = filled(tmp_path / "shed.holdzero")
        run = subprocess.run(
            [sys.executable, "-c", LIMITED, str(path)], capture_output=True, text=True, check=False, timeout=60
        )
        kept, _, said = run.stdout.partition(" ")
        assert "found" in said, run.stderr
        with open_book(path) as book:
            assert [round(row.deviation_mm * 1000) for row in book.rows(1)] == list(range(int(kept) + 1))


class TestReadOnly:
    """A disk that may only be read: the book opens, and says why nothing can be written."""

    def test_a_disk_mounted_read_only(self, small: Path):
        path = filled(small / "shed.holdzero")
        subprocess.run(["mount", "-o", "remount,ro", str(small)], check=True)
        with open_book(path) as book:
            assert "reading only" in book.read_only
            assert len(book.rows(1)) == 1
            with pytest.raises(BookError, match="reading only"):
                book.add_reading(1, reading(1))
        assert check(path).wrong == ()
        with pytest.raises(BookError, match="a folder that cannot be written"):
            open_book(small / "new.holdzero")


class TestOlder:
    """Tables 1, as the first books had them: a dated copy, then brought up to date."""

    def test_the_copy_is_the_old_book(self, tmp_path: Path):
        path = tmp_path / "shed.holdzero"
        engine = file.made(path, schema=1)
        with engine.connect().execution_options(writes=True) as c, c.begin():
            c.exec_driver_sql("insert into machine (document) values (?)", (json.dumps(MACHINE),))
        engine.dispose()
        with open_book(path) as book:
            assert book.machines()[0].machine.name == "Bench mill"
            trial = book.add_trial(1, name="First")
            assert book.arrivals(trial) == ()
        assert check(path).tables == SCHEMA
        (copy,) = tmp_path.glob("shed-*-tables-1.holdzero")
        assert (check(copy).tables, check(copy).rows["machine"]) == (1, 1)
        assert "arrival" not in check(copy).rows

    def test_no_room_for_the_copy_leaves_the_book_as_it_was(self, small: Path):
        path = small / "shed.holdzero"
        file.made(path, schema=1).dispose()
        ballast = fill(small)
        with pytest.raises(BookError, match="no room"):
            open_book(path)
        ballast.unlink()
        assert check(path).tables == 1


class TestNetworkDrive:
    """SQLite documentation, 'SQLite Over a Network': locks and the write-ahead log do not reach across."""

    def test_it_is_cautioned_and_written_without_the_log(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(place, "_network_drive", lambda folder: True)
        with open_book(filled(tmp_path / "shed.holdzero")) as book:
            assert [one.code for one in book.cautions] == ["network-drive"]
            with book._engine.connect() as c:
                assert c.exec_driver_sql("pragma journal_mode").scalar() == "delete"

    def test_this_computer_s_own_disk_is_none(self, tmp_path: Path):
        assert place.cautions(tmp_path / "shed.holdzero") == ()
