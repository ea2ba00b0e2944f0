"""One altered bit or value in a book is found: by digests kept when it was written, or by the rules of files."""

import random
import sqlite3
import struct
from pathlib import Path
from typing import Any

import pytest

from damaged import told
from holdzero.case.demo_book import keep_demo
from holdzero.errors import BookError
from holdzero.inputs.log.values import LogEntry
from holdzero.inputs.reading import read_readings
from holdzero.store import NewReading, Outcome, check, file, open_book, rescue
from holdzero.store.digests import TABLES

READINGS = "sensor,axis,side,set,homing,deviation_mm,condition\n" + "".join(
    f"{sensor},X,{side},{set_},{homing},{(homing * 7 + set_ * 3) % 5 / 1000},{'cold' if set_ == 1 else ''}\n"
    for sensor in "AB"
    for side in "LR"
    for set_ in (1, 2)
    for homing in (1, 2, 3)
)
SPANS = "sensor,axis,side,set,span_mm,n\nA,Y,,1,0.004,5\nA,Y,,2,0.006,5\n"


def filled(path: Path) -> Path:
    """A small book with something in every table."""
    with open_book(path) as book:
        machine = book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
        for name in "AB":
            book.add_sensor(machine, name, {"price": "3"})
        trial = book.add_trial(machine, name="First", axis="X", resolution="0.001 mm")
        book.import_readings(trial, read_readings(READINGS))
        typed = {"sensor": "A", "axis": "X", "side": "L", "set_label": "3"}
        for text in ("0.012", "0.013", "0,011"):
            value_mm = float(text.replace(",", "."))
            book.add_reading(trial, NewReading(**typed, deviation_mm=value_mm, entered=text, ticket=text))
        book.undo(1)
        book.set_aside(2, "a chip under it")
        book.leave_out(3, "bumped")
        book.import_readings(book.add_trial(machine, name="Spans"), read_readings(SPANS))
        book.add_noise_count(trial, condition="as it runs", trips=4, watched_s=3600)
        book.add_check(machine, item="stop", outcome=Outcome.DONE, measured="4.1 mm")
        book.add_sheet(machine, "plan", {"sets": "5"})
        book.add_result(machine, kind="record", digest="ab", version="1", document={"figure": 0.25})
        entry = LogEntry(moment_s=1.7e9, time="2023-11-14 22:13", axis="X", deviation_mm=0.003, cycles=5)
        book.add_log(machine, [entry])
        book.keep_setting("system", "inch")
    return path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of that book, all of it in the one file."""
    path = filled(tmp_path_factory.mktemp("whole") / "shed.holdzero")
    file.back_up(path, path.with_name("copy.holdzero"))
    assert check(path).wrong == ()
    assert check(path).since == ""
    return path.with_name("copy.holdzero").read_bytes()


def contents(path: Path) -> dict[str, list[Any]]:
    sqlite = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    sqlite.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")  # bytes stay bytes
    try:
        return {table.name: sqlite.execute(f'select * from "{table.name}"').fetchall() for table in TABLES}
    finally:
        sqlite.close()


def wrong(path: Path) -> tuple[str, ...]:
    try:
        return check(path).wrong
    except BookError as error:
        return (str(error),)


def flip_bits(whole: bytes, folder: Path, *, seed: int, flips: int) -> None:
    """Flip single bits of the file: each is found, or every row reads as before."""
    rng, path = random.Random(seed), folder / "flipped.holdzero"
    path.write_bytes(whole)
    before, unseen = contents(path), 0
    used = [at for at, byte in enumerate(whole) if byte]  # most of a small file is empty
    for _ in range(flips):
        at, bit = rng.choice(used), 1 << rng.randrange(8)
        path.write_bytes(whole[:at] + bytes([whole[at] ^ bit]) + whole[at + 1 :])
        if not wrong(path):
            unseen += 1
            assert contents(path) == before, f"bit {bit} of byte {at}"
    assert unseen < flips / 2  # most were where something is kept


def alter_values(whole: bytes, folder: Path, *, seed: int, changes: int) -> None:
    """Alter single values by SQL, as damage might: each is found."""
    rng, path = random.Random(seed), folder / "altered.holdzero"
    for _ in range(changes):
        path.write_bytes(whole)
        sqlite = sqlite3.connect(path)
        sqlite.execute("pragma foreign_keys = off")
        table = rng.choice([table.name for table in TABLES])
        key = rng.choice(sqlite.execute(f'select rowid from "{table}"').fetchall())[0]
        column = rng.choice([name for name in _columns(sqlite, table) if name != "id"])
        (value,) = sqlite.execute(f'select "{column}" from "{table}" where rowid = ?', (key,)).fetchone()
        try:
            other = _other(value, rng)
            sqlite.execute(f'update "{table}" set "{column}" = ? where rowid = ?', (other, key))
            sqlite.commit()
        except sqlite3.IntegrityError:  # the table itself refuses it
            continue
        finally:
            sqlite.close()
        assert wrong(path), f"{table} {key}: {column} {value!r} to {other!r}"


def _columns(sqlite: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in sqlite.execute(f'pragma table_info("{table}")')]


def _other(value: Any, rng: random.Random) -> Any:
    if value is None:
        return 0.001
    if isinstance(value, int):
        return value + rng.choice((1, 2))
    if isinstance(value, float):
        (bits,) = struct.unpack("<q", struct.pack("<d", value))
        return struct.unpack("<d", struct.pack("<q", bits ^ 1 << rng.randrange(62)))[0]
    if not value:
        return "L"
    at = rng.randrange(len(value))
    return value[:at] + chr(ord(value[at]) ^ 1) + value[at + 1 :]


def test_flipped_bits_are_found(whole: bytes, tmp_path: Path):
    flip_bits(whole, tmp_path, seed=20, flips=60)


def test_altered_values_are_found(whole: bytes, tmp_path: Path):
    alter_values(whole, tmp_path, seed=21, changes=60)


@pytest.mark.checks
def test_many_flipped_bits_and_altered_values_are_found(whole: bytes, tmp_path: Path):
    flip_bits(whole, tmp_path, seed=22, flips=300)
    alter_values(whole, tmp_path, seed=23, changes=300)


@pytest.mark.checks
def test_many_flipped_bits_of_a_decided_book_are_found(tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    with open_book(path) as book:
        keep_demo(book)
        book.set_aside(5, "a chip under it")
    assert told("choose", path, "--take", "K", "--because", "the cheapest that holds")[0] == 0
    file.back_up(path, tmp_path / "copy.holdzero")
    flip_bits((tmp_path / "copy.holdzero").read_bytes(), tmp_path, seed=24, flips=300)


def altered(path: Path, question: str) -> tuple[str, ...]:
    sqlite = sqlite3.connect(path)
    sqlite.execute(question)
    sqlite.commit()
    sqlite.close()
    return check(path).wrong


def test_bytes_in_the_place_of_no_words_are_found(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    (sentence,) = altered(path, "update sensor set removed = x'' where id = 1")
    assert sentence.startswith("sensor 1: altered")


@pytest.mark.parametrize("table", ["machine", "sensor", "sheet", "result"])
def test_bytes_in_the_place_of_what_was_typed_are_named(whole: bytes, tmp_path: Path, table: str):
    path = tmp_path / "altered.holdzero"
    path.write_bytes(whole)
    sqlite = sqlite3.connect(path)
    sqlite.execute(f"update {table} set document = x'00ff' where id = 1")
    sqlite.commit()
    sqlite.close()
    assert any(sentence.startswith(f"{table} 1: altered") for sentence in wrong(path))


@pytest.mark.parametrize("number", [-1, 0, 2**62])
def test_a_row_without_a_number_of_its_own_is_found(whole: bytes, tmp_path: Path, number: int):
    """Rows count in the order of their numbers."""
    path = tmp_path / "altered.holdzero"
    path.write_bytes(whole)
    sqlite = sqlite3.connect(path)
    sqlite.execute("update reading set id = ? where id = 5", [number])
    sqlite.commit()
    sqlite.close()
    assert f"reading {number}" in " ".join(wrong(path))


def test_it_says_which_set(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    (sentence,) = altered(path, "update reading set deviation_mm = 0.5 where id = 10")
    assert sentence.startswith("readings of A X R, set 2: altered since it was written; needed:")


def test_a_reading_that_went_is_missed(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    (sentence,) = altered(path, "delete from reading where id = 10")
    assert sentence.startswith("readings of A X R, set 2: 2 of 3 rows;")


def test_what_is_written_later_does_not_hide_it(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    assert altered(path, "update reading set deviation_mm = 0.5 where set_aside <> ''")
    with open_book(path) as book:
        book.set_aside(2, "")
        book.add_reading(1, NewReading(sensor="A", axis="X", side="L", set_label="1", deviation_mm=0.001))
    (sentence,) = check(path).wrong
    assert "set 1: altered" in sentence


def test_typed_and_kept_are_compared_where_no_digest_is_older(whole: bytes, tmp_path: Path):
    """A book of an older version: its digests are of what was found; what was typed stands there too."""
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    assert altered(path, "update reading set deviation_mm = 0.112 where entered = '0.012'")
    assert altered(path, "delete from digest where about = 'reading'")
    typed = [sentence for sentence in check(path).wrong if "0.112 mm kept of" in sentence]
    assert len(typed) == 1


def test_an_older_book_says_since_when(tmp_path: Path):
    path = tmp_path / "old.holdzero"
    file.made(path, schema=10).dispose()
    sqlite = sqlite3.connect(path)
    sqlite.execute(
        """insert into machine (document) values ('{"machine": {"name": "Bench mill"}, "axes": {"X": {}}}')"""
    )
    sqlite.commit()
    sqlite.close()
    assert check(path).since == "not yet"
    open_book(path).close()
    assert check(path).wrong == ()
    assert check(path).since[:2] == "20"
    (sentence,) = altered(path, "update machine set remark = 'x'")
    assert sentence.startswith("machine 1: altered")


def test_a_mended_row_is_as_written(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    assert altered(path, "update machine set document = '{' where id = 1")
    with open_book(path) as book:
        book.mend_machine(1, {"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
    assert check(path).wrong == ()


def test_a_rescued_book_says_what_was_altered_and_begins_anew(whole: bytes, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    assert altered(path, "update reading set deviation_mm = 0.5 where id = 10")
    rescued = rescue(path, tmp_path / "rescued.holdzero")
    assert [sentence.partition(": ")[2] for sentence in rescued.lost] == [
        "kept, but altered since it was written."
    ]
    assert check(tmp_path / "rescued.holdzero").wrong == ()


def test_an_archive_carries_them(whole: bytes, tmp_path: Path):
    from holdzero.store import read_archive

    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    with open_book(path) as book:
        book.export(tmp_path / "shed.zip")
    read_archive(tmp_path / "shed.zip", tmp_path / "again.holdzero")
    health = check(tmp_path / "again.holdzero")
    assert (health.wrong, health.since) == ((), "")


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("trial.left_out = ''", "trial.left_out > ''"),
        ("reading.homing as homing", "reading.id as homing"),
        ("", None),
    ],
)
def test_the_view_is_as_it_was_made(whole: bytes, tmp_path: Path, was: str, now: str | None):
    """A bit there alters no row, and yet what is told to whoever asks by SQL."""
    path = tmp_path / "shed.holdzero"
    path.write_bytes(whole)
    sqlite = sqlite3.connect(path)
    (made,) = sqlite.execute("select sql from sqlite_master where type = 'view'").fetchone()
    sqlite.execute("drop view homings")
    if now is not None:
        assert was in made
        sqlite.execute(made.replace(was, now))
    sqlite.commit()
    sqlite.close()
    assert any("the view homings" in sentence for sentence in wrong(path))
    assert told("book", "rescue", path, tmp_path / "rescued")[0] == 0
    assert check(tmp_path / "rescued").wrong == ()
