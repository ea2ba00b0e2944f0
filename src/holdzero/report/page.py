"""Page: the document as one self-contained HTML file, without a script and without a request."""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from holdzero.chart import PAGE
from holdzero.chart.picture import STYLE
from holdzero.report.content import RecordContent, as_data


def record_html(content: RecordContent) -> str:
    """Set a document as HTML: the same content as the PDF, in the inks of the reader's screen.

    Parameters
    ----------
    content : RecordContent
        The document.

    Returns
    -------
    str
        The whole page. Its content policy forbids scripts and requests of any kind.
    """
    return _template().render(as_data(content, PAGE, both_layouts=True), picture_style=STYLE)


@cache
def _template() -> Template:
    pages = Environment(
        loader=PackageLoader("holdzero.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return pages.get_template("record.html")
