"""A slip in one machine's figures: a page in words, and everything else goes on."""

import logging

import pytest
from starlette.requests import ClientDisconnect
from starlette.testclient import TestClient

from holdzero.case import on_axis, remembered
from holdzero.store import Book
from holdzero.web.contained import Contained
from holdzero.web.stations import findings, machine, travel
from two_sides import Read, kept_trial

READS = tuple(Read(side, str(at), 1, 0.004 * at) for at in range(1, 4) for side in "LR")


@pytest.fixture
def gantry(book: Book) -> int:
    return kept_trial(book, READS)


def breaks(*_: object, **__: object) -> None:
    raise ZeroDivisionError("planted")


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> None:
    """No study and no choice can be worked out, of any machine."""
    monkeypatch.setattr(remembered, "study", breaks)
    monkeypatch.setattr(remembered, "choose", breaks)
    monkeypatch.setattr(remembered, "_answers", remembered.Remembered(most_bytes=1))


@pytest.mark.usefixtures("failing")
class TestFiguresThatFail:
    """Neither study nor choice can be had, as after a slip in the computing."""

    def test_their_page_says_so_in_words(self, client: TestClient, gantry: int, caplog: pytest.LogCaptureFixture):
        page = client.get(f"/machines/{gantry}/findings")
        assert page.status_code == 500
        assert "Something went wrong while working out what the homings say." in page.text
        assert 'href="/"' in page.text
        assert f'href="/machines/{gantry}/trial"' in page.text
        assert "planted" not in page.text
        assert "Traceback" not in page.text
        assert any("planted" in (record.exc_text or str(record.exc_info)) for record in caplog.records)
        assert page.headers["content-security-policy"]

    def test_the_twin_says_so_too(self, client: TestClient, gantry: int):
        answer = client.get(f"/machines/{gantry}/findings.json")
        assert answer.status_code == 500
        assert "went wrong" in answer.json()["error"]["sentence"]

    def test_the_book_and_the_inputs_stay_open(self, client: TestClient, gantry: int):
        start = client.get("/")
        assert start.status_code == 200
        assert "went wrong while working out" in start.text
        for slug in ("machine", "sensors", "trial", "travel", "wiring"):
            assert client.get(f"/machines/{gantry}/{slug}").status_code == 200, slug
        assert "went wrong while working out what the homings say" in client.get(f"/machines/{gantry}/trial").text

    def test_a_reading_is_still_kept_and_a_machine_still_changed(
        self, client: TestClient, book: Book, gantry: int
    ):
        trial = book.trials(gantry)[0].id
        where = {"sensor": "A", "axis": "Y", "side": "L", "sides": "both", "set": "3", "homing": "2"}
        assert client.post(f"/trials/{trial}/readings", data=where | {"deviation": "0.013"}).status_code == 200
        assert len(book.rows(trial)) == len(READS) + 1
        typed = {"machine.name": "Bridge", "requirement.position": "0.2 mm"}
        assert client.post(f"/machines/{gantry}/machine", data=typed).status_code == 200
        assert book.machine(gantry).machine.name == "Bridge"

    def test_choice_and_record(self, client: TestClient, gantry: int):
        for slug in ("choice", "record"):
            assert client.get(f"/machines/{gantry}/{slug}").status_code == 500


class TestDrawingsThatFail:
    """Single figures and drawings of a page cannot be had."""

    def test_the_fields_of_the_machine_stay(
        self, client: TestClient, gantry: int, monkeypatch: pytest.MonkeyPatch
    ):
        for name in ("machine_picture", "plan_view"):
            monkeypatch.setattr(machine, name, breaks)
        monkeypatch.setattr(on_axis, "allowed_spread", breaks)
        monkeypatch.setattr(travel.OnRail, "standing", property(breaks))
        page = client.get(f"/machines/{gantry}/machine")
        assert page.status_code == 200
        assert 'name="machine.name"' in page.text
        assert "went wrong while working out the spread Y may have" in page.text

    def test_a_page_that_nobody_foresaw(
        self, client: TestClient, gantry: int, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ):
        monkeypatch.setattr(findings, "readings_picture", breaks)
        page = client.get(f"/machines/{gantry}/findings?sensor=A")
        assert page.status_code == 500
        assert "Something went wrong while working out the page Findings." in page.text
        assert [record for record in caplog.records if record.levelno == logging.ERROR]
        assert client.get(f"/machines/{gantry}/choice").status_code == 200

    def test_where_not_even_that_page_can_be_drawn(
        self, client: TestClient, gantry: int, monkeypatch: pytest.MonkeyPatch
    ):
        monkeypatch.setattr(findings, "readings_picture", breaks)
        monkeypatch.setattr(Book, "system", property(breaks))
        page = client.get(f"/machines/{gantry}/findings")
        assert page.status_code == 500
        assert 'href="/"' in page.text


def test_who_goes_away_in_the_midst_of_sending_is_no_slip(caplog: pytest.LogCaptureFixture):
    async def gone(*_: object) -> None:
        raise ClientDisconnect

    with pytest.raises(StopIteration):  # it is through at once, and raises nothing else
        Contained(gone, page=None)({"type": "http"}, None, None).send(None)
    assert caplog.text == ""
