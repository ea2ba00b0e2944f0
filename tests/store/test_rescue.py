"""Check and rescue: a damaged book says so, and what can be read is saved."""

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from holdzero.errors import BookError
from holdzero.inputs.reading import read_readings
from holdzero.store import Outcome, check, open_book, rescue
from holdzero.store.migrate import APPLICATION_ID
from holdzero.store.rescue import _between

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
N = 3000


@pytest.fixture(scope="module")
def many_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with many readings, so that they fill many pages of the file."""
    path = tmp_path_factory.mktemp("many") / "shed.holdzero"
    many = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 40 + 1},{i / 1e4}\n" for i in range(N))
    with open_book(path) as book:
        machine = book.add_machine(MACHINE)
        book.add_sensor(machine, "A", {"price": "3"})
        book.import_readings(book.add_trial(machine, name="First"), read_readings(many))
    return path


@pytest.fixture
def path(many_pages: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(many_pages, tmp_path))


def root_of(path: Path, table: str) -> int:
    if table == "sqlite_master":
        return 1
    sqlite = sqlite3.connect(path)
    (root,) = sqlite.execute("select rootpage from sqlite_master where name = ?", (table,)).fetchone()
    sqlite.close()
    return root


def pages_of(path: Path, table: str) -> list[int]:
    """The leaf pages of a table: SQLite file format, a leaf of a table begins with 13 (0x0d)."""
    sqlite = sqlite3.connect(path)
    (size,) = sqlite.execute("pragma page_size").fetchone()
    sqlite.close()
    root = root_of(path, table)
    raw = path.read_bytes()
    page = raw[(root - 1) * size :][:size]
    assert page[0] == 5  # interior page of a table
    cells = int.from_bytes(page[3:5], "big")
    starts = [int.from_bytes(page[12 + 2 * i :][:2], "big") for i in range(cells)]
    return [int.from_bytes(page[start:][:4], "big") for start in starts]


def spoil(path: Path, *pages: int, size: int = 4096) -> None:
    with path.open("r+b") as out:
        for page in pages:
            out.seek((page - 1) * size)
            out.write(b"\xff" * size)


class TestCheck:
    """`holdzero book check` looks at every page and every row."""

    def test_a_whole_book(self, path: Path):
        found = check(path)
        assert found.wrong == ()
        assert (found.rows["reading"], found.rows["power_up"], found.rows["sensor"]) == (N, N / 40, 1)

    def test_a_trigger_that_no_book_has(self, path: Path):
        """SQLite runs it at each reading that is kept; every page and row of the book is whole."""
        with closing(sqlite3.connect(path)) as sqlite:
            sqlite.execute("create trigger odd after insert on reading begin delete from reading; end")
        (said,) = check(path).wrong
        assert 'a trigger at the table reading, "odd"' in said
        assert rescue(path, path.with_name("rescued.holdzero")).lost == ()
        assert check(path.with_name("rescued.holdzero")).wrong == ()

    def test_a_damaged_page(self, path: Path):
        spoil(path, pages_of(path, "reading")[3])
        assert "The file:" in check(path).wrong[0]

    def test_rows_that_belong_to_nothing(self, path: Path):
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("delete from series")
        sqlite.close()
        assert check(path).wrong[0].startswith("reading 1: the series it belongs to is missing")

    def test_a_machine_its_reader_refuses(self, path: Path):
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("""update machine set document = '{"requirement": {"position": "a hair"}}'""")
        sqlite.close()
        assert "position" in check(path).wrong[0]

    def test_no_book(self, tmp_path: Path):
        with pytest.raises(BookError, match="no such file"):
            check(tmp_path / "absent")


class TestRescue:
    """What can still be read goes into a new book; what was lost is said."""

    def test_one_page_of_readings_lost(self, path: Path):
        spoiled = pages_of(path, "reading")[3]
        before = path.read_bytes()
        assert before[(spoiled - 1) * 4096] == 13
        spoil(path, spoiled)
        damaged = path.read_bytes()
        with pytest.raises(BookError, match="damaged"):
            open_book(path)
        to = path.with_name("rescued.holdzero")
        found = rescue(path, to)
        assert path.read_bytes() == damaged  # left as it is
        (said,) = found.lost
        assert said.startswith("reading ")
        with open_book(to) as book:
            kept = [round(row.deviation_mm * 1e4) for row in book.rows(1)]
        low, high = (int(word) for word in said.removeprefix("reading ").partition(":")[0].split(" to "))
        assert kept == [i for i in range(N) if not low <= i + 1 <= high]  # all rows but those, each once
        assert 20 < high - low < 200  # what one page holds
        assert check(to).wrong == ()

    @pytest.mark.parametrize("most_below", [400, 7])
    @pytest.mark.parametrize("tear", ["all", "second half", "a pointer"])
    @pytest.mark.parametrize("table", ["reading", "sqlite_master"])
    def test_a_torn_inner_page_hides_no_row(
        self, path: Path, table: str, tear: str, most_below: int, monkeypatch: pytest.MonkeyPatch
    ):
        """All that it said stands on the pages below it too."""
        monkeypatch.setattr("holdzero.store.inner_pages._MOST_BELOW", most_below)
        root = root_of(path, table)
        with path.open("r+b") as out:
            raw = out.read()[(root - 1) * 4096 :][:4096]
            begin = 100 if root == 1 else 0
            assert raw[begin] == 5
            first = {"all": begin, "second half": 2048, "a pointer": begin + 10}[tear]
            last = begin + 12 if tear == "a pointer" else 4096
            out.seek((root - 1) * 4096 + first)
            out.write(b"\xa5" * (last - first))
        to = path.with_name("rescued.holdzero")
        assert rescue(path, to).lost == ()
        with open_book(to) as book:
            assert [round(row.deviation_mm * 1e4) for row in book.rows(1)] == list(range(N))
        assert check(to).wrong == ()

    def test_what_is_lost_below_a_torn_inner_page_is_named(self, path: Path):
        leaves = pages_of(path, "reading")
        spoil(path, root_of(path, "reading"), leaves[0], leaves[5], leaves[-1])
        found = rescue(path, path.with_name("rescued.holdzero"))
        named = [re.fullmatch(r"reading (\d+) to (\d+): cannot be read\.", said) for said in found.lost]
        gone = sum(int(match[2]) - int(match[1]) + 1 for match in named)
        assert (len(named), found.rows["reading"]) == (3, N - gone)

    def test_a_page_that_another_was_written_over_is_missed(self, path: Path):
        """SQLite tells no error: the rows of the third leaf are not there, those of the second twice."""
        leaves = pages_of(path, "reading")
        with closing(sqlite3.connect(path)) as sqlite:
            before = {row for (row,) in sqlite.execute("select id from reading")}
        raw = bytearray(path.read_bytes())
        over, under = ((leaf - 1) * 4096 for leaf in leaves[1:3])
        raw[under : under + 4096] = raw[over : over + 4096]
        path.write_bytes(raw)
        found = rescue(path, path.with_name("rescued.holdzero"))
        (said,) = [line for line in found.lost if line.startswith("reading ") and "cannot be read" in line]
        low, high = map(int, re.findall(r"[0-9]+", said))
        assert found.rows["reading"] + high - low + 1 == len(before) == N
        assert high > low

    def test_stale_pages_bring_back_nothing(self, path: Path):
        """What was freed still stands on its pages."""
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("create table copy as select * from reading")
            sqlite.execute("update copy set deviation_mm = 9")
            sqlite.execute("drop table copy")
        sqlite.close()
        spoil(path, root_of(path, "reading"))
        rescue(path, path.with_name("rescued.holdzero"))
        with open_book(path.with_name("rescued.holdzero")) as book:
            assert [round(row.deviation_mm * 1e4) for row in book.rows(1)] == list(range(N))

    def test_readings_outlive_the_row_they_belonged_to(self, path: Path):
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("delete from series")
            sqlite.execute("delete from trial")
        sqlite.close()
        to = path.with_name("rescued.holdzero")
        found = rescue(path, to)
        assert found.rows["reading"] == N
        assert any("series 1: lost" in said for said in found.lost)
        with open_book(to) as book:
            assert [group.sensor for group in book.readings(1).groups] == ["rescued 1"]
        assert check(to).wrong == ()

    def test_what_was_not_merged_yet_is_saved_too(self, path: Path):
        """The write-ahead log lies beside the file while the book is open."""
        with open_book(path) as book:
            book.keep_setting("note", "in the log")
            assert path.with_name(path.name + "-wal").stat().st_size
            rescue(path, path.with_name("rescued.holdzero"))
        with open_book(path.with_name("rescued.holdzero")) as saved:
            assert saved.setting("note") == "in the log"

    @pytest.mark.parametrize("ours", [True, False])
    def test_a_log_that_another_database_left_there_costs_nothing(self, path: Path, ours: bool):
        """A book copied to where another one lay: SQLite lays the log that is still there over its pages."""
        other, log = path.with_name("other"), path.with_name(f"{path.name}-wal")
        with closing(sqlite3.connect(other, isolation_level=None)) as sqlite:
            sqlite.execute("pragma journal_mode = wal")
            sqlite.execute(f"pragma application_id = {APPLICATION_ID if ours else 5}")
            sqlite.execute("create table song (name text)")
            sqlite.execute("insert into song values (zeroblob(30000))")
            shutil.copy(f"{other}-wal", log)
        before = path.read_bytes()
        rescued = rescue(path, path.with_name("rescued.holdzero"))
        assert rescued.rows["reading"] == N
        assert [f"{log.name}: not the log of this book" in said for said in rescued.lost] == [True]
        assert path.read_bytes() == before

    def test_a_folder_where_its_log_would_lie(self, path: Path):
        path.with_name(f"{path.name}-wal").mkdir()
        assert rescue(path, path.with_name("rescued.holdzero")).rows["reading"] == N

    def test_noise_counts_and_checks_outlive_the_rows_they_belonged_to(self, path: Path):
        with open_book(path) as book:
            book.add_noise_count(1, condition="as it runs", trips=4, watched_s=3600)
            book.add_check(1, item="stop", outcome=Outcome.NOT_APPLICABLE, note="no drives yet")
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("delete from trial")
            sqlite.execute("delete from machine")
        sqlite.close()
        rescue(path, path.with_name("rescued.holdzero"))
        with open_book(path.with_name("rescued.holdzero")) as saved:
            assert saved.noise_counts(1)[0].trips == 4
            assert saved.checks(1)[0].outcome is Outcome.NOT_APPLICABLE

    def test_a_row_of_another_shape_is_lost_alone(self, path: Path):
        with sqlite3.connect(path) as sqlite:
            sqlite.execute("update reading set deviation_mm = 'x' where id = 7")
            sqlite.execute("update sensor set document = '{'")
        sqlite.close()
        found = rescue(path, path.with_name("rescued.holdzero"))
        assert sorted(found.lost) == [
            "reading 7: deviation_mm cannot be understood.",
            "sensor 1: document cannot be understood.",
        ]
        assert found.rows["reading"] == N - 1

    def test_nothing_to_be_had(self, path: Path):
        spoil(path, 1)
        with pytest.raises(BookError, match="newest backup"):
            rescue(path, path.with_name("rescued.holdzero"))
        assert [one.name for one in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("size", [10, 100, 3000, 4096, 5000, 30_000])
def test_a_book_that_is_cut_off_is_never_saved_as_an_empty_one(path: Path, size: int):
    """Its tables lie behind its end: nothing can be had, and that is no rescue without a loss."""
    path.write_bytes(path.read_bytes()[:size])
    with pytest.raises(BookError, match="newest backup"):
        rescue(path, path.with_name("rescued.holdzero"))
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_a_table_that_is_not_in_the_list_of_today_is_lost_by_name(path: Path):
    with closing(sqlite3.connect(path)) as past:
        past.execute("drop table span")
        past.commit()
    assert "All of span: not in the list of tables." in rescue(path, path.with_name("rescued.holdzero")).lost


def test_a_machine_whose_row_is_lost_has_the_axes_of_its_readings(tmp_path: Path):
    with open_book(tmp_path / "shed.holdzero") as book:
        trial = book.add_trial(book.add_machine({"machine": {"name": "Router"}, "axes": {"Y": {}}}), name="First")
        book.import_readings(trial, read_readings("sensor,axis,set,deviation_mm\nA,Y,1,0.01\nA,Z,1,0.02\n"))
    with closing(sqlite3.connect(tmp_path / "shed.holdzero")) as past:
        past.execute("delete from machine")
        past.commit()
    to = tmp_path / "rescued.holdzero"
    assert any("stand-in" in said for said in rescue(tmp_path / "shed.holdzero", to).lost)
    with open_book(to) as book:
        assert [axis.name for axis in book.machine(1).machine.axes] == ["Y", "Z"]
    assert check(to).wrong == ()


def test_pages_out_of_their_order_come_to_an_end():
    """Where a page leads back to an earlier one, rows of it read once, those behind it lost by name."""
    again_and_again = "select n, n from number where ?1 <= ?2 order by n"  # whatever is asked for, it begins anew
    damaged = sqlite3.connect(":memory:")
    damaged.execute(
        "create table number as with recursive t(n) as (select 1 union all select n + 1 from t) "
        "select n from t limit 200"
    )
    gaps: list[tuple[int, int]] = []
    rows = {row for row, _ in _between(damaged, again_and_again, 1, 200, gaps)}
    damaged.close()
    assert rows == set(range(1, 65))
    assert gaps == [(65, 200)]
