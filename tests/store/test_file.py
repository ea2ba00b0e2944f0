"""File: whole, safe and plain about what is wrong."""

import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from holdzero.errors import BookError
from holdzero.inputs.reading import read_readings
from holdzero.store import NewReading, file, open_book
from holdzero.store.schema import SCHEMA, metadata

pytestmark = pytest.mark.usefixtures("every_step")
MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shed 100%?#.holdzero"  # a name that would need quoting in an address


@pytest.fixture
def filled(path: Path) -> Path:
    with open_book(path) as book:
        trial = book.add_trial(book.add_machine(MACHINE), name="First")
        book.add_reading(trial, NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=0.01))
    return path


def pragma(path: Path, name: str) -> object:
    sqlite = sqlite3.connect(path)
    try:
        return sqlite.execute(f"pragma {name}").fetchone()[0]
    finally:
        sqlite.close()


class TestNewBook:
    """WAL, foreign keys, `user_version`."""

    def test_it_is_made_with_today_s_tables(self, path: Path):
        with open_book(path) as book, book._engine.connect() as c:
            assert compare_metadata(MigrationContext.configure(c), metadata) == []
            assert c.exec_driver_sql("pragma journal_mode").scalar() == "wal"
            assert c.exec_driver_sql("pragma synchronous").scalar() == 2  # FULL
            assert c.exec_driver_sql("pragma foreign_keys").scalar() == 1
        assert (pragma(path, "application_id"), pragma(path, "user_version")) == (0x485A424B, SCHEMA)

    def test_an_empty_file_becomes_one(self, path: Path):
        path.touch()
        with open_book(path) as book:
            assert book.machines() == ()

    def test_only_where_it_was_meant_to(self, path: Path):
        with pytest.raises(BookError, match="no such file"):
            open_book(path, create=False)
        with pytest.raises(BookError, match="no such folder"):
            open_book(path.parent / "nowhere" / "shed.holdzero")
        with pytest.raises(BookError, match="found a folder"):
            open_book(path.parent)
        assert not path.exists()


class TestRefusedWithASentence:
    """Locked, full, damaged, not a book: a clear sentence, nothing lost."""

    def test_not_a_database(self, path: Path):
        path.write_text("sensor,deviation_mm\n" * 40)
        with pytest.raises(BookError, match="found a file that is not a book"):
            open_book(path)

    @pytest.mark.parametrize("size", [1, 2, 15, 16, 100, 511, 512])
    def test_a_few_bytes_are_not_written_over(self, path: Path, size: int):
        """SQLite takes a file of one byte for an empty one."""
        text = (b"notes\n" * 100)[:size]
        path.write_bytes(text)
        with pytest.raises(BookError, match="found a file that is not a book"):
            open_book(path)
        assert path.read_bytes() == text

    def test_an_empty_file_is_called_so(self, path: Path, tmp_path: Path):
        path.touch()
        with pytest.raises(BookError, match="found an empty file"):
            file.back_up(path, tmp_path / "copy.holdzero")

    def test_another_program_s_database(self, path: Path):
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("create table notes (text)")
        sqlite.close()
        with pytest.raises(BookError, match="found a database of another program"):
            open_book(path)

    def test_damaged(self, filled: Path):
        page = int(str(pragma(filled, "page_size")))
        with filled.open("r+b") as out:
            out.seek(4 * page)
            out.write(b"\xff" * 3 * page)
        with pytest.raises(BookError, match=r"found a damaged file.*newest backup"):
            open_book(filled)

    def test_locked(self, filled: Path, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(file, "WAIT_S", 0.05)
        other = sqlite3.connect(filled, isolation_level=None)
        other.execute("begin immediate")
        engine, _ = file.connect(filled, wait_s=0.05)
        with (
            pytest.raises(BookError, match="locked by another program"),
            file.in_plain_words(filled),
            engine.connect().execution_options(writes=True) as c,
            c.begin(),
        ):
            pass
        other.close()
        engine.dispose()

    def test_the_disk_is_full(self, filled: Path):
        """SQLite's own limit on pages gives the same error as a full disk."""
        with open_book(filled) as book:
            with book._engine.connect() as c:
                c.exec_driver_sql("pragma max_page_count = 1")  # less than there are: no more can be added
                sqlite = c.connection.driver_connection
                with pytest.raises(BookError, match="no room left on the disk"), file.in_plain_words(filled):
                    sqlite.execute("insert into setting values ('note', ?)", ("x" * 2_000_000,))
            assert len(book.machines()) == 1

    def test_anything_else_passes_through(self, path: Path):
        with pytest.raises(sqlite3.OperationalError, match="syntax error"), file.in_plain_words(path):
            sqlite3.connect(":memory:").execute("select from")


class TestReadOnly:
    """A newer book opens read-only with a clear message; so does one that cannot be written."""

    def test_a_newer_book_is_read_and_not_written(self, filled: Path):
        with sqlite3.connect(filled) as sqlite:
            sqlite.execute(f"pragma user_version = {SCHEMA + 1}")
        sqlite.close()
        with open_book(filled) as book:
            assert "newer holdzero" in book.read_only
            assert book.machines()[0].machine.name == "Bench mill"
            with pytest.raises(BookError, match="reading only"):
                book.add_machine(MACHINE)
            with pytest.raises(sa.exc.OperationalError, match="readonly"), book._engine.connect() as c:
                c.exec_driver_sql("delete from machine")  # the file is guarded too, not only the methods

    @pytest.mark.skipif(sys.platform == "win32", reason="permissions of folders work in another way there")
    def test_a_folder_that_cannot_be_written(self, filled: Path):
        """In a process of its own, that gives up being root where the tests run as root."""
        base = Path(tempfile.gettempdir()).resolve()
        for parent in filled.resolve().parents:
            if base in parent.parents:  # pytest keeps its folders to their owner
                parent.chmod(0o755)
        filled.chmod(0o444)
        filled.parent.chmod(0o555)
        script = (
            "import os, sys\n"
            "import sqlalchemy.dialects.sqlite.pysqlite\n"  # loaded late: nobody may not read root's Python
            "from holdzero.store import open_book\n"
            "if os.geteuid() == 0: os.setuid(65534)\n"
            "book = open_book(sys.argv[1])\n"
            "print(book.read_only, len(book.machines()))"
        )
        run = subprocess.run(
            [sys.executable, "-c", script, str(filled)], capture_output=True, text=True, check=False
        )
        filled.parent.chmod(0o755)
        assert "reading only. 1" in run.stdout, run.stderr


class TestBackup:
    """Stack: never copy an open book's file, go through SQLite's online backup."""

    def test_a_copy_is_whole_and_alone(self, filled: Path):
        to = filled.with_name("copy.holdzero")
        with open_book(filled) as book:
            book.add_machine(MACHINE)  # may still lie beside the file, in the write-ahead log
            book.back_up(to)
        assert sorted(one.name for one in filled.parent.glob("copy*")) == ["copy.holdzero"]
        with open_book(to) as copy:
            assert len(copy.machines()) == 2

    def test_nothing_is_overwritten(self, filled: Path):
        with open_book(filled) as book, pytest.raises(BookError, match="a file of that name"):
            book.back_up(filled)


class TestMigration:
    """An automatic copy before a migration."""

    def test_a_dated_copy_is_left_before_the_tables_change(self, filled: Path, monkeypatch: pytest.MonkeyPatch):
        """An older book is played by asking for a schema one number higher."""
        monkeypatch.setattr(file, "SCHEMA", SCHEMA + 1)
        with open_book(filled) as book:
            assert book.machines()[0].machine.name == "Bench mill"
        (copy,) = filled.parent.glob(f"*-tables-{SCHEMA}.holdzero")
        with open_book(copy, create=False) as old:
            assert len(old.machines()) == 1

    def test_a_book_of_tables_2_is_brought_up_to_date(self, path: Path):
        """Its readings stay, its sets are indexed anew, and there is room for noise counts and checks."""
        file.made(path, schema=2).dispose()
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("insert into machine (document) values ('{}')")
            sqlite.execute("insert into trial (machine_id, name) values (1, 'Old')")
            sqlite.execute("insert into series (trial_id, sensor) values (1, 'A')")
            sqlite.execute("insert into power_up (trial_id, sensor, label) values (1, 'A', '1')")
            sqlite.execute(
                "insert into reading (series_id, power_up_id, homing, deviation_mm) values (1, 1, 1, 0.004)"
            )
        sqlite.close()
        with open_book(path) as book, book._engine.connect() as c:
            assert book.rows(1)[0].deviation_mm == 0.004
            assert (book.noise_counts(1), book.checks(1)) == ((), ())
            assert compare_metadata(MigrationContext.configure(c), metadata) == []
        assert len(list(path.parent.glob("*-tables-2.holdzero"))) == 1

    def test_two_programs_may_open_a_new_book_at_once(self, path: Path):
        script = "import sys; from holdzero.store import open_book; print(open_book(sys.argv[1]).machines())"
        runs = [
            subprocess.Popen([sys.executable, "-c", script, str(path)], stdout=subprocess.PIPE, text=True)
            for _ in range(2)
        ]
        assert [run.communicate()[0].strip() for run in runs] == ["()", "()"]


def test_an_entry_is_quick(filled: Path):
    """Below 50 ms with 10 000 homings in the trial; 0.1 s here, on a busy machine."""
    many = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 40 + 2},{i % 97 / 1e4}\n" for i in range(10_000))
    with open_book(filled) as book:
        book.import_readings(1, read_readings(many))
        start = time.perf_counter()
        for _ in range(10):
            book.add_reading(1, NewReading(sensor="A", axis="X", side="", set_label="2", deviation_mm=0.1))
        assert (time.perf_counter() - start) / 10 < 0.1


@pytest.mark.skipif(os.name != "posix", reason="rights of a file are another thing there")
def test_its_owner_alone_can_read_a_book_and_what_lies_beside_it(filled: Path, tmp_path: Path):
    with open_book(filled) as book:
        book.back_up(tmp_path / "copy.holdzero")
        book.export(tmp_path / "copy.zip")
        files = [path for path in tmp_path.iterdir() if path.is_file()]
        assert {path.name.rpartition("-")[2] for path in files} >= {"wal", "shm"}
        assert {path.name: path.stat().st_mode & 0o777 for path in files} == {path.name: 0o600 for path in files}
