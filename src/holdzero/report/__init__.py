"""Reports: documents from result objects, as PDF and as one self-contained HTML page.

`content` says what a document is made of, `record` what stands in the record of a machine, `safety`
holds the words that stand before everything else; `pdf` and `page` only set type.
"""

from holdzero.report.content import RecordContent
from holdzero.report.page import record_html
from holdzero.report.pdf import record_pdf
from holdzero.report.record import record_content
from holdzero.tell.blocks import Blanks, Facts, Note, Pictures, Points, Section, Table

__all__ = [
    "Blanks",
    "Facts",
    "Note",
    "Pictures",
    "Points",
    "RecordContent",
    "Section",
    "Table",
    "record_content",
    "record_html",
    "record_pdf",
]
