"""Short: a command answers in at most 24 lines of 80 columns; the rest and the meaning come when asked for."""

import re
from contextlib import chdir, redirect_stderr, redirect_stdout
from functools import cache
from io import StringIO
from pathlib import Path

import pytest

from holdzero import demo
from holdzero.cli import cli
from holdzero.store import open_book
from ready_books import keep_demo

ANSWERS = {
    "study": "study readings.csv --machine machine.toml",
    "choose": "choose readings.csv --machine machine.toml --sensors sensors.toml",
    "standing": "standing machine.toml readings.csv --sensors sensors.toml",
    "wiring": "wiring wiring.toml",
    "plan": "plan --machine machine.toml --sensors sensors.toml",
    "square": "square measured.toml",
    "travel": "travel machine.toml",
    "budget": "budget machine.toml readings.csv --sensors sensors.toml",
    "watch": "watch log.csv --machine machine.toml",
    "fleet": "fleet log.csv --machine machine.toml",
    "log": "log shed.holdzero",
    "import": "import readings.csv",
    "record": "record readings.csv --machine machine.toml --sensors sensors.toml -o record.html",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("demo")
    texts = {
        "machine.toml": demo.machine_toml(),
        "sensors.toml": demo.sensors_toml(),
        "readings.csv": demo.readings_csv(),
        "wiring.toml": demo.wiring_toml(),
        "measured.toml": demo.square_toml(),
        "log.csv": demo.log_csv(),
    }
    for name, text in texts.items():
        (made / name).write_text(text, encoding="utf-8")
    with open_book(made / "shed.holdzero") as book:
        keep_demo(book)
    return made


@pytest.fixture(scope="module")
def printed(folder):
    """What a command prints where its answer goes to a file, each run once."""

    @cache
    def run(words: str) -> str:
        answer = StringIO()
        with chdir(folder), redirect_stdout(answer), redirect_stderr(StringIO()):
            assert cli.main(words.split(), standalone_mode=False) in (None, 0, 1)
        return answer.getvalue()

    return run


@pytest.mark.parametrize("words", ANSWERS.values(), ids=ANSWERS)
def test_the_answer_of_the_demo_fits_a_screen(printed, words):
    lines = printed(words).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert re.search("--(full|explain)", lines[-1])


@pytest.mark.parametrize("words", ANSWERS.values(), ids=ANSWERS)
def test_everything_is_there_when_asked_for(printed, words):
    short, full, explained = (printed(words + more) for more in ("", " --full", " --explain"))
    assert "--full" not in short or len(full.splitlines()) > len(short.splitlines())
    assert max(map(len, full.splitlines())) <= 80
    assert full.splitlines()[0] == short.splitlines()[0]
    assert len(explained.splitlines()) > len(short.splitlines())


@pytest.mark.parametrize("command", ["study", "choose"])
def test_every_candidate_has_its_row(printed, command):
    rows = [line.split()[0] for line in printed(ANSWERS[command]).splitlines() if line]
    assert {planted.sensor for planted in demo.PLANTED} <= set(rows)


def test_the_plan_shows_all_that_holds_asks_for(printed):
    lines = printed(ANSWERS["plan"])
    assert "more point" not in lines
    assert all(ask in lines for ask in ("10 readings", "At least 4 power-ups", "another day", "has settled"))
