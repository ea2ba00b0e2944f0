"""Page: the document as one self-contained HTML file, without a script and without a request."""

import json
from functools import cache
from typing import TYPE_CHECKING

from holdzero.chart import PAGE
from holdzero.chart.picture import STYLE
from holdzero.report.content import RecordContent, as_data

if TYPE_CHECKING:
    from jinja2 import Template


def record_html(content: RecordContent) -> str:
    """Set a document as HTML: the same content as the PDF, in the inks of the reader's screen.

    Parameters
    ----------
    content : RecordContent
        The document.

    Returns
    -------
    str
        The whole page. Its content policy forbids scripts and requests of any kind; the files it carries stand
        in a block of data.
    """
    data = as_data(content, PAGE, both_layouts=True)
    files = json.dumps({attached["name"]: attached["text"] for attached in data["files"]}, ensure_ascii=False)
    return _template().render(data, files_json=files.replace("<", "\\u003c"), picture_style=STYLE)


@cache
def _template() -> "Template":
    from jinja2 import Environment, PackageLoader, StrictUndefined  # who writes a PDF only never waits for it

    pages = Environment(
        loader=PackageLoader("holdzero.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return pages.get_template("record.html")
