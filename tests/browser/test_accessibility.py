"""The look for faults that every page is given sees a single faulty element among many that are not."""

import pytest

from browser.accessibility import faults

pytestmark = pytest.mark.browser
ROWS = "".join(f"<tr><td class='a'>{i} mm</td><td class='b'><b>good</b></td></tr>" for i in range(40))
PAGE = """<!doctype html><html lang="en"><head><title>Rows</title><style>
body {{ background: #fff; color: #222 }} .dim {{ background: #ddd }}
.pale {{ color: #777 }} .gone {{ display: none }}
</style></head><body><main><h1>Rows</h1><table>{rows}</table>{more}</main></body></html>"""


@pytest.fixture(scope="module")
def look(chromium):
    context = chromium.new_context()
    page = context.new_page()

    def looked(rows: str = ROWS, more: str = "") -> list[str]:
        page.set_content(PAGE.format(rows=rows, more=more))
        return faults(page)

    yield looked
    context.close()


def test_a_good_page_has_none(look):
    assert look() == []
    assert look(more="<p class='pale'>#777 on #fff is 4.48 to 1: too little</p>") != []


@pytest.mark.parametrize(
    "faulty",
    [
        "<td class='a' style='color: #999'>20 mm</td>",
        "<td class='a' style='background: #666'>20 mm</td>",
        "<td class='a pale'>20 mm</td>",
        "<td class='a'><span style='opacity: 0.4'>20 mm</span></td>",
    ],
)
def test_too_little_contrast_of_one_cell_among_many(look, faulty: str):
    (fault,) = look(ROWS.replace("<td class='a'>20 mm</td>", faulty))
    assert fault.startswith("color-contrast: <")
    assert "20 mm" in fault


def test_too_little_contrast_by_what_stands_behind(look):
    words = "<p style='color: #717171'>4.9 to 1 on white, 3.6 to 1 on #ddd</p>"
    assert look(more=words) == []
    assert look(more=f"{words}<div class='dim'>{words}</div>") != []


def test_what_is_hidden_or_disabled_does_not_stand_for_what_is_not(look):
    gone = "<p class='pale'><span class='gone'>hidden</span></p>" * 3
    assert look(more=gone) == []
    fields = "<button class='pale' disabled>no</button>" * 5
    assert look(more=fields) == []
    assert look(more=f"{fields}<button class='pale' style='background: #eee'>yes</button>") != []


def test_other_rules_look_at_every_element(look):
    (fault,) = look(ROWS.replace("20 mm", "20 mm <img src='data:,'>"))
    assert fault.startswith("image-alt: ")
