"""A file or paste: drawn before it comes in, taken back whole, put back whole."""

import re

import pytest
from starlette.testclient import TestClient

from bringing_in import bring_in, form_of
from holdzero.store import Book
from holdzero.web.brought import MOST_CHOSEN

LEFT_RIGHT = "Power-up;Homing;Left (um);Right (um)\n1;1;10;-4\n1;2;11;-5\n2;1;9;-3\nmean;;10;-4\n"
FILE = b"sensor,axis,side,set,deviation_um\nB,Y,L,1,10\nB,Y,R,1,-4\nB,Y,L,2,12\nB,Y,R,2,-3\n"


@pytest.fixture
def machine(book: Book) -> int:
    machine = book.add_machine({"machine": {"name": "Router"}, "axes": {"Y": {"motors": 2}}})
    book.add_sensor(machine, "A", {"price": "4"})
    return machine


@pytest.fixture
def trial(book: Book, machine: int) -> int:
    return book.add_trial(machine, name="Saturday", axis="Y", resolution="0.001 mm")


def seen(client: TestClient, trial: int, text: str, **more: str) -> str:
    page = client.post(f"/trials/{trial}/paste", data={"text": text, "sensor": "A", "axis": "Y"} | more)
    assert page.status_code == 200
    return page.text


class TestPreview:
    """Nothing comes in before it was seen."""

    def test_left_and_right_stand_on_two_rails(self, client: TestClient, book: Book, trial: int):
        page = seen(client, trial, LEFT_RIGHT)
        assert book.rows(trial) == ()
        assert "A, axis Y: 6 readings, 2 power-ups" in page
        assert "A, axis Y: 6 readings, 2 power-ups (left 3, right 3). 1 not used." in page  # for who cannot see it
        assert "power-up 1, homing 2: 11\u202fµm" in page
        assert "it looks like a summary" in page

    def test_pasted_lines_are_drawn_too(self, client: TestClient, book: Book, trial: int):
        page = seen(client, trial, "0.010\n0.012\n\nnothing\n0.009", side="R")
        assert book.rows(trial) == ()
        assert "A, axis Y: 3 readings, 2 power-ups (right 3). 1 not used." in page
        assert "Line 4 has no number" in page

    def test_a_readings_file_is_drawn_and_says_whose_it_is(self, client: TestClient, book: Book, machine: int):
        page = client.post(f"/machines/{machine}/import", files={"file": ("sat.csv", FILE, "text/csv")}).text
        assert book.trials(machine) == ()
        assert "B, axis Y: 4 readings, 2 power-ups" in page
        assert 'name="sensor"' not in page  # it says so itself
        assert 'name="resolution"' in page

    def test_the_candidate_stays_the_one_that_was_chosen(self, client: TestClient, book: Book, trial: int):
        book.add_sensor(1, "B", {})
        page = client.post(f"/trials/{trial}/paste", data={"text": "0.1\n0.2", "sensor": "B", "axis": "Y"}).text
        assert form_of(page)["sensor"] == "B"
        assert "B, axis Y: 2 readings" in page

    def test_a_side_without_a_reading_shows(self, client: TestClient, trial: int):
        page = seen(client, trial, "Power-up;Left (um);Right (um)\n1;10;-4\n1;11;-5\n2;9;\n2;8;\n")
        assert "(left 4, right 2)" in page
        assert ">none</text>" in page


class TestTakenBack:
    """One act takes the whole of it back, and one puts it back."""

    def test_at_once_by_the_bar_and_later_on_the_trials_page(self, client: TestClient, book: Book, trial: int):
        bring_in(
            client, f"/trials/{trial}/paste", data={"text": "0.5\n0.6", "sensor": "A", "axis": "Y", "side": "L"}
        )
        before = book.readings(trial).digest
        text = {"text": LEFT_RIGHT.replace("\n1;", "\n3;").replace("\n2;", "\n4;"), "sensor": "A", "axis": "Y"}
        page = bring_in(client, f"/trials/{trial}/paste", data=text).text
        assert "6 readings came into the trial" in page
        bar = page.partition('<div class="told">')[2].partition("</div>")[0]
        action = re.search(r'action="(/imports/\d+/back)"', bar)[1]
        after = book.readings(trial).digest
        page = client.post(action).text
        assert "6 readings taken back. What counted before it counts." in page
        assert book.readings(trial).digest == before
        listed = page.partition('id="came-in"')[2]
        client.post(re.search(r'action="(/imports/\d+/again)"', listed)[1])
        assert book.readings(trial).digest == after

    def test_a_trial_that_came_with_it_goes_and_comes_with_it(
        self, client: TestClient, book: Book, machine: int, trial: int
    ):
        bring_in(client, f"/machines/{machine}/import", files={"file": ("sat.csv", FILE, "text/csv")})
        assert [kept.name for kept in book.trials(machine)] == ["sat.csv", "Saturday"]
        assert [kept.sensor.name for kept in book.sensors(machine)] == ["A", "B"]
        client.post("/imports/1/back")
        assert [kept.name for kept in book.trials(machine)] == ["Saturday"]
        assert [kept.sensor.name for kept in book.sensors(machine)] == ["A"]
        twin = client.get(f"/machines/{machine}/trials.json").json()["came_in"]
        assert [(row["name"], row["readings"], bool(row["taken_back"])) for row in twin] == [("sat.csv", 4, True)]
        client.post("/imports/1/again")
        assert [kept.name for kept in book.trials(machine)] == ["sat.csv", "Saturday"]

    def test_what_came_before_is_said_and_only_then_brought_in(self, client: TestClient, book: Book, trial: int):
        lines = {"text": "0.5\n0.6", "sensor": "A", "axis": "Y", "side": "L"}
        bring_in(client, f"/trials/{trial}/paste", data=lines)
        answer = bring_in(client, f"/trials/{trial}/paste", data=lines)
        assert answer.status_code == 422
        assert "These readings came in before" in answer.text
        assert len(book.rows(trial)) == 2

    @pytest.mark.parametrize("number", ["99", "9" * 30])
    def test_an_unknown_one_is_said(self, client: TestClient, number: str):
        assert client.post(f"/imports/{number}/back").status_code == 404


def test_the_bar_leads_nowhere_else(client: TestClient, machine: int):
    client.cookies.set("said", "Done")
    client.cookies.set("undo", "Undo%7Chttps://elsewhere.example/")
    assert "elsewhere.example" not in client.get(f"/machines/{machine}/trials").text


class TestTooWide:
    """A page asks about each column: of very many it says where they can come in."""

    def test_a_table(self, client: TestClient, machine: int):
        n = MOST_CHOSEN + 1
        table = ";".join(f"Set {i}" for i in range(n)) + "\n" + ";".join(["0.001"] * n) + "\n"
        page = client.post(f"/machines/{machine}/import", files={"file": ("sat.csv", table.encode(), "text/csv")})
        assert page.status_code == 422
        assert f"found a table of {n} columns; needed is at most {MOST_CHOSEN}" in page.text

    def test_a_form_of_too_many_fields(self, client: TestClient, machine: int):
        page = client.post(f"/machines/{machine}/import/x", data={f"column-{i}": "" for i in range(1001)})
        assert page.status_code == 400
        assert "at most 1000 fields" in page.text


def test_a_file_of_its_own_does_not_take_the_place_of_the_trial_under_way(
    client: TestClient, book: Book, trial: int, machine: int
):
    """The plan goes on leading where it led; alone, a file's trial takes what is typed."""
    bring_in(client, f"/machines/{machine}/import", files={"file": ("sat.csv", FILE, "text/csv")})
    assert [kept.name for kept in book.trials(machine)] == ["sat.csv", "Saturday"]
    assert f'action="/trials/{trial}/readings"' in client.get(f"/machines/{machine}/trial").text
    book.remove_trial(trial)
    assert 'action="/trials/2/readings"' in client.get(f"/machines/{machine}/trial").text
