"""Lean: what a command leaves out because nobody asked for it."""

import os
import sys

import pytest

from holdzero.cli import ONE_CORE, import_, main


@pytest.fixture
def terminal(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


def test_matrix_products_keep_to_one_core_unless_told_otherwise(monkeypatch, terminal):
    for name in ONE_CORE:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv(ONE_CORE[1], "4")
    assert terminal("--version")[0] == 0
    assert [os.environ[name] for name in ONE_CORE] == ["1", "4", "1"]


def test_the_columns_of_a_readings_file_are_told_from_its_first_rows(monkeypatch, terminal, tmp_path):
    read_grid, seen = import_.read_grid, []

    def watched(*words, **how):
        seen.append(read_grid(*words, **how))
        return seen[-1]

    monkeypatch.setattr(import_, "read_grid", watched)
    table = tmp_path / "long.csv"
    table.write_text("set,deviation_mm\n" + "".join(f"{i // 100 + 1},{i % 7 / 1000}\n" for i in range(2000)))
    status, out, _ = terminal("import", table)
    assert status == 0
    assert "2000 readings" in out
    assert [len(grid.rows) for grid in seen] == [401]
    table.write_text(table.read_text().replace("deviation_mm", "Dial (mm)"))
    assert "2000 readings" in terminal("import", table)[1]
    assert len(seen[-1].rows) == 2001
