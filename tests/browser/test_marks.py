"""Marks of single readings, the first page and a text to be mended, in a browser."""

import sqlite3
from contextlib import closing

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width
from case.books import BOOKS, SENSORS, Trialled, gantry, one_motor, readings_csv
from holdzero.inputs.reading import read_readings
from holdzero.web import start

pytestmark = pytest.mark.browser


def keep(site, machine: dict, *trials: Trialled) -> int:
    machine_id = site.book.add_machine(machine)
    site.book.add_sensor(machine_id, "K", SENSORS["K"])
    for trial in trials:
        trial_id = site.book.add_trial(machine_id, name="One", axis=trial.axis)
        site.book.import_readings(trial_id, read_readings(readings_csv(trial)))
    return machine_id


def test_one_reading_is_left_out_and_counted_again(open_page, site):
    """From the tables of the trial, on a phone; free of accessibility faults."""
    machine_id = keep(site, one_motor(), Trialled(axis="X", sensors=("K",)))
    page = open_page(f"/machines/{machine_id}/trial", width=390)
    page.locator("#newest").get_by_role("link", name="Put right").first.click()
    page.locator("#f-left").wait_for()
    page.wait_for_load_state()
    assert faults_and_width(page) == []
    page.locator("#f-left").fill("hand on the indicator")
    page.get_by_role("button", name="Leave it out").click()
    page.get_by_text("It is left out: hand on the indicator.").wait_for()
    page.wait_for_load_state()
    assert faults_and_width(page) == []
    page.get_by_role("button", name="Count it again").first.click()  # the other is in the bar at the foot
    page.get_by_text("left out no more (was “hand on the indicator”)").wait_for()
    assert site.book.rows(1)[-1].left_out == ""


def test_machines_fill_in_by_themselves_and_a_text_is_mended(open_page, site, monkeypatch):
    monkeypatch.setattr(start, "ANSWER_WITHIN_S", 0.0)
    for _ in range(3):
        keep(site, one_motor())
    page = open_page("/", width=390)
    page.locator("#machines:not(:has([data-late]))").wait_for()
    expect(page.locator("#machines").get_by_text("Cannot say yet whether X holds zero")).to_have_count(3)
    assert faults_and_width(page) == []
    with closing(sqlite3.connect(site.book.path)) as sqlite, sqlite:
        sqlite.execute("update machine set document = '{' where id = 2")
    page.goto(site.address + "/machines/2/machine")
    page.get_by_role("link", name="Put its text right").click()
    page.locator("#f-text").wait_for()
    page.wait_for_load_state()
    assert faults_and_width(page) == []
    page.locator("#f-text").fill('[machine]\nname = "Mended"\n[axes.X]\ntravel = "400 mm"')
    page.get_by_role("button", name="Keep").click()
    page.wait_for_url("**/machines/2/machine")
    assert site.book.machine(2).machine.name == "Mended"
    site.trouble[:] = [trouble for trouble in site.trouble if "422" not in trouble]  # of the page that was refused


def test_the_axis_is_a_row_of_links(open_page, site):
    trials = BOOKS["two axes on two motors"].trials
    machine_id = keep(site, gantry("Y", "A"), *(Trialled(axis=trial.axis, sensors=("K",)) for trial in trials))
    page = open_page(f"/machines/{machine_id}/choice", width=390)
    page.locator("#axes").locator("a", has_text="A").last.click()
    page.wait_for_url("**look_at=A")
    expect(page.locator("#axes b")).to_have_text("A")
    assert faults_and_width(page) == []
