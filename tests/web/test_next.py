"""One next thing: every page ends with it and why, and it leads from an empty book to the trial."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book
from holdzero.web.stations import STATIONS

SLUGS = [station.slug for station in STATIONS] + ["budget", "plan", "install"]


def next_of(client: TestClient, machine: int) -> tuple[str, str]:
    """Words of the next step, and the page it leads to."""
    part = client.get(f"/machines/{machine}/next").text
    words = re.sub(r"<[^>]+>", " ", part.partition('class="what"')[2].partition(">")[2].partition("</p>")[0])
    return " ".join(words.split()), "".join(re.findall(r'data-station="(\w*)"', part))


def test_from_nothing_asked_to_the_trial(client: TestClient, book: Book):
    machine = book.add_machine({"axes": {"Y": {"motors": "2"}}})
    words, station = next_of(client, machine)
    assert words == "Next: Say how square it must be, or how exactly Y must come back."
    assert station == "machine"
    asked = {"requirement": {"squareness": "0.1 mm over 600 mm"}, "axes": {"Y": {"motors": "2"}}}
    book.change_machine(machine, asked)
    assert next_of(client, machine) == ("Next: Say how far apart the two drives of Y are.", "machine")
    book.change_machine(machine, asked | {"axes": {"Y": {"motors": "2", "drive_distance": "980 mm"}}})
    assert next_of(client, machine) == ("Next: Name the candidates to try on Y.", "sensors")
    book.add_sensor(machine, "A", {"kind": "inductive"})
    words, station = next_of(client, machine)
    assert words.startswith("Next: Try candidates on Y as the plan says")
    assert station == "trial"  # neither wiring nor travel stands before it


def test_wiring_travel_and_budget_say_what_they_are_for(client: TestClient, book: Book):
    machine = book.add_machine({"axes": {"Y": {}}})
    for slug in SLUGS:
        page = client.get(f"/machines/{machine}/{slug}").text
        assert page.count('id="next"') == 1
        after = page.partition('id="next"')[2]
        assert ("before you trust it with a crash" in after) == (slug in ("wiring", "travel", "budget"))


@pytest.mark.parametrize("again", [False, True], ids=["not worked out", "worked out before"])
def test_a_page_does_not_wait_for_it(client: TestClient, book: Book, again: bool):
    machine = book.add_machine({"axes": {"Y": {}}})
    if again:
        client.get(f"/machines/{machine}/next")
    page = client.get(f"/machines/{machine}/sensors").text
    assert ("aria-busy" in page.partition('id="next"')[2]) != again
    assert ('<p class="then" id="then" data-waits>' in page) != again


def test_what_cannot_be_worked_out_is_said(client: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch):
    from holdzero.web.case import OpenCase

    machine = book.add_machine({"axes": {"Y": {}}})
    monkeypatch.setattr(OpenCase, "standings", property(lambda case: 1 / 0))
    assert "cannot be told" in client.get(f"/machines/{machine}/next").text
