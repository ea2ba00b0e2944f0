"""Spans from the terminal: a file, a workbook, and a book."""

import json
from pathlib import Path

import openpyxl
import pytest

from holdzero import demo
from holdzero.form import read_toml
from holdzero.store import open_book
from in_process import run

ROWS = [["sensor", "axis", "side", "set", "least_mm", "greatest_mm", "n"]] + [
    ["H", "Y", "L", i, -0.001 * i, 0.004 + 0.001 * (i % 3), 6] for i in range(1, 9)
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("spans")
    (folder / "machine.toml").write_text(demo.machine_toml(), encoding="utf-8")
    (folder / "sensors.toml").write_text(demo.sensors_toml(), encoding="utf-8")
    (folder / "spans.csv").write_text("\n".join(",".join(map(str, row)) for row in ROWS), encoding="utf-8")
    book = openpyxl.Workbook()
    for row in ROWS:
        book.active.append(row)
    book.save(folder / "spans.xlsx")
    return folder


def test_file_and_workbook_say_the_same(folder: Path):
    by_file, by_workbook = (
        json.loads(run("study", str(folder / name), "--json").stdout.decode())["spans"]
        for name in ("spans.csv", "spans.xlsx")
    )
    assert by_file == by_workbook
    assert by_file[0]["sets"] == 8


def test_study_and_choose_in_words(folder: Path):
    answer = run("study", str(folder / "spans.csv")).stdout.decode()
    assert answer.startswith("Spans alone cannot show the tails")
    assert "By spans alone" in run("study", str(folder / "spans.csv"), "--full").stdout.decode()
    named = ["--machine", str(folder / "machine.toml"), "--sensors", str(folder / "sensors.toml")]
    said = " ".join(run("choose", str(folder / "spans.xlsx"), "--full", *named).stdout.decode().split())
    assert "H (14.50): too close to call" in said
    assert "Spans alone: the readings are missing." in said


@pytest.mark.parametrize("name", ["spans.csv", "spans.xlsx"])
def test_a_book_takes_them(folder: Path, tmp_path: Path, name: str):
    assert "8 spans. Nothing is kept" in run("import", str(folder / name)).stdout.decode()
    book = tmp_path / "shed.holdzero"
    with open_book(book) as opened:
        machine = opened.add_machine(read_toml(demo.machine_toml()))
        for sensor, keys in read_toml(demo.sensors_toml())["sensors"].items():
            opened.add_sensor(machine, sensor, keys)
    kept = run("import", str(folder / name), "--book", str(book))
    assert "8 spans came into the trial “spans”" in kept.stdout.decode()
    named = ["--machine", str(folder / "machine.toml"), "--sensors", str(folder / "sensors.toml")]
    by_book, by_file = (
        json.loads(run("choose", *words, "--json").stdout.decode())["candidates"]
        for words in ([str(book)], [str(folder / name), *named])
    )
    assert by_book == by_file
    assert any(candidate["spans"] for candidate in by_book)
