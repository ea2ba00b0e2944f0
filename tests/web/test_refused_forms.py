"""Every form is held to the rules of a file: what no file could hold is refused with 4xx, and nothing is kept."""

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from every_page import pages
from holdzero.store import Book
from holdzero.store.schema import metadata
from ready_books import kept
from two_sides import Read, kept_trial

pytestmark = pytest.mark.usefixtures("coarse_budgets")
HUGE = str(2**63)
ENDLESS = "9" * 5000
READING = {"sensor": "A", "axis": "Y", "side": "L", "sides": "both", "set": "1", "deviation": "0.013"}
TRIAL = {"name": "T", "axis": "Y", "unit": "mm", "resolution": "0.001 mm", "protocol": "outside"}
COUNT = {"condition": "own", "own": "new cable", "hours": "1", "trips": "0"}
FLIP = {"method": "flip", "length": "600", "gap": "0.2"}

REFUSED = [
    ("/system", {"system": "cubits"}),
    ("/presets", {"preset": "nonsense"}),
    ("/machines", {"name": "M", "squareness": "nan"}),
    ("/machines", {"name": "M", "position": "-1 mm"}),
    ("/machines/1/machine", {"machine.name": "M", "requirement.position": "inf"}),
    ("/machines/1/choice", {"requirement.risk": "2"}),
    ("/machines/1/choice/decision", {"sensor": "nobody", "reason": "x"}),
    ("/machines/1/axes", {"axis": "Y"}),
    ("/machines/1/axes/rename", {"axis": "Q", "name": "R"}),
    ("/machines/1/axes/remove", {"axis": "Q"}),
    ("/machines/1/sensors", {"name": "B", "price": "-3"}),
    ("/machines/1/sensors", {"name": "A"}),
    (f"/machines/1/sensors/{HUGE}", {"name": "B"}),
    (f"/machines/1/sensors/{HUGE}/remove", {}),
    ("/machines/1/travel", {"axis": "nonsense", "axes.Y.travel": "1 mm"}),
    ("/machines/1/budget", {"axis": "nonsense"}),
    ("/machines/1/wiring/circuits", {"axis": "Y", "side": "x"}),
    ("/machines/1/wiring/circuits", {"axis": "nonsense"}),
    ("/machines/1/wiring/circuits", {"start": "nonsense"}),
    ("/machines/1/wiring/circuits", {"start": f"copy {ENDLESS}"}),
    (f"/machines/1/wiring/{HUGE}", {}),
    (f"/machines/1/wiring/{HUGE}/remove", {}),
    ("/machines/1/install/checks", {"item": "nonsense", "outcome": "done"}),
    ("/machines/1/noise", COUNT | {"trips": "1e300"}),
    ("/machines/1/noise", COUNT | {"trips": HUGE}),
    ("/machines/1/noise", COUNT | {"hours": "nan"}),
    ("/machines/1/noise", COUNT | {"hours": "-1"}),
    ("/machines/1/noise", COUNT | {"hours": "1e11"}),
    ("/machines/1/noise", COUNT | {"condition": "nonsense"}),
    (f"/noise/{HUGE}/undo", {}),
    ("/machines/1/square/rounds", FLIP | {"method": "nonsense"}),
    ("/machines/1/square/rounds", FLIP | {"gap": "nan"}),
    ("/machines/1/square/setup", {"screw_pitch": "-1"}),
    (f"/machines/1/square/take-back/{HUGE}", {}),
    ("/machines/1/square/take-back/0", {}),
    ("/machines/1/trials", TRIAL | {"protocol": "nonsense"}),
    ("/machines/1/trials", TRIAL | {"unit": "furlong"}),
    ("/machines/1/trials", TRIAL | {"resolution": "nan"}),
    ("/machines/1/trials", TRIAL | {"resolution": "-0.01"}),
    ("/machines/1/trials", TRIAL | {"resolution": "1e300"}),
    ("/trials/1", TRIAL | {"protocol": "nonsense"}),
    ("/trials/1", TRIAL | {"resolution": "-0.01"}),
    (f"/trials/{HUGE}", TRIAL),
    ("/trials/1/readings", READING | {"side": "x"}),
    ("/trials/1/readings", READING | {"homing": HUGE}),
    ("/trials/1/readings", READING | {"homing": ENDLESS}),
    ("/trials/1/readings", READING | {"homing": "-1"}),
    ("/trials/1/readings", READING | {"homing": "third"}),
    ("/trials/1/readings", READING | {"deviation": "nan"}),
    ("/trials/1/readings", READING | {"deviation": "1e300"}),
    ("/trials/1/readings", READING | {"speed": "-1"}),
    ("/trials/1/readings", READING | {"temperature": "-400"}),
    ("/trials/1/set-aside", {"reading": HUGE, "reason": "x"}),
    ("/trials/1/set-aside", {"reading": ENDLESS, "reason": "x"}),
    ("/trials/1/set-aside", {"reading": "nonsense", "reason": "x"}),
    ("/trials/1/paste", {"text": "0.013", "sensor": "A", "axis": "Y", "side": "x"}),
    ("/trials/1/paste", {"text": "side,deviation_mm\nx,0.1"}),
    (f"/readings/{HUGE}/undo", {}),
    (f"/readings/{HUGE}/redo", {}),
    (f"/readings/{HUGE}/confirm", {}),
    (f"/readings/{HUGE}/set-aside", {"back": "/", "reason": "x"}),
    (f"/readings/{HUGE}/leave-out", {"reason": "x"}),
    ("/readings/1/leave-out", {"reason": " "}),
    (f"/readings/{HUGE}/count-again", {}),
    (f"/readings/{HUGE}/level", {"event": "x"}),
    (f"/machines/{HUGE}/remove", {}),
    ("/machines/1/machine", {"machine.name": "M", "requirement.squareness": "0.05 mm over  mm"}),
    ("/machines/1/machine", {"machine.name": "M\x07"}),
    ("/machines/1/axes", {"axis": "Z" * 300}),
    ("/machines/1/axes", {"axis": "Y\u200b"}),
    ("/machines/1/sensors", {"name": "A\u200b"}),
    ("/machines/1/sensors", {"name": "B" * 300}),
    ("/machines/1/trials", TRIAL | {"axis": "Q"}),
    ("/machines/1/trials", TRIAL | {"name": "T" * 300}),
    ("/machines/1/noise", COUNT | {"note": "\x00"}),
    ("/machines/1/square/events", {"what": "moved\x00"}),
    ("/machines/1/watch/entries", {"time": "2024-02-30 10:00", "left": "0.01", "axis": "Y"}),
    ("/trials/1/readings", READING | {"set": ENDLESS}),
    ("/trials/1/note", {"sensor": "A" * 300, "axis": "Y", "set": "7", "note": "x"}),
    ("/machines/1/capture/tap", {"tap-load": "nan"}),
    ("/machines/1/capture/tap", {"signals": "nan"}),
    ("/trials/1/readings", READING | {"condition": "c" * 6000}),
    ("/trials/1/paste", {"text": ENDLESS, "sensor": "A", "axis": "Y", "side": "L"}),
    (f"/machines/{HUGE}/machine", {"machine.name": "M"}),
]


def contents(book: Book) -> dict[str, list[tuple]]:
    with book._engine.connect() as c:
        return {
            table.name: [tuple(row) for row in c.execute(sa.select(table))] for table in metadata.sorted_tables
        }


@pytest.fixture
def trial(book: Book) -> int:
    return kept(book, kept_trial, tuple(Read(side, str(at), 1, 0.004 * at) for at in range(1, 4) for side in "LR"))


@pytest.mark.parametrize(("address", "typed"), REFUSED)
@pytest.mark.usefixtures("trial")
def test_refused(client: TestClient, book: Book, address: str, typed: dict[str, str]):
    before = contents(book)
    answer = client.post(address, data=typed, follow_redirects=False)
    assert 400 <= answer.status_code < 500, (answer.status_code, answer.text[-2000:])
    assert contents(book) == before
    assert "eeded" in answer.text or "▲" in answer.text, answer.text[-3000:]


@pytest.mark.parametrize(
    ("address", "typed", "shown"),
    [
        ("/trials/1/readings", READING | {"side": "x", "deviation": "0.0137"}, 'value="0.0137"'),
        ("/machines/1/trials", TRIAL | {"protocol": "nonsense", "name": "My trial"}, 'value="My trial"'),
        ("/machines/1/trials", TRIAL | {"protocol": "nonsense"}, "nonsense"),
        ("/machines/1/noise", COUNT | {"trips": HUGE}, HUGE),
        ("/machines/1/noise", COUNT | {"note": "bell\x07", "trips": "17"}, ">17</textarea>"),
        ("/trials/1/readings", READING | {"set": ENDLESS, "deviation": "0.0137"}, 'value="0.0137"'),
        ("/machines/1/sensors", {"name": "A\u200b", "price": "31"}, 'value="31"'),
        ("/machines/1/axes/rename", {"axis": "Y", "name": "Y\u202e"}, 'value="Y\u202e"'),
        ("/machines/1/axes", {"axis": "Y"}, 'value="Y"'),
        ("/trials/1/readings", READING | {"again": "x", "sides": "x" * 6000}, ">0.013</textarea>"),
    ],
)
@pytest.mark.usefixtures("trial")
def test_what_was_typed_still_stands_there(client: TestClient, address: str, typed: dict[str, str], shown: str):
    assert shown in client.post(address, data=typed).text


@pytest.mark.parametrize(
    ("address", "typed"),
    [
        ("/machines/2/sensors/1", {"name": "A"}),
        ("/machines/2/sensors/1/remove", {}),
        ("/machines/2/sensors/1/back", {}),
        ("/trials/2/set-aside", {"reading": "1", "reason": "x"}),
    ],
)
@pytest.mark.usefixtures("trial")
def test_what_is_another_machines_or_trials_is_refused(
    client: TestClient, book: Book, address: str, typed: dict[str, str]
):
    kept_trial(book, (Read("L", "1", 1, 0.004),))
    before = contents(book)
    assert client.post(address, data=typed).status_code == 404
    assert contents(book) == before


@pytest.mark.usefixtures("trial")
def test_a_field_sent_twice_is_refused(client: TestClient, book: Book):
    before = contents(book)
    twice = "sensor=A&axis=Y&side=L&set=1&deviation=0.013&deviation=0.31"
    header = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/trials/1/readings", content=twice, headers=header)
    assert answer.status_code == 422
    assert "this field twice" in answer.text
    assert ">0.31</textarea>" in answer.text
    assert contents(book) == before


@pytest.mark.usefixtures("trial")
def test_names_that_look_alike_are_one_name(client: TestClient):
    first = client.post("/machines/1/sensors", data={"name": "Schalter\u00a0\u00c4"}, follow_redirects=False)
    answer = client.post("/machines/1/sensors", data={"name": "Schalter A\u0308"})
    assert (first.status_code, answer.status_code) == (303, 422)
    assert "a second sensor" in answer.text


@pytest.mark.usefixtures("trial")
def test_a_set_called_by_more_digits_than_any_number_has_stops_nothing(client: TestClient, book: Book):
    """Of a book of before: such a label could come in, and the next power-up could not be numbered."""
    with book._engine.begin() as c:
        c.execute(sa.text("update power_up set label = :label where id = 1"), {"label": ENDLESS})
    for address, typed in (
        ("power-ups", {"sensor": "A", "axis": "Y"}),
        ("paste", {"text": "0.01", "sensor": "A"}),
    ):
        answer = client.post(f"/trials/1/{address}", data=typed | {"axis": "Y"}, follow_redirects=False)
        assert answer.status_code < 500, answer.text[-2000:]


def test_a_number_beyond_any_is_no_page(client: TestClient, trial: int):
    for address in pages(int(HUGE)):
        assert client.get(address).status_code == (200 if address == "/" else 404), address
    assert client.get(f"/machines/{trial}/trial?trial={HUGE}").status_code == 404


def test_another_machines_candidate_is_not_changed(client: TestClient, book: Book, trial: int):
    other = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    before = book.sensor(1)
    assert client.post(f"/machines/{other}/sensors/1", data={"name": "Z"}).status_code == 404
    assert book.sensor(1) == before
