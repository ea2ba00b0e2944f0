"""In a browser: wiring a switch, changing it in place, taking a remedy over, and the bench test."""

import re

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width, open_all
from holdzero.web.stations import STATIONS

pytestmark = pytest.mark.browser
ROUTER = {"machine": {"name": "Plywood router"}, "axes": {"Y": {"motors": 2}, "X": {"motors": 1}}}


def test_wire_change_mend_and_identify(open_page, site):
    machine = site.book.add_machine(ROUTER)
    page = open_page(f"/machines/{machine}/wiring", width=390)
    page.get_by_label("Begin with").select_option("contact")
    page.get_by_role("button", name="Add it").click()
    page.get_by_role("heading", name="Works, and a broken wire stops the machine").wait_for()
    expect(page.locator("figure .narrow svg")).to_be_visible()
    page.evaluate("window.sameSheet = true")
    page.get_by_text("Sensor 2 of").click()
    page.locator("#f-sensor1-contact").select_option("NO")
    page.get_by_role("heading", name="Works, but a broken").wait_for()
    expect(page.locator("#f-sensor1-contact")).to_be_visible()  # what was open stays open
    assert page.evaluate("window.sameSheet")
    page.get_by_role("button", name="Take it over").first.click()
    page.get_by_role("heading", name="Works, and a broken wire stops the machine").wait_for()
    page.get_by_role("link", name="Holding an unknown sensor").click()
    page.wait_for_url("**/wiring/unknown*")
    for name, volt in (("minus_away", "0.2"), ("minus_near", "23"), ("plus_away", "24"), ("plus_near", "24")):
        page.locator(f"#f-{name}").fill(volt)
    page.get_by_role("button", name="What is it?").click()
    page.get_by_role("heading", name="PNP, NO").wait_for()
    page.get_by_role("button", name="Put it into the circuit").click()
    page.get_by_role("heading", name="Works, but a broken").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_drawing_takes_no_place_of_the_rail(open_page, site):
    """Its lines say of which part they are; nothing of it is exchanged by itself."""
    machine = site.book.add_machine(ROUTER)
    page = open_page(f"/machines/{machine}/wiring", width=390)
    page.get_by_label("Begin with").select_option("contact")
    page.get_by_role("button", name="Add it").click()
    page.locator("figure svg [data-part]").first.wait_for(state="attached")
    asked_for = []
    page.on("request", lambda sent: asked_for.append(sent.url))
    page.evaluate("document.dispatchEvent(new Event('sent'))")
    page.evaluate("new Promise((over) => setTimeout(over, 300))")  # a timer of 250 ms would have asked for news
    assert asked_for == []
    expect(page.get_by_role("navigation", name="Stations").locator("ol a")).to_have_count(len(STATIONS))


def test_a_file_comes_in(open_page, site, tmp_path):
    """What `holdzero wiring` reads, the page reads; what is wrong with it is said there."""
    machine = site.book.add_machine(ROUTER)
    page = open_page(f"/machines/{machine}/wiring", width=390)
    page.get_by_text("Bring in a wiring file").click()
    page.get_by_label("or its text").fill('[axes.Y]\ntravel = "1 m"')
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_text("found what looks like a machine file").wait_for()
    expect(page.get_by_label("or its text")).to_have_value(re.compile(r"^\[axes\.Y\]"))
    site.trouble[:] = [one for one in site.trouble if "422" not in one]  # the refusal itself
    file = tmp_path / "wires.toml"
    file.write_text('[sensor]\noutput = "dry contact"\ncontact = "NC"\n[input]\nkind = "IEC 61131-2 type 3"\n')
    page.get_by_label("Wiring file").set_input_files(file)
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_role("heading", name="Works, and a broken wire stops the machine").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_whole_lines_of_a_drawing_stay_on_the_sheet(open_page, site):
    """The loud refusal is bold, and what typeface the reader has is not known."""
    machine = site.book.add_machine(ROUTER)
    across = {
        "sensor": {"output": "2-wire", "contact": "NO"},
        "input": {"kind": "opto", "series_resistor": "1 ohm"},
    }
    site.book.add_sheet(machine, "wiring", {"circuit": [across]})
    for width in (390, 1280):
        page = open_page(f"/machines/{machine}/wiring", width=width)
        cut = page.evaluate(
            """() => [...document.querySelectorAll("figure svg")].filter(svg => svg.getClientRects().length)
            .flatMap(svg => [...svg.querySelectorAll("text")].filter(text =>
              text.getBoundingClientRect().right > svg.getBoundingClientRect().right + 0.6
              || text.getBoundingClientRect().left < svg.getBoundingClientRect().left - 0.6))
            .map(text => text.textContent)"""
        )
        assert cut == []
        expect(page.locator("svg text", has_text="DO NOT BUILD THIS").locator("visible=true")).to_have_count(1)


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone, light", "wide, dark"])
def test_circuits_in_every_state_have_no_accessibility_fault(open_page, site, width: int, dark: bool):
    machine = site.book.add_machine(ROUTER)
    input_24_v = {"kind": "IEC 61131-2 type 3"}
    circuits = [
        {"name": "works", "axis": "Y", "sensor": {"output": "dry contact", "contact": "NC"}, "input": input_24_v},
        {"name": "damage", "sensor": {"output": "PNP", "contact": "NO"}, "input": {"kind": "3.3 V logic"}},
        {"name": "mended", "sensor": {"output": "NPN", "contact": "NC"}, "input": input_24_v},
        {"name": "not known", "sensor": {"output": "unknown"}, "input": input_24_v},
    ]
    site.book.add_sheet(machine, "wiring", {"circuit": circuits})
    site.book.add_sensor(machine, "A", {"output": "2-wire", "contact": "NC"})
    address = f"/machines/{machine}/wiring"
    page = open_page(address, width=width, dark=dark)
    faults = []
    for place in ("?circuit=1", "?circuit=2", "?circuit=3", "?circuit=4", "/terminals", "/unknown?circuit=1"):
        page.goto(site.address + address + place)
        open_all(page)
        faults += [(place, fault) for fault in faults_and_width(page)]
    assert faults == []
