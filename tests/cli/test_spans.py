"""Spans from the terminal: a file, a workbook, and a book that does not take them."""

import json
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from holdzero import demo

ROWS = [["sensor", "axis", "side", "set", "least_mm", "greatest_mm", "n"]] + [
    ["H", "Y", "L", i, -0.001 * i, 0.004 + 0.001 * (i % 3), 6] for i in range(1, 9)
]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "holdzero", *words], capture_output=True, text=True, check=False)


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
        json.loads(run("study", str(folder / name), "--json").stdout)["spans"]
        for name in ("spans.csv", "spans.xlsx")
    )
    assert by_file == by_workbook
    assert by_file[0]["sets"] == 8


def test_study_and_choose_in_words(folder: Path):
    answer = run("study", str(folder / "spans.csv")).stdout
    assert answer.startswith("Spans alone cannot show the tails")
    assert "By spans alone" in run("study", str(folder / "spans.csv"), "--full").stdout
    named = ["--machine", str(folder / "machine.toml"), "--sensors", str(folder / "sensors.toml")]
    said = " ".join(run("choose", str(folder / "spans.xlsx"), "--full", *named).stdout.split())
    assert "H (14.50): too close to call" in said
    assert "Spans alone: the readings are missing." in said


def test_a_book_does_not_take_them(folder: Path):
    refused = run("import", str(folder / "spans.xlsx"))
    assert refused.returncode != 0
    assert "a book keeps every homing" in refused.stderr
