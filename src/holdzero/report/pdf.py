"""PDF: the document set by typst, from memory, tagged for readers and archives."""

import json
from functools import cache
from importlib.resources import files

from holdzero.chart import PRINT
from holdzero.report.content import RecordContent, as_data


def record_pdf(content: RecordContent) -> bytes:
    """Set a document as PDF.

    Parameters
    ----------
    content : RecordContent
        The document.

    Returns
    -------
    bytes
        PDF/UA-1, and PDF/A-2a where the document has a day. The same document gives the same bytes.

    Notes
    -----
    All text goes to typst as data and is never read as its markup.
    """
    import typst  # 40 MB of typesetter: only where a PDF is made

    made = typst.compile(
        _template(),
        ignore_system_fonts=True,  # its own: the same pages on every computer
        pdf_standards=["a-2a", "ua-1"] if content.day else ["ua-1"],
        sys_inputs={"document": json.dumps(as_data(content, PRINT))},
    )
    assert isinstance(made, bytes)
    return made


@cache
def _template() -> bytes:
    return files("holdzero.report").joinpath("record.typ").read_bytes()
