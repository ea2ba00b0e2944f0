"""Travel: verdict first, figures as the terminal has them."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from holdzero.cli.travel import command
from holdzero.form import read_toml
from holdzero.inputs.machine.presets import preset
from holdzero.store import Book


def heading(html: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", html, re.DOTALL)
    assert found
    return " ".join(re.sub("<[^>]+>", "", found[1]).split()).replace("\u202f", " ")


def mark(html: str, name: str) -> str:
    rail = html.partition("<nav")[2].partition("</nav>")[0]
    place = next(part for part in rail.split("<li")[1:] if f'class="name">{name}<' in part)
    return re.search(r'class="([a-z]+)', place)[1]


@pytest.fixture
def gantry(book: Book) -> int:
    return book.add_machine(read_toml(preset("two-motor-gantry")))


@pytest.fixture
def belt(book: Book) -> int:
    return book.add_machine(read_toml(preset("belt-axis")))


class TestVerdict:
    """The verdict sentence first, and how the station stands on the rail."""

    def test_all_fit(self, client: TestClient, gantry: int):
        page = client.get(f"/machines/{gantry}/travel").text
        assert heading(page) == "Axis Y stops in time: all 17 checks fit"
        assert mark(page, "Travel") == "done"

    def test_what_fails_is_named_and_lifts_the_flag(self, client: TestClient, belt: int):
        page = client.get(f"/machines/{belt}/travel").text
        assert heading(page) == "Axis X: 2 of 17 checks fail: coast and far coast"
        assert mark(page, "Travel") == "flag"
        assert page.index("prove by slow jogging") < page.index("<figure")  # cautions come before the picture

    def test_lengths_that_contradict_each_other_are_a_sentence(self, client: TestClient, book: Book):
        key = book.add_machine({"axes": {"Y": {"limit_trip": "12 mm", "home_trip": "6 mm"}}})
        page = client.get(f"/machines/{key}/travel")
        assert page.status_code == 200
        assert heading(page.text) == "Axis Y contradicts itself: limit trip = 12 mm above home trip = 6 mm"
        assert "correct limit trip or home trip" in page.text.lower()
        assert client.get(f"/machines/{key}/travel.json").json()["axes"]["Y"]["checks"] == []

    def test_nothing_known_is_open(self, client: TestClient, book: Book):
        key = book.add_machine({"axes": {"Y": {}}})
        page = client.get(f"/machines/{key}/travel").text
        assert heading(page) == "Axis Y: nothing can be checked yet"
        assert mark(page, "Travel") == "open"


class TestMissing:
    """A check whose keys are missing names them; here they are links."""

    def test_it_leads_to_its_field_and_giving_it_makes_the_check(self, client: TestClient, book: Book, demo: int):
        page = client.get(f"/machines/{demo}/travel").text
        assert heading(page) == "Axis Y stops in time, as far as 9 checks can tell"
        assert '<a href="#f-axes-Y-work_zone">work zone</a>' in page
        assert page.count('id="f-axes-Y-work_zone"') == 1
        given = _fields(page) | {"axes.Y.work_zone": "20 mm to 1200 mm"}
        after = client.post(f"/machines/{demo}/travel", data=given).text
        assert heading(after) == "Axis Y: 1 of 10 checks fail: work zone"  # home at 32 mm lies inside the work
        assert book.machine(demo).document["axes"]["Y"]["work_zone"] == "20 mm to 1200 mm"

    def test_what_is_typed_is_answered_and_not_kept(self, client: TestClient, book: Book, demo: int):
        before = book.machine(demo).document
        given = _fields(client.get(f"/machines/{demo}/travel").text) | {"axes.Y.top_speed": "400 mm/s"}
        assert "limit overtravel" in heading(client.post(f"/machines/{demo}/travel/typed", data=given).text)
        half = given | {"axes.Y.top_speed": "4 m", "axes.Y.limit_trip": "90 mm"}  # a unit cut short; beyond home
        assert "contradicts itself" in heading(client.post(f"/machines/{demo}/travel/typed", data=half).text)
        assert book.machine(demo).document == before

    def test_what_is_wrong_is_said_at_the_field(self, client: TestClient, demo: int):
        given = _fields(client.get(f"/machines/{demo}/travel").text) | {"axes.Y.top_speed": "fast"}
        answer = client.post(f"/machines/{demo}/travel", data=given)
        assert answer.status_code == 422
        assert 'value="fast"' in answer.text
        assert 'id="f-axes-Y-top_speed-error"' in answer.text


class TestFromHere:
    """From here, which way does it go, and does the gantry twist?"""

    def test_both_on_their_switches_and_twisted(self, client: TestClient, gantry: int):
        page = client.get(
            f"/machines/{gantry}/travel", params={"axis": "Y", "left": "12", "right": "12.6 mm"}
        ).text
        assert "Off the switch first" in page
        # by hand: 0.6/1120 = 0.536 mrad, and K = 2e8 N mm/rad over 1120 mm holds it with 95.7 N
        assert "0.536" in page
        assert re.search(r"with .{0,40}\b96\b.{0,40} in each drive", page)

    @pytest.mark.parametrize(("right", "alike"), [("", False), ("no place", False), ("12", True)])
    def test_a_side_that_is_not_given_does_not_stand_alike(
        self, client: TestClient, gantry: int, right: str, alike: bool
    ):
        page = client.get(f"/machines/{gantry}/travel", params={"left": "12", "right": right}).text
        assert ("Both sides stand alike" in page) is alike
        assert ("Where the right side stands is not known" in page) is not alike

    def test_too_far_apart_is_refused(self, client: TestClient, gantry: int):
        page = client.get(f"/machines/{gantry}/travel", params={"left": "100", "right": "103"}).text
        assert "Not yet" in page
        assert "square the gantry by hand, drives off" in page

    def test_what_cannot_be_read_is_said_at_the_field(self, client: TestClient, gantry: int):
        answer = client.get(f"/machines/{gantry}/travel", params={"left": "here"})
        assert answer.status_code == 422
        assert 'id="f-left-error"' in answer.text

    def test_what_it_lacks_leads_to_its_field(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/travel", params={"axis": "X", "left": "20"}).text
        assert 'To say that, give <a href="#f-axes-X-home_trip">home trip</a>' in page


class TestTwin:
    """The shape of `holdzero travel --json`."""

    def test_it_is_what_the_terminal_says(self, client: TestClient, gantry: int, tmp_path: Path):
        (tmp_path / "mine.toml").write_text(preset("two-motor-gantry"))
        told = CliRunner().invoke(command, [str(tmp_path / "mine.toml"), "--json"])
        assert client.get(f"/machines/{gantry}/travel.json").json() == json.loads(told.output)

    def test_with_a_start(self, client: TestClient, gantry: int):
        twin = client.get(f"/machines/{gantry}/travel.json", params={"left": "12", "right": "12.6"}).json()
        assert twin["axes"]["Y"]["start"]["way"] == "out"
        assert "start" not in twin["axes"]["X"]


def test_inches(client: TestClient, gantry: int):
    client.post("/system", data={"system": "inch", "back": "/"})
    page = client.get(f"/machines/{gantry}/travel").text
    assert "Margin, in" in page
    assert "0.185" in page  # 4.692 mm left after the home trip, in inches


def _fields(html: str) -> dict[str, str]:
    form = html.partition('id="axis"')[2].partition("</form>")[0]
    found = re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form)
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found.append((name, chosen[1] if chosen else ""))
    return {name: value.replace("&#43;", "+") for name, value in found}
