"""`holdzero record` on the demo's files and book: what a person types, and what comes out."""

import json
import sys
from pathlib import Path

import pytest

from holdzero.cli import main
from holdzero.demo import COARSE, INVENTED, WINNER, machine_toml, readings_csv, sensors_toml
from holdzero.form import EXAMPLE
from holdzero.store import open_book
from ready_books import keep_demo

FILES = ("--machine", "m.toml", "--sensors", "s.toml", "r.csv")


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in (("m.toml", machine_toml()), ("s.toml", sensors_toml()), ("r.csv", readings_csv())):
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.fixture
def book(files):
    with open_book("shed.holdzero") as opened:
        keep_demo(opened)
    return "shed.holdzero"


def run(monkeypatch, *words):
    """Run the command line; return its exit status."""
    monkeypatch.setattr(sys, "argv", ["holdzero", "record", *words])
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code


def test_pdf_and_page_of_files(files, monkeypatch, capsys):
    assert run(monkeypatch, *FILES, "-o", "record.pdf", "-o", "record.html", "--units", "inch") == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{WINNER} holds zero on Y so far. Whether Y stops in time is not known: ")
    assert "\nWritten: record.pdf and record.html.\n" in told
    assert f"\n{EXAMPLE}\n" in told
    first = (files / "record.pdf").read_bytes()
    assert first.startswith(b"%PDF-1.7")
    page = (files / "record.html").read_text(encoding="utf-8")
    assert "Day: 2025-02-21" in page  # the day of the last reading
    assert "Lengths in thou" in page
    assert run(monkeypatch, "--verify", "record.pdf") == 0
    assert capsys.readouterr().out == "Same inputs, same figures. The file is the same to the byte.\n"


def test_wiring_and_squareness_of_files(files, monkeypatch, capsys):
    (files / "w.toml").write_text('sensor.output = "PNP"\ninput.kind = "IEC 61131-2 type 3"\n')
    (files / "q.toml").write_text('method = "flip"\nlength = "600 mm"\ngap = "0.22 mm"\n')
    assert run(monkeypatch, *FILES, "--wiring", "w.toml", "--square", "q.toml", "-o", "record.html") == 0
    page = (files / "record.html").read_text(encoding="utf-8")
    for heading in ("Wiring: what the controller sees", "Squareness", "As found, as left"):
        assert heading in page


def test_of_a_book(book, files, monkeypatch, capsys):
    assert run(monkeypatch, book, "--machine", "plywood router", "-o", "record.html") == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{WINNER} holds zero on Y so far. ")
    assert "\nWritten: record.html.\nKept in shed.holdzero.\n" in told
    assert INVENTED in " ".join(told.split())
    first = (files / "record.html").read_bytes()
    assert INVENTED in first.decode()  # the book knows
    assert run(monkeypatch, book, "-o", "record.html") == 0
    assert "holds the same one already" in capsys.readouterr().out
    assert (files / "record.html").read_bytes() == first
    with open_book(book) as opened:
        (kept,) = opened.results(1, "record")
        assert kept.document["figures"]["choice.choice"] == WINNER
        opened.set_aside(opened.rows(1)[0].id, "slip")
    assert run(monkeypatch, "--verify", "record.html", book) == 1
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith("Inputs changed: readings; ")
    assert any(line.startswith(f"– choice.candidates.{COARSE}.") for line in said)
    assert run(monkeypatch, "--verify", "record.html", book, "--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["same"], told["changed"], told["file"]) == (False, ["readings"], "not compared")
    assert " ".join(said).startswith(told["sentences"][0])
    assert told["different"][0]["place"].startswith("choice.")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*FILES, "-o", "record.doc"), "ends in .pdf or .html"),
        (FILES, "give the file such a name with -o"),
        ((*FILES[:-1], "none.csv", "-o", "record.pdf"), "no such file or directory"),
        ((*FILES, "-o", "nowhere/record.html"), "make it, or name another one"),
        ((*FILES, "-o", "record.pdf", "--day", "15.3.2026"), "YYYY-MM-DD"),
        (("r.csv", "-o", "record.pdf"), "--machine: found nothing, and r.csv, which is not a book"),
        (("shed.holdzero", "--sensors", "s.toml", "-o", "record.pdf"), "leave --sensors out: the book has it"),
        (("shed.holdzero", "--machine", "Mill", "-o", "record.pdf"), "needed is one of Plywood router"),
        (("-o", "record.pdf"), "a book or a readings file"),
        (("--verify", "m.toml"), "a PDF or a page written by holdzero record"),
        (("--verify", "none.pdf"), "no such file or directory"),
        (("--verify", "m.toml", "-o", "record.pdf"), "nothing with --verify"),
    ],
)
def test_bad_input_is_one_line_and_status_2(book, files, monkeypatch, capsys, words, says):
    assert run(monkeypatch, *words) == 2
    line = capsys.readouterr().err
    assert says in line
    assert line.count("\n") == 1


def test_a_machine_in_use(book, monkeypatch, capsys):
    """The demo's book: the day is that of the last entry, the watch a section, the log is carried."""
    assert run(monkeypatch, book, "-o", "record.html") == 0
    page = Path("record.html").read_text(encoding="utf-8")
    assert "Day: 2026-04-29" in page
    assert "In use: check homings" in page
    assert "right bracket had slipped" in page
    assert "lost between 2026-09" in page
    capsys.readouterr()
    assert run(monkeypatch, "--verify", "record.html") == 0
    assert capsys.readouterr().out == "Same inputs, same figures. The file is the same to the byte.\n"
