"""Every form is held to the rules of a file: what no file could hold is refused with 4xx, and nothing is kept."""

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from every_page import pages
from holdzero.store import Book
from holdzero.store.schema import metadata
from two_sides import Read, kept_trial

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
    (f"/machines/{HUGE}/machine", {"machine.name": "M"}),
]


def contents(book: Book) -> dict[str, list[tuple]]:
    with book._engine.connect() as c:
        return {
            table.name: [tuple(row) for row in c.execute(sa.select(table))] for table in metadata.sorted_tables
        }


@pytest.fixture
def trial(book: Book) -> int:
    return kept_trial(book, tuple(Read(side, str(at), 1, 0.004 * at) for at in range(1, 4) for side in "LR"))


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
    ],
)
@pytest.mark.usefixtures("trial")
def test_what_was_typed_still_stands_there(client: TestClient, address: str, typed: dict[str, str], shown: str):
    assert shown in client.post(address, data=typed).text


def test_a_number_beyond_any_is_no_page(client: TestClient, trial: int):
    for address in pages(int(HUGE)):
        assert client.get(address).status_code == (200 if address == "/" else 404), address
    assert client.get(f"/machines/{trial}/trial?trial={HUGE}").status_code == 404


def test_another_machines_candidate_is_not_changed(client: TestClient, book: Book, trial: int):
    other = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    before = book.sensor(1)
    assert client.post(f"/machines/{other}/sensors/1", data={"name": "Z"}).status_code == 404
    assert book.sensor(1) == before
