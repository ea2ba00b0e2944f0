"""Invented stays marked: every command that reads an example says so, on the terminal and in JSON."""

import contextlib
import json
import re
import sys
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero import demo
from holdzero.cli import COMMANDS as ALL_COMMANDS
from holdzero.cli import cli, main
from holdzero.form import EXAMPLE
from holdzero.inputs.reading import read_readings
from holdzero.inputs.reading.writing import write_readings
from holdzero.store import open_book
from ready_books import keep_demo

FILES = ("--machine", "m.toml", "--sensors", "s.toml", "r.csv")
VARIANTS = 'machine = "m.toml"\naxis = "Y"\n[vary]\ncreep_speed = ["1 mm/s", "3 mm/s"]\n'
COMMANDS = {
    "study": ("study", "--machine", "m.toml", "r.csv"),
    "choose": ("choose", *FILES),
    "choose of a book": ("choose", "shed.holdzero"),
    "travel": ("travel", "m.toml"),
    "plan": ("plan", "--machine", "m.toml"),
    "budget": ("budget", "m.toml", "--sensors", "s.toml", "--sensor", demo.WINNER),
    "sweep": ("sweep", "v.toml", "--workers", "1"),
    "install": ("install", "m.toml"),
    "wiring": ("wiring", "w.toml"),
    "wiring of a book": ("wiring", "shed.holdzero"),
    "square": ("square", "q.toml"),
    "standing": ("standing", "shed.holdzero"),
    "watch": ("watch", "log.csv", "--machine", "m.toml"),
    "watch of an example's log": ("watch", "demo.csv"),
} | {
    f"{command} of a book": (command, "shed.holdzero", *options)
    for command, options in {
        "study": (),
        "travel": (),
        "plan": ("--fewest", "4", "--most", "4", "--run", "0"),
        "budget": ("--digits", "1"),
        "install": (),
        "square": (),
        "watch": ("--now", "2026-05-01T00:00Z"),
    }.items()
}
ANSWERS_NOTHING = {  # of a machine's figures: what they write or list is looked at below, or holds none
    *("demo", "machine", "keys", "record", "log", "fleet", "listen"),
    *("capture", "tally", "import", "book", "open", "people", "where", "manual"),
}
LOG = "time,axis,side,deviation_mm\n" + "".join(
    f"2026-02-{day:02d}T08:00,X,,0.00{day % 4}\n" for day in range(1, 20)
)


readings_csv, log_csv = cache(demo.readings_csv), cache(demo.log_csv)  # drawn once, not for each command


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.chdir(tmp_path)

    def command(*words: str, machine: str, own: bool = False) -> str:
        texts = {"m": machine, "s": demo.sensors_toml(), "v": VARIANTS}
        texts |= {"w": demo.wiring_toml(), "q": demo.square_toml()}
        for name, text in texts.items():
            Path(f"{name}.toml").write_text(
                text.replace("example = true\n", "") if own else text, encoding="utf-8"
            )
        readings = readings_csv()
        Path("r.csv").write_text(readings.replace("yes\n", "\n") if own else readings, encoding="utf-8")
        Path("log.csv").write_text(LOG, encoding="utf-8")
        Path("demo.csv").write_text(log_csv(), encoding="utf-8")
        if "shed.holdzero" in words:
            with open_book("shed.holdzero") as book:
                if not book.machines():
                    keep_demo(book)
        monkeypatch.setattr(sys, "argv", ["holdzero", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert ended.value.code in (0, 1)
        assert err == ""
        return out

    return command


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
def test_the_answer_says_so(run, words: tuple[str, ...]):
    out = run(*words, machine=demo.machine_toml())
    mark = demo.INVENTED if "shed.holdzero" in words else EXAMPLE
    assert next(line for line in out.splitlines() if "nvented" in line).startswith(mark)
    assert out.count(mark) == 1
    assert json.loads(run(*words, "--json", machine=demo.machine_toml()))["invented"] is True


@pytest.mark.parametrize("words", [COMMANDS["choose"], COMMANDS["travel"]], ids=["choose", "travel"])
def test_a_machine_of_one_s_own_carries_no_mark(run, words: tuple[str, ...]):
    assert "nvented" not in run(*words, machine=demo.machine_toml(), own=True)
    assert "invented" not in json.loads(run(*words, "--json", machine=demo.machine_toml(), own=True))


WRITES = {  # what a command writes, and the file or files it makes
    "motion programs": (
        ("plan", "--machine", "m.toml", "--motion", "set.nc", "--stop-tested", "--reach", "0 mm to 1290 mm"),
        "set-*.nc",
    ),
    "trial sheet": (("plan", "--machine", "m.toml", "--sheet", "sheet.html"), "sheet.html"),
    "drawings of travel": (("travel", "m.toml", "--drawings", "drawn"), "drawn/*.svg"),
    "diagrams of a wiring file": (("wiring", "w.toml", "--svg", "wired.svg"), "wired-*.svg"),
    "diagrams of a book": (("wiring", "shed.holdzero", "--svg", "wired.svg"), "wired-*.svg"),
    "record": (("record", "shed.holdzero", "-o", "record.html"), "record.html"),
}


@pytest.mark.parametrize(("words", "files"), WRITES.values(), ids=WRITES)
def test_what_is_written_says_so_in_each_file(run, words: tuple[str, ...], files: str):
    with contextlib.suppress(AssertionError):  # what was written is told on standard error
        run(*words, machine=demo.machine_toml())
    written = sorted(Path().glob(files))
    assert written
    for path in written:
        assert "nvented" in path.read_text(encoding="utf-8"), path


def test_the_lines_of_a_motion_program_keep_within_what_a_control_reads(run):
    """The mark is a comment like the others: ASCII, at most 70 letters, no bracket inside brackets."""
    with contextlib.suppress(AssertionError):
        run(*WRITES["motion programs"][0], machine=demo.machine_toml())
    text = Path("set-01.nc").read_text(encoding="ascii")
    marks = [line for line in text.splitlines() if "nvented" in line]
    assert marks
    assert all(re.fullmatch(r"\([^()]{1,68}\)", line) for line in marks)


def test_the_mark_of_a_readings_file_comes_back():
    """A column of its own: every reader of rows takes it, ours knows it, and it is written again."""
    readings = read_readings(demo.readings_csv())
    assert readings.example
    assert not any("example" in note for note in readings.notes)
    again = read_readings(write_readings(readings))
    assert again.example
    assert not read_readings("deviation_mm,example\n0.001,no\n").example


def test_a_book_that_took_an_example_in_still_knows(tmp_path: Path):
    with open_book(tmp_path / "shed.holdzero") as book:
        trial = book.add_trial(book.add_machine({"machine": {"name": "Mill"}, "axes": {"Y": {}}}), name="One")
        book.import_readings(trial, read_readings(demo.readings_csv()))
        assert book.readings(trial).example


def test_import_says_so_of_a_file_and_of_the_machine_of_a_book(run):
    assert demo.INVENTED in run(
        "import", "r.csv", "--book", "shed.holdzero", "--trial", "2", "--again", machine=""
    )
    assert EXAMPLE in run("import", "r.csv", machine="")


def test_the_record_of_the_printed_command_is_marked_without_a_word(run):
    run("record", *FILES, "-o", "record.html", machine=demo.machine_toml())
    assert Path("record.html").read_text(encoding="utf-8").count(EXAMPLE) >= 2  # header and foot


def test_every_command_that_answers_is_asked():
    asked = {words[0] for words in COMMANDS.values()}
    assert asked | ANSWERS_NOTHING == set(ALL_COMMANDS)
    assert not asked & ANSWERS_NOTHING


PARTS = {  # files of an example that may come to a machine that is none, and what every answer then says
    "candidates": (("s.toml",), "candidates H, J, K, M, N, P"),
    "readings": (("r.csv",), "readings of H, J, K, M, N, P"),
    "wiring": (("w.toml",), "wiring"),
    "squaring": (("q.toml",), "squaring"),
}


def into_own(*files: str) -> None:
    """A book of a machine of one's own, and files of an example in it."""
    own = demo.machine_toml().replace("example = true\n", "")
    Path("own.toml").write_text(own, encoding="utf-8")
    ended = CliRunner().invoke(cli, ["book", "add", "own.holdzero", "own.toml", *files])
    assert ended.exit_code == 0, ended.output


@pytest.mark.parametrize("part", PARTS)
def test_a_part_of_an_example_stays_marked_in_a_book_that_is_none(run, part: str):
    run("keys", machine=demo.machine_toml())  # writes the files
    files, said = PARTS[part]
    into_own(*files)
    sentence = f"Of an invented example: {said}. What rests on them is not this machine's own."
    for command in ("standing", "travel", "install"):
        answer = run(command, "own.holdzero", machine=demo.machine_toml())
        assert " ".join(answer.split()).count(sentence) == 1, command
        assert json.loads(run(command, "own.holdzero", "--json", machine=demo.machine_toml()))["invented"] is True
    run("book", "write", "own.holdzero", "files", machine=demo.machine_toml())  # and in the files it writes
    again = CliRunner().invoke(cli, ["book", "add", "third.holdzero", "files"])
    assert again.exit_code == 0
    assert sentence in " ".join(run("standing", "third.holdzero", machine=demo.machine_toml()).split())
    assert sentence in " ".join(run("standing", "files", machine=demo.machine_toml()).split())


def test_every_command_marks_a_book_that_holds_parts_of_an_example(run):
    run("keys", machine=demo.machine_toml())
    into_own("s.toml", "r.csv", "w.toml", "q.toml")
    for words in COMMANDS.values():
        if "shed.holdzero" in words:
            own = ["own.holdzero" if word == "shed.holdzero" else word for word in words]
            assert "Of an invented example: " in run(*own, machine=demo.machine_toml()), own


def test_the_mark_is_gone_with_the_part(run):
    run("keys", machine=demo.machine_toml())
    into_own("s.toml", "r.csv")
    with open_book("own.holdzero") as book:
        for candidate in book.sensors(1):
            book.remove_sensor(candidate.id)
        book.remove_trial(book.trials(1)[0].id)
    assert "nvented" not in run("standing", "own.holdzero", machine=demo.machine_toml())


def test_the_log_of_an_example_stays_with_examples(run):
    """Refused where the machine is none: nobody can have logged it there."""
    run("keys", machine=demo.machine_toml())
    into_own()
    ended = CliRunner().invoke(cli, ["log", "own.holdzero", "demo.csv"], standalone_mode=False)
    assert "found a log of an invented example; needed is a log of this machine" in str(ended.exception)
