"""A book and its files are one: out of a book, into a new one and out again; every answer alike of all three."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from case.books import BOOKS, FLAG, Told, Trialled, make, one_motor, readings_csv
from holdzero.case import Case
from holdzero.case.contract import record_json
from holdzero.case.demo_book import keep_demo
from holdzero.case.exchange import bring, files_of, in_folder, recognised, write_folder
from holdzero.case.exchange.kinds import ReadFile
from holdzero.case.in_book import InBook
from holdzero.cli import cli
from holdzero.inputs.log import read_log
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.store import Book, NewReading, Outcome, open_book

ANSWERS = {  # each command on a source
    "study": (),
    "choose": (),
    "standing": (),
    "travel": (),
    "budget": ("--digits", "1"),
    "wiring": (),
    "plan": ("--fewest", "4", "--most", "4", "--minutes", "40", "--run", "0"),
    "square": (),
    "install": (),
    "watch": ("--now", "2026-06-01T00:00Z"),
    "record": ("--day", "2026-06-01"),
}


def of_demo(path: Path) -> None:
    with open_book(path) as book:
        keep_demo(book)


def with_everything(path: Path) -> None:
    """One motor, four trials (one left out, one confirming), marks of rows, another display, another protocol."""
    machine_id = make(
        path,
        Told(
            machine=one_motor(),
            trials=(
                Trialled(axis="X", marks={"left_out": "the cable lay on the rail"}),
                Trialled(axis="X", seed=7, shift_mm=0.4, marks=FLAG),
            ),
            squaring=({"event": {"what": "moved house", "day": "2026-05-01"}},),
            taken="K",
            system="inch",
        ),
    )
    with open_book(path) as book:
        confirming = book.add_trial(machine_id, name="Alone", axis="X", kind="confirming", note="by the window")
        rows = readings_csv(Trialled(axis="X", sensors=("K",), seed=4)).replace("0.001,", "0.002,")
        book.import_readings(confirming, read_readings(rows))
        first = book.rows(confirming)[0].id
        book.leave_out(first + 3, "hand on the indicator")
        book.begin_level(first + 8, "a bracket was touched")
        book.set_aside(first + 9, "chip under the tip")
        book.undo(first + 11)
        spans = "sensor,axis,set,least_mm,greatest_mm,n\nM,X,1,-0.004,0.003,30\nM,X,2,-0.003,0.006,30\n"
        book.import_readings(confirming, read_readings(spans))
        other = book.add_trial(machine_id, name="By button", axis="X")
        for homing in range(1, 6):
            reading = NewReading(sensor="K", axis="X", side="", set_label="1", deviation_mm=0.001 * (homing % 3))
            book.add_reading(other, replace(reading, protocol=Protocol.PREVIOUS, resolution_mm=0.001))
        book.add_check(machine_id, item="emergency-stop", outcome=Outcome.DONE, measured="0.3 s", checked_by="A")
        book.add_sheet(machine_id, "capture", {"signals": "24 V", "tap": {"channel": "5 V logic"}})
        book.add_sheet(machine_id, "watch", {"baseline": "12", "every": "1 day"})
        days = (f"2026-05-{day:02d}T08:00:00+00:00,X,0.00{day % 4},,," for day in range(1, 29))
        text = "time,axis,deviation_mm,event,cycles,note\n" + "\n".join(days)
        entries = read_log([(f"{text}\n2026-05-28T09:00:00+02:00,,,,812,cleaned\n", "log")]).entries
        book.add_log(machine_id, entries)


MADE: dict[str, Callable[[Path], object]] = {
    name: lambda path, told=told: make(path, told) for name, told in BOOKS.items()
}
MADE |= {"the demo": of_demo, "everything": with_everything}


def brought_in(book: Book, folder: Path, **how: bool) -> list[str]:
    files = [recognised(path.name, path.read_bytes()) for path in sorted(folder.iterdir())]
    parts = bring(book, [file for file in files if isinstance(file, ReadFile)], **how)
    assert len(files) - 1 <= len({name for part in parts for name in part.file.split(" and ")}) <= len(files)
    return [part.part for part in parts if part.new or part.rows_new or part.replaced]


def the_case(book: Book, axis: str = "") -> InBook:
    basis = InBook(book, book.machines()[0])
    return basis.with_how(replace(basis.how, axis=axis))


ROUND_TRIPS = [
    *("the demo", "everything", "two motors", "two axes on two motors", "decided against the recommendation"),
    *("an event after squaring", "two trials, one begins a new level", "inch"),
]
COMMANDS_OF = ["everything", "two motors", "inch", pytest.param("the demo", marks=pytest.mark.checks)]


@pytest.mark.parametrize("name", ROUND_TRIPS)
def test_out_of_a_book_and_into_another_and_out_again(name: str, tmp_path: Path):
    """Byte for byte the same files, and the same record of the book, of its files and of the other book."""
    MADE[name](tmp_path / "a.holdzero")
    with open_book(tmp_path / "a.holdzero") as first, open_book(tmp_path / "b.holdzero") as second:
        write_folder(files_of(the_case(first)), tmp_path / "a")
        brought_in(second, tmp_path / "a")
        write_folder(files_of(the_case(second)), tmp_path / "b")
        texts = {path.name: path.read_bytes() for path in (tmp_path / "a").iterdir()}
        assert {path.name: path.read_bytes() for path in (tmp_path / "b").iterdir()} == texts
        assert brought_in(second, tmp_path / "a") == []  # the same files a second time
        assert files_of(the_case(second)) == files_of(the_case(first))
        axis = BOOKS[name].axis if name in BOOKS else ""
        folder = in_folder(tmp_path / "a")
        in_files = replace(folder, how=replace(folder.how, axis=axis))
        bases = (the_case(first, axis), in_files, the_case(second, axis))
        records = [record_json(Case(basis)) for basis in bases]
        assert records[1] == records[0]
        assert records[2] == records[0]


@pytest.mark.parametrize("name", COMMANDS_OF)
def test_every_command_says_the_same_of_book_and_files(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    MADE[name](Path("a.holdzero"))
    run = CliRunner()
    assert run.invoke(cli, ["book", "write", "a.holdzero", "files"]).exit_code == 0
    assert run.invoke(cli, ["book", "add", "b.holdzero", "files"]).exit_code == 0
    for command, options in ANSWERS.items():
        answers = []
        for source in ("a.holdzero", "files", "b.holdzero"):
            ended = run.invoke(cli, [command, source, *options, "--json"], standalone_mode=False)
            said = str(ended.exception).replace(source, "it") if ended.exception else json.loads(ended.stdout)
            answers.append((ended.return_value, said))
        assert answers[1:] == [answers[0]] * 2, command
