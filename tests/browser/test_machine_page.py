"""In a browser: a machine told by a drawing, by keyboard alone and on a phone."""

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults
from ready_books import keep_demo

pytestmark = pytest.mark.browser
SCREEN_PX = 844
OVERLAPS = """
[...document.querySelectorAll('.sketch')].flatMap((sketch) => {
  const boxes = [...sketch.querySelectorAll('.at')].map((part) => part.getBoundingClientRect());
  const frame = sketch.getBoundingClientRect();
  const out = boxes.filter((box) => box.left < frame.left - 1 || box.right > frame.right + 1).map(() => 'outside');
  const meet = (box, next) => box.left < next.right && next.left < box.right
    && box.top < next.bottom && next.top < box.bottom;
  const met = boxes.flatMap((box, i) => boxes.slice(i + 1).filter((next) => meet(box, next))).map(() => 'meet');
  return [...out, ...met];
})
"""
KINDS = {
    "Y": {"motors": 2, "moves": "gantry"},
    "X": {"moves": "carriage"},
    "Z": {"moves": "head"},
    "W": {"moves": "head", "gravity": "towards home"},
    "V": {"motors": 2, "limit_switch": "shared"},
    "U": {"limit_switch": "none"},
}


def test_lengths_are_typed_on_the_drawing_by_keyboard_alone(open_page, site):
    machine = site.book.add_machine({"axes": {"Y": {"motors": "2"}}})
    page = open_page(f"/machines/{machine}/machine")
    page.locator("#f-axes-Y-travel").focus()
    for text in ("1300", "1070", "35", "26"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    page.locator("#f-axes-Y-limit_trip[value='26 mm']").wait_for()
    axis = site.book.machine(machine).machine.axis("Y")
    lengths = (axis.travel_mm, axis.drive_distance_mm, axis.places.home_trip_mm, axis.places.limit_trip_mm)
    assert lengths == (1300, 1070, 35, 26)
    expect(page.locator("#drawing text", has_text="1070").first).to_be_attached()
    needs = page.locator("#needs-stops-Y summary")
    expect(needs).to_contain_text("4 figures")
    needs.focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.matches('a')"):  # what stands further up
        page.keyboard.press("Tab")
    for text in ("40", "800", "12", "150"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    page.locator("#needs-stops-Y", has_text="all given").wait_for()
    expect(page.locator("#f-axes-Y-delay")).to_be_visible()  # what was typed stays where it was typed


def test_an_axis_is_added_by_the_drawing_and_asked_whether_it_falls(open_page, site):
    machine = site.book.add_machine({"axes": {"Y": {"motors": "2"}}})
    page = open_page(f"/machines/{machine}/machine", width=390)
    page.get_by_text("Another axis").first.click()
    page.get_by_role("button", name="Head, up and down").click()
    page.get_by_text("When the power goes: can Z fall").wait_for()
    expect(page.locator("#axis-Z[open]")).to_be_visible()
    page.locator("#f-axes-Z-gravity").select_option("away from home")
    page.locator("#axis-Z .fate[data-fate=kept]").first.wait_for()
    assert site.book.machine(machine).machine.axis("Z").moving.gravity == "away from home"
    expect(page.locator("#axis-Z .look-here")).to_have_count(0)


def test_a_figure_is_found_by_a_word_and_a_link_opens_its_place(open_page, site):
    machine = keep_demo(site.book, fitted=False)
    page = open_page(f"/machines/{machine}/machine")
    page.get_by_text("Every other figure").click()
    page.get_by_label("Find a figure").press_sequentially("bumper")
    expect(page.locator("#found-figures")).to_contain_text("figure")
    shown = page.locator("#all-fields .field:visible label").all_inner_texts()
    assert {text for text in shown if text != "Find a figure"} == {"Bumper stroke", "Bumper energy"}
    page.get_by_label("Find a figure").fill("")
    page.locator("#all-fields details.group", has_text="Y: Places").locator("summary").click()
    page.locator("#all-fields a[href='#f-axes-Y-home_trip']").click()
    expect(page.locator("#f-axes-Y-home_trip")).to_be_focused()


def test_a_slip_on_the_drawing_is_said_at_its_field(open_page, site):
    machine = site.book.add_machine({"axes": {"Y": {"motors": "2"}}})
    page = open_page(f"/machines/{machine}/machine", width=390)
    field = page.locator("#f-axes-Y-home_trip")
    field.fill("12 volts")
    field.press("Tab")
    page.locator("#f-axes-Y-home_trip-error").wait_for()
    expect(field).to_have_value("12 volts")
    site.trouble[:] = [text for text in site.trouble if "422" not in text]  # the answer to it
    error = page.locator("#f-axes-Y-home_trip-error").bounding_box()
    assert error["x"] >= 0
    assert error["x"] + error["width"] <= 390


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_short_on_a_phone_and_without_a_fault(open_page, site, dark: bool):
    machines = [
        keep_demo(site.book),
        site.book.add_machine({"machine": {"name": "Mine"}, "axes": {"Y": {"motors": "1"}}}),
        site.book.add_machine({"machine": {"name": "Every kind"}, "axes": KINDS}),
    ]
    page = open_page("/", width=390, dark=dark)
    for machine in machines:
        page.goto(f"{site.address}/machines/{machine}/machine")
        height = page.evaluate("document.documentElement.scrollHeight")
        assert machine == machines[-1] or height <= 4 * SCREEN_PX, (machine, height)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert page.evaluate(OVERLAPS) == []
    page.goto(f"{site.address}/machines/{machines[-1]}/machine")
    page.evaluate("for (const part of document.querySelectorAll('.axis, .needs')) part.open = true")
    assert faults(page) == []
