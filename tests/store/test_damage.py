"""Damage: the tools for a damaged book or archive take any: no traceback, one sentence, nothing half-made."""

import contextlib
import os
import random
import shutil
import socket
import sqlite3
import stat
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest
import sqlalchemy as sa

from damaged import PAGE, damaged, left_in, one_sentence, told
from holdzero.inputs.reading import read_readings
from holdzero.store import file, open_book
from holdzero.store.schema import SCHEMA

rescue_module, archive_module = (sys.modules[f"holdzero.store.{name}"] for name in ("rescue", "archive"))
MACHINE = {
    "machine": {"name": "Bench mill"},
    "requirement": {"position": "0.05 mm", "risk": "1 in 1000"},
    "axes": {"X": {"creep_speed": "2 mm/s"}},
}
HOMINGS = [round(random.Random(1).gauss(0, 0.004), 3) for _ in range(30)]


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a whole book, its archive and a workbook."""
    folder = tmp_path_factory.mktemp("shed")
    file.made(folder / "empty.holdzero").dispose()
    file.finished(folder / "empty.holdzero")
    text = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 5},{value}\n" for i, value in enumerate(HOMINGS))
    with open_book(folder / "shed.holdzero") as book:
        machine = book.add_machine(MACHINE)
        book.add_sensor(machine, "A", {"kind": "lever", "price": "3"})
        book.import_readings(book.add_trial(machine, name="First", axis="X"), read_readings(text))
        book.add_sheet(
            machine, "wiring", {"sensor": {"output": "dry contact"}, "input": {"kind": "IEC 61131-2 type 3"}}
        )
        book.add_result(machine, kind="record", digest="0" * 64, version="1", document={"x": "1"})
        book.keep_setting("note", "x" * 3 * PAGE)  # goes over several pages
        book.export(folder / "shed.zip")
    workbook = openpyxl.Workbook()
    for row in (
        ("sensor", "axis", "set", "deviation_mm"),
        *(("A", "X", i // 5, v) for i, v in enumerate(HOMINGS)),
    ):
        workbook.active.append(row)
    workbook.save(folder / "shed.xlsx")
    return folder


@pytest.fixture(autouse=True)
def made_fast(shed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new book by copying an empty one: a third of a second less each time."""

    def copied(path: Path, *, schema: int = SCHEMA) -> sa.Engine:
        if schema != SCHEMA:
            return file.made(path, schema=schema)
        shutil.copyfile(shed / "empty.holdzero", path)
        return file._engine(path, 1.0)

    for module in (rescue_module, archive_module):
        monkeypatch.setattr(module, "made", copied)


def book_survives(whole: bytes, seed: int, folder: Path, *more: tuple[tuple[str | Path, ...], str]) -> None:
    path = folder / "shed.holdzero"
    for words, made in (
        (("book", "check", path), ""),
        (("book", "rescue", path, folder / "rescued"), "rescued"),
        (("book", "export", path, folder / "out.zip"), "out.zip"),
        (("choose", path, "--json"), ""),
        *more,
    ):
        path.write_bytes(damaged(whole, seed))
        status, text = told(*words)
        assert status in (0, 1, 2), (seed, words, text)
        assert status != 2 or one_sentence(text), (seed, words, text)
        assert not made or (folder / made).exists() == (status != 2), (seed, words, text)
        if made == "rescued" and status != 2:
            open_book(folder / made, create=False).close()
        for beside in ("-wal", "-shm"):
            path.with_name(path.name + beside).unlink(missing_ok=True)
    assert left_in(folder) <= {"shed.holdzero", "rescued", "out.zip", "copy"}, seed


def archive_survives(whole: bytes, seed: int, folder: Path) -> None:
    (folder / "shed.zip").write_bytes(damaged(whole, seed))
    status, text = told("book", "import", folder / "shed.zip", folder / "again")
    assert status in (0, 2), (seed, text)
    assert status == 0 or one_sentence(text), (seed, text)
    assert left_in(folder) == {"shed.zip", *(("again",) if status == 0 else ())}, seed


def workbook_survives(whole: bytes, seed: int, folder: Path) -> None:
    (folder / "shed.xlsx").write_bytes(damaged(whole, seed))
    for command in ("study", "import"):
        status, text = told(command, folder / "shed.xlsx")
        assert status in (0, 2), (seed, command, text)
        assert status == 0 or one_sentence(text), (seed, command, text)
    assert left_in(folder) == {"shed.xlsx"}, seed


@pytest.mark.parametrize("seed", range(60))
def test_60_damaged_workbooks(shed: Path, tmp_path: Path, seed: int):
    workbook_survives((shed / "shed.xlsx").read_bytes(), seed, tmp_path)


@pytest.mark.parametrize("seed", range(60))
def test_60_damaged_books(shed: Path, tmp_path: Path, seed: int):
    book_survives((shed / "shed.holdzero").read_bytes(), seed, tmp_path)


@pytest.mark.parametrize("seed", range(60))
def test_60_damaged_archives(shed: Path, tmp_path: Path, seed: int):
    archive_survives((shed / "shed.zip").read_bytes(), seed, tmp_path)


@pytest.mark.checks
@pytest.mark.parametrize("seed", range(60, 360))
def test_300_damaged_books_archives_and_workbooks(shed: Path, tmp_path: Path, seed: int):
    for name, survives in (("shed.zip", archive_survives), ("shed.xlsx", workbook_survives)):
        folder = tmp_path / name.removeprefix("shed.")
        folder.mkdir()
        survives((shed / name).read_bytes(), seed, folder)
    folder = tmp_path / "book"
    folder.mkdir()
    path = folder / "shed.holdzero"
    more = ((("book", "backup", path, folder / "copy"), "copy"), (("standing", path), ""))
    book_survives((shed / "shed.holdzero").read_bytes(), seed, folder, *more)


def test_a_copy_that_cannot_even_be_checked_is_not_kept(shed: Path, tmp_path: Path):
    """SQLite copies page by page, whatever the text of a view says."""
    book, whole = tmp_path / "shed.holdzero", (shed / "shed.holdzero").read_bytes()
    book.write_bytes(whole.replace(b"reading.condition as", b"reading.condi\xeaion as", 1))
    status, text = told("book", "backup", book, tmp_path / "copy")
    assert (status, (tmp_path / "copy").exists()) == (2, False)
    assert one_sentence(text)
    assert text.startswith(f"{book}: found a damaged file")


@pytest.mark.parametrize("place", [1, 16, 21, 30, 45, 59, 69, 94])
def test_a_bit_of_the_head_costs_nothing(shed: Path, tmp_path: Path, place: int):
    """SQLite reads no page of a file whose first hundred bytes are wrong; all that stands there is known."""
    raw = bytearray((shed / "shed.holdzero").read_bytes())
    raw[place] ^= 8
    path = tmp_path / "shed.holdzero"
    path.write_bytes(raw)
    assert told("book", "rescue", path, tmp_path / "rescued")[0] == 0
    with open_book(tmp_path / "rescued") as book:
        assert [row.deviation_mm for row in book.rows(1)] == HOMINGS


@pytest.mark.parametrize("table", ["machine", "sensor", "sheet", "result"])
def test_what_was_typed_damaged_is_named_by_its_row(shed: Path, tmp_path: Path, table: str):
    """A bit in a bracket or a quotation mark: the file is whole to SQLite, and its text is no JSON."""
    path = tmp_path / "shed.holdzero"
    shutil.copyfile(shed / "shed.holdzero", path)
    with contextlib.closing(sqlite3.connect(path)) as sqlite, sqlite:
        sqlite.execute(f"""update {table} set document = '{{lx": "3"}}'""")
    for words, found in (
        (("book", "check", path), 1),
        (("book", "export", path, tmp_path / "out.zip"), 2),
        (("book", "rescue", path, tmp_path / "rescued"), 1),
        (("choose", path), 2),
    ):
        status, text = told(*words)
        assert (status, status != 2 or one_sentence(text)) == (found, True), text
        assert status == 0 or f"{table} 1" in text, text


@pytest.mark.parametrize(
    "document",
    [
        '{"machine": {"name": NaN}, "axes": {"X": {}}}',
        '{"machine": {"name": "M"}, "axes": {"X": {"motors": 1e999}}}',
        '{"machine": {"name": "\\ud800"}, "axes": {"X": {}}}',
        "[" * 100_000 + "]" * 100_000,
    ],
)
def test_a_document_that_no_file_can_hold_is_named(shed: Path, tmp_path: Path, document: str):
    """JSON to Python, and not to be written again: a number that is none, half a character, endless nesting."""
    path = tmp_path / "shed.holdzero"
    shutil.copyfile(shed / "shed.holdzero", path)
    with contextlib.closing(sqlite3.connect(path)) as sqlite, sqlite:
        sqlite.execute("update machine set document = ?", (document,))
    for words, status in (
        (("book", "check", path), 1),
        (("book", "backup", path, tmp_path / "copy"), 1),
        (("book", "export", path, tmp_path / "out.zip"), 2),
        (("book", "rescue", path, tmp_path / "rescued"), 1),
        (("choose", path), 2),
    ):
        said, text = told(*words)
        assert (said, said != 2 or one_sentence(text), "machine 1" in text) == (status, True, True), text


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ("update sensor set added = x'0102'", "sensor 1, added"),
        ("update reading set condition = x'0102' where id = 5", "reading 5, condition"),
        ("update series set resolution_mm = 9e999", "series 1, resolution_mm"),
        ("update reading set deviation_mm = 9e999 where id = 5", "reading 5, deviation_mm"),
    ],
)
def test_a_cell_that_no_text_can_hold_is_named(shed: Path, tmp_path: Path, change: str, named: str):
    """A bit of a row's own list of kinds: words become bytes, a figure another kind of figure."""
    path = tmp_path / "shed.holdzero"
    shutil.copyfile(shed / "shed.holdzero", path)
    with contextlib.closing(sqlite3.connect(path)) as sqlite, sqlite:
        sqlite.execute(change)
    status, text = told("book", "export", path, tmp_path / "out.zip")
    assert (status, one_sentence(text), named in text) == (2, True, True), text
    if "reading" in change:
        status, text = told("book", "homings", path, tmp_path / "out.csv")
        assert (status, one_sentence(text), named in text) == (2, True, True), text
    assert named.partition(",")[0] in told("book", "check", path)[1]
    status, text = told("book", "rescue", path, tmp_path / "rescued")
    assert (status, named.partition(",")[0] in text) == (1, True), text
    assert told("book", "export", tmp_path / "rescued", tmp_path / "out.zip")[0] == 0


def test_rescue_where_the_digests_own_columns_are_damaged(shed: Path, tmp_path: Path):
    path = tmp_path / "shed.holdzero"
    shutil.copyfile(shed / "shed.holdzero", path)
    with contextlib.closing(sqlite3.connect(path)) as sqlite, sqlite:
        sqlite.execute("pragma writable_schema = on")
        changed = "update sqlite_master set sql = replace(sql, 'n INTEGER', 'o INTEGER') where name = 'digest'"
        assert sqlite.execute(changed).rowcount == 1
    assert told("book", "rescue", path, tmp_path / "rescued")[0] == 0
    with open_book(tmp_path / "rescued") as book:
        assert [row.deviation_mm for row in book.rows(1)] == HOMINGS


def test_a_book_of_a_format_sqlite_does_not_know(shed: Path, tmp_path: Path):
    """What SQLite says of such a head is none of its usual words for damage."""
    raw = bytearray((shed / "shed.holdzero").read_bytes())
    raw[47] ^= 64
    path = tmp_path / "shed.holdzero"
    path.write_bytes(raw)
    for words in (("book", "export", path, tmp_path / "out.zip"), ("choose", path), ("standing", path)):
        status, text = told(*words)
        assert (status, one_sentence(text), "a damaged file" in text) == (2, True, True), text


class TestNoBook:
    """What is no book of ours, or no file at all, is refused by every tool in one sentence, without waiting."""

    COMMANDS = ("check", "rescue", "backup", "export", "import", "homings", "write", "imports")

    def refused(self, path: Path, kind: str) -> None:
        for command in self.COMMANDS:
            to = () if command in ("check", "imports") else (path.with_name("to.csv"),)
            status, text = told("book", command, path, *to)
            assert status == 2, (command, text)
            assert one_sentence(text), (command, text)
            assert kind in text, (command, text)
        for words in (("study", path), ("standing", path), ("capture", path, "--map", path), ("import", path)):
            status, text = told(*words)
            assert status == 2, (words, text)
            assert one_sentence(text), (words, text)
        assert not path.with_name("to.csv").exists()

    def test_a_database_of_another_program(self, tmp_path: Path):
        path = tmp_path / "songs.db"
        with sqlite3.connect(path) as other:
            other.execute("create table song (name text)")
            other.execute("insert into song values ('a')")
        other.close()
        before = path.read_bytes()
        for command in ("check", "rescue", "backup", "export", "homings"):
            to = () if command == "check" else (tmp_path / "to.csv",)
            status, text = told("book", command, path, *to)
            assert (status, "another program" in text) == (2, True), (command, text)
        assert left_in(tmp_path) == {"songs.db"}
        assert path.read_bytes() == before

    @pytest.mark.skipif(sys.platform == "win32", reason="no pipes with a name there")
    def test_a_pipe(self, tmp_path: Path):
        os.mkfifo(tmp_path / "pipe")
        self.refused(tmp_path / "pipe", "a pipe")

    @pytest.mark.skipif(sys.platform == "win32", reason="no sockets with a name there")
    def test_a_socket(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.chdir(tmp_path)  # a socket's name is short
        with socket.socket(socket.AF_UNIX) as listening:
            listening.bind("socket")
            self.refused(tmp_path / "socket", "a socket")

    @pytest.mark.skipif(sys.platform == "win32", reason="no device has such a name there")
    def test_a_device(self, tmp_path: Path):
        (tmp_path / "zeros").symlink_to("/dev/zero")
        self.refused(tmp_path / "zeros", "a device")

    def test_a_folder(self, tmp_path: Path):
        (tmp_path / "folder").mkdir()
        for command in ("check", "rescue", "backup", "export", "import", "homings"):
            to = () if command == "check" else (tmp_path / "to.csv",)
            status, text = told("book", command, tmp_path / "folder", *to)
            assert (status, one_sentence(text), "a folder" in text) == (2, True, True), (command, text)


class TestOddArchives:
    """An archive whose names lead elsewhere, or that swells, is refused before anything of it is unpacked."""

    def refused(self, path: Path, words: str) -> None:
        status, text = told("book", "import", path, path.with_name("again"))
        assert (status, one_sentence(text), words in text) == (2, True, True), text
        assert left_in(path.parent) == {path.name}

    def rewritten(self, shed: Path, folder: Path, *beside: tuple[zipfile.ZipInfo | str, bytes]) -> Path:
        path = folder / "odd.zip"
        with zipfile.ZipFile(shed / "shed.zip") as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
            for name in old.namelist():
                new.writestr(name, old.read(name))
            for name, content in beside:
                new.writestr(name, content)
        return path

    @pytest.mark.parametrize("name", ["../out.txt", "/etc/out.txt", "a/../../b", "..\\b", "c:\\b"])
    def test_names_that_lead_elsewhere(self, shed: Path, tmp_path: Path, name: str):
        self.refused(self.rewritten(shed, tmp_path, (name, b"x")), "leads elsewhere")

    def test_a_link(self, shed: Path, tmp_path: Path):
        link = zipfile.ZipInfo("link")
        link.create_system, link.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        self.refused(self.rewritten(shed, tmp_path, (link, b"/etc/passwd")), "leads elsewhere")

    @pytest.mark.filterwarnings("ignore:Duplicate name")
    def test_two_of_one_name(self, shed: Path, tmp_path: Path):
        self.refused(self.rewritten(shed, tmp_path, ("book.json", b"{}")), "two files in it of one name")

    def test_one_that_swells(self, shed: Path, tmp_path: Path):
        self.refused(self.rewritten(shed, tmp_path, ("zeros", bytes(17 * 2**20))), "swells")

    def test_very_many_files(self, shed: Path, tmp_path: Path):
        many = ((f"{i}", b"") for i in range(5_001))
        self.refused(self.rewritten(shed, tmp_path, *many), "at most 5000 files")

    @pytest.mark.parametrize(
        "text", ["[" * 100_000, '{"archive": 1, "schema": 1, "tables": {"machine": 3}}', "9" * 9999]
    )
    def test_a_head_of_another_shape(self, tmp_path: Path, text: str):
        path = tmp_path / "odd.zip"
        with zipfile.ZipFile(path, "w") as new:
            new.writestr("book.json", text)
            new.writestr("readings.csv", "id\n")
        self.refused(path, "archive")
