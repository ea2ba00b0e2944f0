"""A workbook is a readings file: what it says is what the same table says as CSV."""

import json
import sys

import openpyxl
import pytest

from holdzero.cli import main

ROWS = [("side", "set", "deviation_um"), *(("L", 1 + i // 5, (i * 7) % 11 - 4.5) for i in range(20))]


@pytest.fixture
def terminal(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        return ended.value.code, out, err

    return run


def test_study_reads_a_workbook_and_says_what_it_took(tmp_path, terminal):
    table = openpyxl.Workbook()
    for row in ROWS:
        table.active.append(row)
    table.save(tmp_path / "trial.xlsx")
    (tmp_path / "trial.csv").write_text("\n".join(",".join(map(str, row)) for row in ROWS) + "\n")
    _, of_table, beside = terminal("study", tmp_path / "trial.xlsx", "--json")
    _, of_text, silent = terminal("study", tmp_path / "trial.csv", "--json")
    from_table, from_text = json.loads(of_table)["sensors"], json.loads(of_text)["sensors"]
    assert from_table == from_text
    assert "“deviation_um” as deviation in um" in beside
    assert silent == ""


def test_an_archive_that_is_no_workbook_is_refused(tmp_path, terminal):
    (tmp_path / "trial.xlsx").write_bytes(b"PK\x03\x04 and nothing more")
    status, _, beside = terminal("study", tmp_path / "trial.xlsx")
    assert status == 2
    assert "not a whole XLSX workbook" in beside
    assert len(beside.splitlines()) == 1
