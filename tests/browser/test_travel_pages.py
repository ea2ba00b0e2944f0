"""In a browser: Machine, Travel and Budget by hand, for everyone, and on a phone."""

import re

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width, open_all
from holdzero.form import read_toml
from holdzero.inputs.machine.presets import PRESETS, preset

pytestmark = pytest.mark.browser
PAGES = ("machine", "travel", "travel?axis=Y&left=12&right=12.6", "budget")
SMALL_TARGETS = """
[...document.querySelectorAll('button, .button, select, input:not([type=hidden]), summary, .rail a')]
.filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 43.5)
.map((one) => one.outerHTML.slice(0, 200))
"""

LETTERING = """
[...document.querySelectorAll('.picture svg')].filter((one) => one.checkVisibility()).flatMap((one) => {
  const sheet = one.getBoundingClientRect();
  const words = [...one.querySelectorAll('text')].map((text) => [text.textContent, text.getBoundingClientRect()]);
  const cut = words.filter(([, box]) => box.left < sheet.left - 1 || box.right > sheet.right + 1);
  const met = words.filter(([, a], i) => words.some(([, b], j) => j < i
    && Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4));
  return [...cut.map(([text]) => 'cut: ' + text), ...met.map(([text]) => 'over another: ' + text)];
})
"""
STRANGE = {  # shapes that a drawing must take: axes by name with travel, limit, home and speed
    "five axes": {"X": (600, 8, 12, 80), "Y": (400, 8, 12, 80), "Z": (450, 8, 12, 80), "A": (360, 4, 8, 40)},
    "3 m": {"X": (3000, 20, 30, 300)},
    "20 mm": {"W": (20, 1, 2, 10)},
    "runs into everything": {"Y": (1300, 4, 6, 944.9)},
}


def strange(name: str) -> dict:
    axes = {
        axis: {
            "travel": f"{travel} mm", "limit_trip": f"{limit} mm", "home_trip": f"{home} mm",
            "far_limit_trip": f"{limit} mm", "differential_travel": "0.3 mm +- 0.1 mm", "back_off": "5 mm",
            "flag_home": f"{home / 2} mm", "flag_limit": f"{limit * 2} mm", "top_speed": f"{speed} mm/s",
            "approach_speed": f"{speed / 3} mm/s", "creep_speed": "2 mm/s", "acceleration": "500 mm/s2",
            "delay": "12 ms", "moving_mass": "20 kg", "friction": "20 N",
            "soft_limits": f"{home} mm to {travel} mm", "index_pitch": "5 mm", "index_phase": "0.04",
            "switch_spread": "0.05 mm",
        }
        for axis, (travel, limit, home, speed) in STRANGE[name].items()
    }  # fmt: skip
    return {"machine": {"name": name}, "requirement": {"position": "0.05 mm"}, "axes": axes}


def add(site, name: str) -> int:
    return site.book.add_machine(read_toml(preset(name)), remark="An invented example.")


def test_the_drawing_follows_the_keys_and_nothing_typed_is_lost(open_page, site):
    machine = add(site, "two-motor-gantry")
    page = open_page(f"/machines/{machine}/machine")
    field = page.locator("#f-axes-Y-travel")
    field.fill("")
    field.press_sequentially("1450")
    page.locator("#drawing .narrow text", has_text="1450").wait_for()
    expect(field).to_have_value("1450")
    expect(field).to_be_focused()
    assert site.book.machine(machine).machine.axis("Y").travel_mm == 1300  # not kept yet
    field.press("Tab")
    page.locator("#f-axes-Y-travel[value='1450 mm']").wait_for()  # kept, with the unit its field showed
    assert site.book.machine(machine).machine.axis("Y").travel_mm == 1450


def test_what_is_missing_leads_to_its_field_and_the_check_is_made(open_page, site):
    machine = add(site, "two-motor-gantry")
    page = open_page(f"/machines/{machine}/travel?axis=X")
    page.get_by_role("link", name="friction").first.click()
    field = page.locator("#f-axes-X-friction")
    expect(field).to_be_visible()
    field.fill("40 N")
    field.press("Enter")
    page.locator("#now", has_text="moving mass").wait_for()
    assert "moving_mass" in page.content()


def test_from_here_answers_in_place(open_page, site):
    machine = add(site, "two-motor-gantry")
    page = open_page(f"/machines/{machine}/travel")
    page.get_by_label("The left side stands at").fill("12")
    page.get_by_label("The right side stands at").fill("12.6")
    page.keyboard.press("Enter")
    page.locator(".answer", has_text="mrad out of square").wait_for()
    page.get_by_role("heading", name="Off the switch first").wait_for()
    expect(page).to_have_url(re.compile(r"left=12&right=12\.6"))


@pytest.mark.parametrize(("width", "dark"), [(1280, False), (390, True)], ids=["light", "dark phone"])
def test_without_a_fault_in_either_scheme_and_width(open_page, site, width: int, dark: bool):
    """WCAG by axe, targets of 44 px, nothing wider than the screen."""
    gantry, belt = add(site, "two-motor-gantry"), add(site, "belt-axis")
    page = open_page(width=width, dark=dark)
    faulty = []
    for machine, address in [*((gantry, address) for address in PAGES), (belt, "travel")]:
        page.goto(f"{site.address}/machines/{machine}/{address}")
        open_all(page)
        small = [f"a target below 44 px: {target}" for target in page.evaluate(SMALL_TARGETS)]
        faulty += [(address, fault) for fault in faults_and_width(page) + small]
    assert faulty == []


@pytest.mark.parametrize(("width", "system"), [(390, "inch"), (1280, "metric")])
def test_no_lettering_of_a_drawing_is_cut_or_meets_another(open_page, site, width: int, system: str):
    machines = [site.book.add_machine(read_toml(preset(name))) for name in PRESETS]
    machines += [site.book.add_machine(strange(name)) for name in STRANGE]
    site.book.keep_setting("system", system)
    page = open_page(width=width)
    faults = []
    for machine in machines:
        axes = [axis.name for axis in site.book.machine(machine).machine.axes]
        for address in ("machine", f"budget?axis={axes[0]}", *(f"travel?axis={axis}" for axis in axes)):
            page.goto(f"{site.address}/machines/{machine}/{address}")
            faults += [(site.book.machine(machine).machine.name, address, one) for one in page.evaluate(LETTERING)]
    assert faults == []


def test_without_script_the_forms_still_work(open_page, site):
    machine = add(site, "two-motor-gantry")
    page = open_page(f"/machines/{machine}/travel", script=False)
    page.locator("summary", has_text="Speeds").click()
    page.get_by_label("Top speed").fill("300 mm/s")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("h1")).to_contain_text("limit overtravel")
