"""The plan leads the trial: page by page it says the next reading, what was skipped and what is enough."""

import html
import re

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book, NewReading

MACHINE = {
    "requirement": {"position": "0.05 mm"},
    "axes": {"Y": {"motors": "2", "drive_distance": "980 mm"}, "X": {}},
}


TRIAL = {"name": "T", "axis": "Y", "unit": "mm", "protocol": "outside"}


@pytest.fixture
def machine(book: Book) -> int:
    key = book.add_machine(MACHINE)
    for name in ("A", "B"):
        book.add_sensor(key, name, {"kind": "inductive"})
    return key


@pytest.fixture
def begun(client: TestClient, book: Book, machine: int) -> str:
    """The address of a trial that the usual plan leads."""
    client.post(f"/machines/{machine}/trials", data=TRIAL | {"follow": "yes"})
    return f"/machines/{machine}/trial"


def heading(page: str) -> str:
    return html.unescape(re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)[1])


def entry(page: str) -> dict[str, str]:
    form = page.partition('id="entry"')[2].partition("</form>")[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))


def take(client: TestClient, page: str, readings: int) -> str:
    for number in range(readings):
        page = client.post(
            "/trials/1/readings", data=entry(page) | {"deviation": f"0.0{number % 7}", "ask": ""}
        ).text
    return page


def test_from_reading_to_reading_and_candidate_to_candidate(client: TestClient, book: Book, begun: str):
    plan = client.get("/machines/1/plan.json").json()
    page = client.get(begun).text
    order = [step["sensor"] for step in plan["steps"]]
    assert heading(page) == f"Before the first power-up, {order[0]}: home once, then read 10 times without homing"
    page = take(client, page, 40)  # both candidates, both sides
    assert heading(page).startswith(f"Power-up 1 of {plan['power_ups']}, now {order[2]}: switch off")
    page = take(client, page, 2 * plan["homings"])
    assert heading(page).startswith(f"Power-up 1 of {plan['power_ups']}, now {order[3]}:")
    rows = book.rows(1)
    assert [row.sensor for row in rows[40:]] == [order[2]] * 2 * plan["homings"]
    assert sum(row.repeat for row in rows) == 40
    assert "3 of" in client.get(begun).text  # two series of readings without homing and one power-up


def test_after_a_power_up_no_reading_comes_before_the_first(client: TestClient, book: Book, begun: str):
    """As when power-ups came in by file: what indicator and stand add is still asked for, in other words."""
    first = client.get("/machines/1/plan.json").json()["steps"][0]["sensor"]
    for side in "LR":
        place = {"sensor": first, "axis": "Y", "side": side, "set_label": "1", "homing": 1}
        book.add_reading(1, NewReading(deviation_mm=0.01, resolution_mm=0.001, **place))
    assert heading(client.get(begun).text) == f"{first}: home once, then read 10 times without homing"


def test_a_step_is_skipped_shown_and_taken_up_again(client: TestClient, book: Book, begun: str):
    page = take(client, client.get(begun).text, 43)
    now = heading(page)
    number = re.search(r'name="step" value="(\d+)"', page)[1]
    page = client.post("/trials/1/plan/skip", data={"step": number, "why": "bumped"}).text
    assert heading(page) != now
    assert "1 skipped" in page
    assert "skipped: bumped" in page
    assert len(book.rows(1)) == 43
    page = client.post("/trials/1/plan/take-up", data={"step": number}).text
    assert heading(page) == now


def test_another_candidate_by_hand_and_back_to_the_plan(client: TestClient, begun: str):
    led = heading(client.get(begun).text)
    page = client.get(begun + "?trial=1&sensor=B&axis=Y&sides=L").text
    assert heading(page).startswith("Set 1: switch off")
    assert "Back to the plan" in page
    page = client.post("/trials/1/readings", data=entry(page) | {"deviation": "0.01"}).text
    assert heading(page).startswith("Move away")  # by hand it goes on by hand
    assert heading(client.get(begun).text) == led


def test_a_plan_made_first_leads_the_trial_that_begins(client: TestClient, book: Book, machine: int):
    page = client.post(f"/machines/{machine}/plan/follow", data={"minutes": "60", "fewest": "2", "most": "2"}).text
    assert "The plan is kept" in page
    client.post(f"/machines/{machine}/trials", data=TRIAL | {"follow": "yes"})
    wanted = client.get(f"/machines/{machine}/plan.json?minutes=60&fewest=2&most=2").json()
    assert f"of {len(wanted['steps'])} steps taken" in client.get(f"/machines/{machine}/trial").text


def test_left_the_plan_asks_nothing_and_can_lead_again(client: TestClient, machine: int, begun: str):
    take(client, client.get(begun).text, 5)
    page = client.post("/trials/1/plan/leave").text
    assert "steps taken" not in page
    page = client.post(f"/machines/{machine}/plan/follow").text
    assert "reading 6 of 10 without homing" in page


def test_without_the_tick_nothing_leads(client: TestClient, machine: int):
    client.post(f"/machines/{machine}/trials", data=TRIAL)
    assert "steps taken" not in client.get(f"/machines/{machine}/trial").text


def test_what_cannot_hold_any_more_may_be_skipped_at_once_but_holding_is_no_reason(client, book: Book, demo: int):
    client.post(f"/machines/{demo}/plan/follow", data={"minutes": "600"})
    page = client.get(f"/machines/{demo}/trial").text
    assert "makes luck look like proof" in page  # the one that holds so far
    skipped = re.findall(r'name="candidate" value="(\w+)"', page)
    assert skipped
    client.post("/trials/1/plan/skip", data={"candidate": skipped[0], "why": "it does not hold already"})
    page = client.get(f"/machines/{demo}/trial").text
    assert f'name="candidate" value="{skipped[0]}"' not in page
    assert "skipped: it does not hold already" in page
