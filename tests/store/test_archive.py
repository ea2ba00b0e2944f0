"""Archive: a whole book goes out and comes back equal."""

import csv
import json
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from damaged import told
from holdzero import demo
from holdzero.errors import BookError
from holdzero.form import read_toml
from holdzero.form.wording import _UNSEEN
from holdzero.inputs.log import LogEntry
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.store import Book, NewReading, Outcome, open_book, read_archive
from holdzero.store.schema import SCHEMA, metadata

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}


def contents(book: Book) -> dict[str, list[tuple]]:
    """Every row of every table."""
    with book._engine.connect() as c:
        return {
            table.name: [tuple(row) for row in c.execute(sa.select(table).order_by(*table.primary_key))]
            for table in metadata.sorted_tables
        }


def goes_round(book: Book, folder: Path) -> dict[str, list[tuple]]:
    book.export(folder / "book.zip")
    read_archive(folder / "book.zip", folder / "again.holdzero")
    with open_book(folder / "again.holdzero", create=False) as again:
        return contents(again)


# What names may be made of, and SQLite and UTF-8 can hold; commas and quotes are likely.
WORDS = st.text(st.sampled_from("aä,;\"' −µ\u2028") | st.characters(exclude_categories=["Cs"]), max_size=8).filter(
    lambda words: not _UNSEEN.search(words)
)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
DOCUMENTS = st.dictionaries(
    WORDS, WORDS | NUMBERS | st.booleans() | st.none() | st.lists(WORDS, max_size=2), max_size=3
)
READINGS = st.builds(
    NewReading,
    sensor=WORDS,
    axis=WORDS,
    side=st.sampled_from(["", "L", "R"]),
    set_label=WORDS,
    deviation_mm=st.floats(-1e12, 1e12),
    entered=WORDS,
    homing=st.none() | st.integers(1, 10**9),
    speed_mm_s=st.none() | st.floats(0, 1e12, exclude_min=True),
    temperature_degc=st.none() | st.floats(-273.15, 1000),
    time=WORDS,
    condition=WORDS,
    repeat=st.booleans(),
    set_aside=WORDS,
    doubt=WORDS,
    resolution_mm=st.none() | st.floats(0, 1e12),
    protocol=st.sampled_from(Protocol),
)


class TestRoundTrip:
    """Whole-book export and import round-trips to equality."""

    @settings(max_examples=20, deadline=None, derandomize=True)
    @given(
        readings=st.lists(READINGS, max_size=6),
        sheets=st.lists(DOCUMENTS, max_size=3),
        words=WORDS,
        undone=st.booleans(),
    )
    def test_any_book(self, readings, sheets, words, undone):
        with TemporaryDirectory() as folder, open_book(Path(folder) / "book.holdzero") as book:
            machine = book.add_machine(MACHINE, remark=words)
            book.add_sensor(machine, "A", {"price": "3"})
            trial = book.add_trial(machine, name=words, note=words)
            for i, new in enumerate(readings):
                key = book.add_reading(trial, new)
                if undone and i % 2:
                    book.undo(key)
            for sheet in sheets:
                book.add_sheet(machine, words or "square", sheet)
            book.add_noise_count(trial, condition=words, trips=len(sheets), watched_s=600.5, note=words)
            entry = LogEntry(moment_s=1.5, time=words, event=words, deviation_mm=0.1, side="L")
            book.add_log(machine, [entry], source=words)
            book.add_check(machine, item=words, outcome=Outcome.OPEN, measured=words, checked_by=words)
            book.add_result(machine, kind="record", digest=words, version="1", document={"sheets": list(sheets)})
            book.keep_setting("note", words)
            assert goes_round(book, Path(folder)) == contents(book)

    def test_the_demo_and_what_was_taken_out(self, tmp_path: Path):
        with open_book(tmp_path / "book.holdzero") as book:
            machine = book.add_machine(read_toml(demo.machine_toml()))
            trial = book.add_trial(machine, name="Six")
            book.import_readings(trial, read_readings(demo.readings_csv()))
            book.remove_trial(trial)
            book.remove_machine(machine)
            before = contents(book)
            assert len(before["reading"]) == demo.READINGS
            assert goes_round(book, tmp_path) == before


class TestOpen:
    """One open archive, JSON and CSV: another program can use it, and it does not change by itself."""

    @pytest.fixture
    def archive(self, tmp_path: Path) -> Path:
        with open_book(tmp_path / "book.holdzero") as book:
            trial = book.add_trial(book.add_machine(MACHINE), name="First")
            book.add_reading(trial, NewReading(sensor="A", axis="X", side="", set_label="1", deviation_mm=0.01))
            book.export(tmp_path / "book.zip")
            book.export(tmp_path / "second.zip")
        return tmp_path / "book.zip"

    def test_the_readings_say_themselves_whose_they_are(self, archive: Path):
        with zipfile.ZipFile(archive) as opened:
            (row,) = csv.DictReader(opened.read("readings.csv").decode().splitlines())
        assert {name: row[name] for name in ("sensor", "axis", "set", "homing", "deviation_mm")} == {
            "sensor": "A",
            "axis": "X",
            "set": "1",
            "homing": "1",
            "deviation_mm": "0.01",
        }

    def test_the_readings_are_a_readings_file_too(self, archive: Path):
        with zipfile.ZipFile(archive) as opened:
            (group,) = read_readings(opened.read("readings.csv").decode()).groups
        assert (group.sensor, group.deviation_mm.tolist()) == ("A", [0.01])

    def test_the_same_book_gives_the_same_bytes(self, archive: Path):
        assert archive.read_bytes() == archive.with_name("second.zip").read_bytes()

    def test_nothing_is_overwritten(self, archive: Path):
        with pytest.raises(BookError, match="a file of that name"):
            read_archive(archive, archive.with_name("book.holdzero"))

    def rewritten(self, archive: Path, **change) -> Path:
        to = archive.with_name("changed.zip")
        with zipfile.ZipFile(archive) as old, zipfile.ZipFile(to, "w") as new:
            head = json.loads(old.read("book.json")) | change
            new.writestr("book.json", json.dumps(head))
            new.writestr("readings.csv", old.read("readings.csv"))
        return to

    def test_one_of_a_newer_version_is_refused(self, archive: Path):
        newer = self.rewritten(archive, schema=SCHEMA + 1)
        with pytest.raises(BookError, match=r"a newer holdzero.*update holdzero"):
            read_archive(newer, archive.with_name("new.holdzero"))

    def test_one_of_an_older_version_is_brought_up_to_date(self, archive: Path):
        """Tables 1 had no arrivals."""
        with zipfile.ZipFile(archive) as old:
            tables = json.loads(old.read("book.json"))["tables"]
        del tables["arrival"]
        to = archive.with_name("new.holdzero")
        read_archive(self.rewritten(archive, schema=1, tables=tables), to)
        with open_book(to) as book:
            assert book.rows(1)[0].deviation_mm == 0.01
            assert book.arrivals(1) == ()

    @pytest.mark.parametrize(
        ("change", "found"),
        [
            ({"schema": "2"}, "book.json"),
            ({"tables": {"machine": [{"id": 1}]}}, "do not fit the table machine (a row lacks document)"),
            ({"tables": {"machine": 3}}, "do not fit the table machine"),
            ({"tables": {}}, "do not fit the table reading"),
        ],
    )
    def test_a_damaged_one_leaves_nothing_behind(self, archive: Path, change, found: str):
        to = archive.with_name("new.holdzero")
        with pytest.raises(BookError, match="another copy") as refused:
            read_archive(self.rewritten(archive, **change), to)
        assert found in str(refused.value)
        assert sorted(one.name for one in archive.parent.iterdir()) == [
            "book.holdzero",
            "book.zip",
            "changed.zip",
            "second.zip",
        ]

    def test_one_that_lost_readings_is_told(self, archive: Path, tmp_path: Path):
        """It is a book all the same: what is left of it may be all there is."""
        with zipfile.ZipFile(archive) as packed:
            parts = {name: packed.read(name) for name in packed.namelist()}
        rows = parts["readings.csv"].splitlines(keepends=True)
        parts["readings.csv"] = b"".join(rows[:-1])
        with zipfile.ZipFile(tmp_path / "short.zip", "w") as packed:
            for name, raw in parts.items():
                packed.writestr(name, raw)
        status, text = told("book", "import", tmp_path / "short.zip", tmp_path / "again.holdzero")
        assert status == 1
        assert f"{len(rows) - 2} reading" in text
        assert "rows; needed: what holdzero wrote there" in " ".join(text.split())
        assert told("book", "import", archive, tmp_path / "whole.holdzero")[0] == 0

    def test_a_file_cut_short(self, archive: Path):
        archive.write_bytes(archive.read_bytes()[:-200])
        with pytest.raises(BookError, match="not a whole archive"):
            read_archive(archive, archive.with_name("new.holdzero"))
