"""`holdzero listen`: readings from a pseudo-terminal, printed as a readings file or kept in a book."""

import os
import select
import sys
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero.cli import cli
from holdzero.inputs.reading import read_readings
from holdzero.store import open_book

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}


@pytest.fixture
def port():
    """An indicator that answers each question with the next value."""
    import pty
    import tty

    ours, theirs = pty.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    values = iter([0.012, -0.003, 0.007, 1.2, *[0.02] * 50])

    ended = threading.Event()

    def answer() -> None:
        while not ended.is_set():
            if select.select([ours], [], [], 0.02)[0] and b"?" in os.read(ours, 64):
                os.write(ours, b"N1 %+08.3f\r" % next(values))

    gauge = threading.Thread(target=answer)
    gauge.start()
    yield os.ttyname(theirs)
    ended.set()
    gauge.join()
    os.close(theirs)
    os.close(ours)


def listened(port: str, *words: object) -> str:
    how = ("--ask", "?\\r", "--still", "0", "--pattern", "N1 {value}")
    ended = CliRunner().invoke(cli, ["listen", port, *how, *map(str, words)], catch_exceptions=False)
    assert ended.exit_code == 0, ended.output
    return ended.stdout


def test_what_is_printed_is_a_readings_file(port: str):
    (group,) = read_readings(listened(port, "-n", 3)).groups
    assert group.deviation_mm.tolist() == [0.012, -0.003, 0.007]


def test_a_second_value_is_the_way_from_trip_to_index(port: str, tmp_path: Path):
    """A counter board that sends both; here the 1 behind the N stands for the way."""
    how = ("listen", port, "--ask", "?\\r", "--still", "0", "--pattern", "N{index} {value}", "-n", "2")
    (group,) = read_readings(CliRunner().invoke(cli, how, catch_exceptions=False).stdout).groups
    assert group.deviation_mm.tolist() == [0.012, -0.003]
    assert group.trip_to_index_mm.tolist() == [1.0, 1.0]
    with open_book(tmp_path / "shed.holdzero") as book:
        book.add_trial(book.add_machine(MACHINE), name="First", axis="X", resolution="0.001")
    kept = CliRunner().invoke(cli, (*how, "--book", str(tmp_path / "shed.holdzero")), catch_exceptions=False)
    assert "to index 1.0000 mm" in kept.stdout
    with open_book(tmp_path / "shed.holdzero") as book:
        assert [row.trip_to_index_mm for row in book.rows(1)] == [1.0, 1.0]


def test_who_homes_is_told_first(port: str):
    how = ("--ask", "?\\r", "--still", "0", "--pattern", "N1 {value}", "-n", "1")
    ended = CliRunner().invoke(cli, ["listen", port, *how], catch_exceptions=False)
    assert "a hand on the stop" in ended.stderr
    assert "stop" not in ended.stdout


def test_the_pattern_can_be_tried(port: str):
    assert "'N1 +000.012': +0.0120 mm" in listened(port, "--try", "-n", 1)


def test_readings_are_kept_in_a_book(port: str, tmp_path: Path):
    with open_book(tmp_path / "shed.holdzero") as book:
        book.add_trial(book.add_machine(MACHINE), name="First", axis="X", resolution="0.001")
    listened(port, "-n", 3, "--book", tmp_path / "shed.holdzero", "--sensor", "A")
    with open_book(tmp_path / "shed.holdzero") as book:
        (group,) = book.readings(1).groups
    assert group.deviation_mm.tolist() == [0.012, -0.003, 0.007]
    assert (group.axis, group.set_label.tolist(), group.resolution_mm) == ("X", ["1", "1", "1"], 0.001)


def test_the_first_press_of_a_button_is_the_first_homing(tmp_path: Path):
    """Nobody asks it: the line that sets the zero comes after silence, and every number after it is right."""
    import pty
    import tty

    ours, theirs = pty.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    presses = [
        threading.Timer(after, os.write, (ours, line)) for after, line in ((0.8, b"0.000\r"), (1.1, b"0.012\r"))
    ]
    for press in presses:
        press.start()
    how = ("listen", os.ttyname(theirs), "--still", "0", "-n", "2")
    ended = CliRunner().invoke(cli, how, catch_exceptions=False)
    assert ended.stdout.split() == ["deviation_mm", "0.0", "0.012"]
    os.close(theirs)
    os.close(ours)


def test_readings_of_an_invented_machine_are_told_as_such(port: str, tmp_path: Path):
    with open_book(tmp_path / "shed.holdzero") as book:
        machine = {**MACHINE, "machine": {"name": "Bench mill", "example": True}}
        book.add_trial(book.add_machine(machine), name="First", axis="X", resolution="0.001")
    assert "invented example" in listened(port, "-n", 1, "--book", tmp_path / "shed.holdzero", "--sensor", "A")


def test_one_far_out_is_kept_and_said(port: str, tmp_path: Path):
    """Asked about once, never refused; who looks at the page of the trial answers."""
    with open_book(tmp_path / "shed.holdzero") as book:
        book.add_trial(book.add_machine(MACHINE), name="First", axis="X", resolution="0.001")
    how = ("--ask", "?\\r", "--still", "0", "-n", "4", "--book", str(tmp_path / "shed.holdzero"))
    ended = CliRunner().invoke(cli, ["listen", port, *how], catch_exceptions=False)
    assert "Is that right? 1.19" in ended.stderr
    with open_book(tmp_path / "shed.holdzero") as book:
        assert [(row.deviation_mm, row.asked) for row in book.rows(1)][3] == (1.2, True)
