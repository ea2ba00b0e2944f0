"""What is taken of a page is what the page shows, and an example stays marked."""

import csv
import io
import re
import sqlite3
import xml.etree.ElementTree as ElementTree
import zipfile

import pytest
from openpyxl import load_workbook

from every_page import pages
from holdzero import demo
from holdzero.compute.findings import study
from holdzero.inputs.reading import read_readings
from holdzero.report import alone, printed
from holdzero.web.tables import tables_of

MARK = "made-up"  # of demo.INVENTED


@pytest.fixture(scope="module")
def taken(demo_site):
    """Return one file of a page, by the words of its link."""
    client, machine = demo_site

    def take(slug: str, named: str) -> bytes:
        listed = client.get(f"/machines/{machine}/{slug}?take=list")
        assert listed.status_code == 200, listed.text[:300]
        links = re.findall(r'href="([^"]+)"[^>]*aria-label="([^"]+)"', listed.text)
        (address, *_) = [href.replace("&amp;", "&") for href, words in links if named in words]
        answer = client.get(address)
        assert answer.status_code == 200
        assert "attachment" in answer.headers["content-disposition"]
        return answer.content

    return take


def test_a_picture_comes_as_svg_and_as_png_with_its_mark(taken):
    svg = taken("travel", ", SVG").decode()
    ElementTree.fromstring(svg)
    assert MARK in svg
    png = taken("travel", ", PNG")
    assert png.startswith(b"\x89PNG")
    width_px = int.from_bytes(png[16:20])
    wide = float(re.search(r'width="([\d.]+)"', svg)[1])
    assert width_px == pytest.approx((wide * 0.75 + 16) * alone.DOTS_PER_INCH / 72, abs=2)  # 1 px is 0.75 pt


def test_a_table_comes_as_its_page_shows_it(taken, demo_site):
    client, machine = demo_site
    rows = list(csv.reader(io.StringIO(taken("choice", "Chances, shares outside and prices, CSV").decode())))
    assert rows[0][0] == "Candidate"
    assert rows[0][-1] == "example"
    assert {row[-1] for row in rows[1:]} == {"yes"}
    choice = client.get(f"/machines/{machine}/choice.json").json()
    named = {row[0].split()[0]: row for row in rows[1:]}
    for candidate in choice["candidates"]:
        assert candidate["shown"] in " ".join(named[candidate["sensor"]])


def test_the_homings_read_back_to_the_same_figures(demo_site):
    client, machine = demo_site
    text = client.get(f"/machines/{machine}/homings.csv").text
    again, before = study(read_readings(text)), study(read_readings(demo.readings_csv()))
    assert [series.spread for series in again.findings] == [series.spread for series in before.findings]
    assert read_readings(text).example
    book = load_workbook(io.BytesIO(client.get(f"/machines/{machine}/homings.xlsx").content))
    sheet = list(book["homings"].values)
    head, rows = sheet[0], sheet[1:]
    assert len(rows) == len(text.splitlines()) - 1
    deviations = [row[head.index("deviation_mm")] for row in rows]
    assert all(isinstance(value, int | float) for value in deviations)
    assert deviations == [float(row["deviation_mm"]) for row in csv.DictReader(io.StringIO(text))]


def test_the_book_comes_whole(demo_site, tmp_path):
    client, _ = demo_site
    (tmp_path / "copy.holdzero").write_bytes(client.get("/book/copy.holdzero").content)
    copy = sqlite3.connect(tmp_path / "copy.holdzero")
    assert copy.execute("select count(*) from homings").fetchone() == (demo.READINGS,)
    copy.close()
    archive = zipfile.ZipFile(io.BytesIO(client.get("/book/archive.zip").content))
    assert {"readings.csv", "book.json"} <= set(archive.namelist())


def test_every_page_has_the_menu_and_every_file_it_names(demo_site):
    client, machine = demo_site
    for address in pages(machine, twins=False):
        page = client.get(address).text
        (menu,) = re.findall(r'href="([^"]+)">Take away', page)
        listed = client.get(menu.replace("&amp;", "&"))
        assert listed.status_code == 200, address
        twin = re.search(r'href="([^"]+)">JSON', listed.text)
        assert twin, address
        assert client.get(twin[1].replace("&amp;", "&")).headers["content-type"] == "application/json", address
        assert len(re.findall(r'class="picture"', page)) >= len(re.findall(", SVG", listed.text)), address
        assert len(tables_of(page)) == len(re.findall("table-\\d+.csv", listed.text)), address


@pytest.mark.parametrize("name", ["picture-99.svg", "picture-1.csv", "table-1.svg", "../../book", "picture-0.svg"])
def test_what_is_not_there_is_not_found(demo_site, name):
    client, machine = demo_site
    assert client.get(f"/machines/{machine}/travel", params={"take": name}).status_code == 404


def test_where_png_cannot_be_drawn_that_is_said(demo_site, monkeypatch):
    client, machine = demo_site
    monkeypatch.setattr(alone, "pdf_installed", lambda: False)
    listed = client.get(f"/machines/{machine}/travel?take=list").text
    assert "Pictures come as SVG alone" in listed
    assert ", SVG" in listed
    assert ", PNG" not in listed


def test_words_for_whoever_cannot_see_stand_in_only_where_nothing_else_does():
    page = (
        "<h2>Here</h2><table><tr><th>a</th><th>b</th><th>c</th></tr>"
        '<tr><th><a href="/">K<span class="hidden">, open it</span></a></th>'
        '<td><span aria-hidden="true">✓</span><span class="hidden">holds</span></td><td>1\u202fmm</td></tr>'
        '<tr><th>N</th><td colspan="2">not made <svg><text>drawn</text></svg></td></tr></table>'
    )
    (table,) = tables_of(page)
    assert (table.title, table.rows[1:]) == ("Here", [["K", "holds", "1 mm"], ["N", "not made", ""]])


@pytest.mark.parametrize(("slug", "label"), [("record", "HTML that prints the same"), ("plan", "as HTML")])
def test_the_button_says_what_comes_where_there_is_no_pdf_part(demo_site, monkeypatch, slug, label):
    client, machine = demo_site
    assert "PDF" in client.get(f"/machines/{machine}/{slug}").text
    monkeypatch.setattr(printed, "pdf_installed", lambda: False)
    assert label in client.get(f"/machines/{machine}/{slug}").text
