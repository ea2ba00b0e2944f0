"""Charts in the browser: the nearest mark says its figure, dragging looks closer, Escape shows all again."""

import re

import pytest
from playwright.sync_api import expect

from browser.waiting import until_is
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
        expect(out).to_have_text(notes[k])
        assert re.search(r"set \S+, homing \d+: [+−]?[\d.]+\s*(µm|mm)", notes[k])
        ring = svg.locator(".pointed").bounding_box()
        assert abs(ring["x"] + ring["width"] / 2 - x) < 1
    page.mouse.move(3, 3)
    expect(out).to_have_text("")
    expect(svg.locator(".pointed")).to_be_hidden()


@pytest.mark.parametrize(("width", "layout"), [(1280, ".wide"), (390, ".narrow")], ids=["wide", "phone"])
def test_arrow_keys_read_every_mark(readings, width, layout):
    page, figure = readings(width=width)
    picture, out = figure.locator(".picture"), figure.locator(".read-out")
    notes = list(dict.fromkeys(notes_in_order(figure.locator(f"{layout} svg"))))
    picture.focus()
    page.keyboard.press("Home")
    expect(out).to_have_text(notes[0])
    heard = [notes[0]]
    for _ in notes[1:]:
        page.keyboard.press("ArrowRight")
        expect(out).not_to_have_text(heard[-1])
        heard.append(out.inner_text())
    assert sorted(heard) == sorted(notes)  # from left to right, readings without homing at their place too
    for key, text in (("ArrowLeft", heard[-2]), ("End", heard[-1]), ("Tab", "")):
        page.keyboard.press(key)
        expect(out).to_have_text(text)


def test_dragging_looks_closer_and_escape_shows_all(readings):
    page, figure = readings()
    svg, whole = figure.locator(".wide svg"), figure.get_by_role("button", name="Show the whole picture")
    before, height = view_box(svg), svg.bounding_box()["height"]
    expect(whole).to_be_hidden()
    x, y = svg.evaluate(NEAREST)[7]
    note = notes_in_order(svg)[7]
    page.mouse.move(x - 60, y - 15)
    page.mouse.down()
    page.mouse.move(x, y)
    page.mouse.move(x + 60, y + 15)
    expect(svg.locator(".framed")).to_be_visible()
    page.mouse.up()
    expect(whole).to_be_visible()
    after = view_box(svg)
    assert after[2] == pytest.approx(before[2] * 120 / svg.bounding_box()["width"], rel=0.02)
    assert after[3] / after[2] == pytest.approx(before[3] / before[2])
    assert svg.bounding_box()["height"] == pytest.approx(height, abs=0.5)
    seen = svg.locator("text").first.evaluate("text => text.getBoundingClientRect().height")
    assert seen < 25  # lettering keeps its size
    x, y = svg.evaluate(NEAREST)[7]
    page.mouse.move(x + 2, y)
    expect(figure.locator(".read-out")).to_have_text(note)
    page.keyboard.press("Escape")
    until_is(page, lambda: view_box(svg), before)
    expect(whole).to_be_hidden()


def test_plus_and_minus_and_the_button(readings):
    page, figure = readings()
    svg = figure.locator(".wide svg")
    before = view_box(svg)
    figure.locator(".picture").focus()
    for key in ("Home", "+", "+"):
        page.keyboard.press(key)
    until_is(page, lambda: view_box(svg)[2], pytest.approx(before[2] / 4))
    first = svg.locator(".pointed").get_attribute("cx")
    page.keyboard.press("End")  # what is read is always in sight
    expect(svg.locator(".pointed")).not_to_have_attribute("cx", first)
    left, _, width, _ = view_box(svg)
    at = float(svg.locator(".pointed").get_attribute("cx"))
    assert left <= at <= left + width
    page.keyboard.press("-")
    until_is(page, lambda: view_box(svg)[2], pytest.approx(before[2] / 2))
    figure.get_by_role("button", name="Show the whole picture").click()
    until_is(page, lambda: view_box(svg), before)
    expect(figure.locator(".picture")).to_be_focused()


def test_a_picture_that_comes_later_answers_too(readings):
    page, _ = readings()
    page.get_by_role("button", name="inch").click()
    page.get_by_role("heading", name=re.compile("thou")).wait_for()
    figure = page.locator("figure[data-live-chart]").first
    figure.locator(".picture").focus()
    page.keyboard.press("Home")
    expect(figure.locator(".read-out")).to_have_text(re.compile("thou|in"))


def test_without_script_marks_keep_their_titles(readings):
    _, figure = readings(script=False)
    assert figure.locator(".wide svg circle title").count() >= 20
    assert figure.locator(".read-out").count() == 0
    assert figure.locator(".wide svg").get_attribute("role") == "img"
    assert figure.locator(".wide svg > desc").count() == 1
