"""The Square station: rounds, events, as found and as left, the install sheet."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero.demo import WINNER
from holdzero.store import Book
from printed import printed

DIAGONALS = {"method": "diagonals", "a": "1000", "b": "800", "ac": "1280.81607", "bd": "1280.43360", "u": "0.1"}


def heading(html: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", html, re.DOTALL)
    assert found
    return " ".join(re.sub("<[^>]+>", "", found[1]).split()).replace("\u202f", " ")


def add(client: TestClient, demo: int, **given: str):
    return client.post(f"/machines/{demo}/square/rounds", data=given)


class TestRounds:
    """A round typed in, five ways."""

    def test_begins_with_a_question_and_five_ways(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/square").text
        assert heading(page) == "How square is the gantry?"
        for method in ("diagonals", "flip", "reversal", "grid", "distances"):
            assert f'value="{method}"' in page
            assert "what to measure" in client.get(f"/machines/{demo}/square", params={"method": method}).text

    def test_a_machine_without_two_motors_is_told_so(self, client: TestClient, book: Book):
        mill = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {"moves": "table"}}})
        assert heading(client.get(f"/machines/{mill}/square").text) == "No axis here has two motors"

    def test_worked(self, client: TestClient, demo: int):
        """0.3 mm over 980 mm: right side back by it; the spread of the chosen sensor comes from its trial."""
        client.post(f"/machines/{demo}/square/setup", data={"drive_distance": "980 mm"})
        page = add(client, demo, **DIAGONALS).text
        assert heading(page).startswith("Bring the right side back by 0.30 mm")
        twin = client.get(f"/machines/{demo}/square.json").json()
        assert twin["offset_mm"] == printed("0.3000")
        assert twin["angle_u_mrad"] == printed("0.1132")
        assert "switch-spread-unknown" not in [caution["code"] for caution in twin["cautions"]]
        assert "needs a look: the gantry is to be squared" in page

    def test_as_found_and_as_left(self, client: TestClient, demo: int):
        add(client, demo, **DIAGONALS)
        page = add(client, demo, **DIAGONALS | {"bd": "1280.81", "setting": "0.3"}).text
        assert heading(page).startswith("Stop adjusting")
        assert "as found" in page
        assert "as left" in page

    def test_a_grid_is_pasted(self, client: TestClient, demo: int):
        lines = "0 0 0 0\n800;0;800;0\n800 600 800.24 600\n\n0\t600\t0.24\t600"
        add(client, demo, method="grid", hole=lines, u="0.02 mm")
        twin = client.get(f"/machines/{demo}/square.json").json()
        assert twin["angle_mrad"] == pytest.approx(0.4)
        assert len(twin["rounds"][0]["residuals_mm"]) == 4

    def test_distances_are_pasted(self, client: TestClient, demo: int):
        add(
            client,
            demo,
            method="distances",
            hole="0 0\n800 0\n800 600\n0 600",
            distance="1 2 800\n1 4 600\n1 3 1000.192\n2 4 999.808",
            u="0.05",
        )
        assert client.get(f"/machines/{demo}/square.json").json()["angle_mrad"] == pytest.approx(0.4)

    @pytest.mark.parametrize(
        ("given", "says"),
        [
            (DIAGONALS | {"ac": ""}, "diagonal from the low left corner"),
            (DIAGONALS | {"ac": "a hair"}, "a hair"),
            (DIAGONALS | {"bd": "1180"}, "stands out"),
            ({"method": "grid", "hole": "0 0 0"}, "3 numbers in line 1"),
            ({"method": "grid", "hole": "0 0 0 0\n1 1 1 1"}, "three or more holes"),
            ({"method": "distances", "hole": "0 0\n8 0", "distance": "1 3 8"}, "two of the 2 holes"),
        ],
    )
    def test_what_is_wrong_is_said_and_nothing_is_kept(
        self, client: TestClient, book: Book, demo: int, given: dict[str, str], says: str
    ):
        answer = add(client, demo, **given)
        assert answer.status_code == 422
        assert says in answer.text
        assert 'aria-invalid="true"' in answer.text
        assert book.sheets(demo, "square") == ()

    def test_taken_back_it_no_longer_counts_and_stays_in_the_book(self, client: TestClient, book: Book, demo: int):
        add(client, demo, **DIAGONALS)
        page = client.post(f"/machines/{demo}/square/take-back/0").text
        assert heading(page) == "How square is the gantry?"
        assert len(book.sheets(demo, "square")) == 2


class TestEvents:
    """Crash, belt, move."""

    def test_an_event_begins_a_new_baseline(self, client: TestClient, demo: int):
        add(client, demo, **DIAGONALS)
        event = {"what": "crash", "day": "2026-05-01", "note": "hit a clamp"}
        page = client.post(f"/machines/{demo}/square/events", data=event).text
        assert heading(page) == "Crash. Measure again, as found"
        assert "needs a look: not measured since the last event" in page
        page = add(client, demo, **DIAGONALS | {"bd": "1280.81607"}).text
        assert heading(page).startswith(("Stop adjusting", "Square"))
        assert "before the last event, does not count" in page

    def test_homings_read_before_it_are_told_apart(self, client: TestClient, demo: int):
        """The demo was read in March: a crash in May makes it old, a new trial is asked for, nothing is lost."""
        assert "read before" not in client.get(f"/machines/{demo}/findings").text
        client.post(f"/machines/{demo}/square/events", data={"what": "crash", "day": "2026-05-01"})
        for slug in ("findings", "choice", "trial", "record"):
            page = client.get(f"/machines/{demo}/{slug}").text
            assert "These homings were read before the last event (crash, 2026-05-01)" in page
        assert "needs a look: homings were read before the last event" in page
        twin = client.get(f"/machines/{demo}/findings.json").json()
        assert twin["baseline"]["code"] == "read-before-an-event"
        client.post(f"/machines/{demo}/square/take-back/0")
        assert client.get(f"/machines/{demo}/findings.json").json()["baseline"] is None


class TestSetup:
    """The gantry and its screw."""

    def test_a_screw_gives_turns(self, client: TestClient, demo: int):
        add(client, demo, **DIAGONALS)
        given = {"drive_distance": "980 mm", "screw_pitch": "0.6", "clockwise": "back", "homing_end": "low"}
        page = client.post(f"/machines/{demo}/square/setup", data=given).text
        assert "0.50 turns of the right side's screw, clockwise" in page.replace("&#39;", "'")
        assert "runs on further before it trips" in page

    def test_without_the_drive_distance_it_asks(self, client: TestClient, book: Book):
        key = book.add_machine({"machine": {"name": "Mill"}, "axes": {"Y": {"motors": 2}}})
        page = add(client, key, **DIAGONALS).text
        assert heading(page) == "How far apart are the two drives?"
        page = client.post(f"/machines/{key}/square/setup", data={"drive_distance": "980"}).text
        assert heading(page).startswith("Bring the right side back")

    def test_wrong_setup_is_said_at_its_field(self, client: TestClient, demo: int):
        answer = client.post(f"/machines/{demo}/square/setup", data={"drive_distance": "-5"})
        assert answer.status_code == 422
        assert 'aria-invalid="true"' in answer.text


class TestInstall:
    """The sheet to print."""

    def test_page_and_pdf(self, client: TestClient, demo: int):
        add(client, demo, **DIAGONALS)
        page = client.get(f"/machines/{demo}/install.html").text
        assert "6099h sub 1" in page
        assert f"{WINNER}, inductive, PNP, NC" in page
        assert "Both sides back off" in page
        assert client.get(f"/machines/{demo}/install.pdf").content.startswith(b"%PDF")

    def test_inches(self, client: TestClient, demo: int):
        client.post("/system", data={"system": "inch", "back": "/"})
        assert "82.68\u202fin/min" in client.get(f"/machines/{demo}/install.html").text
