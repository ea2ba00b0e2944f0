"""In a browser: the tests ticked at the machine, on a phone, with a second device looking on."""

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width, open_all
from holdzero.store import Outcome
from ready_books import keep_demo

pytestmark = pytest.mark.browser


def test_ticked_on_a_phone_and_seen_on_the_bench(open_page, site):
    machine = keep_demo(site.book)
    bench = open_page(f"/machines/{machine}/install")
    phone = open_page(f"/machines/{machine}/install", width=390)
    phone.get_by_role("textbox", name="Stopped after").fill("0.3")
    phone.locator("#t-emergency-stop").get_by_label("By", exact=True).fill("Ada")
    phone.locator("#t-emergency-stop").get_by_role("button", name="As it has to").click()
    phone.locator("#verdict .lead", has_text="1 of 34 tests done").wait_for()
    expect(phone.locator("#said")).to_have_text("")
    expect(phone.locator("#s-y-by-hand-from-end-to-end")).to_be_focused()  # the next test is open
    upcoming = phone.locator("#t-y-by-hand-from-end-to-end")
    expect(upcoming.get_by_label("By", exact=True)).to_have_value("Ada")
    upcoming.get_by_label("Note").fill("left stop touches first")
    upcoming.get_by_role("button", name="Failed").click()
    phone.locator("#verdict .lead", has_text="“By hand from end to end (Y)” failed").wait_for()
    bench.locator(
        "#verdict .lead", has_text="“By hand from end to end (Y)” failed"
    ).wait_for()  # without being asked
    expect(bench.get_by_text("left stop touches first").first).to_be_visible()
    assert [one.outcome for one in site.book.checks(machine)] == [Outcome.DONE, Outcome.FAILED]


def test_without_script(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/install", script=False)
    page.locator("#t-emergency-stop").get_by_role("button", name="As it has to").click()
    page.wait_for_url("**/install#t-emergency-stop")
    expect(page.locator("#verdict .lead")).to_contain_text("1 of 34 tests done")


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone, light", "wide, dark"])
def test_no_accessibility_fault_and_nothing_runs_off(open_page, site, width: int, dark: bool):
    machine = keep_demo(site.book)
    site.book.add_check(machine, item="emergency-stop", outcome=Outcome.FAILED, measured="0.3 s", note="x" * 300)
    site.book.add_check(machine, item="y-which-way", outcome=Outcome.DONE)
    site.book.add_check(machine, item="z-which-way", outcome=Outcome.DONE)
    page = open_page(f"/machines/{machine}/install", width=width, dark=dark)
    open_all(page)
    assert faults_and_width(page) == []
