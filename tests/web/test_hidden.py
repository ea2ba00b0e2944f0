"""Taken away and back: said before, undone at once and later, with all that was read."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero import demo as invented
from holdzero.store import Book

HOMINGS = 2 * invented.POWER_UPS * invented.HOMINGS  # of one candidate, both sides


def bar(page: str) -> str:
    return page.partition('<div class="told">')[2].partition("</div>")[0]


def undo(client: TestClient, page: str) -> str:
    return client.post(re.search(r'action="([^"]+)"', bar(page))[1]).text


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.fixture
def candidate(book: Book, demo: int) -> int:
    return next(kept.id for kept in book.sensors(demo) if kept.sensor.name == invented.STRAYS)


class TestCandidate:
    """Out of the choice: no homing and no data sheet is lost."""

    def test_what_happens_is_said_before(self, client: TestClient, demo: int, candidate: int):
        page = client.get(f"/machines/{demo}/sensors").text
        form = page.partition(f'id="sensor-{candidate}"')[2].partition("</form>")[0]
        assert f"its {HOMINGS} homings stay in the book, and it can be put back below" in words(form)

    def test_undone_at_once_and_later(self, client: TestClient, book: Book, demo: int, candidate: int):
        before = client.get(f"/machines/{demo}/choice.json").json()
        page = client.post(f"/machines/{demo}/sensors/{candidate}/remove").text
        assert f"{invented.STRAYS} is out of the choice. Its data sheet and {HOMINGS} homings stay" in bar(page)
        listed = page.partition('id="out"')[2]
        assert f"<b>{invented.STRAYS}</b>, {HOMINGS} homings" in listed
        assert "not in the choice" in client.get(f"/machines/{demo}/findings").text
        assert f"{invented.STRAYS} is in the choice again" in undo(client, page)
        assert client.get(f"/machines/{demo}/choice.json").json() == before
        client.post(f"/machines/{demo}/sensors/{candidate}/remove")
        client.post(re.search(r'action="([^"]+/back)"', listed)[1])
        assert client.get(f"/machines/{demo}/choice.json").json() == before

    def test_added_again_it_has_its_data_sheet_and_its_homings(
        self, client: TestClient, book: Book, demo: int, candidate: int
    ):
        sheet = dict(book.sensor(candidate).document)
        client.post(f"/machines/{demo}/sensors/{candidate}/remove")
        page = client.post(f"/machines/{demo}/sensors", data={"name": invented.STRAYS, "price": "7"}).text
        assert f"with its data sheet and {HOMINGS} homings" in bar(page)
        (kept,) = (kept for kept in book.sensors(demo) if kept.sensor.name == invented.STRAYS)
        assert kept.sensor.price == 7
        assert {key: text for key, text in kept.document.items() if key != "price"} == {
            key: text for key, text in sheet.items() if key != "price"
        }

    def test_renamed_it_keeps_them(self, client: TestClient, book: Book, demo: int, candidate: int):
        client.post(f"/machines/{demo}/sensors/{candidate}", data={"name": "Stylus"})
        assert book.homings_of(demo, "Stylus") == HOMINGS

    def test_a_name_with_homings_of_another_is_refused_at_the_field(
        self, client: TestClient, book: Book, demo: int, candidate: int
    ):
        client.post(f"/machines/{demo}/sensors/{candidate}/remove")
        other = book.sensors(demo)[0].id
        answer = client.post(f"/machines/{demo}/sensors/{other}", data={"name": invented.STRAYS})
        assert answer.status_code == 422
        assert "choose another name, or put that candidate back" in answer.text


class TestMachine:
    """Out of sight."""

    def test_undone_at_once_and_later(self, client: TestClient, book: Book, demo: int):
        assert "put back at once, and later" in client.get(f"/machines/{demo}/machine").text
        page = client.post(f"/machines/{demo}/remove").text
        assert "out of sight" in bar(page)
        assert "1 machine out of sight" in page
        assert book.machines() == ()
        assert "The machine is back" in bar(undo(client, page))
        client.post(f"/machines/{demo}/remove")
        later = client.get("/").text
        client.post(re.search(r'action="(/machines/\d+/back)"', later.partition('id="out"')[2])[1])
        assert [kept.id for kept in book.machines()] == [demo]

    def test_an_unknown_one_is_said(self, client: TestClient):
        assert client.post("/machines/77/back").status_code == 404
        assert client.post(f"/machines/{'9' * 30}/back").status_code == 404


class TestTrial:
    """Left out."""

    def test_undone_at_once(self, client: TestClient, book: Book, demo: int):
        before = client.get(f"/machines/{demo}/choice.json").json()["candidates"]
        page = client.post("/trials/1/leave-out", data={"reason": "the bracket was loose"}).text
        assert "is left out: the bracket was loose." in bar(page)
        assert client.get(f"/machines/{demo}/choice.json").json().get("candidates") != before
        assert "counts again" in bar(undo(client, page))
        assert client.get(f"/machines/{demo}/choice.json").json()["candidates"] == before

    def test_a_reading_too(self, client: TestClient, book: Book, demo: int):
        row = book.rows(1)[0]
        page = client.post(f"/readings/{row.id}/leave-out", data={"reason": "bumped"}).text
        assert "Left out: bumped." in bar(page)
        undo(client, page)
        assert book.row(row.id)[0].left_out == ""


def test_a_message_stands_at_the_foot_of_the_screen_once(client: TestClient, demo: int, candidate: int):
    """Behind everything else of the page, so that it sticks to the foot of the screen; gone on the next page."""
    page = client.post(f"/machines/{demo}/sensors/{candidate}/remove").text
    main = page.partition("<main")[2].partition("</main>")[0]
    assert main.rstrip().endswith("</div>")
    assert main.index('class="told"') > main.index("</ul>")
    assert 'class="told"' not in client.get(f"/machines/{demo}/sensors").text
