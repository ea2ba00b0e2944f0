"""The view `homings`: every homing in words, as docs/tables.md says."""

import sqlite3
from pathlib import Path

import numpy as np
import pytest

from holdzero import demo
from holdzero.case.demo_book import keep_demo
from holdzero.inputs.reading import read_readings
from holdzero.store import open_book
from holdzero.store.file import made


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
