"""A club's book: two programs serve one book on PostgreSQL; what collides is shown, nothing is lost."""

import re
import threading
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book, NoAnswer, open_book
from holdzero.store import server as club
from holdzero.store.who import acting
from holdzero.web.app import create_app

pytestmark = pytest.mark.postgres
SHOWN = {"shown_in": "metric"}
MILL = {"machine": {"name": "Mill"}, "requirement": {"position": "0.05 mm"}, "axes": {"X": {"travel": "300 mm"}}}


@pytest.fixture
def programs(club_address: str) -> Iterator[tuple[TestClient, TestClient]]:
    with open_book(club_address) as first, open_book(club_address) as second:
        first.add_sensor(first.add_machine(MILL), "A", {})
        first.add_trial(1, name="Saturday", axis="X")
        with (
            TestClient(create_app(first), base_url="http://127.0.0.1") as ann,
            TestClient(create_app(second), base_url="http://127.0.0.1") as ben,
        ):
            for program in (ann, ben):
                program.get("/no such page")  # builds its routes, which two threads at once may not
            yield ann, ben


@pytest.fixture
def book(programs) -> Book:
    return programs[0].app.state.book


def test_the_same_field_changed_in_two_programs_is_shown_and_another_merges(programs, book: Book):
    ann, ben = programs
    travel = SHOWN | {"was.axes.X.travel": "300 mm"}
    assert ann.post("/machines/1/machine", data=travel | {"axes.X.travel": "310 mm"}).status_code == 200
    answer = ben.post(
        "/machines/1/machine",
        data=travel | {"axes.X.travel": "320 mm", "axes.X.lead": "5 mm", "was.axes.X.lead": ""},
    )
    assert answer.status_code == 409
    assert "310 mm is kept there" in answer.text
    assert re.search(r'name="axes.X.travel" value="320 mm"', answer.text)  # what Ben typed stays
    assert book.machine(1).document["axes"]["X"] == {"travel": "310 mm", "lead": "5 mm"}


def test_two_programs_at_once_undo_nothing_of_each_other(programs, book: Book):
    """Each changes another field ten times; without turns one would lay an older whole over the other's."""
    fields = {"axes.X.lead": programs[0], "axes.X.creep_speed": programs[1]}
    answers: list[int] = []

    def change(name: str, client: TestClient) -> None:
        before = ""
        for i in range(1, 7):
            unit = "mm" if name.endswith("lead") else "mm/s"
            data = SHOWN | {name: f"{i} {unit}", f"was.{name}": before}
            answers.append(client.post("/machines/1/machine", data=data).status_code)
            before = f"{i} {unit}"

    threads = [threading.Thread(target=change, args=pair) for pair in fields.items()]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [200] * 12
    kept = book.machine(1).document["axes"]["X"]
    assert (kept["lead"], kept["creep_speed"]) == ("6 mm", "6 mm/s")


def test_readings_through_two_programs_are_numbered_and_seen_by_both(programs, book: Book, monkeypatch):
    monkeypatch.setattr(club, "LOOKED_S", 0)
    ann, ben = programs
    before = book.stamp()
    for i, client in enumerate((ann, ben, ann, ben)):
        form = {"sensor": "A", "axis": "X", "set": "1", "deviation": f"0.00{i}", "ticket": f"t{i}"}
        assert client.post("/trials/1/readings", data=form, follow_redirects=False).status_code == 303
        again = client.post("/trials/1/readings", data=form, follow_redirects=False)  # its answer was lost
        assert again.status_code == 303
    assert [row.homing for row in book.rows(1)] == [1, 2, 3, 4]
    assert book.stamp() != before


def test_a_server_that_goes_away_is_said_with_a_status_that_leaves_the_entry_in_its_field(
    programs, book: Book, monkeypatch
):
    def gone():
        raise NoAnswer(found="no answer from the server", need="the server", do="try again in a moment")

    with monkeypatch.context() as away:
        away.setattr(book.shelf, "writing", gone)
        answer = programs[0].post("/machines", data={"name": "Second", "axis": "X"})
    assert answer.status_code == 503
    assert "data-refused" in answer.text
    assert programs[0].post("/machines", data={"name": "Second", "axis": "X"}).status_code == 200
    assert [kept.machine.name for kept in book.machines()] == ["Mill", "Second"]


def test_the_trail_is_a_page_and_names_who_and_what(programs, book: Book):
    with acting("Ann"):
        book.change_machine(1, MILL | {"axes": {"X": {"travel": "310 mm"}}})
    page = programs[1].get("/book/trail").text
    assert "Ann" in page
    assert "machine 1 (Mill), axes X travel: 300 mm → 310 mm" in page
    changes = programs[1].get("/book/trail.json").json()["changes"]
    assert (changes[0]["actor"], changes[0]["before"], changes[0]["after"]) == ("Ann", "300 mm", "310 mm")
    assert programs[1].get(f"/book/trail?before={changes[-1]['id']}").status_code == 200


def test_a_copy_of_a_clubs_book_is_a_book_in_a_file(programs, tmp_path):
    copy = tmp_path / "copy.holdzero"
    copy.write_bytes(programs[0].get("/book/copy.holdzero").content)
    with open_book(copy, create=False) as opened:
        assert opened.machines()[0].machine.name == "Mill"
