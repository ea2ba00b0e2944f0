"""In a browser: nothing on a page moves by itself once it is there, whatever comes in later."""

import pytest

from ready_books import keep_demo

pytestmark = pytest.mark.browser
WATCH = """
window.moved = [];
new PerformanceObserver((list) => {
  for (const {value, sources, startTime} of list.getEntries())
    window.moved.push([startTime, `${value.toFixed(4)} ${sources.map(({node}) => node?.id || node?.nodeName)}`]);
}).observe({type: 'layout-shift', buffered: true});"""
MOVED = """() => {  // a table that is still coming in settles its columns
  const [{domContentLoadedEventStart: whole}] = performance.getEntriesByType('navigation');
  return window.moved.filter(([at]) => at > whole).map(([, what]) => what);
}"""
PAGES = ("findings?sensor=B&axis=Y&side=L", "findings", "choice", "watch", "wiring")


@pytest.mark.parametrize("width", [1280, 390], ids=["wide", "phone"])
def test_nothing_moves_when_what_comes_next_is_known(open_page, site, width: int):
    machine = keep_demo(site.book)
    page = open_page("/", width=width)
    page.add_init_script(WATCH)
    for name in PAGES:
        page.goto(f"{site.address}/machines/{machine}/{name}")
        page.locator("#next:not([data-next])").wait_for()
        page.evaluate("new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")
        assert page.evaluate(MOVED) == [], name
