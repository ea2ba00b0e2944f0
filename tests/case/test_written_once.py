"""The file of a trial's readings, by which kept records are told apart, is written once."""

from pathlib import Path

from holdzero.case import remembered
from holdzero.case.in_book import InBook
from holdzero.inputs.reading import read_readings
from holdzero.memory import Remembered
from holdzero.store import open_book

TEXT = "sensor,axis,set,deviation_mm,chuck\nA,X,1,0.001,old\nA,X,1,0.003,new\n"


def test_readings_are_written_as_a_file_once_until_they_change(tmp_path: Path, monkeypatch):
    written = []
    real = remembered.write_readings
    monkeypatch.setattr(remembered, "write_readings", lambda readings: written.append(1) or real(readings))
    monkeypatch.setattr(remembered, "_files", Remembered(2**20))
    with open_book(tmp_path / "shed.holdzero") as book:
        machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
        trial = book.add_trial(machine, name="One")
        book.import_readings(trial, read_readings(TEXT))
        first, second = (InBook(book, book.machine(machine)).texts["readings"] for _ in range(2))
        assert first == second
        assert len(written) == 1
        beside = read_readings(TEXT.replace("old", "older"))
        assert remembered.written_readings(beside) != remembered.written_readings(read_readings(TEXT))
        n = len(written)
        book.import_readings(trial, read_readings("sensor,axis,set,deviation_mm\nA,X,2,0.002\n"))
        assert "0.002" in InBook(book, book.machine(machine)).texts["readings"]
        assert len(written) == n + 1
