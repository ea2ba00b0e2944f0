"""PDF: the document set by typst, from memory, tagged for readers and archives."""

import json
from functools import cache
from importlib.resources import files

from holdzero.chart import PRINT
from holdzero.errors import MissingExtra
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
        PDF/UA-1, and PDF/A-3a where the document has a day; A-2a would refuse the files it carries. The same
        document gives the same bytes.

    Raises
    ------
    MissingExtra
        typst is not installed: some platforms have no wheel of it.

    Notes
    -----
    All text goes to typst as data and is never read as its markup. It is set in typst's own typefaces, the same
    on every computer. A name in letters that they lack is set in the computer's; where those lack them too the
    letters show as boxes, and the file does not call itself PDF/A or PDF/UA, which promise that they can be read.
    """
    try:
        import typst  # 40 MB of typesetter: only where a PDF is made
    except ImportError as missing:
        raise MissingExtra(
            where="PDF", extra="pdf", package="typst", instead="ask for HTML, which a browser prints the same"
        ) from missing

    data = json.dumps(as_data(content, PRINT))
    for own_fonts, promised in ((True, True), (False, True), (False, False)):
        try:
            made = typst.compile(
                _template(),
                ignore_system_fonts=own_fonts,
                pdf_standards=[] if not promised else ["a-3a", "ua-1"] if content.day else ["ua-1"],
                sys_inputs={"document": data},
            )
        except typst.TypstError as error:
            if "could not be displayed" not in str(error):
                raise
        else:
            assert isinstance(made, bytes)
            return made
    raise AssertionError("without a promise to keep, typst does not refuse letters")


@cache
def _template() -> bytes:
    return files("holdzero.report").joinpath("record.typ").read_bytes()
