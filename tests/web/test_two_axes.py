"""Two axes on two motors: the person says which one the pages look at; the machine's standing stays the same."""

from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from case.books import BOOKS, make
from holdzero.case import Case
from holdzero.case.in_book import RECORD, InBook
from holdzero.compute.choose import choice_as_json
from holdzero.store import Book, open_book
from holdzero.web.app import create_app
from holdzero.web.case import OpenCase


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory):
    path: Path = tmp_path_factory.mktemp("axes") / "two.holdzero"
    make(path, BOOKS["two axes on two motors"])
    with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
        yield book, client


def named(book: Book, axis: str) -> Case:
    """The case as the terminal has it with --axis."""
    basis = InBook(book, book.machine(1))
    return Case(basis.with_how(replace(basis.how, axis=axis)))


def test_nobody_has_to_guess_which_axis_is_meant(opened):
    """Each page offers both, as plain links, and says what is missing until one is chosen."""
    _, client = opened
    page = client.get("/machines/1/choice").text
    assert "Cannot say yet which candidate holds" in page
    assert 'href="/machines/1/choice?look_at=A"' in page
    for slug in ("findings", "record"):
        assert f'href="/machines/1/{slug}?look_at=A"' in client.get(f"/machines/1/{slug}").text


@pytest.mark.parametrize("axis", ["A", "Y"])
def test_the_pages_look_at_the_axis_that_the_address_names(opened, axis):
    book, client = opened
    told = client.get(f"/machines/1/choice.json?look_at={axis}").json()
    expected = choice_as_json(named(book, axis).chosen)
    assert told["requirement"]["spread_allowed_mm"] == expected["requirement"]["spread_allowed_mm"]
    assert told["candidates"] == expected["candidates"]
    assert told["standing"]["axis"] == axis
    page = client.get(f"/machines/1/findings?look_at={axis}").text
    assert f"Axis {axis}: " in page.partition("<h1>")[2].partition("</h1>")[0]
    assert f'<b aria-current="true">{axis}</b>' in page
    assert f"/machines/1/choice?look_at={axis}" in page  # it stays chosen along the rail


def test_how_the_machine_stands_does_not_depend_on_the_address(opened):
    book, client = opened
    standings = [
        client.get(f"/machines/1/{slug}.json{asked}").json()["standings"]
        for slug in ("choice", "machine")
        for asked in ("", "?look_at=A", "?look_at=Y")
    ]
    assert all(each == standings[0] for each in standings)
    assert standings[0]["machine"] == OpenCase(book, 1).standings.machine.as_json()


def test_what_is_kept_is_about_the_axis_that_was_looked_at(opened):
    """A decision and a record; the record stands whichever axis is looked at later."""
    book, client = opened
    decided = {"sensor": "K", "reason": "the cheapest that holds", "by": "the keeper"}
    client.post("/machines/1/choice/decision?look_at=A", data=decided)
    assert [decision.axis for decision in InBook(book, book.machine(1)).decisions] == ["A"]
    client.post("/machines/1/record?look_at=A")
    assert book.results(1, RECORD)[0].document["how"]["axis"] == "A"
    for asked in ("?look_at=A", "?look_at=Y"):
        assert [kept["stands"] for kept in client.get(f"/machines/1/record.json{asked}").json()["kept"]] == [True]


def test_an_axis_there_is_not_is_said(opened):
    _, client = opened
    answer = client.get("/machines/1/choice?look_at=Q")
    assert "Cannot say yet which candidate holds" in answer.text
