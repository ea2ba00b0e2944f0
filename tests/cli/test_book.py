"""`holdzero book` and `holdzero import`: one sentence each, and the exit status."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero.cli import cli
from holdzero.errors import InputError
from holdzero.store import open_book

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
TABLE = "Set;Dial (thou)\n1;0,5\n1;-0,2\nmean;0,15\n"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    with open_book(tmp_path / "shed.holdzero") as opened:
        opened.add_machine(MACHINE)
    return tmp_path / "shed.holdzero"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    (tmp_path / "monday.csv").write_text(TABLE)
    return tmp_path / "monday.csv"


def run(*words: object, status: int = 0) -> str:
    """Run a command; its status is what it returns."""
    found = []
    runner = CliRunner()
    with runner.isolation() as (out, _, _):
        found.append(cli.main([str(word) for word in words], standalone_mode=False))
        said = out.getvalue().decode()
    assert (found[0] or 0) == status, said
    return said


def test_a_book_goes_out_and_comes_back(book: Path, tmp_path: Path):
    assert "is whole: 1 machine, 0 sensors, 0 trials, 0 readings" in run("book", "check", book)
    assert "1 machine" in run("book", "backup", book)
    assert len(list(tmp_path.glob("shed-20*.holdzero"))) == 1
    run("book", "export", book, tmp_path / "shed.zip")
    run("book", "import", tmp_path / "shed.zip", tmp_path / "again.holdzero")
    run("book", "rescue", book, tmp_path / "rescued.holdzero")
    for name in ("again", "rescued"):
        with open_book(tmp_path / f"{name}.holdzero", create=False) as opened:
            assert opened.machines()[0].document == MACHINE


def test_a_damaged_book_ends_with_1(book: Path):
    with book.open("r+b") as out:
        out.seek(3 * 4096)
        out.write(b"\xff" * 4096)
    assert "The file:" in run("book", "check", book, status=1)


class TestImport:
    """Preview, column chooser, unit, what was left out and why, twice is noticed."""

    def test_it_is_shown_and_not_kept_without_a_book(self, table: Path):
        said = run("import", table)
        assert "deviation" in said
        assert "Line 4 is left out, it looks like a summary: mean; 0,15" in said
        assert "2 readings. Nothing is kept" in said

    def test_it_is_kept_once(self, table: Path, book: Path):
        run("import", table, "--book", book, "--sensor", "A", "--axis", "X", "--resolution", "0.1 thou")
        with open_book(book) as opened:
            (group,) = opened.readings(1).groups
            assert group.deviation_mm.tolist() == pytest.approx([0.0127, -0.00508])  # 25.4 um a thou
            assert (group.sensor, group.axis, group.resolution_mm) == ("A", "X", 0.00254)
            assert opened.trial(1).name == "monday"
        with pytest.raises(InputError, match=r"came in before.*--again"):
            run("import", table, "--book", book, "--sensor", "A", "--axis", "X", "--resolution", "0.1 thou")

    def test_columns_can_be_chosen(self, table: Path):
        said = run("import", table, "--column", "1=none", "--unit", "um")
        set_column, dial = (line.split() for line in said.splitlines() if line[:1] in ("1", "2") and "  " in line)
        assert set_column[2] == "–"
        assert dial[3:5] == ["deviation", "um"]  # of Dial (thou)
        with pytest.raises(InputError, match=r"a number from 1 to 2"):
            run("import", table, "--column", "3=deviation")

    def test_a_program_gets_the_same_as_json(self, table: Path, book: Path):
        shown = json.loads(run("import", table, "--json"))
        assert shown["columns"][1] == {
            "column": 2,
            "heading": "Dial (thou)",
            "taken_as": "deviation",
            "unit": "thou",
            "why": shown["columns"][1]["why"],
        }
        assert (shown["readings_n"], shown["spans_n"], shown["kept"]) == (2, 0, None)
        assert shown["left_out"] == [{"line": 4, "text": "mean; 0,15", "why": "it looks like a summary"}]
        kept = json.loads(run("import", table, "--book", book, "--json"))["kept"]
        assert kept == {"machine": "Bench mill", "trial": "monday", "readings_n": 2, "spans_n": 0}

    def test_the_machine_must_be_clear(self, table: Path, book: Path):
        with open_book(book) as opened:
            opened.add_machine({"machine": {"name": "Router"}, "axes": {"X": {}}})
        with pytest.raises(InputError, match=r"one of: Bench mill, Router"):
            run("import", table, "--book", book)


def test_what_came_in_is_listed_taken_back_and_counted_again(book: Path, table: Path):
    run("import", table, "--book", book)
    assert "2  counts" in run("book", "imports", book)
    with open_book(book) as opened:
        before = opened.readings(1).digest
    said = run("book", "imports", book, "--back", 1)
    assert "2 readings taken back. What counted before it counts." in said
    with open_book(book) as opened:
        assert opened.readings(1).groups == ()
    said = run("book", "imports", book, "--again", 1, "--json")
    assert '"taken_back": null' in said
    with open_book(book) as opened:
        assert opened.readings(1).digest == before
