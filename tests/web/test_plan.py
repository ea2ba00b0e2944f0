"""Plan page: the plan, its sheet and its program, on a page."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero.demo import PLANTED


@pytest.fixture
def plan(demo: int) -> str:
    return f"/machines/{demo}/plan"


def test_the_page_says_the_split_and_its_json_twin_agrees(client: TestClient, plan: str):
    """docs/plan.md: 90 min, 1 min a homing, 5 min a power-up, 3 to 5 homings: 11 power-ups of 3."""
    page = client.get(plan)
    assert page.status_code == 200
    assert "<h1>11 power-ups of 3 homings each, over two days: 88 min for each candidate, " in page.text
    twin = client.get(f"{plan}.json").json()
    assert (twin["power_ups"], twin["homings"], twin["minutes"]) == (11, 3, 88)
    assert sorted(
        step["sensor"] for step in twin["steps"] if step["kind"] == "set" and step["block"] == 1
    ) == sorted(planted.sensor for planted in PLANTED)


def test_it_stands_at_the_trial_and_the_trial_leads_to_it(client: TestClient, plan: str):
    (place,) = re.findall(r'<li class="[^"]*\bhere\b[^"]*">(.*?)</li>', client.get(plan).text, re.S)
    assert "Trial" in place
    assert f'href="{plan}' in client.get(plan.replace("/plan", "/trial")).text


def test_too_little_time_is_said_and_the_page_stays_useful(client: TestClient, plan: str):
    """Hand calculation: 4 power-ups of 5 + 3 x 1 min are 32 min."""
    page = client.get(plan, params={"minutes": "20"})
    assert page.status_code == 422
    assert "32 min for 4 power-ups of 3 homings" in page.text
    assert client.get(f"{plan}.json", params={"minutes": "20"}).status_code == 422


def test_the_sheet_prints(client: TestClient, plan: str):
    assert client.get(f"{plan}/sheet.pdf").content.startswith(b"%PDF")
    sheet = client.get(f"{plan}/sheet.html", params={"fewest": "3"}).text
    assert sheet.count("Power-up ") == 11  # the best split of at least three: 11 power-ups
    assert "not a safety function" in sheet


class TestProgram:
    """The caution stands before the button, and a tick enables it."""

    def test_no_program_without_the_tick(self, client: TestClient, plan: str):
        page = client.get(plan).text
        assert page.index("Moves by itself") < page.index("Write the program")
        answer = client.get(f"{plan}/motion.nc", params={"reach": "0 to 1290"})
        assert answer.status_code == 422
        assert "emergency stop" in answer.text

    def test_with_it_a_program_inside_the_travel(self, client: TestClient, plan: str):
        given = {"reach": "0 to 1290", "stop_tested": "yes", "set": "2"}
        first = client.get(f"{plan}/motion.nc", params=given | {"set": "1"}).text
        second = client.get(f"{plan}/motion.nc", params=given).text
        places = [float(place) for place in re.findall(r"G53 G1 Y([\d.]+)", second)]
        assert len(places) == 3
        assert all(20 <= place <= 220 for place in places)
        assert places != [float(place) for place in re.findall(r"G53 G1 Y([\d.]+)", first)]

    def test_a_start_outside_is_refused(self, client: TestClient, plan: str):
        given = {"reach": "0 to 120", "farthest": "200", "stop_tested": "yes"}
        answer = client.get(f"{plan}/motion.nc", params=given)
        assert answer.status_code == 422
        assert "nothing was written" in answer.text


def test_it_leads_to_the_noise_hunt(client: TestClient, plan: str, demo: int):
    assert f'href="/machines/{demo}/noise"' in client.get(plan).text


def test_a_long_run_comes_with_its_conditions_and_only_once_the_machine_stops(client: TestClient, plan: str):
    """Engineering of a long run: never left alone; not offered before the stop tests are passed."""
    page = client.get(plan).text
    run = client.get(f"{plan}.json").json()["long_run"]
    assert run["offered"] is (run["stops"] == "good" and run["pays_up_to"] is not None)
    assert len(run["conditions"]) == 5
    assert ("Never left alone" in page) is (run["pays_up_to"] is not None)


def test_the_one_chosen_gets_a_confirming_trial(client: TestClient, plan: str):
    """Of several tried one may hold by luck: the page leads to a trial of that one, alone."""
    page = client.get(plan).text
    (link,) = re.findall(r'href="([^"]*plan\?confirm=[^"]*)"', page)
    alone = client.get(link.replace("&amp;", "&"))
    assert "once more, alone" in alone.text
    assert "mark it as confirming" in alone.text
    chosen = link.split("confirm=")[1]
    assert client.get(f"{plan}.json", params={"confirm": chosen}).json()["sensors"] == [chosen]
