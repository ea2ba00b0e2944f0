"""`holdzero record` on the demo's files: what a person types, and what comes out (design 13)."""

import sys

import pytest

from holdzero.cli import main
from holdzero.demo import machine_toml, readings_csv, sensors_toml


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in (("m.toml", machine_toml()), ("s.toml", sensors_toml()), ("r.csv", readings_csv())):
        (tmp_path / name).write_text(text)
    return tmp_path


def run(monkeypatch, *words):
    """Run the command line; return its exit status."""
    monkeypatch.setattr(sys, "argv", ["holdzero", "record", "--machine", "m.toml", "--sensors", "s.toml", *words])
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code


def test_pdf_and_page(files, monkeypatch, capsys):
    assert run(monkeypatch, "r.csv", "-o", "record.pdf", "--invented") == 0
    assert capsys.readouterr().out == "B holds zero on axis Y. Written: record.pdf\n"
    first = (files / "record.pdf").read_bytes()
    assert first.startswith(b"%PDF-1.7")
    assert run(monkeypatch, "r.csv", "-o", "record.pdf", "--invented") == 0
    assert (files / "record.pdf").read_bytes() == first
    assert run(monkeypatch, "r.csv", "-o", "record.html", "--units", "inch") == 0
    page = (files / "record.html").read_text(encoding="utf-8")
    assert "Day: 2026-03-15" in page  # the day of the last reading
    assert "Lengths in thou" in page


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("r.csv", "-o", "record.doc"), "ends in .pdf or .html"),
        (("none.csv", "-o", "record.pdf"), "no such file or directory"),
        (("r.csv", "-o", "nowhere/record.html"), "check the folder"),
        (("r.csv", "-o", "record.pdf", "--day", "15.3.2026"), "YYYY-MM-DD"),
    ],
)
def test_bad_input_is_one_line_and_status_2(files, monkeypatch, capsys, words, says):
    assert run(monkeypatch, *words) == 2
    line = capsys.readouterr().err
    assert says in line
    assert line.count("\n") == 1
