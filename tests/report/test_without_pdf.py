"""Where the PDF part is not installed everything else works, and what was asked for as PDF comes as a page."""

import sys
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import holdzero as hz
from holdzero import demo
from holdzero.cli import main
from holdzero.errors import MissingExtra
from holdzero.report.pdf import record_pdf
from holdzero.report.printed import NO_PDF, pdf_installed
from holdzero.store import open_book
from holdzero.web.app import create_app
from ready_books import keep_demo


@pytest.fixture
def without(monkeypatch):
    """A computer without typst."""
    monkeypatch.setitem(sys.modules, "typst", None)
    assert not pdf_installed()


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "demo.holdzero"
    with open_book(path) as book:
        keep_demo(book)
    return path


def run(monkeypatch, *words):
    monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
    with pytest.raises(SystemExit) as ended:
        main()
    return ended.value.code


def test_the_terminal_writes_a_page_and_says_so_once(without, kept, tmp_path, monkeypatch, capsys):
    both = ("-o", tmp_path / "record.pdf", "-o", tmp_path / "record.html")
    assert run(monkeypatch, "record", kept, *both) == 0
    told = capsys.readouterr()
    assert told.err.strip() == NO_PDF
    assert f"Written: {tmp_path / 'record.html'}" in " ".join(told.out.split())
    assert [path.name for path in Path(tmp_path).iterdir()] == ["record.html"]
    assert run(monkeypatch, "plan", "--sheet", tmp_path / "sheet.pdf") == 0
    assert (tmp_path / "sheet.html").read_bytes().startswith(b"<!doctype html>")


def test_it_is_the_page_that_would_be_made_anyway(without, kept, tmp_path):
    record = hz.record(kept)
    with pytest.warns(UserWarning, match="made as HTML"):
        assert record.write(tmp_path / "record.pdf") == tmp_path / "record.html"
    instead = (tmp_path / "record.html").read_bytes()
    record.write(tmp_path / "again.html")
    assert instead == (tmp_path / "again.html").read_bytes()


def test_it_never_takes_the_place_of_a_file_that_is_no_page(without, kept, tmp_path):
    (tmp_path / "record.html").write_text("my own notes")
    with pytest.raises(ValueError, match="another file"):
        hz.record(kept).write(tmp_path / "record.pdf")
    assert (tmp_path / "record.html").read_text() == "my own notes"


def test_the_pages_say_so_and_give_the_page(without, kept):
    with open_book(kept) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
        assert NO_PDF.split(",")[0] in client.get("/machines/1/record").text
        for address in ("record", "install", "plan/sheet"):
            answer = client.get(f"/machines/1/{address}.pdf")
            assert answer.headers["content-type"].startswith("text/html")
            assert answer.headers["content-disposition"].endswith('.html"')
            assert answer.text.startswith("<!doctype html>")


def test_who_asks_for_a_pdf_itself_is_told_what_to_install(without, kept):
    with pytest.raises(MissingExtra, match=r"holdzero\[pdf\]"):
        record_pdf(hz.record(kept).result)


def test_with_it_nothing_is_said(kept, tmp_path, monkeypatch, capsys):
    (tmp_path / "machine.toml").write_text(demo.machine_toml())
    assert pdf_installed()
    assert run(monkeypatch, "plan", "--machine", tmp_path / "machine.toml", "--sheet", tmp_path / "sheet.pdf") == 0
    assert capsys.readouterr().err == f"Written: {tmp_path / 'sheet.pdf'}\n"
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")
