"""In a browser 390 px wide: what is wrong comes into sight, and nothing stands over its frame."""

import pytest

from browser.waiting import until
from holdzero import demo
from ready_books import keep_demo

pytestmark = pytest.mark.browser
IN_SIGHT = """
(() => {
  const {top, bottom} = document.activeElement.getBoundingClientRect();
  return document.activeElement.matches('[aria-invalid]') && top >= 0 && bottom <= innerHeight;
})()
"""
OVER_ITS_FRAME = """
[...document.querySelectorAll('.table')]
.filter((part) => part.checkVisibility() && part.scrollWidth > part.clientWidth)
.map((part) => part.getAttribute('aria-label'))
"""
TORN = """
[...document.querySelectorAll('.spread .q')]
.filter((part) => new Set([...part.getClientRects()].map(({top}) => Math.round(top))).size > 1)
.map((part) => part.textContent)
"""
SLIPS = {
    "sensors": ("#sensor-new", "#new-f-price", "forty", "Add"),
    "sensors, its sheet": ("#sensor-new", "#new-f-supply", "forty", "Add"),
    "square": ("#round", "#r-f-a", "a metre", "Add the round"),
    "choice": ("#decision", "#f-reason", "", "Keep the decision"),
    "plan": ("main", "#f-minutes", "long", "Plan again"),
}


@pytest.mark.parametrize("name", SLIPS)
def test_what_is_wrong_comes_into_sight_and_has_the_focus(open_page, site, name: str):
    """The button that is pressed lies below what was typed, further than the screen is high."""
    machine = keep_demo(site.book)
    within, field, text, button = SLIPS[name]
    page = open_page(f"/machines/{machine}/{name.partition(',')[0]}", width=390)
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    page.locator(within).locator(field).fill(text)
    pressed = page.locator(within).get_by_role("button", name=button, exact=True)
    pressed.evaluate("(pressed) => pressed.scrollIntoView({block: 'start'})")
    pressed.click()
    page.locator("[aria-invalid]").first.wait_for()
    until(page, IN_SIGHT)
    site.trouble[:] = [trouble for trouble in site.trouble if "422" not in trouble]  # the answer to it


def test_no_table_and_no_figure_stands_over_its_frame(open_page, site):
    machine = keep_demo(site.book)
    page = open_page("/", width=390)
    side = f"findings?sensor={demo.WINNER}&axis=Y&side=L"
    for name in ("trial", "findings", side, f"findings?sensor={demo.ON_STEPS}&side=R", "budget", "plan", "square"):
        page.goto(f"{site.address}/machines/{machine}/{name}")
        assert page.evaluate("document.documentElement.scrollWidth") == 390, name
        assert page.evaluate(OVER_ITS_FRAME) == [], name
        assert page.evaluate(TORN) == [], name
