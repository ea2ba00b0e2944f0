"""In a browser: the plan leads from reading to reading, from candidate to candidate, by keyboard alone."""

import re

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults

pytestmark = pytest.mark.browser
MACHINE = {"requirement": {"position": "0.05 mm"}, "axes": {"Y": {"motors": "1"}}}


@pytest.fixture
def machine(site) -> int:
    key = site.book.add_machine(MACHINE)
    for name in ("A", "B"):
        site.book.add_sensor(key, name, {"kind": "inductive"})
    return key


def label(page) -> str:
    return page.locator("label[for=f-deviation]").inner_text()


def test_typing_and_enter_goes_through_the_plan(open_page, site, machine: int):
    page = open_page(f"/machines/{machine}/trial")
    page.get_by_label("The emergency stop was tested today").check()
    page.get_by_role("button", name="Begin the trial").click()
    page.locator("h1", has_text="Before the first power-up").wait_for()
    page.locator("label[for=f-deviation]", has_text="reading 1 of 10").wait_for()
    first = label(page)[0]
    for number in range(1, 21):
        page.locator(
            "label[for=f-deviation]", has_text=re.compile(f"reading {(number - 1) % 10 + 1} of 10")
        ).wait_for()
        page.keyboard.type(f"0.0{number % 10}")
        page.keyboard.press("Enter")
    page.locator("h1", has_text=re.compile("^Power-up 1 of .*, now .: switch off")).wait_for()
    assert {row.sensor for row in site.book.rows(1)} == {"A", "B"}
    assert site.book.rows(1)[0].sensor == first
    page.get_by_text("Skip this power-up").click()
    page.get_by_label("Why").fill("the stand fell over")
    page.keyboard.press("Enter")
    page.locator("#so-far", has_text="1 skipped").wait_for()
    expect(page.locator("#f-deviation")).to_be_focused()
    page.keyboard.type("0.01")
    page.keyboard.press("Enter")
    page.locator("label[for=f-deviation]", has_text="homing 2 of").wait_for()
    page.get_by_text("Every step").click()
    page.get_by_role("button", name=re.compile("Take it up again")).click()
    page.locator("label[for=f-deviation]", has_text="homing 1 of").wait_for()


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)], ids=["phone, dark", "wide, light"])
def test_without_a_fault(open_page, site, machine: int, width: int, dark: bool):
    page = open_page(f"/machines/{machine}/trial", width=width, dark=dark)
    page.get_by_label("The emergency stop was tested today").check()
    page.get_by_role("button", name="Begin the trial").click()
    page.locator("#now").wait_for()
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert faults(page) == []
    small = page.evaluate(
        "[...document.querySelectorAll('button, summary, select')].filter((part) => part.checkVisibility()"
        " && part.getBoundingClientRect().height < 43.5).map((part) => part.outerHTML.slice(0, 200))"
    )
    assert small == []
