"""The Trial in a browser: by keyboard alone, by touch, on two devices at once."""

import os
import re

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width
from browser.held import hold, let_through, pass_time
from browser.waiting import until
from holdzero import demo
from holdzero.form import read_toml
from holdzero.store import NewReading

pytestmark = pytest.mark.browser
CUT_OFF = b"\r\n"  # the end of a line that was cut off by connecting: what comes next is whole
HEARD = """
const Plain = window.EventSource;
window.EventSource = class extends Plain {
  constructor(from) {
    super(from);
    this.addEventListener('heard', (event) => { window.heardState = JSON.parse(event.data).state; });
  }
};"""
READ_MS = 600  # a question is not answered sooner than it can be read
TARGETS = """
[...document.querySelectorAll('.keypad button, #now .row > form button')]
.filter((one) => one.checkVisibility()).map((one) => one.getBoundingClientRect().height)
"""


@pytest.fixture
def trial(site) -> str:
    """Address of an empty trial of one candidate."""
    machine = site.book.add_machine(read_toml(demo.machine_toml()))
    site.book.add_sensor(machine, "A", {"kind": "lever", "price": "3"})
    key = site.book.add_trial(machine, name="First", axis="Y", resolution="0.001 mm")
    return f"/machines/{machine}/trial?trial={key}&sensor=A&axis=Y"


def asked(page, text: str) -> None:
    """Wait until the page asks for this reading."""
    page.locator("label[for=f-deviation]", has_text=text).wait_for()


def kept(site) -> list[tuple[str, int, str, float]]:
    return [(row.set_label, row.homing, row.side, row.deviation_mm) for row in site.book.rows(1)]


def test_three_sets_by_keyboard_alone(open_page, site, trial):
    """As with an indicator that types its value and Enter; Tab reaches the next set."""
    page = open_page(trial + "&sides=L")
    expected = []
    for power_up in (1, 2, 3):
        for homing in range(1, 6):
            asked(page, f"Set {power_up}, homing {homing}, left side")
            value = round(0.002 * homing + 0.001 * power_up, 3)
            page.keyboard.type(f"{value:.3f}")
            page.keyboard.press("Enter")
            expected.append((str(power_up), homing, "L", value))
        asked(page, "homing 6")
        page.get_by_role("heading", name=f"Set {power_up} is full: switch off, wait, switch on").wait_for()
        if power_up < 3:
            for _ in range(6):
                page.keyboard.press("Tab")
                if page.evaluate("document.activeElement.textContent").startswith("Switched off and on"):
                    break
            page.keyboard.press("Enter")
    assert kept(site) == expected
    page.get_by_text("15 homings over 3 power-ups").wait_for()


def test_a_trial_by_touch_with_gloves(open_page, site, trial):
    """390 px wide, keys of 56 px and more, no keyboard of the phone over them."""
    page = open_page(trial + "&sides=both", width=390)
    assert min(page.evaluate(TARGETS)) >= 56
    expect(page.locator("#f-deviation")).to_have_attribute("inputmode", "none")
    for i, side in enumerate(("left", "right", "left", "right")):
        asked(page, f"Set 1, homing {i // 2 + 1}, {side} side")
        for key in f"0.01{i}":
            page.locator(f'[data-key="{key}"]').tap()
        if i == 1:
            page.locator('[data-key="sign"]').tap()
        page.locator(".accept-key").tap()
        page.locator(".kept.fresh").wait_for()
    asked(page, "homing 3")
    assert [row[3] for row in kept(site)] == [0.010, -0.011, 0.012, 0.013]
    page.get_by_role("button", name="next set").tap()
    asked(page, "Set 2, homing 1")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_value_far_out_is_asked_about_once_and_kept(open_page, site, trial):
    page = open_page(trial + "&sides=L")
    for homing, value in enumerate(("0.101", "0.103", "0.102", "0.104"), 1):
        asked(page, f"homing {homing},")
        page.keyboard.type(value)
        page.keyboard.press("Enter")
    asked(page, "homing 5")
    page.keyboard.type("1.03")
    page.keyboard.press("Enter")
    page.get_by_text("a slipped decimal point?").wait_for()
    assert len(kept(site)) == 4
    page.keyboard.type("0.103")  # the slip is selected: the right figure takes its place
    page.keyboard.press("Enter")
    asked(page, "homing 6")
    page.keyboard.type("1.05")
    page.keyboard.press("Enter")
    page.get_by_text("1.05: is that right?").wait_for()
    pass_time(page, ms=READ_MS)
    page.keyboard.press("Enter")
    asked(page, "homing 7")
    assert [row[3] for row in kept(site)][4:] == [0.103, 1.05]


def test_two_people_see_each_other_and_nothing_is_lost_or_doubled(open_page, site, trial):
    left, right = open_page(trial + "&sides=L"), open_page(trial + "&sides=R", dark=True)
    for homing in range(1, 5):
        for page, side in ((left, "left"), (right, "right")):
            asked(page, f"Set 1, homing {homing}, {side} side")
            page.locator("#f-deviation").fill(f"0.0{homing}{'1' if side == 'left' else '2'}")
        left.locator("#f-deviation").press("Enter")
        right.locator("#f-deviation").press("Enter")
    for page in (left, right):
        asked(page, "homing 5")
        page.locator("#newest tbody tr").nth(7).wait_for()
    by_side = {side: [row[3] for row in kept(site) if row[2] == side] for side in "LR"}
    assert by_side == {"L": [0.011, 0.021, 0.031, 0.041], "R": [0.012, 0.022, 0.032, 0.042]}


def test_the_same_homing_on_two_devices_is_asked_about(open_page, site, trial):
    """What is being typed stays; a homing read twice is not counted twice without a yes."""
    here, there = open_page(trial + "&sides=L"), open_page(trial + "&sides=L")
    there.locator("#f-deviation").fill("0.02")
    here.locator("#f-deviation").fill("0.01")
    here.locator("#f-deviation").press("Enter")
    asked(here, "homing 2")
    there.get_by_text("Meanwhile on another device").wait_for()
    expect(there.locator("#f-deviation")).to_have_value("0.02")
    there.locator("#f-deviation").press("Enter")
    there.get_by_text("was entered meanwhile: 0.01").wait_for()
    pass_time(there, ms=READ_MS)
    assert len(kept(site)) == 1
    there.locator("#f-deviation").press("Enter")
    asked(there, "homing 3")
    asked(here, "homing 3")
    assert [row[1:] for row in kept(site)] == [(1, "L", 0.01), (2, "L", 0.02)]


def test_an_indicator_is_tried_then_listened_to_and_what_is_far_out_is_asked(open_page, site, trial):
    """Lines show as they come, the pattern is changed on them; then kept and heard of."""
    pty = pytest.importorskip("pty", reason="pseudo-terminals are of Unix")
    ours, theirs = pty.openpty()
    page = open_page(trial + "&sides=L")
    page.get_by_text("An indicator on a cable").click()
    instrument = page.locator("#instrument")
    expect(instrument.locator("[name=port]")).to_be_visible()
    instrument.locator("[name=port]").evaluate("(one, port) => one.append(new Option(port))", os.ttyname(theirs))
    instrument.locator("[name=port]").select_option(os.ttyname(theirs))
    instrument.locator("[name=still]").fill("0 s")
    instrument.locator("[name=pattern]").fill("02B{value}")
    instrument.get_by_role("button", name="Try it on the port").click()
    page.get_by_text("The indicator is connected").wait_for()
    os.write(ours, CUT_OFF + b"N1 +0.010\r\n")
    page.locator("#heard-lines td", has_text="it does not look like").wait_for()
    instrument.locator("[name=pattern]").fill("N1 {value}")
    instrument.locator("[name=pattern]").press("Enter")
    page.locator("#heard-lines td", has_text="reads +0.010").wait_for()
    assert kept(site) == []
    instrument.get_by_role("button", name="Listen and keep").click()
    page.get_by_text("0 kept").wait_for()
    page.get_by_text("The indicator is connected").wait_for()
    os.write(ours, CUT_OFF)
    for value in ("0.101", "0.103", "0.102", "1.030"):
        os.write(ours, f"N1 +{value}\r\n".encode())
    page.get_by_text("+1.030: is that right?").wait_for()
    asked(page, "homing 5")
    page.get_by_role("button", name="It is right").click()
    page.get_by_text("is that right?").wait_for(state="detached")
    assert [row[3] for row in kept(site)] == [0.101, 0.103, 0.102, 1.03]
    instrument.get_by_role("button", name="Stop").click()
    page.locator("#instrument summary", has_text="listening").wait_for(state="detached")
    os.close(ours)
    os.close(theirs)


def test_an_indicator_that_is_connected_before_the_page_says_so(open_page, site, trial):
    """The news may come before the answer to the button, which was written earlier."""
    pty = pytest.importorskip("pty", reason="pseudo-terminals are of Unix")
    ours, theirs = pty.openpty()
    page = open_page(trial + "&sides=L")
    page.add_init_script(HEARD)
    page.reload()
    hold(page)
    page.get_by_text("An indicator on a cable").click()
    instrument = page.locator("#instrument")
    expect(instrument.locator("[name=port]")).to_be_visible()
    instrument.locator("[name=port]").evaluate("(one, port) => one.append(new Option(port))", os.ttyname(theirs))
    instrument.locator("[name=port]").select_option(os.ttyname(theirs))
    instrument.get_by_role("button", name="Try it on the port").click()
    until(page, "window.heardState?.includes('is connected')")
    let_through(page)
    page.get_by_text("The indicator is connected").wait_for()
    instrument.get_by_role("button", name="Stop").click()
    page.locator("#instrument summary", has_text="listening").wait_for(state="detached")
    os.close(ours)
    os.close(theirs)


def test_sound_is_off_until_asked_for_and_remembered(open_page, site, trial):
    page = open_page(trial)
    sound = page.get_by_role("button", name="Sound")
    expect(sound).to_have_attribute("aria-pressed", "false")
    sound.click()
    expect(sound).to_have_attribute("aria-pressed", "true")
    page.reload()
    expect(sound).to_have_attribute("aria-pressed", "true")
    page.keyboard.type("0.01")
    page.keyboard.press("Enter")
    asked(page, re.compile("right side").pattern)


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone, light", "wide, dark"])
def test_question_keypad_and_import_are_free_of_accessibility_faults(open_page, site, trial, width, dark):
    """Checked by axe-core; the stations as they stand are checked in test_browser."""
    for i, value in enumerate((0.101, 0.103, 0.102, 0.104), 1):
        new = {"sensor": "A", "axis": "Y", "side": "L", "set_label": "1", "homing": i}
        site.book.add_reading(1, NewReading(deviation_mm=value, resolution_mm=0.001, **new))
    page = open_page(trial + "&sides=L", width=width, dark=dark)
    if page.locator(".keypad").is_hidden():
        page.get_by_role("button", name="Keypad").click()
    page.locator("#f-deviation").fill("1.03")
    page.locator("#f-deviation").press("Enter")
    page.locator(".asks").wait_for()
    assert faults_and_width(page) == []
    page.goto(site.address + trial)
    page.get_by_text("Paste readings").click()
    page.locator("#f-text").fill("Run;Dial (thou)\n1;0,5\n2;0,3\nmean;0,4\n")
    page.get_by_role("button", name="Bring them in").click()
    page.get_by_role("heading", name="2 readings in paste").wait_for()
    page.wait_for_load_state()
    assert faults_and_width(page) == []


def test_the_keypad_goes_on_to_the_way_from_trip_to_index(open_page, site):
    """Accept on the reading asks for the way; Accept there keeps both; twice Accept keeps the reading alone."""
    axis = {"travel": "300 mm", "index_pitch": "5 mm"}
    machine = site.book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": axis}})
    site.book.add_sensor(machine, "A", {"kind": "lever"})
    key = site.book.add_trial(machine, name="First", axis="X", resolution="0.001 mm")
    page = open_page(f"/machines/{machine}/trial?trial={key}", width=390)
    for homing, (value, way) in enumerate((("0.01", "2.1"), ("0.02", "")), 1):
        asked(page, f"homing {homing}")
        for figure in (value, way):
            for press in figure:
                page.locator(f'[data-key="{press}"]').tap()
            page.locator(".accept-key").tap()
    asked(page, "homing 3")
    assert [(row.deviation_mm, row.trip_to_index_mm) for row in site.book.rows(key)] == [(0.01, 2.1), (0.02, None)]
