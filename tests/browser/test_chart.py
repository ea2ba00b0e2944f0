"""Charts in the browser: the nearest mark says its figure, dragging looks closer, Escape shows all again."""

import re

import pytest

from ready_books import keep_demo

pytestmark = pytest.mark.browser
NEAREST = """svg => {
  const dots = [...svg.querySelectorAll('circle:not(.pointed)')].filter((dot) => dot.getAttribute('r') < 7);
  return dots.map((dot) => {
    const seen = dot.getBoundingClientRect();
    return [seen.x + seen.width / 2, seen.y + seen.height / 2];
  });
}"""


@pytest.fixture
def readings(open_page, site):
    """The demo's readings, in the order taken."""
    machine = keep_demo(site.book)

    def opened(**how):
        page = open_page(f"/machines/{machine}/findings?sensor=B&axis=Y&side=L", **how)
        figure = page.locator("figure[data-live-chart]").first
        figure.scroll_into_view_if_needed()
        return page, figure

    return opened


def view_box(svg):
    return [float(part) for part in svg.get_attribute("viewBox").split()]


def notes_in_order(svg):
    return svg.evaluate("svg => [...svg.querySelectorAll('circle title')].map((title) => title.textContent)")


def test_pointing_reads_the_nearest_mark(readings):
    page, figure = readings()
    svg, out = figure.locator(".wide svg"), figure.locator(".read-out")
    notes, dots = notes_in_order(svg), svg.evaluate(NEAREST)
    assert len(notes) >= 20
    for k in (0, 7, len(dots) - 1):
        x, y = dots[k]
        page.mouse.move(x + 2, y + 1)
        assert out.inner_text() == notes[k]
        assert re.search(r"set \S+, homing \d+: [+−]?[\d.]+\s*(µm|mm)", notes[k])
        ring = svg.locator(".pointed").bounding_box()
        assert abs(ring["x"] + ring["width"] / 2 - x) < 1
    page.mouse.move(3, 3)
    assert out.inner_text() == ""
    assert svg.locator(".pointed").is_hidden()


@pytest.mark.parametrize(("width", "layout"), [(1280, ".wide"), (390, ".narrow")], ids=["wide", "phone"])
def test_arrow_keys_read_every_mark(readings, width, layout):
    page, figure = readings(width=width)
    picture, out = figure.locator(".picture"), figure.locator(".read-out")
    notes = list(dict.fromkeys(notes_in_order(figure.locator(f"{layout} svg"))))
    picture.focus()
    page.keyboard.press("Home")
    assert out.inner_text() == notes[0]
    heard = [out.inner_text()]
    for _ in notes[1:]:
        page.keyboard.press("ArrowRight")
        heard.append(out.inner_text())
    assert sorted(heard) == sorted(notes)  # from left to right, readings without homing at their place too
    page.keyboard.press("ArrowLeft")
    assert out.inner_text() == heard[-2]
    page.keyboard.press("End")
    assert out.inner_text() == heard[-1]
    page.keyboard.press("Tab")
    assert out.inner_text() == ""


def test_dragging_looks_closer_and_escape_shows_all(readings):
    page, figure = readings()
    svg, whole = figure.locator(".wide svg"), figure.get_by_role("button", name="Show the whole picture")
    before, height = view_box(svg), svg.bounding_box()["height"]
    assert whole.is_hidden()
    x, y = svg.evaluate(NEAREST)[7]
    note = notes_in_order(svg)[7]
    page.mouse.move(x - 60, y - 15)
    page.mouse.down()
    page.mouse.move(x, y)
    page.mouse.move(x + 60, y + 15)
    assert svg.locator(".framed").is_visible()
    page.mouse.up()
    after = view_box(svg)
    assert after[2] == pytest.approx(before[2] * 120 / svg.bounding_box()["width"], rel=0.02)
    assert after[3] / after[2] == pytest.approx(before[3] / before[2])
    assert svg.bounding_box()["height"] == pytest.approx(height, abs=0.5)
    seen = svg.locator("text").first.evaluate("text => text.getBoundingClientRect().height")
    assert seen < 25  # lettering keeps its size
    x, y = svg.evaluate(NEAREST)[7]
    page.mouse.move(x + 2, y)
    assert figure.locator(".read-out").inner_text() == note
    assert whole.is_visible()
    page.keyboard.press("Escape")
    assert view_box(svg) == before
    assert whole.is_hidden()


def test_plus_and_minus_and_the_button(readings):
    page, figure = readings()
    svg = figure.locator(".wide svg")
    before = view_box(svg)
    figure.locator(".picture").focus()
    for key in ("Home", "+", "+"):
        page.keyboard.press(key)
    assert view_box(svg)[2] == pytest.approx(before[2] / 4)
    page.keyboard.press("End")  # what is read is always in sight
    left, _, width, _ = view_box(svg)
    at = float(svg.locator(".pointed").get_attribute("cx"))
    assert left <= at <= left + width
    page.keyboard.press("-")
    assert view_box(svg)[2] == pytest.approx(before[2] / 2)
    figure.get_by_role("button", name="Show the whole picture").click()
    assert view_box(svg) == before
    assert page.evaluate("document.activeElement.className") == "picture"


def test_a_picture_that_comes_later_answers_too(readings):
    page, _ = readings()
    page.get_by_role("button", name="inch").click()
    page.get_by_role("heading", name=re.compile("thou")).wait_for()
    figure = page.locator("figure[data-live-chart]").first
    figure.locator(".picture").focus()
    page.keyboard.press("Home")
    assert re.search(r"thou|in", figure.locator(".read-out").inner_text())


def test_without_script_marks_keep_their_titles(readings):
    _, figure = readings(script=False)
    assert figure.locator(".wide svg circle title").count() >= 20
    assert figure.locator(".read-out").count() == 0
    assert figure.locator(".wide svg").get_attribute("role") == "img"
    assert figure.locator(".wide svg > desc").count() == 1
