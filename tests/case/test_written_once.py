"""The file of a trial's readings, by which kept records are told apart, is written once."""

from pathlib import Path

import pytest

from holdzero.case import in_book
from holdzero.case.in_book import InBook
from holdzero.inputs.log import LogEntry
from holdzero.inputs.reading import read_readings
from holdzero.store import Book, open_book

TEXT = "sensor,axis,set,deviation_mm,chuck\nA,X,1,0.001,old\nA,X,1,0.003,new\n"


def test_readings_and_log_are_written_as_files_once_until_they_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    written: list[str] = []
    for name in ("write_readings", "write_log"):
        real = getattr(in_book, name)
        monkeypatch.setattr(
            in_book, name, lambda *of, name=name, real=real, **how: (written.append(name), real(*of, **how))[1]
        )

    def texts(book: Book) -> dict[str, str]:
        return dict(InBook(book, book.machine(1)).texts)

    with open_book(tmp_path / "shed.holdzero") as book:
        machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
        trial = book.add_trial(machine, name="One")
        book.import_readings(trial, read_readings(TEXT))
        book.add_log(machine, [LogEntry(moment_s=1.7e9, time="2023-11-14T22:13:20+00:00", deviation_mm=0.004)])
        assert texts(book) == texts(book)
        assert written == ["write_readings", "write_log"]
        book.import_readings(trial, read_readings("sensor,axis,set,deviation_mm\nA,X,2,0.002\n"))
        assert "0.002" in texts(book)["readings"]
        assert written == ["write_readings", "write_log"] * 2


def test_the_log_of_a_machine_that_becomes_an_example_says_so(tmp_path: Path):
    """What is not kept yet is told apart from what is."""
    with open_book(tmp_path / "shed.holdzero") as book:
        document = {"machine": {"name": "Mill"}, "axes": {"X": {}}}
        machine = book.add_machine(document)
        book.add_log(machine, [LogEntry(moment_s=1.7e9, time="2023-11-14T22:13:20+00:00", deviation_mm=0.004)])
        own = InBook(book, book.machine(machine))
        example = document | {"machine": {"name": "Mill", "example": True}}
        book.change_machine(machine, example)
        kept = book.machine(machine)
        assert own.texts["log"] != InBook(book, kept).texts["log"]
        assert own.as_if(example, kept.machine).texts["log"] == InBook(book, kept).texts["log"]
        book.change_machine(machine, document)
        own = InBook(book, book.machine(machine))
        before = own.texts["log"]
        assert own.as_if(example, kept.machine).texts["log"] != before == own.again().texts["log"]
