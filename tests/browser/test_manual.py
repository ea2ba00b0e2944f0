"""The manual in a browser: from a page to the part that fits, searched, on a phone, from a folder."""

import re

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width
from browser.waiting import LIMIT_MS
from holdzero import manual
from ready_books import keep_demo

pytestmark = pytest.mark.browser


def test_every_page_of_a_machine_leads_to_what_explains_it_and_back(open_page, site):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/wiring")
    page.get_by_role("link", name="Manual", exact=True).click()
    page.wait_for_url("**/manual/wiring.html*")
    expect(page.locator("h1")).to_have_text(re.compile("^Wiring"))
    page.get_by_role("link", name="The book").click()
    page.wait_for_url(site.address + "/")


def test_search_finds_a_passage_and_goes_there(open_page, site):
    page = open_page("/manual")
    page.get_by_label("Search the manual").fill("unmarked sensor nothing-like-this")
    page.get_by_text("Nothing found").wait_for()
    page.get_by_label("Search the manual").fill("diagonals offset")
    first = page.locator("#found a").first
    first.wait_for()
    expect(first).to_contain_text("diagonals", ignore_case=True)
    first.click()
    page.wait_for_url("**#*")
    expect(page.locator("#found")).to_be_hidden()


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone, light", "wide, dark"])
def test_no_page_has_an_accessibility_fault_or_runs_off_the_screen(open_page, site, width: int, dark: bool):
    page = open_page("/manual", width=width, dark=dark)
    slugs = ("keys", "methods", "tables", "timers") if dark else ("index", "first-machine", "wiring", "findings")
    pages = [topic for topic in manual.topics() if topic.slug in slugs]  # one frame: the longest and the oddest
    faults = []
    for topic in pages:
        page.goto(f"{site.address}/manual/{topic.file}", wait_until="domcontentloaded")
        faults += [(topic.slug, fault) for fault in faults_and_width(page)]
    assert faults == []


def test_opened_from_a_folder_it_needs_no_server(chromium, tmp_path):
    place = manual.written(tmp_path / "manual")
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.set_default_timeout(LIMIT_MS)
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("requestfailed", lambda request: trouble.append(request.url))
    page.on("request", lambda request: request.url.startswith(("file:", "data:")) or trouble.append(request.url))
    page.goto((place / "first-machine.html").as_uri())
    for image in page.locator("main img").all():
        image.scroll_into_view_if_needed()
        image.evaluate("image => image.decode()")  # fails where it cannot be drawn
    page.get_by_label("Search the manual").fill("bracket")
    page.locator("#found a").first.wait_for()
    page.locator("[rel=next]").click()
    expect(page.locator("h1")).to_have_text(re.compile("^How to"))
    context.close()
    assert trouble == []


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)], ids=["phone, dark", "wide, light"])
def test_what_can_be_taken_is_listed_without_a_fault_and_saved(open_page, site, width: int, dark: bool):
    machine = keep_demo(site.book)
    page = open_page(f"/machines/{machine}/travel", width=width, dark=dark)
    page.get_by_role("link", name="Take away").click()
    expect(page.locator("h1")).to_have_text(re.compile("^Take away"))
    page.wait_for_load_state()
    assert faults_and_width(page) == []
    with page.expect_download() as saved:
        page.get_by_role("link", name="PNG").first.click()
    assert saved.value.suggested_filename == "travel-axis-y-along-its-rail.png"
