"""A capture in a browser: brought in with its progress, its waveform by keyboard and by hand, on a phone."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from playwright.sync_api import expect

from browser.accessibility import faults, open_all
from browser.waiting import until
from captures import homings, write_vcd

pytestmark = pytest.mark.browser


def test_from_the_tap_to_the_waveform(open_page, site, tmp_path):
    """The whole way on a screen, then the same page at 390 px; axe-core finds nothing at either."""
    machine = site.book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    site.book.add_sensor(machine, "A", {"kind": "lever"})
    path = write_vcd(tmp_path / "run.vcd", homings(np.tile([2.0, 5.0], 8), bounce=3e-4, index=1.0, trip_at=1.0))
    page = open_page(f"/machines/{machine}/capture")
    page.get_by_label("A channel bears").fill("-0.5 V to 5.5 V")
    page.get_by_label("The channels are connected").select_option("isolated")
    page.get_by_role("button", name="Check it").click()
    page.locator("#f-file").set_input_files(path)
    open_all(page)
    assert faults(page) == []
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_role("heading", name="run.vcd: which channel is which?").wait_for()
    page.wait_for_load_state()
    open_all(page)
    assert faults(page) == []
    page.locator("#f-count").fill("0.01 mm")
    page.get_by_role("button", name="Read it").click()
    wave = page.locator("#wave")
    wave.wait_for()
    page.wait_for_load_state()
    open_all(page)
    assert faults(page) == []
    wave.focus()
    before = window(page)
    look(page, lambda: page.keyboard.press("+"))
    assert span(page) == pytest.approx((before[1] - before[0]) / 2, abs=2)
    start, length = window(page)[0], span(page)
    look(page, lambda: page.keyboard.press("ArrowRight"))
    assert window(page)[0] - start == pytest.approx(length / 8, abs=2)
    look(page, lambda: page.keyboard.press("PageDown"))
    expect(wave).to_contain_text("Release 2 of 32")
    expect(wave).to_be_focused()
    start, length = window(page)[0], span(page)
    box = page.locator("#wave .picture").bounding_box()
    page.mouse.move(box["x"] + 400, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 60, steps=4)
    look(page, page.mouse.up)  # a drag to the left goes later
    drawn = page.locator("#wave .wide svg").bounding_box()["width"] * (720 - 62 - 12) / 720
    assert window(page)[0] - start == pytest.approx(length * 100 / drawn, rel=0.05)
    address = page.evaluate("location.pathname + location.search")

    phone = open_page(address, width=390, dark=True)
    assert phone.evaluate("document.documentElement.scrollWidth") == 390
    open_all(phone)
    assert faults(phone) == []
    look(phone, phone.locator("[data-way=Closer]").tap)
    phone.locator("#scrub").focus()
    look(phone, lambda: phone.keyboard.press("End"))
    phone.get_by_text("Trip or release 32 of 32").wait_for()
    expect(phone.locator("#wave .narrow svg")).to_be_visible()


def test_a_file_that_is_none_says_so_beside_the_button(open_page, site, tmp_path):
    machine = site.book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    site.book.add_sheet(machine, "capture", {"tap": {"rating": "0 V to 5.5 V"}, "joined": "isolated"})
    (tmp_path / "notes.txt").write_text("just a note\n")
    page = open_page(f"/machines/{machine}/capture")
    page.locator("#f-file").set_input_files(tmp_path / "notes.txt")
    page.get_by_role("button", name="Bring it in").click()
    page.locator("#map, .progress [role=status]", has_text=re.compile("which|channel|found|note")).first.wait_for()
    site.trouble[:] = [trouble for trouble in site.trouble if "422" not in trouble]


def look(page, act: Callable[[], None]) -> None:
    """Do what looks elsewhere in the waveform; wait until that is drawn."""
    shown = "() => (({start, end}) => `${start} to ${end}`)(document.getElementById('wave').dataset)"
    before = page.evaluate(shown)
    act()
    until(page, f"(before) => ({shown})() !== before", before)


def window(page) -> tuple[int, int]:
    return tuple(int(page.locator("#wave").get_attribute(f"data-{name}")) for name in ("start", "end"))


def span(page) -> int:
    start, end = window(page)
    return end - start
