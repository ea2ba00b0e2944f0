"""In a browser: from an empty book to a record in at most 60 actions.

An action is one click, tap, paste, file dropped or one field filled. Ten homings typed by hand and the tests of
the installation are counted apart.
"""

import re
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import expect

from browser.waiting import until_is

pytestmark = pytest.mark.browser
MOST = 60
POWER_UPS, HOMINGS = 10, 5


class Hand:
    """Does what a person does, and counts it."""

    def __init__(self, page, address: str) -> None:
        self.page, self.address, self.actions, self.typed = page, address, 0, 0

    def click(self, what) -> None:
        self.actions += 1
        what.first.click()

    def press(self, name: str) -> None:
        self.click(self.page.get_by_role("button", name=re.compile(name)))

    def fill(self, selector: str, text: str) -> None:
        self.actions += 1
        self.page.locator(selector).first.fill(text)

    def choose(self, what, value: str) -> None:
        self.actions += 1
        what.first.select_option(value)

    def go(self, station: str) -> None:
        """Along the rail."""
        rail = self.page.get_by_role("navigation", name="Stations")
        self.click(rail.get_by_role("link", name=re.compile(f"^{station}")))
        self.page.wait_for_url(f"**/{station.lower()}*")

    def candidate(self, name: str, price: str) -> None:
        if self.page.locator("#sensor-new[open]").count() == 0:
            self.click(self.page.locator("#sensor-new > summary"))
        self.fill("#new-f-name", name)
        self.fill("#new-f-price", price)
        self.press("^Add$")
        self.page.locator(".told", has_text=f"{name} added.").wait_for()


def columns() -> str:
    """Power-up; Homing; Left | Right of a switch that scatters by 4 um."""
    draw = np.random.default_rng(20260301)
    rows = ["Power-up;Homing;Left;Right"]
    for power_up in range(1, POWER_UPS + 1):
        for homing in range(1, HOMINGS + 1):
            left, right = (f"{value:.3f}" for value in draw.normal(0, 0.004, 2))
            rows.append(f"{power_up};{homing};{left};{right}")
    return "\n".join(rows)


def file() -> str:
    """The same of another one, as a readings file."""
    draw = np.random.default_rng(20260302)
    rows = ["sensor,axis,side,set,homing,deviation_mm,resolution_mm"]
    for power_up in range(1, POWER_UPS + 1):
        for homing in range(1, HOMINGS + 1):
            rows += [f"B,Y,{side},{power_up},{homing},{draw.normal(0, 0.03):.3f},0.001" for side in "LR"]
    return "\n".join(rows)


def test_from_an_empty_book_to_a_record(open_page, site, tmp_path: Path):
    page = open_page("/", width=390)
    hand = Hand(page, site.address)
    for name, text in (
        ("name", "Router"),
        ("drive_distance", "980 mm"),
        ("squareness", "0.1 over 600"),
        ("position", "0.1 mm"),
    ):
        hand.fill(f'form[action="/machines"] [name$="{name}"]', text)
    hand.click(page.locator('form[action="/machines"] button'))
    page.wait_for_url("**/machine*")
    hand.go("Sensors")
    for name, price in (("A", "24 EUR"), ("B", "9"), ("C", "14")):
        hand.candidate(name, price)

    hand.go("Trial")
    hand.fill("#f-resolution", "0.001 mm")
    hand.click(page.get_by_label("The emergency stop was tested today"))
    hand.press("^Begin the trial")
    page.wait_for_url("**/trial?trial=*")
    hand.click(page.get_by_text("Paste readings"))
    hand.choose(page.get_by_label("They are of the candidate"), "A")
    hand.fill("#f-text", columns())
    hand.press("^Bring them in")
    page.wait_for_url("**/import/**")
    expect(page.locator("h1")).to_contain_text("100 readings in paste, of A")
    hand.press("^Bring them in")
    page.wait_for_url("**/findings*")
    assert len(read_of(site, "A")) == len(site.book.rows(1)) == 2 * POWER_UPS * HOMINGS

    (tmp_path / "monday.csv").write_text(file())
    hand.go("Trial")
    hand.click(page.get_by_text("Bring in a file"))
    hand.actions += 1  # the file dropped
    page.get_by_label("Readings file").set_input_files(tmp_path / "monday.csv")
    hand.press("^Bring it in")
    page.wait_for_url("**/import/**")
    hand.press("^Bring them in")
    page.wait_for_url("**/findings*")

    hand.go("Trial")
    type_ten(hand, site)

    hand.go("Wiring")
    hand.choose(page.get_by_label("Begin with"), "contact")
    hand.press("^Add it")
    page.get_by_role("heading", name=re.compile("works", re.IGNORECASE)).first.wait_for()

    hand.go("Square")
    for name, text in (
        ("a", "1000 mm"),
        ("b", "800 mm"),
        ("ac", "1280.8 mm"),
        ("bd", "1280.4 mm"),
        ("u", "0.1 mm"),
    ):
        hand.fill(f'[name="{name}"]', text)
    hand.press("^Add the round")
    page.get_by_text("Take back").first.wait_for(state="attached")

    hand.go("Choice")
    hand.fill("#f-reason", "the only one shown to hold")
    hand.fill("#f-by", "the keeper")
    hand.press("^Keep the decision")
    page.locator(".told", has_text="A is taken (holds").wait_for()
    hand.go("Record")
    hand.press("^Keep this record")
    until_is(page, lambda: len(site.book.results(1, "record")), 1)
    print(f"{hand.actions} actions, and {hand.typed} for the ten homings typed")
    assert hand.actions <= MOST


def type_ten(hand: Hand, site) -> None:
    """Ten homings of C, both sides in turn: five of each, typed and accepted."""
    page = hand.page
    page.locator(".entry").wait_for()
    hand.click(page.locator("summary", has_text=re.compile("andidate")))
    hand.choose(page.locator("#f-sensor"), "C")
    expect(page.locator("#entry [name=sensor]")).to_have_value("C")
    values = ("0.010", "0.012", "0.011", "0.009", "0.013", "0.010", "0.008", "0.012", "0.011", "0.010")
    for number, value in enumerate(values, 1):
        page.locator("#f-deviation").fill(value)
        page.keyboard.press("Enter")
        hand.typed += 2
        until_is(page, lambda: len(read_of(site, "C")), number)


def read_of(site, sensor: str) -> list[float]:
    trials = site.book.trials(1)
    return [row.deviation_mm for trial in trials for row in site.book.rows(trial.id) if row.sensor == sensor]
