"""In a browser: what a person does on a first visit, at the machine, and on a phone."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width, open_all
from holdzero import demo
from holdzero.web.stations import STATIONS
from ready_books import keep_demo

N = demo.POWER_UPS * demo.HOMINGS

pytestmark = pytest.mark.browser
OPEN = [station.slug for station in STATIONS if station.router]


def heading(page) -> str:
    return page.locator("h1").inner_text().replace("\u202f", " ")


def wait_for_homing(page, asked: str) -> None:
    page.locator("label[for=f-deviation]", has_text=asked).wait_for()


def test_first_visit_to_the_demo_book(open_page):
    page = open_page()
    assert heading(page) == "Does this machine hold zero?"
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_url("**/choice")
    assert heading(page) == f"{demo.WINNER} is the cheapest that holds so far"
    expect(page.get_by_text(demo.INVENTED)).to_be_visible()
    rail = page.get_by_role("navigation", name="Stations")
    expect(rail.locator("[aria-current=page] .name")).to_have_text("Choice")
    rail.get_by_role("link", name=re.compile("^Findings")).click()
    page.wait_for_url("**/findings*")
    page.get_by_role("link", name=demo.WINNER, exact=True).click()
    page.get_by_role("heading", name=re.compile(f"^{demo.WINNER}, Y right minus left")).wait_for()


def test_a_homing_by_hand_changes_the_findings(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/trial?sensor={demo.WINNER}&sides=L")
    so_far = page.locator("#so-far")
    before = so_far.inner_text()
    page.get_by_role("button", name="next set").click()
    wait_for_homing(page, f"Set {demo.POWER_UPS + 1}, homing 1")
    page.keyboard.type("0.080")  # the field has the focus
    page.keyboard.press("Enter")
    wait_for_homing(page, f"Set {demo.POWER_UPS + 1}, homing 2")
    page.get_by_text(f"{N + 1} homings over {demo.POWER_UPS + 1} power-ups").wait_for()
    expect(so_far).not_to_have_text(before, use_inner_text=True)
    expect(page.locator("#f-deviation")).to_be_focused()
    assert [row.deviation_mm for row in site.book.rows(1, newest=1)] == [0.080]
    page.get_by_role("button", name=re.compile("^Take back 0.080")).click()
    wait_for_homing(page, f"Set {demo.POWER_UPS + 1}, homing 1")
    page.get_by_text(f"{N} homings over {demo.POWER_UPS} power-ups").wait_for()
    expect(so_far).to_have_text(before, use_inner_text=True)


def test_a_slip_of_the_keys_is_said_at_the_field(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/trial")
    page.locator("#f-deviation").fill("0.08o")
    with page.expect_response("**/readings"):
        page.keyboard.press("Enter")
    page.locator("#f-deviation-error").wait_for()
    expect(page.locator("#f-deviation")).to_have_value("0.08o")
    expect(page.locator("#f-deviation")).to_be_focused()
    site.trouble[:] = [
        one for one in site.trouble if "422" not in one
    ]  # the answer's status, logged by the browser
    assert len(site.book.rows(1)) == demo.READINGS


def test_a_csv_comes_in(open_page, site, tmp_path: Path):
    machine = keep_demo(site.book)
    saturday = tmp_path / "saturday.csv"
    saturday.write_text("sensor,axis,side,set,deviation_um\n" + "K,Y,L,1,3\nK,Y,L,1,5\nK,Y,L,2,4\nK,Y,L,2,6\n")
    page = open_page(f"/machines/{machine}/trial")
    page.get_by_text("Bring in a file").click()
    page.get_by_label("Readings file").set_input_files(saturday)
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_role("heading", name="4 readings in saturday.csv").wait_for()
    page.get_by_role("button", name="Bring them in").click()
    page.locator(".told", has_text="4 readings came in").wait_for()
    page.goto(f"{site.address}/machines/{machine}/findings?sensor=K&side=L")
    assert heading(page).startswith("K, Y left: spread")
    both = f"{N + 4} homings over {demo.POWER_UPS + 2} power-ups"
    assert both in page.locator(".lead").inner_text()


def test_editing_what_is_asked_recomputes_in_place(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/choice")
    page.evaluate("window.sameSheet = true")
    page.get_by_text("What is asked: change it").click()
    field = page.get_by_label("Squareness")
    field.fill("0.004 mm over 600 mm")
    field.press("Tab")
    page.get_by_role("heading", name="No candidate is shown to hold").wait_for()
    assert page.evaluate("window.sameSheet")  # the page was not loaded anew
    expect(page.locator("[name='requirement.position']")).to_be_focused()


def test_switch_to_inches_and_back(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/machine")
    assert "31.5 µm" in heading(page)
    page.get_by_role("button", name="inch").click()
    page.get_by_role("heading", name=re.compile("thou")).wait_for()
    assert "1.24 thou" in heading(page)  # 0.09 mm x 1070/700 / (sqrt 2 x 3.0902) = 31.48 µm; / 25.4
    page.get_by_role("button", name="mm", exact=True).click()
    page.get_by_role("heading", name=re.compile("µm")).wait_for()


def test_without_script_forms_still_work(open_page, site):
    page = open_page("/", script=False)
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_url("**/choice")
    assert heading(page) == f"{demo.WINNER} is the cheapest that holds so far"
    page.get_by_role("button", name="inch").click()
    expect(page.locator("#allowed summary")).to_contain_text("thou")


@pytest.mark.parametrize(("slug", "screens"), [("findings", 3), ("choice", 4)])
def test_what_decides_is_seen_without_much_scrolling_on_a_phone(open_page, site, slug: str, screens: int):
    """A phone of 390 x 844 px, the demo book, as the page opens."""
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/{slug}", width=390)
    page.locator("#next:not([data-next])").wait_for()
    assert page.evaluate("document.documentElement.scrollHeight") <= screens * 844


def test_by_keyboard_alone(open_page, site):
    page = open_page()
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Skip to the page")
    page.keyboard.press("Enter")
    page.wait_for_url("**#main")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Open the demo")
    page.keyboard.press("Enter")
    page.wait_for_url("**/choice")


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone, light", "wide, dark"])
def test_no_page_has_an_accessibility_fault_or_runs_off_the_screen(open_page, site, width: int, dark: bool):
    """Checked by axe-core out of the installed package, on every page, closed parts opened."""
    page = open_page("/", width=width, dark=dark)
    faulty = _faulty(page, "/")
    machine = keep_demo(site.book)
    bare = site.book.add_machine({"machine": {"name": "Bare"}, "axes": {"Y": {"motors": 2}}})
    keys = (machine,) if dark else (machine, bare)
    addresses = ["/", "/nowhere", "/keys", *(f"/machines/{key}/{slug}" for key in keys for slug in OPEN)]
    for address in addresses:
        page.goto(site.address + address)
        faulty += _faulty(page, address)
    site.trouble[:] = [one for one in site.trouble if "404" not in one]  # of /nowhere
    assert faulty == []


SMALL_TARGETS = """
[...document.querySelectorAll('button, select, input:not([type=hidden], [type=checkbox]), summary, .rail a')]
.filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 43.5)
.map((one) => one.outerHTML.slice(0, 200))
"""


def _faulty(page, address: str) -> list[tuple[str, str]]:
    open_all(page)
    small = [f"a target below 44 px: {target}" for target in page.evaluate(SMALL_TARGETS)]
    return [(address, fault) for fault in faults_and_width(page) + small]
