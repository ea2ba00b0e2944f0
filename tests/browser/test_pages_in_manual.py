"""The pictures of pages in the manual's first chapter: taken here, and still what the pages show.

`HOLDZERO_WRITE_DOCS=1` takes them anew. Otherwise each is compared with the page as it is now: the headline stands
in the words under the picture, and the brightness of 24 x 16 fields correlates by more than `ALIKE` (another font
moves some ink; two pages, which share frame and rail, correlate by less: the end of the test).
"""

import base64
import os
import re
from statistics import correlation

import pytest

from holdzero.case.demo_book import keep_demo
from holdzero.manual.contents import docs

pytestmark = pytest.mark.browser
WRITE = os.environ.get("HOLDZERO_WRITE_DOCS") == "1"
PAGES = {"machine": "/machine", "trial": "/trial", "findings": "/findings", "choice": "/choice"}
SIZE = {"width": 900, "height": 640}
ALIKE = 0.9
FIELDS = """async (pictures) => {
  const seen = [];
  for (const data of pictures) {
    const image = new Image();
    image.src = "data:image/png;base64," + data;
    await image.decode();
    const canvas = new OffscreenCanvas(24, 16);
    const ink = canvas.getContext("2d");
    ink.imageSmoothingQuality = "high";
    ink.drawImage(image, 0, 0, 24, 16);
    const bytes = ink.getImageData(0, 0, 24, 16).data;
    seen.push(Array.from({length: 384}, (_, i) => (bytes[4*i] + bytes[4*i+1] + bytes[4*i+2]) / 765));
  }
  return seen;
}"""


def likeness(page, *pictures: bytes) -> float:
    first, second = page.evaluate(FIELDS, [base64.b64encode(picture).decode() for picture in pictures])
    return correlation(first, second)


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_each_is_what_its_page_shows(open_page, site, dark: bool):
    machine = keep_demo(site.book)
    page = open_page("/manual", dark=dark)
    page.set_viewport_size(SIZE)
    words = dict(
        re.findall(r"!\[([^\]]*)\]\(pictures/page-(\w+)\.png\)", (docs() / "first-machine.md").read_text())
    )
    words = {name: below for below, name in words.items()}
    assert set(words) == set(PAGES)
    taken: dict[str, bytes] = {}
    for name, path in PAGES.items():
        page.goto(f"{site.address}/machines/{machine}{path}")
        page.locator("#next:not([data-next])").wait_for()
        taken[name] = page.screenshot(animations="disabled", caret="hide")
        headline = " ".join(page.locator("h1").inner_text().split())
        assert headline in words[name], name
    page.goto("about:blank")
    for name, picture in taken.items():
        kept = docs() / "pictures" / f"page-{name}{'-dark' if dark else ''}.png"
        if WRITE:
            kept.write_bytes(picture)
        assert likeness(page, picture, kept.read_bytes()) > ALIKE, f"HOLDZERO_WRITE_DOCS=1 takes {kept.name} anew"
    assert likeness(page, taken["trial"], taken["choice"]) < ALIKE  # the measure can tell
