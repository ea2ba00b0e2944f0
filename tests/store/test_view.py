"""The view `homings`: every homing in words, as docs/tables.md says."""

import csv
import sqlite3
import sys
from pathlib import Path

import duckdb
import numpy as np
import pytest
from openpyxl import load_workbook

from holdzero import demo
from holdzero.case.demo_book import keep_demo
from holdzero.errors import BookError, InputError, MissingExtra
from holdzero.inputs.reading import read_readings
from holdzero.store import open_book
from holdzero.store.file import made
from holdzero.store.written_homings import write_homings_of


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """Asks a demo book in which one reading was taken back, one set aside and one trial left out."""
    path: Path = tmp_path_factory.mktemp("view") / "shed.holdzero"
    with open_book(path) as book:
        machine = keep_demo(book)
        (trial,) = book.trials(machine)
        first, second, *_ = book.rows(trial.id)
        book.undo(first.id)
        book.set_aside(second.id, "the stand was touched")
        left = book.add_trial(machine, name="Left out")
        book.import_readings(
            left,
            read_readings("sensor,axis,side,set,deviation_mm\nK,Y,L,1,0.001\n", resolution_mm=0.001),
            name="one.csv",
        )
        book.label_trial(left, left_out="the indicator was loose")
    opened = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    opened.row_factory = sqlite3.Row
    yield lambda query: opened.execute(query).fetchall()
    opened.close()


def test_each_homing_stands_once_and_says_whether_it_counts(asked):
    rows = asked("select * from homings")
    assert len(rows) == demo.READINGS + 1
    assert {row["machine"] for row in rows} == {"Plywood router"}
    without = [row for row in rows if not row["repeat"]]  # read again without homing: the set-up's own scatter
    assert all(not row["counts"] for row in rows if row["repeat"])
    assert [row["counts"] for row in without].count(0) == 3
    reasons = [row["set_aside"] or row["left_out"] for row in without if not row["counts"]]
    assert sorted(reasons) == ["", "the indicator was loose", "the stand was touched"]


def test_the_spread_within_power_ups_by_sql_is_that_of_numpy(asked):
    """By sums of squares in SQL, and by NumPy over the rows of the demo's own file."""
    (row,) = asked("""
        select sum(d * d) as squares from (
          select deviation_mm - avg(deviation_mm) over (partition by power_up) as d
          from homings where counts = 1 and sensor = 'K' and side = 'R')
    """)
    sets: dict[str, list[float]] = {}
    for each in asked(
        "select power_up, deviation_mm from homings where counts = 1 and sensor = 'K' and side = 'R'"
    ):
        sets.setdefault(each["power_up"], []).append(each["deviation_mm"])
    assert len(sets) == demo.POWER_UPS
    assert row["squares"] == pytest.approx(sum(np.var(values) * len(values) for values in sets.values()))


def test_a_machine_whose_text_cannot_be_read_hides_no_homing(asked, tmp_path):
    path = tmp_path / "torn.holdzero"
    with open_book(path) as book:
        keep_demo(book)
    with sqlite3.connect(path) as torn:
        torn.execute("update machine set document = '{'")
    assert torn.execute("select count(*), max(machine) from homings").fetchone() == (demo.READINGS, None)
    torn.close()


def test_a_book_of_the_tables_before_gets_the_view(tmp_path):
    path = tmp_path / "old.holdzero"
    made(path, schema=8).dispose()
    with open_book(path):
        pass
    after = sqlite3.connect(path)
    assert after.execute("select count(*) from homings").fetchone() == (0,)
    after.close()


@pytest.fixture(scope="module")
def book(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("written") / "shed.holdzero"
    with open_book(path) as opened:
        keep_demo(opened)
    return path


class TestWrittenHomings:
    """`holdzero book homings`: the view as CSV, workbook and Parquet."""

    def test_each_file_holds_the_same_rows_marked_as_an_example(self, book, tmp_path):
        for ending in ("csv", "xlsx", "parquet"):
            assert write_homings_of(book, tmp_path / f"homings.{ending}") == demo.READINGS
        with duckdb.connect() as read:
            parquet = read.execute(f"select * from '{tmp_path}/homings.parquet' order by id").fetchall()
            kinds = dict(row[:2] for row in read.execute(f"describe from '{tmp_path}/homings.parquet'").fetchall())
        sheet = list(load_workbook(tmp_path / "homings.xlsx")["homings"].values)
        table = list(csv.DictReader((tmp_path / "homings.csv").read_text(encoding="utf-8").splitlines()))
        assert (kinds["deviation_mm"], kinds["counts"], kinds["machine"]) == ("DOUBLE", "BOOLEAN", "VARCHAR")
        at = list(kinds).index("deviation_mm")
        assert [row[at] for row in parquet] == [row[at] for row in sheet[1:]]
        assert [row[at] for row in parquet] == [float(row["deviation_mm"]) for row in table]
        assert {row["example"] for row in table} == {"1"}

    def test_another_ending_or_a_taken_name_is_refused(self, book, tmp_path):
        with pytest.raises(InputError, match=r"one of \.csv, \.xlsx, \.parquet"):
            write_homings_of(book, tmp_path / "homings.ods")
        (tmp_path / "there.csv").write_text("mine")
        with pytest.raises(BookError):
            write_homings_of(book, tmp_path / "there.csv")
        assert (tmp_path / "there.csv").read_text() == "mine"

    def test_without_duckdb_that_is_said_and_nothing_stays(self, book, tmp_path, monkeypatch):
        monkeypatch.setitem(sys.modules, "duckdb", None)
        with pytest.raises(MissingExtra, match="fleet"):
            write_homings_of(book, tmp_path / "homings.parquet")
        assert list(tmp_path.iterdir()) == []
