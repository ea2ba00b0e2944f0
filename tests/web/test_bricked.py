"""Books with rows that no file could hold, written straight into them: they open, and the check names the row."""

import html
import json
import logging
import sqlite3
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from every_page import pages
from holdzero.store import check, open_book
from holdzero.web.app import create_app
from two_sides import Read, kept_trial

pytestmark = pytest.mark.usefixtures("coarse_budgets")


def typed(station: str, document: str) -> str:
    return f"insert into sheet (machine_id, station, document) values (1, '{station}', '{document}')"


BRICKS = {  # name: (statements, what the check names)
    "side": ("update series set side = 'x' where side = 'L'", "series 1, side"),
    "protocol of readings": ("update series set protocol = 'nonsense'", "series 1, protocol"),
    "negative resolution": ("update series set resolution_mm = -0.001", "series 1, resolution"),
    "infinite resolution": ("update series set resolution_mm = 9e999", "series 1, resolution"),
    "words for a resolution": ("update series set resolution_mm = 'fine'", "series 1, resolution"),
    "homing below zero": ("update reading set homing = -7 where id = 5", "reading 5, homing"),
    "homing beyond any": ("update reading set homing = 9223372036854775807 where id = 5", "reading 5, homing"),
    "words for a homing": ("update reading set homing = 'third' where id = 5", "reading 5, homing"),
    "infinite reading": ("update reading set deviation_mm = 9e999 where id = 5", "reading 5, deviation"),
    "words for a reading": ("update reading set deviation_mm = 'far' where id = 5", "reading 5, deviation"),
    "standing still": ("update reading set speed_mm_s = -3 where id = 5", "reading 5, speed"),
    "colder than cold": ("update reading set temperature_degc = -400 where id = 5", "reading 5, temperature"),
    "protocol of the trial": ("update trial set protocol = 'nonsense'", "trial 1, protocol"),
    "unit of the trial": ("update trial set unit = 'furlong'", "trial 1, unit"),
    "display that is none": ("update trial set resolution = 'nan mm'", "trial 1"),
    "display below zero": ("update trial set resolution = '-0.01 mm'", "trial 1, resolution"),
    "squaring method": (typed("square", '{"round": {"method": "guess"}}'), "sheet 1, method"),
    "event without a name": (typed("square", '{"event": {"colour": "red"}}'), "sheet 1, what"),
    "squaring of another shape": (typed("square", '{"event": 3}'), "sheet 1"),
    "gantry below zero": (typed("square", '{"setup": {"screw_pitch": "-1 mm"}}'), "sheet 1, screw_pitch"),
    "taken back beyond any": (typed("square", '{"take back": "all"}'), "sheet 1"),
    "wiring": (typed("wiring", '{"sensor": {"output": "?"}}'), "sheet 1"),
    "count of trips": (
        "insert into noise (trial_id, condition, trips, watched_s) values (1, 'all off', -1, 60)",
        "noise 1, trips",
    ),
    "time watched": (
        "insert into noise (trial_id, condition, trips, watched_s) values (1, 'all off', 1, -60)",
        "noise 1, hours",
    ),
    "outcome": (
        "insert into checklist (machine_id, item, outcome) values (1, 'stop', 'perhaps')",
        "checklist 1, outcome",
    ),
    "machine": (
        """update machine set document = '{"machine": {}, "axes": {"Y": {"travel": "-2"}}}' where id = 1""",
        "machine 1",
    ),
    "machine of another shape": ("update machine set document = '[1, 2]' where id = 1", "machine 1"),
    "machine that is no document": ("update machine set document = '{' where id = 1", "machine 1"),
    "sensor that is no document": ("update sensor set document = '{x' where id = 1", "sensor 1"),
    "wiring that is no document": (typed("wiring", "{x"), "sheet 1"),
    "result that is no document": (
        "insert into result (machine_id, kind, digest, version, document) values (1, 'record', '', '', '{x')",
        "result 1",
    ),
    "sensor": ("""update sensor set document = '{"price": "-3"}' where id = 1""", "sensor 1, sensors.A.price"),
}
LOOKED_AT = ("findings", "choice", "square", "sensors")
MENDS_ON_PAGES = ("trial", "machine")  # of a machine whose own row reads: open whatever its figures do


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with two machines."""
    path = tmp_path_factory.mktemp("whole") / "shed.holdzero"
    with open_book(path) as book:
        kept_trial(book, tuple(Read(side, str(at), 1, 0.004 * at) for at in range(1, 4) for side in "LR"))
        other = book.add_machine({"machine": {"name": "Small mill"}, "axes": {"X": {"travel": "300 mm"}}})
        book.add_trial(other, name="First", axis="X")
    return path


@pytest.fixture
def bricked(whole: Path, tmp_path: Path, request: pytest.FixtureRequest) -> tuple[Path, str]:
    statement, named = BRICKS[request.param]
    path = tmp_path / "bricked.holdzero"
    with open_book(whole, create=False) as book:
        book.back_up(path)
    sqlite = sqlite3.connect(path)
    sqlite.execute(statement)
    sqlite.commit()
    sqlite.close()
    return path, named


def opens(brick: str, path: Path, named: str, looked_at: list[str], caplog: pytest.LogCaptureFixture) -> None:
    """Open a bricked book: the rest works, the bricked pages say what is found, the check names the row."""
    wrong = check(path).wrong
    assert any(sentence.startswith(named) for sentence in wrong), wrong
    with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
        start = client.get("/")
        assert start.status_code == 200
        assert "Small mill" in start.text
        for slug in ("machine", "trial"):
            assert client.get(f"/machines/2/{slug}").status_code == 200
        if brick in (
            "words for a homing",
            "words for a reading",
        ):  # taken back where it is met
            assert 'action="/readings/5/undo"' in client.get("/machines/1/trial").text
            client.post("/readings/5/undo")
        if not brick.startswith(("machine", "sensor")):
            for slug in MENDS_ON_PAGES:
                assert client.get(f"/machines/1/{slug}").status_code == 200, slug
        for address in (*(f"/machines/1/{slug}" for slug in LOOKED_AT), *looked_at):
            answer = client.get(address)
            assert answer.status_code in (200, 404, 422), (address, answer.text[-3000:])
            assert 'href="/"' in answer.text or address.endswith(".json")
    assert not [record for record in caplog.records if record.levelno >= logging.ERROR], "a slip, not a refusal"


@pytest.mark.parametrize("bricked", BRICKS, indirect=True)
def test_it_opens_says_what_is_wrong_and_leaves_the_rest(
    bricked: tuple[Path, str], caplog: pytest.LogCaptureFixture, request: pytest.FixtureRequest
):
    opens(request.node.callspec.params["bricked"], *bricked, [], caplog)


@pytest.mark.checks
@pytest.mark.parametrize("bricked", BRICKS, indirect=True)
def test_every_page_of_it(
    bricked: tuple[Path, str], caplog: pytest.LogCaptureFixture, request: pytest.FixtureRequest
):
    opens(request.node.callspec.params["bricked"], *bricked, pages(1), caplog)


class TestMended:
    """What a bricked page offers brings it back; nothing is deleted."""

    def opened(self, whole: Path, to: Path, *statements: str) -> Path:
        with open_book(whole, create=False) as book:
            book.back_up(to)
        sqlite = sqlite3.connect(to)
        for statement in statements:
            sqlite.execute(statement)
        sqlite.commit()
        sqlite.close()
        return to

    def test_a_reading_is_taken_back_at_the_trial(self, whole: Path, tmp_path: Path):
        path = self.opened(
            whole,
            tmp_path / "a.holdzero",
            "update reading set homing = -7 where id = 6",
        )
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            assert client.get("/machines/1/findings").status_code == 422
            trial = client.get("/machines/1/trial")
            assert "reading 6, homing" in trial.text
            assert "/readings/6/undo" in trial.text
            client.post("/readings/6/undo")
            assert client.get("/machines/1/findings").status_code == 200

    def test_the_way_of_reading_is_chosen_anew(self, whole: Path, tmp_path: Path):
        bad = "update series set protocol = 'nonsense'", "update trial set protocol = 'nonsense'"
        path = self.opened(whole, tmp_path / "b.holdzero", *bad)
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            trial = client.get("/machines/1/trial").text
            assert "found &#34;nonsense&#34;" in trial.lower()
            how = {"name": "T", "axis": "Y", "unit": "mm", "resolution": "0.001 mm", "protocol": "outside"}
            assert client.post("/trials/1", data=how | {"taken": "on"}).status_code == 200
            assert client.get("/machines/1/findings").status_code == 200

    def test_an_entry_of_the_squaring_is_taken_back(self, whole: Path, tmp_path: Path):
        sheet = json.dumps({"round": {"method": "guess"}})
        add = f"insert into sheet (machine_id, station, document) values (1, 'square', '{sheet}')"
        path = self.opened(whole, tmp_path / "c.holdzero", add)
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            page = client.get("/machines/1/square")
            assert page.status_code == 422
            action = page.text.split('action="/machines/1/square/take-back/')[1].split('"')[0]
            assert client.post(f"/machines/1/square/take-back/{action}").status_code == 200
            assert client.get("/machines/1/square").status_code == 200

    @pytest.mark.parametrize("text", ["[]", "{", '{"machine": {"name": "Big"}, "axes": {"Y": {"travel": "-2"}}}'])
    def test_the_text_of_a_machine_is_put_right(self, whole: Path, tmp_path: Path, text: str):
        """Offered as it lies there; a slip in it is said; what it was stays in the book."""
        path = self.opened(whole, tmp_path / "e.holdzero", f"update machine set document = '{text}' where id = 1")
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            assert 'href="/machines/1/mend"' in client.get("/machines/1/machine").text
            page = client.get("/machines/1/mend").text
            assert "Machine 1 cannot be read" in page
            shown = html.unescape(page.partition('spellcheck="false">')[2].partition("</textarea>")[0])
            assert shown.strip() == text or 'travel = "-2"' in shown
            again = client.post("/machines/1/mend", data={"text": '[axes.Y]\ntravel = "a hair"'})
            assert again.status_code == 422
            assert "a hair" in again.text
            mended = '[machine]\nname = "Big"\n[axes.Y]\ntravel = "2 m"'
            assert client.post("/machines/1/mend", data={"text": mended}).status_code == 200
            assert book.machine(1).machine.axis("Y").travel_mm == 2000
            assert [(act.mark, act.before) for act in book.acts("machine", 1)] == [("document", text)]
        assert check(path).wrong == ()

    @pytest.mark.parametrize("deep", [900, 100_000])
    def test_a_text_nested_without_end_is_refused(self, whole: Path, tmp_path: Path, deep: int):
        path = self.opened(whole, tmp_path / "e.holdzero", "update machine set document = '{' where id = 1")
        text = f'{{"machine": {{"name": "M"}}, "axes": {{"X": {{}}}}, "mine": {"[" * deep}{"]" * deep}}}'
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            assert client.post("/machines/1/mend", data={"text": text}).status_code == 422
            assert book.acts("machine", 1) == ()

    def test_the_text_of_a_candidate_is_put_right(self, whole: Path, tmp_path: Path):
        text = """'{"kind": "reed", "price": "dear"}'"""
        path = self.opened(whole, tmp_path / "f.holdzero", f"update sensor set document = {text} where id = 1")
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            assert 'href="/sensors/1/mend"' in client.get("/machines/1/sensors").text
            page = client.get("/sensors/1/mend").text
            assert "price = &#34;dear&#34;" in page
            mended = client.post("/sensors/1/mend", data={"text": 'kind = "reed"\nprice = 4.5'})
            assert "can be read again" in mended.text
            assert book.sensor(1).sensor.price == 4.5

    def test_a_machine_goes_out_of_sight(self, whole: Path, tmp_path: Path):
        path = self.opened(whole, tmp_path / "d.holdzero", "update machine set document = '[]' where id = 1")
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            page = client.get("/machines/1/machine")
            assert page.status_code == 422
            assert 'action="/machines/1/remove"' in page.text
            assert client.post("/machines/1/remove").status_code == 200
            shown, _, hidden = client.get("/").text.partition("out of sight")
            assert "Machine 1" not in shown
            assert "Machine 1" in hidden  # where it can be had back
            assert len(book.machines()) == 1
