"""An axis or a circuit taken off a machine comes back whole: at once by the bar, later from where it is listed."""

import re

from starlette.testclient import TestClient

from holdzero import demo as invented
from holdzero.case.circuits import SHEET
from holdzero.form import read_toml
from holdzero.store import Book


def undo(client: TestClient, page: str):
    told = page.partition('<div class="told">')[2].partition("</div>")[0]
    return client.post(re.search(r'action="([^"]+)"', told)[1])


def listed(page: str) -> str:
    return page.partition('id="out"')[2].partition("</ul>")[0]


def test_an_axis_comes_back_with_its_figures_where_it_stood(client: TestClient, book: Book):
    axes = {"X": {"travel": "600 mm"}, "Y": {"motors": 1, "lead": "10 mm"}, "Z": {"travel": "90 mm"}}
    machine = book.add_machine({"machine": {"name": "Mill"}, "axes": axes})
    form = (
        client.get(f"/machines/{machine}/machine").text.partition('id="without-axis"')[2].partition("</form>")[0]
    )
    assert "they stay in the book" in form
    page = client.post(f"/machines/{machine}/axes/remove", data={"axis": "Y"}).text
    assert list(book.machine(machine).document["axes"]) == ["X", "Z"]
    assert "Axis Y is off" in page
    assert "Axis Y" in listed(page)
    page = undo(client, page).text
    assert book.machine(machine).document["axes"] == axes
    assert list(book.machine(machine).document["axes"]) == ["X", "Y", "Z"]
    assert listed(page) == ""
    page = client.post(f"/machines/{machine}/axes/remove", data={"axis": "Y"}).text
    client.post(f"/machines/{machine}/axes", data={"axis": "Y"})
    back = re.search(r'action="([^"]+/back/\d+)"', listed(page))[1]
    refused = client.post(back)
    assert refused.status_code == 422
    assert "give that one another name first" in refused.text
    assert "Axis Y" in listed(refused.text)  # nothing is lost by trying
    client.post(f"/machines/{machine}/axes/rename", data={"axis": "Y", "name": "A"})
    client.post(back)
    assert book.machine(machine).document["axes"]["Y"] == axes["Y"]
    assert client.post(back).status_code == 404  # twice is once


def test_a_circuit_comes_back_where_it_stood(client: TestClient, book: Book, demo: int):
    book.add_sheet(demo, SHEET, read_toml(invented.wiring_toml()))
    before = client.get(f"/machines/{demo}/wiring.json").json()
    count = len(before["circuits"])
    assert count > 1
    page = client.post(f"/machines/{demo}/wiring/1/remove").text
    assert len(client.get(f"/machines/{demo}/wiring.json").json()["circuits"]) == count - 1
    assert "Its figures stay in the book" in page
    back = re.search(r'action="([^"]+/back/\d+)"', listed(page))[1]
    undo(client, page)
    assert client.get(f"/machines/{demo}/wiring.json").json() == before
    assert client.post(back).status_code == 404
    for _ in range(count):
        page = client.post(f"/machines/{demo}/wiring/1/remove").text
    assert listed(page).count("Put it back") == count
    for address in re.findall(r'action="([^"]+/back/\d+)"', listed(page)):
        client.post(address)
    assert client.get(f"/machines/{demo}/wiring.json").json() == before
