"""Many readings at once: kept in blocks, in the order taken, and nothing of them worked out twice."""

import hashlib

import pytest

from holdzero.inputs.reading import read_readings
from holdzero.inputs.reading.digest import rows_digest
from holdzero.store import homings, open_book

ROWS = "\n".join(
    f"{'BA'[i % 2]},X,{'LR'[i % 3 == 0]},{9 + i // 7},{i},{(-1) ** i * i / 1000},{'' if i % 4 else 21.5},c{i % 2}"
    for i in range(23)
)
TEXT = f"sensor,axis,side,set,homing,deviation_mm,temperature_degC,condition\n{ROWS}\n"


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "many.holdzero") as book:
        yield book


@pytest.fixture
def trial(book) -> int:
    return book.add_trial(book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}}), name="Long")


def test_blocks_keep_every_reading_in_the_order_taken(book, trial, monkeypatch):
    monkeypatch.setattr(homings, "_AT_A_TIME", 4)
    book.import_readings(trial, read_readings(TEXT))
    kept = book.rows(trial)
    assert [row.homing for row in kept] == list(range(23))
    assert [row.deviation_mm for row in kept] == [(-1) ** i * i / 1000 for i in range(23)]
    assert [row.temperature_degc for row in kept] == [None if i % 4 else 21.5 for i in range(23)]
    assert [(row.sensor, row.condition) for row in kept[:3]] == [("B", "c0"), ("A", "c1"), ("B", "c0")]
    assert all(row.trip_to_index_mm is None and row.repeat is False for row in kept)


def test_what_comes_again_joins_the_sets_there_are(book, trial):
    first, second = "set,homing,deviation_mm\n1,1,0.001\n", "set,homing,deviation_mm\n1,2,0.002\n2,1,0.003\n"
    book.import_readings(trial, read_readings(first))
    book.import_readings(trial, read_readings(second))
    (group,) = book.readings(trial).groups
    assert group.set_label.tolist() == ["1", "1", "2"]
    assert group.homing.tolist() == [1, 2, 1]


def test_readings_that_come_first_are_put_in_order_once(book, trial, monkeypatch):
    sorted_times = []

    def counted(groups, spans=()):
        sorted_times.append(1)
        return rows_digest(groups, spans)

    monkeypatch.setattr(homings, "rows_digest", counted)
    readings = read_readings(TEXT)
    assert book.came_before(trial, readings) is None
    book.import_readings(trial, readings)
    assert len(sorted_times) == 1
    assert book.came_before(trial, readings) is not None


def test_the_digest_of_rows_is_that_of_all_of_them_in_order(monkeypatch):
    """Books that exist hold digests of the whole list as Python writes it."""
    groups = read_readings(TEXT).groups
    rows = sorted(
        (group.sensor, group.axis, group.side, *row)
        for group in groups
        for row in zip(group.set_label.tolist(), group.homing.tolist(), group.deviation_mm.tolist(), strict=True)
    )
    whole = hashlib.sha256(repr(rows).encode()).hexdigest()
    assert rows_digest(groups) == whole
    monkeypatch.setattr("holdzero.inputs.reading.digest._AT_A_TIME", 5)
    assert rows_digest(groups) == whole
    assert rows_digest([]) == hashlib.sha256(b"[]").hexdigest()
