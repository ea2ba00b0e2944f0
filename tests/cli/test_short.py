"""Short: a command answers in at most 24 lines of 80 columns; the rest and the meaning come when asked for."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from holdzero import demo

ANSWERS = {
    "study": "study readings.csv --machine machine.toml",
    "choose": "choose readings.csv --machine machine.toml --sensors sensors.toml",
    "standing": "standing machine.toml readings.csv --sensors sensors.toml",
    "wiring": "wiring wiring.toml",
    "plan": "plan --machine machine.toml --sensors sensors.toml",
    "square": "square measured.toml",
    "travel": "travel machine.toml",
    "budget": "budget machine.toml readings.csv --sensors sensors.toml",
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
    }
    for name, text in texts.items():
        (made / name).write_text(text, encoding="utf-8")
    return made


def printed(folder: Path, words: str) -> str:
    """What a command prints where its answer goes to a file."""
    command = [sys.executable, "-m", "holdzero", *words.split()]
    answer = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert answer.returncode in (0, 1), answer.stderr
    return answer.stdout


@pytest.mark.parametrize("words", ANSWERS.values(), ids=ANSWERS)
def test_the_answer_of_the_demo_fits_a_screen(folder, words):
    lines = printed(folder, words).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert re.search("--(full|explain)", lines[-1])


@pytest.mark.parametrize("words", ANSWERS.values(), ids=ANSWERS)
def test_everything_is_there_when_asked_for(folder, words):
    short, full, explained = (printed(folder, words + more) for more in ("", " --full", " --explain"))
    assert "--full" not in short or len(full.splitlines()) > len(short.splitlines())
    assert max(map(len, full.splitlines())) <= 80
    assert full.splitlines()[0] == short.splitlines()[0]
    assert len(explained.splitlines()) > len(short.splitlines())


@pytest.mark.parametrize("command", ["study", "choose"])
def test_every_candidate_has_its_row(folder, command):
    rows = [line.split()[0] for line in printed(folder, ANSWERS[command]).splitlines() if line]
    assert {planted.sensor for planted in demo.PLANTED} <= set(rows)
